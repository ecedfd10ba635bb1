"""The study folder: what the simulate step writes once and every study reads.

======================  ================================================================================
file                    content
======================  ================================================================================
``results.csv``         scenario, demand_factor, replication, measure, value, unit: one total of one
                        replication a row, as in ``Results``; the same bytes for the same seed
``ribbon.csv``          scenario, resource, state, start_h, end_h: one simulated week, hours from Monday
                        00:00. Resource ``calendar`` holds the states shift, break, night, overtime
``nights.csv``          one row per night of each case of the study of nights: scenario, replication, and the columns
                        of :class:`simkit.experiment.nights.Night`
``run.json``            the run card, :class:`RunCard`
======================  ================================================================================

Money is not in it: the cash-flow table is built from the results and the plant whenever a study is
rendered, so that a change of money never needs a new simulation. The rendered report holds that table as
``money.csv`` with columns scenario, year, line, benefit_class, amount, basis, owner, item.

No file holds the time of writing, so that a repeated run can be compared byte by byte.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import pandas as pd

from simkit.analysis.cases import Case
from simkit.analysis.night_tables import NIGHT_COLUMNS
from simkit.analysis.responses import COLUMNS as RESPONSE_COLUMNS
from simkit.analysis.set_search import Trial
from simkit.base.messages import BadInput, Finding, nearest
from simkit.experiment.results import Results
from simkit.plant.scenarios import TODAY as TODAY

RIBBON_COLUMNS = ("scenario", "resource", "state", "start_h", "end_h")
RESULTS, RUN = "results.csv", "run.json"
NAMES = (
    "scenario", "resource", "state", "machine",
    "ended_by", "want", "input", "kind", "title", "unit", "basis", "owner", "source", "measure",
)  # fmt: skip
"""Columns that hold names, so that a name like 007 stays as it is."""

CALENDAR = "calendar"
"""The ribbon's resource whose states are the shifts, breaks and nights."""

COLUMNS: dict[str, tuple[str, ...]] = {
    "ribbon": RIBBON_COLUMNS,
    "nights": NIGHT_COLUMNS,
    "responses": RESPONSE_COLUMNS,
}
"""Columns of the tables of a study folder, by the names of their files."""
FILES = (RESULTS, *(f"{name}.csv" for name in COLUMNS))

NUMBERS = tuple(column for columns in COLUMNS.values() for column in columns if column not in NAMES)


@dataclass(frozen=True, kw_only=True)
class RunCard:
    """How the numbers of a study folder were made."""

    plant: str
    seed: int
    replications: int
    weeks: float
    demand_factors: tuple[float, ...]
    scenarios: Mapping[str, tuple[str, ...]]
    """Options of each scenario, in the order in which reports list them; ``today`` has none."""
    package: str = TODAY
    """Scenario of the best low-capital package, ``today`` if there is none."""
    fewest_hours: str = TODAY
    """Scenario of the low-capital set with the fewest hours that can be recommended."""
    package_trail: tuple[Trial, ...] = ()
    """How the package was chosen, on replications of its own: every step that was tried."""
    inputs_sha256: str = ""
    physics_hashes: Mapping[str, str] = field(default_factory=dict)
    money_hashes: Mapping[str, str] = field(default_factory=dict)
    overrides: tuple[str, ...] = ()
    """Changes ``path=value`` of the plant's files for this run alone, before any option acts."""
    cases: Mapping[str, Mapping[str, Case]] = field(default_factory=dict)
    """Cases that one study alone lists (nights), by its name and theirs; of nights the first is the set
    whose nights it looks at."""
    tool_demand: float = 1.0
    """Demand factor at which these were simulated, and exchanges, waiting sheets and nights were counted."""
    versions: Mapping[str, str] = field(default_factory=dict)
    leading: tuple[str, ...] = ()
    """Scenarios beside the package whose risk is told: for them responses to times and hoped demand are simulated."""
    asked: str = ""
    """Hash of all that the simulate step read: while it stays, the tables hold, see :mod:`simkit.report.reuse`."""
    files: Mapping[str, str] = field(default_factory=dict)
    """SHA-256 of each table as it was written."""

    def named(self, options: frozenset[str]) -> str | None:
        """Return the scenario that holds exactly these options, if it was simulated."""
        return next((name for name, held in self.scenarios.items() if frozenset(held) == options), None)


