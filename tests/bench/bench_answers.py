"""How fast an answer comes back that was found before, as ratios: ``make bench`` writes bench_answers.json.

A small plant is asked what to do next: with nothing kept, with its runs kept, and with the answer kept as well. Seconds
depend on the computer and its load; only the ratios are worth comparing.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from itertools import count
from pathlib import Path

import simkit as sk
from tests.bench.timing import medians
from tests.report.option_plant import write_option_plant

MEANINGS = {
    "runs_kept_over_nothing": "a recommendation from kept runs against one with all its runs",
    "answer_kept_over_nothing": "the same where its answer was found before",
    "read_again_over_read": "reading a plant whose files are as they were against reading it for the first time",
}


def ratios(rounds: int) -> dict[str, float]:
    """All ratios."""
    with tempfile.TemporaryDirectory() as place:
        folder, keep = write_option_plant(Path(place) / "plant"), Path(place) / "runs"
        plant = sk.read_plant(folder)

        def ask(kept: Path | bool) -> None:
            sk.recommend(plant, replications=3, weeks=2, workers=1, keep=kept, progress=False)

        def ask_anew() -> None:
            for path in keep.rglob("*.answer"):
                path.unlink()
            ask(keep)

        numbers = count()

        def read_changed() -> None:
            (folder / f"note {next(numbers)}.md").write_text("", encoding="utf-8")
            sk.read_plant(folder)

        steps = {
            "nothing": lambda: ask(False), "runs": ask_anew, "answer": lambda: ask(keep),
            "read": read_changed, "again": lambda: sk.read_plant(folder),
        }  # fmt: skip
        s = medians(steps, rounds)
    return {
        "runs_kept_over_nothing": s["runs"] / s["nothing"],
        "answer_kept_over_nothing": s["answer"] / s["nothing"],
        "read_again_over_read": s["again"] / s["read"],
    }


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("build/bench"), help="folder of the result")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of which the median is taken")
    given = parser.parse_args()
    found = ratios(given.rounds)
    given.out.mkdir(parents=True, exist_ok=True)
    record = {"ratios": found, "meanings": MEANINGS}
    (given.out / "bench_answers.json").write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    for name, value in found.items():
        print(f"{value:8.3g}  {MEANINGS[name]}")


if __name__ == "__main__":
    main()
