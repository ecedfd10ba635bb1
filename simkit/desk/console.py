"""Results for a terminal and for other programs."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from rich.markup import escape
from rich.table import Table

from simkit.desk.calibration_tables import Fit
from simkit.desk.findings import number
from simkit.desk.requested_scenarios import TWIN, RequestedScenarios
from simkit.desk.study import Study
from simkit.experiment.glossary import USUAL, describe
from simkit.experiment.intervals import Estimate, spread, t_interval
from simkit.plant.options import TODAY
from simkit.plant.plant import PlantInputs
from simkit.process.bookweeks import week_hours
from simkit.report.columns import measure_name


def as_json(study: Study, asked: RequestedScenarios) -> str:
    """One object with every measure of every scenario; a half-width that cannot be had is null.

    ``values`` are those of the replications as simulated; a mean may be adjusted for the hours drawn. ``differences``
    are paired, each from the scenario that ``against`` names. ``machines`` are states and sheets of each machine.
    """
    results, level = study.results, study.numbers.level

    def of_every_measure(read: Callable[[str, str], Any], names: Iterable[str]) -> dict[str, dict[str, Any]]:
        return {
            scenario: {measure: read(scenario, measure) for measure in results.measures
                       if results.has(scenario, measure, level)}
            for scenario in names
        }  # fmt: skip

    def gap(scenario: str, measure: str) -> dict[str, Any]:
        return _json_estimate(asked.gap(study, scenario, measure))

    content = {
        "plant": study.plant.name,
        "inputs_sha256": study.stamp,
        "seed": study.numbers.seed,
        "replications": study.numbers.replications,
        "weeks": study.numbers.weeks,
        "scenarios": of_every_measure(lambda s, m: _json_estimate(results.estimate(s, m, level)), study.names),
        "values": of_every_measure(lambda s, m: results.raw(s, m, level).tolist(), study.names),
        "differences": {
            name: {"against": base, "measures": of_every_measure(gap, [name])[name]}
            for name, base in asked.against.items()
        },
        "machines": {name: _machines(study, name) for name in study.names},
    }
    return json.dumps(content, indent=1, ensure_ascii=False)


def _machines(study: Study, name: str) -> dict[str, dict[str, Any]]:
    """Mean and half-width of each machine's measures."""
    found: dict[str, dict[str, Any]] = {}
    for (machine, measure), own in study.machines(name).groupby(["machine", "measure"], sort=False):
        known = t_interval(own["value"].to_numpy(float), str(own["unit"].iloc[0]))
        found.setdefault(str(machine), {})[str(measure)] = _json_estimate(known)
    return found


def _json_estimate(estimate: Estimate) -> dict[str, Any]:
    half_width = estimate.half_width if math.isfinite(estimate.half_width) else None
    return {"mean": estimate.mean, "half_width": half_width, "unit": estimate.unit}


def as_table(study: Study, asked: RequestedScenarios) -> Table:
    """Totals of the run with 95 % intervals, and the difference from what each is compared with where it is sure."""
    numbers, twins = study.numbers, any(base.endswith(TWIN) for base in asked.against.values())
    base = "its unchanged twin" if twins else TODAY
    table = Table(
        title=f"{escape(study.plant.name)}: totals over {numbers.weeks:g} release weeks at demand {numbers.level:g}, "
        f"mean and 95 % half-width of {numbers.replications} replications; in brackets the same of the paired "
        f"difference from {base}",
        caption=f"unsure: not enough replications to tell a difference from {base}. "
        f"{weeks_of_the_book(study.scenarios[0].made.plant)}Planning aid only, {_state(study)}.",
    )
    table.add_column("measure", max_width=26)
    for name in study.names:
        changed = asked.against.get(name, "").endswith(TWIN)
        table.add_column(escape(f"{name} changed" if changed else name), justify="right")
    for measure in USUAL:
        unit = describe(measure).unit
        label = f"{measure_name(measure)}, {'share' if unit == '1' else unit}"
        table.add_row(escape(label), *(_cell(study, asked, name, measure) for name in study.names))
    return table


def without_table(folder: Path, changes: Sequence[str]) -> str:
    """What stands in the table's place where no change moves an hour: which commands show hours, and money."""
    command = shlex.join(("simkit", "report", str(folder), *(word for text in changes for word in ("--set", text))))
    return (
        "No table: what --set changes here moves no hour, so both columns would be equal; prices change money alone. "
        f"Hours: the same command without --set. Money: {command}"
    )


def _state(study: Study) -> str:
    return "calibrated on observed weeks" if study.plant.inputs.calibration else "not calibrated"


def _cell(study: Study, asked: RequestedScenarios, name: str, measure: str) -> str:
    mean = study.results.estimate(name, measure, study.numbers.level)
    text = number(mean.mean)
    if math.isfinite(mean.half_width):
        text += f" ± {number(mean.half_width)}"
    if name in asked.against and mean.n > 1:
        change = asked.gap(study, name, measure)
        sign = "+" if change.mean > 0 else ""
        width = f" ± {number(change.half_width)}"
        text += f" ({sign}{number(change.mean)}{width})" if change.tells else f" (unsure{width})" if change.mean else ""
    return text


def weeks_of_the_book(plant: PlantInputs) -> str:
    """How much the release weeks of the book differ, in planned hours: not how well a mean is known."""
    hours = week_hours(plant) if plant.settings.run.source == "project" else ()
    if len(hours) < 2:
        return ""
    low, high = spread(hours).low, spread(hours).high
    return f"Weeks of the book ask {number(low)} to {number(high)} planned hours (8 in 10 of {len(hours)}). "


def fit_tables(fit: Fit) -> list[Table]:
    """Laws, factors, and the observed weeks of each use together beside the simulated ones."""
    laws = Table(
        "row", "law", "was", "fitted (95 %)", "n", "cut off", title="Laws fitted to what was logged or measured"
    )
    for law in fit.found.laws:
        span = f"{law.mean:.4g} ({law.low:.4g} to {law.high:.4g})"
        laws.add_row(escape(law.path), law.law, f"{law.was:.4g}", span, str(law.n), str(law.censored))
    factors = Table("group", "asked for (95 %)", "used", "note", title="Factors calibrated on observed weeks",
                    caption="1 is used where chance alone may ask for another")  # fmt: skip
    for one in fit.found.multipliers:
        span = f"{one.wanted:.3f} ({one.low:.3f} to {one.high:.3f})"
        factors.add_row(one.name, span, f"{one.value:.3f}", escape(one.note))
    return [laws, factors, *(_weeks_table(fit, use) for use in ("calibrate", "validate"))]


def _weeks_table(fit: Fit, use: str) -> Table:
    """All weeks of a use together: observed, then each model, marked where it leaves the tolerance."""
    title = {"calibrate": "Weeks that calibrate", "validate": "Weeks held back"}[use]
    table = Table("measure", "observed", "first guess", "replay", "rule", "tolerance", title=title,
                  caption="*: outside the tolerance; replay takes the actual sequence, rule the plant's")  # fmt: skip
    found = [check for check in fit.found.checks if check.use == use and check.week == 0]
    for first in (check for check in found if check.run == "first guess"):
        models = [check for check in found if check.measure == first.measure]
        cells = [f"{check.simulated:.4g}{'' if check.holds else '*'}" for check in models]
        allowed = f"{first.tolerance:g} points" if first.unit == "%" else f"{100 * first.tolerance:g} %"
        name = escape(f"{first.measure} [{first.unit}]")
        table.add_row(name, f"{first.observed:.4g}", *cells, allowed if first.tolerance else "")
    return table
