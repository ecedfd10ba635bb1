"""A million lines of a machine's log, read and told: processor time and memory, in a process of its own.

The demo's log is repeated week after week. Agreed beforehand: under 20 s of processor time and 500 MB on an ordinary
computer. ``make bench`` writes bench_log.json.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pandas as pd

from simkit.analysis.log_times import exposures, sheet_runs, stops
from simkit.analysis.machine_log import read_log
from simkit.plant.reading import read_plant

DEMO, EVENTS = Path("data/tarnholt"), Path("data/tarnholt/events.csv")
LIMIT_S, LIMIT_MB = 20.0, 500.0


def long_log(path: Path, lines: int) -> None:
    """Write the demo's log over and over, four weeks later each time."""
    with EVENTS.open(encoding="utf-8", newline="") as file:
        heads, *rows = csv.reader(file)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heads)
        for number in range(lines):
            stamp, item, value = rows[number % len(rows)]
            later = dt.datetime.fromisoformat(stamp) + dt.timedelta(weeks=4 * (number // len(rows)))
            writer.writerow((later.isoformat(timespec="milliseconds"), item, value))


def measure(path: Path) -> dict[str, float]:
    """Read the log and tell all of it; processor seconds (of a bare read too), peak memory of this process."""
    plant = read_plant(DEMO)
    start = time.process_time()
    pd.read_csv(path, dtype={"item": "category", "value": "category"})
    bare = time.process_time()
    log = read_log(path, plant)
    log.hours()
    sheet_runs(log, plant)
    for cause in set(stops(log)["cause"]):
        exposures(log, cause)
    spent = time.process_time() - bare
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"lines": log.lines, "processor_s": spent, "peak_mb": peak_mb, "over_bare_read": spent / (bare - start)}


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("build/bench"), help="folder of the result")
    parser.add_argument("--lines", type=int, default=1_000_000, help="lines of the log")
    parser.add_argument("--measure", type=Path, help="measure this log and print")
    given = parser.parse_args()
    if given.measure:
        print(json.dumps(measure(given.measure)))
        return
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "events.csv"
        long_log(path, given.lines)
        command = [sys.executable, "-m", "tests.bench.bench_log", "--measure", str(path)]
        found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    given.out.mkdir(parents=True, exist_ok=True)
    record = {**found, "limit_s": LIMIT_S, "limit_mb": LIMIT_MB}
    (given.out / "bench_log.json").write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    for name, value in record.items():
        print(f"{value:12.4g}  {name}")


if __name__ == "__main__":
    main()
