"""How far to believe a study: its assumptions and rules, how it was run, and observed weeks beside simulated ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.base.messages import some
from simkit.base.vocabulary import BASES
from simkit.desk.findings import further_findings
from simkit.desk.notebook_display import SIGN, titled
from simkit.desk.simulated import Simulated
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import independent_difference, replications_for_relative, replications_to_tell
from simkit.experiment.replay import HOURS_OF
from simkit.plant.options import capital_of
from simkit.plant.settings_base import Section
from simkit.process.findings import physics_notes
from simkit.report import cautions
from simkit.report.sentences import amount
from simkit.report.words import capitalised, listing, number, percent, plural

if TYPE_CHECKING:
    from simkit.desk.plants import Plant

CLOSE = 0.01
"""Half-width of an interval, as a share of its mean, that the card asks for."""
PACKAGES = ("simkit", "numpy", "scipy", "pandas", "simpy", "matplotlib")
OBSERVED = {
    "attended_h": ("attended hours", ""), "sheets": ("sheets", "±5 %"), "orders_finished": ("orders finished", ""),
    "setup_h": ("set-up hours", "±10 %"), "handling_h": ("loading and unloading hours", ""),
    "process_h": ("hours of punching, forming and cutting", "±3 points of attended"),
    "stopped_h": ("stopped hours", ""), "tool_loads": ("tools loaded", ""), "die_changes": ("dies changed", ""),
}  # fmt: skip
"""Columns of an observed week: in words, and tolerance. The machine states of hours stand in :data:`HOURS_OF`; what is
no sum of states is a measure of the same name."""


def observed_table(study: Simulated) -> pd.DataFrame:
    """Observed weeks of the plant beside a simulated week of the first scenario, measure by measure."""
    weeks = study.plant.inputs.observed
    rows = []
    for column, (label, tolerance) in OBSERVED.items() if weeks else ():
        values = [getattr(week, column) for week in weeks]
        measures = [f"state_{state}_h" for state in HOURS_OF.get(column, ())] or [column]
        known = study.per_week(study.base, *measures)
        mean = float(np.mean(values))
        apart = independent_difference(study.weekly_values(study.base, *measures), values)
        rows.append({
            "per_week": label, "observed": mean, "lowest": min(values), "highest": max(values), "simulated": known.mean,
            "simulated_half_width": known.half_width,
            "off_share": known.mean / mean - 1.0 if mean else np.nan, "tolerance": tolerance,
            "by_more_than_chance": SIGN[apart.verdict],
        })  # fmt: skip
    held = sum(week.use == "validate" for week in weeks)
    title = f"{plural(len(weeks), 'observed week')} beside the simulated week" if weeks else ""
    note = (
        f"{capitalised(plural(held, 'week'))} held back for validation. The simulated week is one of the order book: "
        "other orders, other numbers. The page Calibration replays the observed orders themselves. More than chance: "
        "whether the means differ surely (95 %, Welch), one measure at a time."
    )
    return titled(pd.DataFrame(rows), title, note)


def option_table(plant: Plant, options: Sequence[str]) -> pd.DataFrame:
    """What these options are: price, time, owner, what stays and what is usually forgotten."""
    known = [plant.inputs.option_by_id[name] for name in options]
    rows = [
        {
            "option": one.name, "costs": amount(capital_of([one]), plant.inputs.settings.currency),
            "costs a year": amount(one.every_year, plant.inputs.settings.currency),
            "in use after": f"{one.lead_weeks:g} weeks", "cell stands": f"{one.stop_days:g} days",
            "owner": one.owner or "nobody named", "what stays and is forgotten": one.note,
        }
        for one in known
    ]  # fmt: skip
    frame = pd.DataFrame(rows).set_index("option").T.rename_axis("about")
    return titled(frame, f"{capitalised(listing(one.called for one in known))}: what is bought and what stays")


def basis_table(plant: Plant) -> pd.DataFrame:
    """How many assumptions are measured, logged, quoted, estimated or defaults."""
    inputs = plant.inputs
    groups: dict[str, Sequence[Any]] = {
        "time elements": inputs.elements, "stops": inputs.stops, "upkeep": inputs.upkeep, "quality": inputs.quality,
    }  # fmt: skip
    counted = {name: Counter(row.basis for row in members) for name, members in groups.items()}
    rows = [{"assumptions": name, **{basis: each[basis] for basis in BASES}, "all": each.total()}
            for name, each in counted.items()]  # fmt: skip
    frame = pd.DataFrame(rows)
    defaults, everything = int(frame["default"].sum()), int(frame["all"].sum())
    share = percent(defaults / everything) if everything else "none"
    return titled(frame, f"{defaults} of {everything} assumptions ({share}) are defaults, not plant data")


def rules_table(plant: Plant) -> pd.DataFrame:
    """The rules in force, as the settings give them, each with its meaning."""
    settings = plant.inputs.settings
    sections: dict[str, Section] = {
        "orders, tools and caps": settings.rules, "overflow": settings.overflow, "people": settings.people,
        "unattended running": settings.calendar.night, "tool magazine": settings.magazine,
        "part removal": settings.removal, "bench and stack": settings.bench, "whole-sheet stack": settings.stack,
        "run": settings.run,
    }  # fmt: skip
    rows = [row for name, section in sections.items() for row in _settings_of(name, section)]
    return titled(pd.DataFrame(rows), "Rules in force today")


def _settings_of(group: str, section: Section) -> Iterator[dict[str, str]]:
    for name, spec in type(section).model_fields.items():
        value = getattr(section, name)
        text = "none" if value in (None, "", (), {}) else _value_text(value)
        yield {"setting": name, "value": text, "meaning": spec.description or "", "about": group}


def _value_text(value: object) -> str:
    if isinstance(value, dict):
        return "; ".join(f"{key}: {item}" for key, item in value.items())
    if isinstance(value, tuple):
        return "; ".join(map(_value_text, value))
    if isinstance(value, Section):
        return ", ".join(f"{name} {_value_text(getattr(value, name))}" for name in type(value).model_fields)
    return str(value)


def notes_table(plant: Plant) -> pd.DataFrame:
    """The notes that reading and checking left."""
    columns = ["place", "row", "column", "value", "why", "mend"]
    physics = (note.finding for note in physics_notes(plant.inputs))
    notes = (*plant.notes, *further_findings(plant.inputs), *physics)
    frame = pd.DataFrame([{name: getattr(one, name) for name in columns} for one in notes], columns=columns)
    read = ", ".join(
        f"{number(len(getattr(plant.inputs, name)), 0)} {name}" for name in ("orders", "programs", "tools", "materials")
    )
    return titled(frame, f"Read and used: {read}. Notes of the checks: {len(frame) or 'none'}")


def card_table(study: Simulated) -> pd.DataFrame:
    """How the study was run: seed, replications, weeks, demands, start, inputs and versions."""
    run, numbers = study.plant.inputs.settings.run, study.numbers
    start = "the plant's turret and backlog (start.csv)" if study.plant.inputs.start else "empty turret, warm-up cut"
    rows = {
        "seed": numbers.seed, "replications, with the same chance events in every case": numbers.replications,
        "weeks of orders released": f"{numbers.weeks:g}",
        "demands simulated, as factors of the order book": listing(f"{level:g}" for level in numbers.levels),
        **_enough(study), "start": start, "warm-up cut": f"{run.warmup_s:g} s",
        "changes of inputs": "; ".join(study.scenarios[0].changes) or "none",
        "inputs (SHA-256)": study.stamp,
        **{f"version of {name}": version(name) for name in PACKAGES},
    }  # fmt: skip
    frame = pd.DataFrame({"setting": list(rows), "value": [str(value) for value in rows.values()]})
    return titled(frame, f"{plural(numbers.replications, 'replication')} from seed {numbers.seed}")


def _enough(study: Simulated) -> dict[str, str]:
    """Whether the replications are enough for the hours needed: of today to a hundredth, and apart from each case."""
    results, base, level = study.results, study.base, study.numbers.level
    if study.numbers.replications < 3 or not all(results.has(name, NEEDED, level) for name in study.names):
        return {}
    today, fitted = results.values(base, NEEDED, level), results.fitted(base, level, NEEDED)
    said = {f"replications for ±{percent(CLOSE)} of the hours needed": str(
        replications_for_relative(float(today.mean()), float(today.var(ddof=1)), CLOSE, at_least=2 + fitted)
    )}  # fmt: skip
    gaps = {name: results.values(name, NEEDED, level) - today for name in study.names if name != base}
    needed = {name: replications_to_tell(gap, intervals=len(gaps), fitted=fitted) for name, gap in gaps.items()}
    open_ = [f"{name}: {count}" for name, count in needed.items() if count and count > study.numbers.replications]
    if gaps:
        said["replications that would tell a case from the first, where these do not"] = some(open_) or "none is open"
    return said


def cautions_table(_: Plant) -> pd.DataFrame:
    """What the kit does not judge, and who does: the standing caution, then by topic."""
    rows = [
        ("Standing line", cautions.STANDING),
        *((topic, f"{capitalised(text)}.") for topic, text in cautions.TOPICS),
    ]
    frame = pd.DataFrame(rows, columns=["topic", "caution"])
    return titled(frame, "What the kit does not judge, and who does")
