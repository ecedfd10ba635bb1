"""The study folder: what the simulate step writes once and every study reads.

======================  ================================================================================
file                    content
======================  ================================================================================
``results.csv``         scenario, demand_factor, replication, measure, value, unit: one total of one
                        replication a row, as in ``Results``; the same bytes for the same seed
``money.csv``           scenario, year, line, benefit_class, amount (and more columns if the cash-flow
                        table has them): the cash-flow table, money per year
``ribbon.csv``          scenario, resource, state, start_h, end_h: one simulated week, hours from Monday
                        00:00. Resource ``calendar`` holds the states shift, break, night, overtime
``run.json``            the run card, :class:`RunCard`
======================  ================================================================================

No file holds the time of writing, so that a repeated run can be compared byte by byte.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

import pandas as pd

from simkit.base.messages import BadInput, Finding, nearest
from simkit.experiment.results import Results

MONEY_COLUMNS = ("scenario", "year", "line", "benefit_class", "amount")
RIBBON_COLUMNS = ("scenario", "resource", "state", "start_h", "end_h")
TABLES = {"money.csv": MONEY_COLUMNS, "ribbon.csv": RIBBON_COLUMNS}
RESULTS = "results.csv"
CALENDAR = "calendar"
"""The ribbon's resource whose states are the shifts, breaks and nights."""

TODAY = "today"


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
    cheap_package: Mapping[str, str] = field(default_factory=dict)
    """The best low-capital package's scenario for each demand factor (written as ``1.25``)."""
    practical_capacity_h: float | None = None
    """Simulated practical capacity: most hours needed at which today's limits on lateness still hold."""
    inputs_sha256: str = ""
    physics_hashes: Mapping[str, str] = field(default_factory=dict)
    money_hashes: Mapping[str, str] = field(default_factory=dict)
    overrides: tuple[str, ...] = ()
    versions: Mapping[str, str] = field(default_factory=dict)

    def cheap_at(self, demand_factor: float) -> str:
        """Return the best low-capital package at a demand factor, or ``today`` if none was found."""
        return self.cheap_package.get(factor_text(demand_factor), TODAY)

    def named(self, options: frozenset[str]) -> str | None:
        """Return the scenario that holds exactly these options, if it was simulated."""
        return next((name for name, held in self.scenarios.items() if frozenset(held) == options), None)


@dataclass(frozen=True)
class StudyFolder:
    """The tables of a study folder and its run card."""

    results: Results
    money: pd.DataFrame
    ribbon: pd.DataFrame
    run: RunCard


def factor_text(demand_factor: float) -> str:
    """Write a demand factor as a key of the run card: ``1.0``, ``1.25``."""
    return repr(float(demand_factor))


def write_study(folder: Path, study: StudyFolder) -> None:
    """Write a study folder; it is created, and its files of an earlier run are replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    study.results.to_csv(folder / RESULTS)
    frames = {"money.csv": study.money, "ribbon.csv": study.ribbon}
    for name, frame in frames.items():
        _require_columns(frame, name)
        ordered = [*TABLES[name], *(c for c in frame.columns if c not in TABLES[name])]
        frame[ordered].to_csv(folder / name, index=False, lineterminator="\n", encoding="utf-8")
    text = json.dumps(asdict(study.run), indent=2, ensure_ascii=False)
    (folder / "run.json").write_text(text + "\n", encoding="utf-8", newline="\n")


def read_study(folder: Path) -> StudyFolder:
    """Read a study folder; :class:`BadInput` lists every file that is missing or not as documented."""
    missing = [name for name in (RESULTS, *TABLES, "run.json") if not (folder / name).is_file()]
    if missing:
        mend = "Simulate first: 'simkit report PLANT' writes the study folder"
        raise BadInput(Finding(f"{folder.name}/{name}", "the file is missing", mend) for name in missing)
    frames = {name: _read_table(folder / name) for name in TABLES}
    results = Results.from_csv(folder / RESULTS)
    return StudyFolder(results, frames["money.csv"], frames["ribbon.csv"], _read_card(folder))


def _read_table(path: Path) -> pd.DataFrame:
    frame = pd.read_csv(path, dtype={"scenario": "str", "line": "str", "state": "str"}, keep_default_na=False)
    _require_columns(frame, path.name)
    return frame


def _require_columns(frame: pd.DataFrame, name: str) -> None:
    absent = [column for column in TABLES[name] if column not in frame.columns]
    if absent:
        mend = f"The documented columns are {', '.join(TABLES[name])}"
        raise BadInput(Finding(name, "the column is missing", mend, column=column) for column in absent)


def _read_card(folder: Path) -> RunCard:
    raw: dict[str, Any] = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    known = [spec.name for spec in fields(RunCard)]
    unknown = [name for name in raw if name not in known]
    if unknown:
        raise BadInput(Finding("run.json", "unknown entry", nearest(n, known), value=n) for n in unknown)
    raw["demand_factors"] = tuple(raw["demand_factors"])
    raw["overrides"] = tuple(raw.get("overrides", ()))
    raw["scenarios"] = {name: tuple(held) for name, held in raw["scenarios"].items()}
    return RunCard(**raw)
