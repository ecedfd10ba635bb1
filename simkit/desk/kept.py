"""What a report keeps of its numbers: every total of every run, and how it was run, for the audit after a purchase."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from simkit.analysis.audit import Audit
from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding
from simkit.desk.plants import Plant, read_plant
from simkit.desk.study import Study
from simkit.experiment.results import Results
from simkit.plant.changes import changed_plant, one_demand
from simkit.plant.scenarios import make_scenario

RESULTS, RUN = "results.csv", "run.json"


@dataclass(frozen=True, kw_only=True)
class RunCard:
    """How the numbers of a report were made. ``scenarios`` are options by name, the first is what others are compared
    with; ``changes`` held for the whole plant, one demand for every year among them."""

    plant: str
    seed: int
    replications: int
    weeks: float
    demand: float
    scenarios: Mapping[str, tuple[str, ...]]
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
    write_whole(folder / RUN, json.dumps(asdict(card), indent=2, ensure_ascii=False) + "\n")
    return RESULTS, RUN


def read_kept(plant_folder: Path, folder: Path) -> tuple[Plant, Audit]:
    """What a report predicted, beside the plant as it is now. Raises BadInput if there is none or it does not fit."""
    missing = [name for name in (RESULTS, RUN) if not (folder / name).is_file()]
    if missing:
        mend = "Make the report first: simkit report PLANT --out DIR"
        raise BadInput(Finding(str(folder / name), "is not there", mend) for name in missing)
    card = _card(folder / RUN)
    plant = read_plant(plant_folder)
    if card.plant != plant.name:
        why = f"the report is of '{card.plant}', and this plant is '{plant.name}'"
        raise BadInput([Finding(str(folder), why, "Name the report of this plant with --report")])
    inputs = changed_plant(plant.inputs, card.changes)
    results = Results.from_csv(folder / RESULTS)
    held = {name: options for name, options in card.scenarios.items() if name in results.scenarios}
    scenarios = {name: make_scenario(inputs, options, name=name) for name, options in held.items()}
    return plant, Audit(inputs, results, scenarios, next(iter(scenarios)))


def _card(path: Path) -> RunCard:
    try:
        raw: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        scenarios = {str(name): tuple(options) for name, options in raw["scenarios"].items()}
        return RunCard(**{**raw, "scenarios": scenarios, "changes": tuple(raw["changes"])})
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise BadInput([Finding(str(path), "is not a run card of a report", "Make the report again")]) from error
