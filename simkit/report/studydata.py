"""The study folder: what the simulate step writes once and every study reads.

======================  ================================================================================
file                    content
======================  ================================================================================
``results.csv``         scenario, demand_factor, replication, measure, value, unit: one total of one
                        replication a row, as in ``Results``; the same bytes for the same seed
``ribbon.csv``          scenario, resource, state, start_h, end_h: one simulated week, hours from Monday
                        00:00. Resource ``calendar`` holds the states shift, break, night, overtime
``run.json``            the run card, :class:`RunCard`
======================  ================================================================================

Money is not in it: the cash-flow table is built from the results and the plant whenever a study is
rendered, so that a change of money never needs a new simulation. The rendered report holds that table as
``money.csv`` with columns scenario, year, line, benefit_class, amount, basis, owner, item.

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

RIBBON_COLUMNS = ("scenario", "resource", "state", "start_h", "end_h")
RESULTS, RIBBON, RUN = "results.csv", "ribbon.csv", "run.json"
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
    ribbon: pd.DataFrame
    run: RunCard


def factor_text(demand_factor: float) -> str:
    """Write a demand factor as a key of the run card: ``1.0``, ``1.25``."""
    return repr(float(demand_factor))


def write_study(folder: Path, study: StudyFolder) -> None:
    """Write a study folder; it is created, and its files of an earlier run are replaced."""
    _require_ribbon(study.ribbon)
    folder.mkdir(parents=True, exist_ok=True)
    study.results.to_csv(folder / RESULTS)
    study.ribbon[list(RIBBON_COLUMNS)].to_csv(folder / RIBBON, index=False, lineterminator="\n", encoding="utf-8")
    text = json.dumps(asdict(study.run), indent=2, ensure_ascii=False)
    (folder / RUN).write_text(text + "\n", encoding="utf-8", newline="\n")


def read_study(folder: Path) -> StudyFolder:
    """Read a study folder; :class:`BadInput` lists every file that is missing or not as documented."""
    missing = [name for name in (RESULTS, RIBBON, RUN) if not (folder / name).is_file()]
    if missing:
        mend = "Simulate first: 'simkit report PLANT' writes the study folder"
        raise BadInput(Finding(f"{folder.name}/{name}", "the file is missing", mend) for name in missing)
    ribbon = pd.read_csv(folder / RIBBON, dtype={"scenario": "str", "resource": "str", "state": "str"})
    _require_ribbon(ribbon)
    return StudyFolder(Results.from_csv(folder / RESULTS), ribbon, _read_card(folder))


def _require_ribbon(frame: pd.DataFrame) -> None:
    absent = [column for column in RIBBON_COLUMNS if column not in frame.columns]
    if absent:
        mend = f"The documented columns are {', '.join(RIBBON_COLUMNS)}"
        raise BadInput(Finding(RIBBON, "the column is missing", mend, column=column) for column in absent)


def _read_card(folder: Path) -> RunCard:
    raw: dict[str, Any] = json.loads((folder / RUN).read_text(encoding="utf-8"))
    known = [spec.name for spec in fields(RunCard)]
    unknown = [name for name in raw if name not in known]
    if unknown:
        raise BadInput(Finding(RUN, "unknown entry", nearest(n, known), value=n) for n in unknown)
    raw["demand_factors"] = tuple(raw["demand_factors"])
    raw["overrides"] = tuple(raw.get("overrides", ()))
    raw["scenarios"] = {name: tuple(held) for name, held in raw["scenarios"].items()}
    return RunCard(**raw)
