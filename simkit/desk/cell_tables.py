"""Tables of the cell: its load beside book and demand, people and who waits for whom, set-up by kind, stops."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.analysis.capacity import Capacity, practical_capacity
from simkit.base.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import EXCHANGES, SETUP_STATES, SKILLS, WEEKDAYS
from simkit.cell.orders import IN_HOUSE, REFUSED, SUBCONTRACT
from simkit.desk.notebook_display import titled
from simkit.desk.simulated import HALF, Simulated, with_half
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.ordermeasures import DAYS_TO_DUE
from simkit.experiment.replay import HOURS_OF
from simkit.experiment.toolmeasures import HITS
from simkit.process.bookweeks import book_weeks
from simkit.report import sentences_cell as say
from simkit.report.words import scaled

if TYPE_CHECKING:
    from simkit.desk.plants import Scenario

QUEUES = {"busy_share": ("utilisation", 1.0), "waiting": ("queue_mean", 1.0),
          "wait_min": ("wait_mean_s", 1 / SECONDS_PER_MINUTE), "that_wait_share": ("wait_share", 1.0)}  # fmt: skip
"""Columns of the table of waits: the end of the measure's name, and the factor to the column's unit."""
FIXED, REST, FIRST, AWAITED = "order", "rest", "first_piece", "material"
"""Kinds of set-up that are no exchange of a tool."""
CASH = {"overtime_h": "overtime_h", "subcontract_h": "given_out_h", "unmet_h": "refused_h"}
"""What meets the hours that the shifts do not give: measure, and the column it stands in."""


# ---- the load: book, observed and simulated weeks, what each demand asks, and what goes out ----


def load_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """A mean week of the book, of the observed weeks and of the simulation side by side; by default the first."""
    scenario = study.scenario(scenario).name
    plant, level = study.plant.inputs, study.numbers.level
    weeks, seen = book_weeks(plant), plant.observed
    book = np.mean([(week.planned_h, week.orders, week.sheets) for week in weeks], axis=0) * level
    hours = [sum(getattr(row, name) for name in HOURS_OF) for row in seen]
    frame = pd.DataFrame([
        _load(study, scenario, "machine hours", NEEDED, book[0], hours),
        _load(study, scenario, "orders", "orders_finished", book[1], [row.orders_finished for row in seen]),
        _load(study, scenario, "sheets", "sheets", book[2], [row.sheets for row in seen]),
        _load(study, scenario, "attended hours", "attended_h", np.nan, [row.attended_h for row in seen]),
    ])  # fmt: skip
    shown = frame if seen else frame.drop(columns="observed")
    first = frame.iloc[0]
    means = (first["book"], first["observed"], first["simulated"])
    return titled(shown, *say.load(*means, len(weeks), len(seen), level))


def _load(
    study: Simulated, scenario: str, name: str, measure: str, book: float, seen: Sequence[float]
) -> dict[str, str | float]:
    observed = float(np.mean(seen)) if seen else np.nan
    simulated = with_half("simulated", study.per_week(scenario, measure))
    return {"in_a_week": name, "book": book, "observed": observed, **simulated}


def demand_table(study: Simulated, of: str | Scenario = "") -> pd.DataFrame:
    """Hours needed and attended a week at every simulated demand, how the rest is met, and ``makes_the_book``.

    Its title answers for the scenario ``of``, by default the first.
    """
    of = study.scenario(of).name
    limit = study.plant.inputs.settings.rules.late_share_limit
    found = {name: practical_capacity(study.results.selected([name]), name, limit) for name in study.names}
    rows = [row for name, capacity in found.items() for row in _levels(study, name, capacity, limit)]
    now = next(row for row in rows if row["scenario"] == of and row["demand"] == study.numbers.level)
    elsewhere = now["given_out_h_per_week"] + now["refused_h_per_week"]
    return titled(pd.DataFrame(rows), *say.makes_the_book(of, now["makes_the_book"], elsewhere, found[of], limit))


def _levels(study: Simulated, name: str, capacity: Capacity, limit: float) -> Iterator[dict[str, Any]]:
    for level in capacity.levels:
        at = level.demand_factor
        measures = {"needed_h": NEEDED, "attended_h": "attended_h", **{c: m for m, c in CASH.items()}}
        known = {column: study.per_week(name, measure, level=at) for column, measure in measures.items()}
        amounts = {k: v for column, found in known.items() for k, v in with_half(f"{column}_per_week", found).items()}
        yield {
            "scenario": name, "demand": at, **amounts, **_unattended(study, name, at),
            **with_half("late_or_refused_share", level.late),
            "makes_the_book": say.verdict(
                level.fits(limit) if level.surely(limit) else None, known["overtime_h"],
                study.per_week(name, "subcontract_h", "unmet_h", level=at),
            ),
        }  # fmt: skip


def _unattended(study: Simulated, name: str, demand: float) -> dict[str, float]:
    """Hours worked at night, where some scenario of the study has nights."""
    if not any(study.results.raw(each, "nights", demand).any() for each in study.names):
        return {}
    return with_half("unattended_h_per_week", study.per_week(name, UNATTENDED, level=demand))


def gone_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """Orders given out and refused by the planner's rule: hours a week by weekday and by days to the due date."""
    scenario = study.scenario(scenario).name
    orders = study.records("orders", scenario)
    gone = orders[orders["fate"] != IN_HOUSE]
    gone = gone.assign(orders=1.0, given_out_h=gone["invoice_h"].where(gone["fate"] == SUBCONTRACT, 0.0),
                       refused_h=gone["invoice_h"].where(gone["fate"] == REFUSED, 0.0))  # fmt: skip
    names = {day: f"decided on {day}" for day in WEEKDAYS}
    bands = [say.days_to_due(*days) for days in DAYS_TO_DUE.values()]
    edges = [-np.inf, *(high for _, high in DAYS_TO_DUE.values())]
    early = pd.cut(gone["days_to_due"], edges, labels=bands).astype(object)
    amounts = ["orders", "given_out_h", "refused_h"]
    parts = [study.records_per_week(scenario, gone.assign(when=when), ["when"], amounts)
             for when in (gone["gone_on"].map(names), early)]  # fmt: skip
    order = [*names.values(), *bands]
    frame = pd.concat(parts).sort_values("when", key=lambda column: column.map(order.index), ignore_index=True)
    out, refused = (study.per_week(scenario, name) for name in ("subcontract_h", "unmet_h"))
    late = study.per_week(scenario, "late_share")
    shown = frame.drop(columns=f"orders_per_week{HALF}")
    return titled(shown, *say.gone(out, refused, late, len(order) - len(frame)))


