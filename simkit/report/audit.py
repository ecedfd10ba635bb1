"""The audit on the terminal: the blank form of a purchase, and the table of predicted against achieved."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path

from rich.markup import escape
from rich.table import Table

from simkit.analysis.audit import LESS_IS_BETTER, SAVED, Achieved, Audit, AuditLine, require_sound
from simkit.base.messages import BadInput, Finding, nearest
from simkit.finance.timeline import WEEKS_PER_YEAR
from simkit.plant.csv_files import read_sheet
from simkit.plant.fields import columns_of
from simkit.plant.scenarios import make_scenario
from simkit.report.simulate import RESULTS_FOLDER
from simkit.report.study import Study, open_study
from simkit.report.studydata import TODAY
from simkit.report.words import plural


def audit_of(plant_folder: Path, report_folder: Path) -> tuple[Study, Audit]:
    """Open the study that a report kept, with its predictions. Raises BadInput if there is none or it does not fit."""
    study = open_study(plant_folder, report_folder / RESULTS_FOLDER, as_it_was=True)
    names = {name: options for name, options in study.run.scenarios.items() if name in study.results.scenarios}
    scenarios = {name: make_scenario(study.plant, held, name=name) for name, held in names.items()}
    return study, Audit(study.plant, study.results, scenarios, TODAY)


def write_form(plant_folder: Path, report_folder: Path, scenario: str, path: Path) -> int:
    """Write the blank form of a scenario and return its rows; refuses to write over anything."""
    _, audit = audit_of(plant_folder, report_folder)
    if scenario not in audit.scenarios or scenario == TODAY:
        known = [name for name in audit.scenarios if name != TODAY]
        raise BadInput([Finding("--form", "is not a scenario of the study", nearest(scenario, known), value=scenario)])
    if path.exists():
        raise BadInput([Finding(str(path), "exists, and nothing is written over", "Name a new file")])
    names = list(columns_of(Achieved))
    rows = audit.blank(scenario)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        writer.writerows([_cell(getattr(row, name)) for name in names] for row in rows)
    return len(rows)


def _cell(value: object) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def compare_form(plant_folder: Path, report_folder: Path, path: Path) -> tuple[Study, tuple[AuditLine, ...]]:
    """Compare a filled form with the kept study. Raises BadInput with everything that is wrong with the form."""
    if not path.is_file():
        mend = "Write the blank form first: simkit audit PLANT --achieved FILE --form SCENARIO"
        raise BadInput([Finding(str(path), "is not a file", mend)])
    study, audit = audit_of(plant_folder, report_folder)
    sheet, findings = read_sheet(path, "achieved", Achieved)
    if not sheet.spoiled:
        findings += audit.findings(list(sheet), path.name)
    require_sound(findings)
    return study, audit.compare(sheet.rows)


def audit_table(study: Study, lines: Sequence[AuditLine]) -> Table:
    """Predicted, interval, achieved and verdict of every count."""
    currency, weeks = study.currency, study.plant.settings.finance.production_weeks
    table = Table(
        title=f"{escape(study.plant.settings.name)}: predicted against achieved, per calendar week since the last "
        "count",
        caption="Interval: the mean of these weeks lies in it in 95 of 100 cases if the prediction holds, the ramp and "
        f"the demand given included; {weeks:g} of {WEEKS_PER_YEAR:g} weeks a year produce. "
        f"Money in {escape(currency)} before tax. " + " ".join(study.marks),
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
    if line.within:
        return "within"
    if line.row.measure.startswith(SAVED):
        return f"{line.verdict}: {'better' if line.verdict == 'above' else 'worse'}"
    if line.row.measure in LESS_IS_BETTER:
        return f"{line.verdict}: {'better' if line.verdict == 'below' else 'worse'}"
    return line.verdict


def audit_summary(lines: Sequence[AuditLine]) -> str:
    """How many counts lie within their intervals, in a sentence."""
    within = sum(line.within for line in lines)
    outside = ", ".join(f"{line.row.measure} at {line.row.months} months" for line in lines if not line.within)
    text = f"{within} of {plural(len(lines), 'count')} within the predicted interval"
    return f"{text}; outside: {outside}." if outside else f"{text}."
