"""Published values of two stations with a finite buffer between them: machine and bench, through the whole cell.

The first station blocks after its service: a sheet stays on the machine until a bench place is free. Bench places
count the sheet in work, so B places between the stations are B + 1 places of the bench. Time unit: one hour.
Lines whose stations fail (Buzacott, Dubois and Forestier) are in ``test_failing_lines.py``.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from simkit.base.vocabulary import SKILLS
from simkit.experiment.replication import draw_luck
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import make_workload
from tests.published.long_run import problems
from tests.published.rows import Row
from tests.published.test_queues import (
    EXACT,
    HUNT,
    PLANTS,
    TODAY,
    MeanRow,
    arguments,
    mean_rows,
    measure,
    per_hour,
    starved,
)

LINE = HUNT.replace(
    "X = mu (B + 2) / (B + 3)", "unequal rates mu1 mu2 (mu1^(B+2) - mu2^(B+2)) / (mu1^(B+3) - mu2^(B+3))"
)
CHAIN = "Poisson orders into two exponential stations, blocking after service; exact Markov chain, worked out"
DETERMINISTIC = "two constant stations in series, worked by hand: part k leaves at t1 + (k - 1) max(t1, t2) + t2"


def in_system(results: Results) -> Any:
    """Orders waiting or begun, blocked ones included."""
    return measure("machine_queue_mean")(results) + measure("orders_in_process_mean")(results)


def line(x: float, blocked: float, idle: float, waiting: float) -> dict[str, Any]:
    """Rows of a line that is never starved: the published X, P(block1), P(starve2) and the mean in the buffer."""
    return {
        "X": (x, "sheets per h", 0.012, per_hour("sheets_in_span")),
        "P(block1)": (blocked, "share of time the first station is blocked", 0.06, per_hour("state_blocked_h")),
        "P(starve2)": (idle, "share of time the second station is starved", 0.1, starved),
        "buffer": (waiting, "sheets on the bench that wait", 0.03, measure("bench_queue_mean")),
    }


STOCHASTIC = [
    *mean_rows("3.1b", "q3_1b_one_place", LINE, line(0.75, 0.25, 0.25, 0.5)),
    *mean_rows("3.1c", "q3_1c_four_places", LINE, line(0.857142857, 0.142857143, 0.142857143, 2.0)),
    *mean_rows("3.1d", "q3_1d_fast_bench", LINE, line(0.933333333, 0.0666666667, 0.533333333, 0.2)),
    *mean_rows("3.1e", "q3_1e_slow_bench", LINE, line(0.759681195, 0.240318805, 0.0503985063, 3.42283190)),
    *mean_rows("3.2a", "q3_2a_poisson", CHAIN, {
        "L": (2.8, "orders", 0.07, in_system),
        "P(blocked)": (0.2, "share of time the first station is blocked", 0.04, per_hour("state_blocked_h")),
    }),
    *mean_rows("3.2b", "q3_2b_poisson_two_places", CHAIN, {
        "L": (2.0676704, "orders", 0.06, in_system),
        "P(blocked)": (0.0424153674, "share of time the first station is blocked", 0.12, per_hour("state_blocked_h")),
        "U2": (0.5, "share of time the second station works", 0.025, measure("people_utilisation")),
    }),
]  # fmt: skip


# ---- constant stations: exact ----


def leaving_h(trace: Any) -> list[float]:
    """Hours at which parts 1, 2, 3, 10 and 100 leave the second station, then the cycles between all of them."""
    bench = SKILLS.index("bench")
    ends = [end / 3600.0 for task, end in zip(trace.tasks.task, trace.tasks.end_s, strict=True) if task == bench]
    return [*(ends[k - 1] for k in (1, 2, 3, 10, 100)), *sorted({float(gap) for gap in np.diff(ends[:300])})]


def constant_row(number: str, case: str, first_h: float, second_h: float) -> Row:
    scenario = make_scenario(read_plant(PLANTS / case))
    run = scenario.plant.settings.run
    draws = draw_luck(scenario, run.seed, 0, run.weeks, 1.0)
    slower = max(first_h, second_h)
    expected = [first_h + (k - 1) * slower + second_h for k in (1, 2, 3, 10, 100)] + [slower]
    return Row(number, "simkit.cell.run.simulate", {"workload": make_workload(scenario, draws)},
               expected, "h", 1e-9, EXACT, DETERMINISTIC, leaving_h)  # fmt: skip


CONSTANT = [
    constant_row("3.5 t1 > t2", "q3_5_machine_first", 1.25, 1.0),
    constant_row("3.5 t1 < t2", "q3_5_bench_first", 1.0, 1.25),
]
PUBLISHED: list[Row] = [*STOCHASTIC, *CONSTANT]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


# ---- a broken model turns the rows red ----


BREAKS = {
    "second faster": "elements[second].typical*=0.85", "first slower": "elements[first].typical*=1.15",
    "bench place more": "plant.bench.places+=1",
}  # fmt: skip


@lru_cache
def broken_results(case: str, name: str) -> Results:
    """A broken case, as long as the right one."""
    inputs = arguments(case)
    plant = inputs["plant"]
    places = plant.settings.bench.places + 1
    return run_experiment(**inputs, overrides=(BREAKS[name].replace("+=1", f"={places}"),))


BROKEN_BY = {
    "X": "first slower", "P(block1)": "second faster", "P(starve2)": "first slower", "buffer": "bench place more",
    "L": "second faster", "P(blocked)": "bench place more", "U2": "second faster",
}  # fmt: skip


@pytest.mark.parametrize(("row", "name"), [(row, BROKEN_BY[row.id.split()[1]]) for row in STOCHASTIC], ids=str)
def test_a_broken_model_turns_the_row_red(row: MeanRow, name: str) -> None:
    assert row.read is not None
    found = problems(row.read(broken_results(row.case, name)), row.expected, np.inf)
    assert [text for text in found if "is not" in text]


@pytest.mark.parametrize("row", CONSTANT, ids=str)
def test_a_station_a_tick_slower_turns_the_constant_row_red(row: Row) -> None:
    case = "q3_5_machine_first" if "t1 > t2" in row.id else "q3_5_bench_first"
    slow = "first" if "t1 > t2" in row.id else "second"
    scenario = make_scenario(read_plant(PLANTS / case), (), (f"elements[{slow}].typical*=1.000001",))
    draws = draw_luck(scenario, 1, 0, scenario.plant.settings.run.weeks, 1.0)
    broken = Row(**{**vars(row), "inputs": {"workload": make_workload(scenario, draws)}})
    with pytest.raises(AssertionError):
        broken.check()


@pytest.mark.parametrize(("per_h", "grows"), [(0.6, False), (0.72, True)])
def test_without_a_place_between_the_line_takes_less_than_two_thirds_of_a_stations_rate(
    per_h: float, grows: bool
) -> None:
    """At 0.72 orders an hour, 0.053 more than 2/3 come each hour: some 180 wait after 3333 hours."""
    overrides = (f"plant.run.arrival_mean_s={3600 / per_h}", "plant.run.horizon_s=12e6", "plant.run.replications=4")
    results = run_experiment(**arguments("q3_2a_poisson"), overrides=overrides)
    waiting = results.values(TODAY, "machine_queue_mean")
    assert (waiting.min() > 40) if grows else (waiting.max() < 25)