# ---- one scenario: people and who waits for whom, set-up, stops ----


def wait_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """How busy machine, people and bench are, and what waits for them; empty while the backlog grows."""
    scenario, rows = study.scenario(scenario).name, []
    for name in ("machine", "people", "bench"):
        row: dict[str, object] = {"resource": name}
        for column, (end, factor) in QUEUES.items():
            measure = f"{name}_{end}"
            if study.results.refusal(scenario, measure, study.numbers.level):
                row |= {column: np.nan, f"{column}{HALF}": np.nan}
            else:
                row |= with_half(column, scaled(study.per_week(scenario, measure), factor))
        rows.append(row)
    wait, share = (study.per_week(scenario, f"people_wait_{end}") for end in ("mean_s", "share"))
    refused = study.results.refusal(scenario, "machine_queue_mean", study.numbers.level)
    return titled(pd.DataFrame(rows), *say.waits(scaled(wait, 1 / SECONDS_PER_MINUTE), share, refused))


def task_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """People's hours a week by task, most first."""
    scenario = study.scenario(scenario).name
    rows = [
        {"task": task, **with_half("hours_per_week", known)}
        for task in SKILLS
        if (known := study.per_week(scenario, f"person_{task}_h")).mean > 0
    ]
    frame = pd.DataFrame(rows, columns=["task", "hours_per_week", f"hours_per_week{HALF}"])
    frame = frame.sort_values("hours_per_week", ascending=False, ignore_index=True)
    busy = study.per_week(scenario, "person_busy_h")
    first = next(frame.itertuples(index=False, name=None), ("", 0.0))[:2]
    return titled(frame.assign(task=frame["task"].map(say.TASKS)), say.tasks(busy, *first), say.MEAN)


