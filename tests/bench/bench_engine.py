"""How fast the cell runs, as ratios within one run: ``make bench`` writes bench.json and bench.html.

Seconds depend on the computer and its load; only the ratios are worth comparing, and the counts of calls and events.
Every step is run in turn, round after round, and the median of its CPU time counts. How the time grows is in
``bench_growth``.

The share of tool decisions in a year is taken by doing them again alone: every call of the cell into the
exchange, look-ahead and magazine decisions during a run is noted with its arguments, and all of them are made
once more without the cell around them. A profiler would count small functions too dear.
"""

from __future__ import annotations

import argparse
import html
import json
import sys
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from unittest.mock import patch

from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.draws import make_draws
from simkit.process.workload import Workload, make_workload
from tests.bench.bench_growth import SEED, UNITS, Curves, costs, curves, section
from tests.bench.timing import medians, share_in
from tests.oracle.straight import Straight

TODAY: tuple[str, ...] = ()
AUTOMATIC = ("A1", "A4", "A5b")
DECISIONS = ("simkit.tooling.exchange", "simkit.tooling.refill")
Call = tuple[Callable[..., Any], tuple[Any, ...], dict[str, Any]]

MEANINGS = {
    "plain_over_lean_today": "the plain cell of the tests against the kit's cell, today's way of working",
    "plain_over_lean_automatic": "the same with magazine, part removal and store",
    "today_over_automatic": "the kit's cell: today against magazine, part removal and store",
    "by_events_over_inline_today": "the kit's cell with every wait an event against its waits without events, today",
    "inputs_share_today": "share of a replication spent on orders, luck and sheet times",
    "measures_share_today": "share of a replication spent on adding up its measures",
    "exchange_share_today": "share of the cell's time in tool decisions, by the profiler",
    "exchange_share_year_today": "share of a year's run in tool decisions, done again alone, today (wanted: under 0.4)",
    "exchange_share_year_automatic": "the same with magazine, part removal and store (wanted: under 0.4)",
    "reading_over_replication": "reading and checking the plant folder against one whole replication",
}


def decisions(work: Workload) -> list[Call]:
    """Every call of the cell into the tool decisions during one run, with its arguments."""
    calls: list[Call] = []

    def noted(function: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **named: Any) -> Any:
            calls.append((function, args, named))
            return function(*args, **named)

        return call

    with ExitStack() as patches:
        for module in [module for name, module in sys.modules.items() if name.startswith("simkit.cell.")]:
            for name, thing in list(vars(module).items()):
                if callable(thing) and not isinstance(thing, type) and getattr(thing, "__module__", "") in DECISIONS:
                    patches.enter_context(patch.object(module, name, noted(thing)))
        simulate(work)
    return calls


def do_again(calls: list[Call]) -> None:
    """Make the same decisions once more."""
    for function, args, named in calls:
        function(*args, **named)


def year_shares(folder: Path, rounds: int) -> dict[str, float]:
    """Share of tool decisions in the run of a year of production weeks, today and automatic."""
    plant = read_plant(folder)
    draws = make_draws(plant, SEED, 0, weeks=plant.settings.finance.production_weeks, demand_factor=1.0)
    shares = {}
    for name, options in (("today", TODAY), ("automatic", AUTOMATIC)):
        work = make_workload(make_scenario(plant, options), draws)
        calls = decisions(work)
        s = medians({"run": lambda work=work: simulate(work), "alone": lambda calls=calls: do_again(calls)}, rounds)  # type: ignore[misc]
        shares[f"exchange_share_year_{name}"] = s["alone"] / s["run"]
    return shares


def ratios(folder: Path, weeks: float, rounds: int) -> dict[str, float]:
    """All ratios of one plant folder."""
    plant = read_plant(folder)
    today, automatic = make_scenario(plant, TODAY), make_scenario(plant, AUTOMATIC)
    draws = make_draws(plant, SEED, 0, weeks=weeks, demand_factor=1.0)
    work, work_automatic = make_workload(today, draws), make_workload(automatic, draws)
    trace = simulate(work)
    s = medians(
        {
            "read": lambda: read_plant(folder),
            "draws": lambda: make_draws(plant, SEED, 0, weeks=weeks, demand_factor=1.0),
            "workload": lambda: make_workload(today, draws),
            "lean": lambda: simulate(work),
            "by_events": lambda: simulate(work, by_events=True),
            "plain": lambda: Straight(work).run(),
            "lean_automatic": lambda: simulate(work_automatic),
            "plain_automatic": lambda: Straight(work_automatic).run(),
            "measures": lambda: measure_run(trace, work),
        },
        rounds,
    )
    inputs_s = s["draws"] + s["workload"]
    replication_s = inputs_s + s["lean"] + s["measures"]
    return {
        "plain_over_lean_today": s["plain"] / s["lean"],
        "plain_over_lean_automatic": s["plain_automatic"] / s["lean_automatic"],
        "today_over_automatic": s["lean"] / s["lean_automatic"],
        "by_events_over_inline_today": s["by_events"] / s["lean"],
        "inputs_share_today": inputs_s / replication_s,
        "measures_share_today": s["measures"] / replication_s,
        "exchange_share_today": share_in("simkit/tooling", lambda: simulate(work)),
        **year_shares(folder, rounds),
        "reading_over_replication": s["read"] / replication_s,
    }


def page(found: dict[str, float], grown: Curves, per: dict[str, float], setting: str) -> str:
    """The ratios, the curves and the costs as a small page."""
    rows = "".join(f"<tr><td>{html.escape(MEANINGS[name])}<td>{value:.3g}" for name, value in found.items())
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Speed of the cell</title><main>'
        f"<h1>Speed of the cell, as ratios</h1><p>{html.escape(setting)}</p>"
        f"<table><tr><th>what<th>ratio{rows}</table>{section(grown, per)}</main></html>\n"
    )


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plant", type=Path, default=Path("data/tarnholt"), help="plant folder")
    parser.add_argument("--out", type=Path, default=Path("reports/bench"), help="folder of the result")
    parser.add_argument("--weeks", type=float, default=4.0, help="release weeks simulated")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of which the median is taken")
    given = parser.parse_args()
    found = ratios(given.plant, given.weeks, given.rounds)
    plant = read_plant(given.plant)
    grown, per = curves(plant, given.weeks, given.rounds), costs(plant, given.weeks, given.rounds)
    setting = f"{given.plant}, {given.weeks:g} weeks, median of {given.rounds} rounds"
    given.out.mkdir(parents=True, exist_ok=True)
    record = {
        "setting": setting, "ratios": found, "growth": grown, "costs": per, "meanings": {**MEANINGS, **UNITS}
    }  # fmt: skip
    (given.out / "bench.json").write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    (given.out / "bench.html").write_text(page(found, grown, per, setting), encoding="utf-8")
    print(setting)
    for name, value in found.items():
        print(f"{value:8.3g}  {MEANINGS[name]}")
    for name, points in grown.items():
        print(f"{name}:", ", ".join(f"{size:g} -> {ratio:.2f}" for size, ratio in points))
    for name, value in per.items():
        print(f"{value:8.3g}  {UNITS[name]}")


if __name__ == "__main__":
    main()
