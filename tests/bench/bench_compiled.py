"""The cell as sources against compiled, as ratios within one run: ``python -m tests.bench.bench_compiled``.

Each is a process of its own; they take turns, round after round, and the least processor time counts. ``--beside FILE``
puts another model of the same plant beside them: a module with ``Data(folder)`` and ``simulate(data, weeks, seed)``,
whose result has ``sheets``. The plant is not calibrated here, since such a model reads its files as they are.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time
from typing import Any

from simkit.base.compiled import in_use
from simkit.cell.run import simulate
from simkit.experiment.replication import draw_luck
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import make_workload

SETS = ((), ("A1",), ("A1", "A5b"), ("N1", "N2", "N4", "N6"))
WAYS = {"sources": {"SIMKIT_SOURCES": "1"}, "compiled": {"SIMKIT_SOURCES": ""}}


def steps(folder: Path, weeks: float, beside: Path | None) -> Iterator[tuple[str, Callable[[], Any], int]]:
    """Name, run and sheets of each set, and of the model beside."""
    plant = read_plant(folder, calibrated=False)
    luck = draw_luck(make_scenario(plant), 1, 0, weeks, 1.0)
    for options in SETS:
        work = make_workload(make_scenario(plant, options), luck)
        sheets = sum(len(log.made) for log in simulate(work).machines)
        yield "+".join(options) or "today", lambda work=work: simulate(work), sheets  # type: ignore[misc]
    if beside:
        sys.path.insert(0, str(beside.parent))
        model = __import__(beside.stem)
        data = model.Data(str(folder))
        yield beside.stem, lambda: model.simulate(data, int(weeks), 1), model.simulate(data, int(weeks), 1).sheets


def seconds_a_sheet(folder: Path, weeks: float, beside: Path | None, rounds: int = 3) -> dict[str, float]:
    """Least processor time a sheet of each, measured in turns."""
    runs, least = list(steps(folder, weeks, beside)), {}
    for _ in range(rounds):
        for name, run, sheets in runs:
            begun = process_time()
            run()
            least[name] = min(least.get(name, float("inf")), (process_time() - begun) / sheets)
    return least


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plant", type=Path, default=Path("data/tarnholt"), help="plant folder")
    parser.add_argument("--weeks", type=float, default=12.0, help="release weeks simulated")
    parser.add_argument("--rounds", type=int, default=3, help="turns of each process")
    parser.add_argument("--beside", type=Path, help="another model of the plant")
    parser.add_argument("--alone", action="store_true", help="measure this process and print it as JSON")
    given = parser.parse_args()
    if given.alone:
        print(json.dumps({"compiled": in_use(), **seconds_a_sheet(given.plant, given.weeks, given.beside)}))
        return
    least: dict[str, dict[str, float]] = {way: {} for way in WAYS}
    for _ in range(given.rounds):
        for way, more in WAYS.items():
            command = [sys.executable, "-m", "tests.bench.bench_compiled", *sys.argv[1:], "--alone"]
            told = json.loads(subprocess.check_output(command, env={**os.environ, **more}))
            if told.pop("compiled") != (way == "compiled"):
                raise SystemExit("the sources are not compiled as they are: simkit compile")
            least[way] = {name: min(value, least[way].get(name, value)) for name, value in told.items()}
    other = min(least[way].get(given.beside.stem, 0.0) for way in WAYS) if given.beside else 0.0
    for name in least["sources"]:
        sources, compiled = least["sources"][name], least["compiled"][name]
        more = f"; {given.beside.stem} over compiled {other / compiled:.2f}" if other else ""
        print(f"{name}: {1e6 * sources:.1f} and {1e6 * compiled:.1f} microseconds a sheet, sources over compiled "
              f"{sources / compiled:.2f}{more}")  # fmt: skip


if __name__ == "__main__":
    main()