@dataclass(frozen=True)
class StudyFolder:
    """What a study folder holds: results, run card, and the tables of :data:`COLUMNS` by name."""

    results: Results
    run: RunCard
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)

    def table(self, name: str, scenario: str = "") -> pd.DataFrame:
        """A table (of one scenario, if named); without rows where nothing was counted."""
        frame = self.tables[name] if name in self.tables else pd.DataFrame(columns=list(COLUMNS[name]))
        return frame[frame["scenario"] == scenario] if scenario else frame


def write_study(folder: Path, study: StudyFolder) -> None:
    """Write a study folder; it is created, and its files of an earlier run are replaced."""
    tables = {name: study.table(name) for name in COLUMNS}
    for name, frame in tables.items():
        _require_columns(name, frame)
    folder.mkdir(parents=True, exist_ok=True)
    study.results.to_csv(folder / RESULTS)
    for name, frame in tables.items():
        own = frame[list(COLUMNS[name])]
        own.to_csv(folder / f"{name}.csv", index=False, lineterminator="\n", encoding="utf-8")
    write_card(folder, study.run)


def write_card(folder: Path, card: RunCard) -> None:
    """Write the run card with the digests of the tables that lie beside it."""
    text = json.dumps(asdict(replace(card, files=digests(folder))), indent=2, ensure_ascii=False)
    (folder / RUN).write_text(text + "\n", encoding="utf-8", newline="\n")


def digests(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every table of a study folder."""
    return {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in sorted(FILES)}


def read_study(folder: Path) -> StudyFolder:
    """Read a study folder; :class:`BadInput` lists every file that is missing or not as documented."""
    missing = [name for name in (*FILES, RUN) if not (folder / name).is_file()]
    if missing:
        mend = "Simulate first: 'simkit report PLANT' writes the study folder"
        raise BadInput(Finding(f"{folder.name}/{name}", "the file is missing", mend) for name in missing)
    tables = {name: _read_table(folder, name) for name in COLUMNS}
    return StudyFolder(Results.from_csv(folder / RESULTS), read_card(folder), tables)


def _read_table(folder: Path, name: str) -> pd.DataFrame:
    kinds = dict.fromkeys(NAMES, "str")
    frame = pd.read_csv(
        folder / f"{name}.csv", dtype=kinds, keep_default_na=False, na_values={c: [""] for c in NUMBERS}
    )
    _require_columns(name, frame)
    return frame


def _require_columns(name: str, frame: pd.DataFrame) -> None:
    absent = [column for column in COLUMNS[name] if column not in frame.columns]
    if absent:
        mend = f"The documented columns are {', '.join(COLUMNS[name])}"
        raise BadInput(Finding(f"{name}.csv", "the column is missing", mend, column=column) for column in absent)


def read_card(folder: Path) -> RunCard:
    """Read the run card of a study folder; :class:`BadInput` names entries that are not known."""
    raw: dict[str, Any] = json.loads((folder / RUN).read_text(encoding="utf-8"))
    known = [spec.name for spec in fields(RunCard)]
    unknown = [name for name in raw if name not in known]
    if unknown:
        raise BadInput(Finding(RUN, "unknown entry", nearest(n, known), value=n) for n in unknown)
    raw["demand_factors"] = tuple(raw["demand_factors"])
    raw["overrides"] = tuple(raw.get("overrides", ()))
    raw["leading"] = tuple(raw.get("leading", ()))
    raw["package_trail"] = tuple(Trial.of_row(row) for row in raw.get("package_trail", ()))
    raw["scenarios"] = {name: tuple(held) for name, held in raw["scenarios"].items()}
    raw["cases"] = {
        study: {name: Case.of_row(row) for name, row in cases.items()} for study, cases in raw.get("cases", {}).items()
    }
    return RunCard(**raw)
