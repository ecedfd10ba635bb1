"""The audit: what a report keeps for it, the blank form of a purchase, and the table of predicted against achieved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict
from rich.markup import escape
from rich.table import Table

from simkit.analysis.audit import LESS_IS_BETTER, SAVED, Achieved, Audit, AuditLine, require_sound
from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding, nearest, refuse_to_replace
from simkit.desk.plants import Plant, read_plant
from simkit.desk.study import Study
from simkit.experiment.results import Results
from simkit.finance.timeline import WEEKS_PER_YEAR
from simkit.plant.changes import changed_plant, one_demand
from simkit.plant.csv_files import read_sheet
from simkit.plant.fields import columns_of
from simkit.plant.scenarios import make_scenario
from simkit.plant.writing import write_csv
from simkit.report.words import plural


def write_form(plant_folder: Path, report_folder: Path, scenario: str, path: Path) -> int:
    """Write the blank form of a scenario and return its rows; refuses to write over anything."""
    _, audit = read_kept(plant_folder, report_folder)
    known = [name for name in audit.scenarios if name != audit.today]
    if scenario not in known:
        raise BadInput([Finding("--form", "is not a case of the report", nearest(scenario, known), value=scenario)])
    refuse_to_replace(path)
    names, rows = list(columns_of(Achieved)), audit.blank(scenario)
    write_csv(path, names, ([getattr(row, name) for name in names] for row in rows))
    return len(rows)


def compare_form(plant_folder: Path, report_folder: Path, path: Path) -> tuple[Plant, tuple[AuditLine, ...]]:
    """Compare a filled form with the kept study. Raises BadInput with everything that is wrong with the form."""
    if not path.is_file():
        mend = "Write the blank form first: simkit audit PLANT --achieved FILE --form SCENARIO"
        raise BadInput([Finding(str(path), "is not a file", mend)])
    plant, audit = read_kept(plant_folder, report_folder)
    sheet, findings = read_sheet(path, Achieved)
    if not sheet.spoiled:
        findings += audit.findings(list(zip(sheet.rows, sheet.lines, strict=True)), path.name)
    require_sound(findings)
    return plant, audit.compare(sheet.rows)


def audit_table(plant: Plant, lines: Sequence[AuditLine]) -> Table:
    """Predicted, interval, achieved and verdict of every count."""
    settings = plant.inputs.settings
    currency, weeks = settings.currency, settings.finance.production_weeks
    table = Table(
        title=f"{escape(plant.name)}: predicted against achieved, per calendar week since the last count",
        caption="Interval: the mean of these weeks lies in it in 95 of 100 cases if the prediction holds, the ramp and "
        f"the demand given included; {weeks:g} of {WEEKS_PER_YEAR:g} weeks a year produce. "
        f"Money in {escape(currency)} before tax. " + " ".join(plant.marks),
    )
    for name in ("in use", "months", "measure", "predicted", "interval", "achieved", "unit", "verdict", "look at"):
        table.add_column(name, justify="right" if name in ("predicted", "achieved", "months") else "left")
    for line in lines:
        row, band = line.row, f"{line.low:.4g} to {line.high:.4g}"
        known = math.isfinite(line.high)
        table.add_row(
            escape(row.scenario), str(row.months), row.measure, f"{line.predicted:.4g}",
            band if known else "one replication cannot tell", f"{row.achieved:.4g}", row.unit, verdict_words(line),
            line.look_at,
        )  # fmt: skip
    return table


def verdict_words(line: AuditLine) -> str:
    """Within, or above or below and whether that is better or worse, where it can be said."""
    saved, less = line.row.measure.startswith(SAVED), line.row.measure in LESS_IS_BETTER
    if line.within or not (saved or less):
        return "within" if line.within else line.verdict
    better = line.verdict == ("above" if saved else "below")
    return f"{line.verdict}: {'better' if better else 'worse'}"


def audit_summary(lines: Sequence[AuditLine]) -> str:
    """How many counts lie within their intervals, in a sentence."""
    within = sum(line.within for line in lines)
    outside = ", ".join(f"{line.row.measure} at {line.row.months} months" for line in lines if not line.within)
    text = f"{within} of {plural(len(lines), 'count')} within the predicted interval"
    return f"{text}; outside: {outside}." if outside else f"{text}."


RESULTS, RUN = "results.csv", "run.json"


class RunCard(BaseModel):
    """How the numbers of a report were made. ``scenarios`` are options by name, the first is what others are compared
    with; ``changes`` held for the whole plant, one demand for every year among them."""

    model_config = ConfigDict(extra="forbid")
    plant: str
    seed: int
    replications: int
    weeks: float
    demand: float
    scenarios: dict[str, tuple[str, ...]]
    changes: tuple[str, ...]
    inputs_sha256: str


def write_kept(folder: Path, study: Study, changes: tuple[str, ...]) -> tuple[str, str]:
    """Write totals and run card; return the names of the files."""
    numbers = study.numbers
    card = RunCard(
        plant=study.plant.name, seed=numbers.seed, replications=numbers.replications, weeks=numbers.weeks,
        demand=numbers.level, scenarios={one.name: one.options for one in study.scenarios},
        changes=(*changes, *one_demand(numbers.given)), inputs_sha256=study.stamp,
    )  # fmt: skip
    study.results.to_csv(folder / RESULTS)
    write_whole(folder / RUN, card.model_dump_json(indent=2) + "\n")
    return RESULTS, RUN


def read_kept(plant_folder: Path, folder: Path) -> tuple[Plant, Audit]:
    """What a report predicted, beside the plant as it is now. Raises BadInput if there is none or it does not fit."""
    missing = [name for name in (RESULTS, RUN) if not (folder / name).is_file()]
    if missing:
        mend = "Make the report first: simkit report PLANT --out DIR"
        raise BadInput(Finding(str(folder / name), "is not there", mend) for name in missing)
    try:
        card = RunCard.model_validate_json((folder / RUN).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        why = "is not a run card of a report"
        raise BadInput([Finding(str(folder / RUN), why, "Make the report again")]) from error
    plant = read_plant(plant_folder)
    if card.plant != plant.name:
        why = f"the report is of '{card.plant}', and this plant is '{plant.name}'"
        raise BadInput([Finding(str(folder), why, "Name the report of this plant with --report")])
    inputs = changed_plant(plant.inputs, card.changes)
    results = Results.from_csv(folder / RESULTS)
    held = {name: options for name, options in card.scenarios.items() if name in results.scenarios}
    scenarios = {name: make_scenario(inputs, options, name=name) for name, options in held.items()}
    return plant, Audit(inputs, results, scenarios, next(iter(scenarios)))
