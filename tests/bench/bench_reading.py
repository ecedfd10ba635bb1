"""How fast a plant folder is read and checked, as ratios within one run: ``make bench`` writes bench_reading.json.

The plant is read with its own book and with the same book repeated to many orders. Seconds depend on the computer and
its load; only the ratios are worth comparing.
"""

from __future__ import annotations

import argparse
import csv
import json
import tempfile
from pathlib import Path
from typing import Any

from simkit.plant.reading import read_plant
from simkit.plant.writing import write_plant
from tests.bench.timing import medians
from tests.small_plant import with_orders

MEANINGS = {
    "checked_over_bare": "a folder with many orders, read and checked whole, against its orders as bare texts",
    "many_over_half": "the same folder against one with half its orders (2 at most: what does not grow counts in both)",
    "many_over_own": "the same folder against the plant as it is",
}


def bare_rows(path: Path) -> list[dict[str, Any]]:
    """The rows of a table as texts, nothing checked."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def ratios(plant_folder: Path, orders: int, rounds: int) -> dict[str, float]:
    """All ratios of one plant folder."""
    plant = read_plant(plant_folder)
    with tempfile.TemporaryDirectory() as place:
        many, half = Path(place) / "many", Path(place) / "half"
        write_plant(with_orders(plant, orders), many)
        write_plant(with_orders(plant, orders // 2), half)
        s = medians(
            {
                "own": lambda: read_plant(plant_folder),
                "half": lambda: read_plant(half),
                "many": lambda: read_plant(many),
                "bare": lambda: bare_rows(many / "orders.csv"),
            },
            rounds,
        )
    return {
        "checked_over_bare": s["many"] / s["bare"],
        "many_over_half": s["many"] / s["half"],
        "many_over_own": s["many"] / s["own"],
    }


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plant", type=Path, default=Path("data/tarnholt"), help="plant folder")
    parser.add_argument("--out", type=Path, default=Path("build/bench"), help="folder of the result")
    parser.add_argument("--orders", type=int, default=20_000, help="orders of the long book")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of which the median is taken")
    given = parser.parse_args()
    found = ratios(given.plant, given.orders, given.rounds)
    setting = f"{given.plant}, {given.orders} orders, median of {given.rounds} rounds"
    given.out.mkdir(parents=True, exist_ok=True)
    record = {"setting": setting, "ratios": found, "meanings": MEANINGS}
    (given.out / "bench_reading.json").write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(setting)
    for name, value in found.items():
        print(f"{value:8.3g}  {MEANINGS[name]}")


if __name__ == "__main__":
    main()
