"""Results for a terminal and for other programs."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from rich.markup import escape
from rich.table import Table

from simkit.experiment.glossary import USUAL, describe
from simkit.experiment.intervals import Estimate, spread
from simkit.experiment.results import Results
from simkit.plant.hashes import inputs_sha256
from simkit.plant.plant import Plant
from simkit.process.bookweeks import book_weeks, week_hours
from simkit.process.programs import program_tables
from simkit.report.studydata import TODAY


def as_json(plant_folder: Path, plant: Plant, results: Results, demand_factor: float) -> str:
    """One object with every measure of every scenario; a half-width that cannot be had is null.

    ``values`` are those of the replications as simulated; a mean may be adjusted for the hours drawn.
    """
    run = plant.settings.run

    def of_every_measure(read: Callable[[str, str], Any]) -> dict[str, dict[str, Any]]:
        return {
            scenario: {
                measure: read(scenario, measure)
                for measure in results.measures
                if results.has(scenario, measure, demand_factor)
            }
            for scenario in results.scenarios
        }

    content = {
        "plant": plant.settings.name,
        "inputs_sha256": inputs_sha256(plant_folder),
        "seed": run.seed,
        "replications": run.replications,
        "weeks": run.weeks,
        "scenarios": of_every_measure(lambda s, m: _json_estimate(results.estimate(s, m, demand_factor))),
        "values": of_every_measure(lambda s, m: results.raw(s, m, demand_factor).tolist()),
    }
    return json.dumps(content, indent=1, ensure_ascii=False)


def _json_estimate(estimate: Estimate) -> dict[str, Any]:
    half_width = estimate.half_width if math.isfinite(estimate.half_width) else None
    return {"mean": estimate.mean, "half_width": half_width, "unit": estimate.unit}


def as_table(plant: Plant, results: Results, demand_factor: float) -> Table:
    """Totals of the run with 95 % intervals, and the difference from today where it has a sure sign."""
    run = plant.settings.run
    table = Table(
        title=f"{escape(plant.settings.name)}: totals over {run.weeks:g} release weeks at demand {demand_factor:g}, "
        f"mean and 95 % half-width of {run.replications} replications; in brackets the paired difference from today",
        caption=f"unsure: not enough replications to tell a difference from today. {weeks_of_the_book(plant)}"
        "Planning aid only, not calibrated.",
    )
    table.add_column("measure", no_wrap=True)
    for scenario in results.scenarios:
        table.add_column(scenario, justify="right")
    for measure in USUAL:
        unit = describe(measure).unit
        gaps = _gaps(results, measure, demand_factor)
        cells = [_cell(results, scenario, measure, demand_factor, gaps) for scenario in results.scenarios]
        table.add_row(f"{measure} [{unit}]".replace("[", "\\["), *cells)
    return table


def _gaps(results: Results, measure: str, demand_factor: float) -> dict[str, Estimate]:
    """Paired differences from today, all intervals of a measure together."""
    if TODAY not in results.scenarios or len(results.scenarios) < 2:
        return {}
    return results.simultaneous(TODAY, measure, demand_factor)


def _cell(results: Results, scenario: str, measure: str, demand_factor: float, gaps: Mapping[str, Estimate]) -> str:
    mean = results.estimate(scenario, measure, demand_factor)
    text = _number(mean.mean)
    if math.isfinite(mean.half_width):
        text += f" ± {_number(mean.half_width)}"
    if scenario in gaps and mean.n > 1:
        change = gaps[scenario]
        text += f" ({change.mean:+,.1f})" if change.tells else " (unsure)" if change.mean else ""
    return text


def week_table(plant: Plant) -> Table:
    """The release weeks that a projection draws from, with what is released in each: an empty one stands out."""
    table = Table(title="Release weeks that are drawn from")
    for head in ("Monday", "orders", "sheets", "planned hours"):
        table.add_column(head, justify="right")
    for week in book_weeks(plant, program_tables(plant)):
        table.add_row(str(week.monday), str(week.orders), str(week.sheets), _number(week.planned_h))
    return table


def weeks_of_the_book(plant: Plant) -> str:
    """How much the release weeks of the book differ, in planned hours: not how well a mean is known."""
    hours = week_hours(plant, program_tables(plant)) if plant.settings.run.source == "project" else ()
    if len(hours) < 2:
        return ""
    low, high = spread(hours).low, spread(hours).high
    return f"Weeks of the book ask {_number(low)} to {_number(high)} planned hours (8 in 10 of {len(hours)}). "


def _number(value: float) -> str:
    return f"{value:,.2f}" if abs(value) < 1 else f"{value:,.1f}"