def setup_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """Set-up by kind a week: times, minutes of each, hours for which the machine stands or that are hidden."""
    scenario = study.scenario(scenario).name
    tools, families = (study.records(name, scenario) for name in ("tools", "families"))
    raw = {s: study.results.raw(scenario, f"state_{s}_h", study.numbers.level) for s in SETUP_STATES}
    exchanges = tools[tools["exchange"] != HITS]
    parts = [
        pd.DataFrame({
            "replication": exchanges["replication"], "kind": exchanges["exchange"], "times": exchanges["times"],
            "stands_h": exchanges["visible_min"] / MINUTES_PER_HOUR,
            "hidden_h": exchanges["hidden_min"] / MINUTES_PER_HOUR,
        }),
        pd.DataFrame({
            "replication": families["replication"], "kind": FIXED, "times": families["orders"],
            "stands_h": families["fixed_min"] / MINUTES_PER_HOUR,
        }),
    ]  # fmt: skip
    known_h = pd.concat(parts).groupby("replication")["stands_h"].sum().reindex(range(study.numbers.replications))
    if not study.plant.inputs.settings.run.warmup_s:
        parts.append(_of_runs(REST, raw["changeover"] - known_h.fillna(0.0).to_numpy(float)))
    parts += [_of_runs(FIRST, raw["first_piece"]), _of_runs(AWAITED, raw["waiting_material"])]
    rows = pd.concat(parts).fillna({"times": 0.0, "hidden_h": 0.0})
    frame = study.records_per_week(scenario, rows, ["kind"], ["times", "stands_h", "hidden_h"])
    return _shown(frame, study.per_week(scenario, *(f"state_{state}_h" for state in SETUP_STATES)).mean)


def _of_runs(kind: str, hours: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"replication": range(len(hours)), "kind": kind, "stands_h": hours})


def _shown(frame: pd.DataFrame, total_h: float) -> pd.DataFrame:
    """The kinds that take time, most first, with the minutes of each; hidden hours only where there are some."""
    frame = frame[(frame["stands_h_per_week"] + frame["hidden_h_per_week"]).abs() > 1e-9]
    frame = frame.sort_values("stands_h_per_week", ascending=False, ignore_index=True)
    minutes = (frame["stands_h_per_week"] + frame["hidden_h_per_week"]) * MINUTES_PER_HOUR
    counted = frame["kind"].isin([*EXCHANGES, FIXED]) & (frame["times_per_week"] > 0)
    each = minutes / frame["times_per_week"].where(counted)
    frame.insert(3, "each_min", each)
    frame.loc[frame["times_per_week"] == 0, ["times_per_week", f"times_per_week{HALF}"]] = np.nan
    if not frame["hidden_h_per_week"].any():
        frame = frame.drop(columns=["hidden_h_per_week", f"hidden_h_per_week{HALF}"])
    first = next(zip(frame["kind"], frame["stands_h_per_week"], strict=True), ("", 0.0))
    frame = frame.assign(set_up=frame["kind"].map(say.SET_UP)).drop(columns="kind")
    return titled(frame[["set_up", *frame.columns[:-1]]], *say.setup(total_h, *first))


def stop_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """Stops a week by cause, attended and at night: times, and hours until they are cleared."""
    scenario = study.scenario(scenario).name
    stops = study.records("stops", scenario).assign(stops=1.0)
    stops["when"] = np.where(stops["unattended"], say.UNATTENDED, say.ATTENDED)
    frame = study.records_per_week(scenario, stops, ["cause", "when"], ["stops", "stopped_h"])
    frame = frame.sort_values("stopped_h_per_week", ascending=False, ignore_index=True)
    if not stops["unattended"].any():
        frame = frame.drop(columns="when")
    frame["cause"] = frame["cause"].map(say.cause_in_words)
    count, lost = (study.per_week(scenario, measure) for measure in ("stops", "stop_h"))
    often = stops["cause"].mode().tolist()
    worst = stops.groupby("cause")["stopped_h"].sum().sort_values(ascending=False).index.tolist()
    return titled(frame, *say.stops(count, lost, worst[0] if worst else "", often[0] if often else ""))
