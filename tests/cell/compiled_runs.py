"""Runs whose whole trace is told as one number, by the sources or compiled: ``python -m tests.cell.compiled_runs``.

Prints whether compiled modules ran, and a digest by run, as JSON.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import hypothesis
from hypothesis import Phase

from simkit.base.compiled import in_use
from simkit.cell.eventnotes import Notes
from simkit.cell.run import simulate
from simkit.experiment.records import record_run
from simkit.experiment.replication import draw_luck
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import Workload, make_workload
from tests.cell.test_oracle_nights import nightly
from tests.cell.test_oracle_picking import picking_plants
from tests.oracle.compare import difference, records_of_cell, records_of_oracle
from tests.oracle.plants import crowded, plants, two_setters, workload_of
from tests.oracle.straight import Straight

STRATEGIES = {"plants": plants, "crowded": crowded, "two_setters": two_setters,
              "nightly": nightly, "picking": picking_plants}  # fmt: skip
DATA = Path(__file__).parents[2] / "data"
SETS = {
    "tarnholt": ("", "A1+A5b", "N1+N2+N4+N6", "A1+A4+A5b+A8+A7"),
    "quennow": ("", "A8+A5b"),
    "uthmarsh": ("", "A1+A5a+A8"),
}


def workloads() -> Iterator[tuple[str, Workload]]:
    """Two weeks of each set of each plant."""
    for name, sets in SETS.items():
        plant = read_plant(DATA / name)
        luck = draw_luck(make_scenario(plant), 5, 0, 2, 1.0)
        for text in sets:
            yield f"{name} {text}", make_workload(make_scenario(plant, tuple(text.split("+")) if text else ()), luck)


def digests() -> dict[str, str]:
    """A digest of the trace, the records and the notes of each run."""
    found = {}
    for name, workload in workloads():
        notes = Notes()
        trace = simulate(workload)
        told = (records_of_cell(trace), record_run(trace, workload), records_of_cell(simulate(workload, notes=notes)))
        text = repr((told, notes.work, notes.moves))
        found[name] = hashlib.sha256(text.encode()).hexdigest()
    return found


def differing(strategy: str, count: int) -> int:
    """How many of so many drawn plants come out otherwise than in the oracle."""
    differ = 0

    @hypothesis.settings(max_examples=count, derandomize=True, database=None, deadline=None, phases=[Phase.generate])
    @hypothesis.given(STRATEGIES[strategy]())
    def one(plant: object) -> None:
        nonlocal differ
        workload = workload_of(plant)
        differ += bool(difference(records_of_cell(simulate(workload)), records_of_oracle(Straight(workload).run())))

    one()
    return differ


if __name__ == "__main__":
    drawn = {name: differing(name, 25) for name in STRATEGIES}
    print(json.dumps({"compiled": in_use(), "digests": digests(), "differ": drawn}))
