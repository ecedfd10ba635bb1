"""Published values of queues, machine interference and two stations in series, through the real cell.

The plants in ``plants/`` reduce the cell to a textbook model; every number is taken from a full experiment.
A long-run mean must pass two conditions: it lies within the 99.9 % t interval of the published value, and its
95 % interval is narrow enough to prove something (the row's tolerance). Deterministic cases are exact.
Time unit of the published queues: the mean service, one hour here.

**Two meanings of "must wait".** ``people_wait_share`` is the share of *stops that wait*, called D here. It is
not the share of *time in which all people are busy*; with a finite number of machines the two differ, and
printed tables mix them up.
"""

from __future__ import annotations

import dataclasses
import heapq
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from simkit.experiment.intervals import independent_difference
from simkit.experiment.replication import draw_luck
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import make_workload
from tests.published.long_run import GUARD, problems
from tests.published.rows import Row

PLANTS = Path(__file__).parent / "plants"
TODAY = "today"

KHINTCHINE = "Pollaczek-Khinchine formula, Wq = lambda E[S^2] / (2 (1 - rho)); Rossetti, KSL Book, table C.4"
PALM = "machine repair model M/M/r//N; Anderson et al., An Introduction to Management Science (P0, Lq, L, Wq printed)"
KSL = "machine repair model M/M/r//N; Rossetti, KSL Book, table C.3 (L, Lq, use of machines printed)"
ASHCROFT = "Ashcroft 1950, Journal of the Royal Statistical Society B 12:145-151; value from the formula"
HUNT = "Hunt 1956, Operations Research 4, from memory; value from the formula, X = mu (B + 2) / (B + 3)"
FACILITIES = "facilities planning notes (Francis, White and Tompkins form): Tc = max(a + t, m (a + b))"
COURSE = "key of a machine assignment exercise, run 13 min, service 3 min, 3 units a cycle"

EXACT = "nothing varies: rounding only"
ALL_BUSY = {"2.1a": 0.515485096, "2.1d": 0.501727345}
"""Share of time in which all operators are busy: not what ``people_wait_share`` reports."""


@lru_cache
def plant_of(case: str) -> PlantInputs:
    """A plant of this folder, read once for all its rows."""
    return read_plant(PLANTS / case)


def arguments(case: str) -> dict[str, Any]:
    """What ``run_experiment`` is called with for a plant of this folder."""
    return {"plant": plant_of(case), "combinations": ((),), "workers": 1, "progress": False}


@lru_cache
def results_of(case: str) -> Results:
    """Twenty replications of a case, run once for all its rows."""
    return run_experiment(**arguments(case))


@dataclass(frozen=True)
class MeanRow(Row):
    """A long-run mean; ``tolerance`` is the widest 95 % half-width, ``read`` takes a value per replication."""

    case: str = ""

    def check(self) -> None:
        """Compare with the case's experiment; fails with what is wrong and the source."""
        assert self.read is not None
        found = problems(self.read(results_of(self.case)), self.expected, self.tolerance)
        assert found == [], f"{self.id}: {found} {self.unit} ({self.source})"


def measure(name: str, scale: float = 1.0) -> Callable[[Results], Any]:
    """Read a measure, times a scale, one value per replication."""
    return lambda results: results.values(TODAY, name) * scale


def per_hour(name: str) -> Callable[[Results], Any]:
    """Read a total by hour of the measured span."""
    return lambda results: results.values(TODAY, name) / (results.values(TODAY, "span_weeks") * 168.0)


def starved(results: Results) -> Any:
    """Share of time in which the bench person has nothing to do."""
    return 1.0 - results.values(TODAY, "people_utilisation")


def mean_rows(number: str, case: str, source: str, values: dict[str, tuple[float, str, float, Any]]) -> list[MeanRow]:
    """Rows of a case: name to (expected, unit, relative half-width at most, how to read it)."""
    function = "simkit.experiment.runner.run_experiment"
    return [
        MeanRow(f"{number} {name}", function, arguments(case), expected, unit, width * expected, GUARD, source, read,
                case)
        for name, (expected, unit, width, read) in values.items()
    ]  # fmt: skip


def interference(a: float, u: float, waiting: float, d: float | None, wait_h: float) -> dict[str, Any]:
    """Rows of machine interference: the published symbols A, U, Lq, D and Wq."""
    rows = {
        "A": (a, "share of time a machine runs", 0.01, measure("machine_utilisation")),
        "U": (u, "share of time an operator serves", 0.03, measure("people_utilisation")),
        "Lq": (waiting, "machines waiting for an operator", 0.1, measure("people_queue_mean")),
        "D": (d, "share of stops that wait, not of time all operators are busy", 0.04, measure("people_wait_share")),
        "Wq": (wait_h, "h", 0.1, measure("people_wait_mean_s", 1 / 3600)),
    }
    return {name: row for name, row in rows.items() if row[0] is not None}


STOCHASTIC = [
    *mean_rows("1.6", "q1_6_m_d_1", KHINTCHINE, {
        "Wq": (2.0, "h", 0.12, measure("machine_wait_mean_s", 1 / 3600)),
        "Lq": (1.6, "orders", 0.12, measure("machine_queue_mean")),
    }),
    *mean_rows("1.7", "q1_7_m_e2_1", KHINTCHINE, {
        "Wq": (3.0, "h", 0.14, measure("machine_wait_mean_s", 1 / 3600)),
    }),
    *mean_rows("2.1a", "q2_1a_six_machines", PALM,
               interference(0.859141827, 0.515485096, 0.329663937, 0.436047823, 0.329663937 / 0.515485096)),
    *mean_rows("2.1d", "q2_1d_five_machines", KSL,
               interference(0.667818230, 0.667818230, 0.325272389, 0.353362515, 0.325272389 / (2 * 0.667818230))),
    *mean_rows("2.2e", "q2_2e_constant_service", ASHCROFT,
               interference(0.879642643, 0.527785586, 0.194358554, None, 0.368252864)),
    *mean_rows("3.1a", "q3_1a_no_buffer", HUNT, {
        "X": (2 / 3, "sheets per h", 0.012, per_hour("sheets_in_span")),
        "P(block1)": (1 / 3, "share of time the first station is blocked", 0.024, per_hour("state_blocked_h")),
        "P(starve2)": (1 / 3, "share of time the second station is starved", 0.024, starved),
    }),
]  # fmt: skip


# ---- deterministic servicing: exact ----


def cycles_s(trace: Any) -> set[float]:
    """Seconds from sheet to sheet at every machine, after the first tenth of the run."""
    late = [[moment for moment in log.made_at_s if moment > 0.1 * trace.end_s] for log in trace.machines]
    return {float(gap) for moments in late for gap in np.diff(moments)}


def busy_share(results: Results) -> Any:
    """Share of time in which a machine is served or runs by itself, (a + t) / Tc."""
    return results.values(TODAY, "machine_utilisation") + per_machine_hour(results, "state_loading_h")


def per_machine_hour(results: Results, name: str) -> Any:
    """A total as a share of all machine hours of the span."""
    run = results.values(TODAY, "run_h")
    return results.values(TODAY, name) * results.values(TODAY, "machine_utilisation") / run


def idle_min(results: Results) -> Any:
    """Minutes a machine waits for the operator in a cycle."""
    return 60.0 * results.values(TODAY, "state_waiting_person_h") / results.values(TODAY, "sheets_in_span")


def cost_per_unit(operator: float, machine: float, machines: int, units: int) -> Callable[[Results], Any]:
    """Cost of a unit: hourly rates of one operator and all machines, over units an hour."""
    rate = operator + machine * machines
    return lambda results: rate / (units * per_hour("sheets_in_span")(results))


def exact_rows(number: str, plant: PlantInputs, cycle_s: float, source: str, values: dict[str, Any]) -> list[Row]:
    """Rows of a deterministic case: its cycle from the trace, the others from an experiment."""
    scenario = make_scenario(plant)
    run = plant.settings.run
    draws = draw_luck(scenario, run.seed, 0, run.weeks, 1.0)
    cycle = Row(f"{number} cycle", "simkit.cell.run.simulate", {"workload": make_workload(scenario, draws)},
                [cycle_s], "s", 1e-9, EXACT, source, lambda trace: sorted(cycles_s(trace)))  # fmt: skip
    inputs = {"plant": plant, "combinations": ((),), "workers": 1, "replications": 1, "progress": False}
    others = [
        Row(f"{number} {name}", "simkit.experiment.runner.run_experiment", inputs, expected, unit, tolerance,
            EXACT if tolerance < 1e-6 else "half a unit of the last printed digit", source,
            lambda results, read=read: float(read(results)[0]))
        for name, (expected, unit, tolerance, read) in values.items()
    ]  # fmt: skip
    return [cycle, *others]


def deterministic_rows() -> list[Row]:
    five, six = (read_plant(PLANTS / f"q2_5_run13_{name}") for name in ("five", "six"))
    one = dataclasses.replace(five, machines=five.machines[:1])
    busy, walked = measure("people_utilisation"), measure("person_walking_h")
    return [
        *exact_rows("2.5 m=1", one, 16 * 60, COURSE, {
            "units": (11.25, "units/h", 1e-9, lambda results: 3 * per_hour("sheets_in_span")(results)),
            "cost": (4.53333, "$/unit", 5e-6, cost_per_unit(14, 37, 1, 3)),
        }),
        *exact_rows("2.5 m=5", five, 16 * 60, COURSE, {
            "operator idle": (1.0, "min/cycle", 1e-9, lambda results: 16 * (1 - busy(results))),
            "machine idle": (0.0, "min/cycle", 1e-9, idle_min),
            "cost": (3.53778, "$/unit", 5e-6, cost_per_unit(14, 37, 5, 3)),
        }),
        *exact_rows("2.5 m=6", six, 18 * 60, COURSE, {
            "machine idle": (2.0, "min/cycle", 1e-9, idle_min),
            "operator": (1.0, "share of time", 1e-9, busy),
            "cost": (3.93333, "$/unit", 5e-6, cost_per_unit(14, 37, 6, 3)),
        }),
        *exact_rows("2.5 a=5 b=1 t=20 m=4", read_plant(PLANTS / "q2_5_four_machines"), 25 * 60, FACILITIES, {
            "operator with walking": (0.96, "share of time", 1e-9, busy),
            "walking": (4 / 25, "share of time", 1e-9, lambda results: walked(results) / per_hour_of(results)),
            "machine": (1.0, "share of time", 1e-9, busy_share),
            "cost": (13.75, "$/unit", 1e-9, cost_per_unit(12, 30, 4, 1)),
        }),
        *exact_rows("2.5 a=5 b=1 t=20 m=5", read_plant(PLANTS / "q2_5_five_machines"), 30 * 60, FACILITIES, {
            "operator with walking": (1.0, "share of time", 1e-9, busy),
            "machine": (25 / 30, "share of time", 1e-9, busy_share),
            "cost": (16.20, "$/unit", 1e-9, cost_per_unit(12, 30, 5, 1)),
        }),
    ]  # fmt: skip


def per_hour_of(results: Results) -> Any:
    """Hours of the span."""
    return results.values(TODAY, "span_weeks") * 168.0


PUBLISHED: list[Row] = [*STOCHASTIC, *deterministic_rows()]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


@pytest.mark.parametrize(("number", "case"), [("2.1a", "q2_1a_six_machines"), ("2.1d", "q2_1d_five_machines")])
def test_the_share_that_waits_is_not_the_share_of_time_all_are_busy(number: str, case: str) -> None:
    shares = results_of(case).values(TODAY, "people_wait_share")
    assert problems(shares, ALL_BUSY[number], 1.0) != []


# ---- a broken model turns every stochastic row red ----


def one_operator_more(plant: PlantInputs) -> PlantInputs:
    """Another operator with the skills of the first."""
    first = plant.people[0]
    return dataclasses.replace(plant, people=(*plant.people, dataclasses.replace(first, person_id="extra")))


BREAKS = {
    "service faster": (lambda plant: plant, {
        "1.6": ["elements[service].typical*=0.9"], "1.7": ["elements[service].typical*=0.9"],
        "2.1a": ["stops[call].repair_min*=0.9"], "2.1d": ["stops[call].repair_min*=0.9"],
        "2.2e": ["stops[call].repair_min*=0.9"], "3.1a": ["elements[second].typical*=0.9"],
    }),
    "operator more": (one_operator_more, {"2.1a": [], "2.1d": [], "2.2e": []}),
    "bench place more": (lambda plant: plant, {"3.1a": ["plant.bench.places=2"]}),
}  # fmt: skip
"""What is broken: a change of the plant, and overrides by case."""


@lru_cache
def broken_results(case: str, name: str, overrides: tuple[str, ...]) -> Results:
    """A broken case, as long as the right one: a row finds a service that is a tenth faster."""
    inputs = arguments(case)
    inputs["plant"] = BREAKS[name][0](inputs["plant"])
    return run_experiment(**inputs, overrides=overrides)


@pytest.mark.parametrize(
    ("row", "name"),
    [(row, name) for row in STOCHASTIC for name, (_, cases) in BREAKS.items() if row.id.split()[0] in cases],
    ids=str,
)
def test_a_broken_model_turns_the_row_red(row: MeanRow, name: str) -> None:
    overrides = tuple(BREAKS[name][1][row.id.split()[0]])
    assert row.read is not None
    found = problems(row.read(broken_results(row.case, name, overrides)), row.expected, np.inf)
    assert [text for text in found if "is not" in text]


def test_a_short_experiment_is_refused_though_its_mean_agrees() -> None:
    rng = np.random.default_rng(1)
    wide = 1.0 + 0.2 * rng.standard_normal(20)
    assert problems(wide, 1.0, 0.05) == ["the interval is too wide"]
    assert problems(wide[:5], 1.0, np.inf) == ["too few"]


# ---- the same models written again, without the cell ----


def interference_loop(seed: int, machines: int, call_rate: float, service_h: float, end_h: float) -> float:
    """Share of time that machines run: one operator, constant service, first come first served."""
    rng = np.random.default_rng(seed)
    calls = [(float(gap), row) for row, gap in enumerate(rng.exponential(1 / call_rate, machines))]
    heapq.heapify(calls)
    free_h = down_h = 0.0
    while calls[0][0] < end_h:
        called_h, row = heapq.heappop(calls)
        free_h = max(free_h, called_h) + service_h
        down_h += min(free_h, end_h) - called_h
        heapq.heappush(calls, (free_h + float(rng.exponential(1 / call_rate)), row))
    return 1.0 - down_h / (machines * end_h)


def departures(seed: int, sheets: int) -> float:
    """Sheets per hour of two exponential stations without a place between them (a departure recursion)."""
    first, second = np.random.default_rng(seed).exponential(1.0, (2, sheets))
    left_first = left_second = 0.0
    for work_1, work_2 in zip(first.tolist(), second.tolist(), strict=True):
        left_first, left_second = max(left_first + work_1, left_second), max(left_first + work_1, left_second) + work_2
    return sheets / left_second


def test_an_event_loop_of_its_own_finds_the_same_interference() -> None:
    loop = [interference_loop(seed, 6, 0.1, 1.0, 5500.0) for seed in range(20)]
    assert problems(loop, 0.879642643, 0.005) == []
    cell = results_of("q2_2e_constant_service").values(TODAY, "machine_utilisation")
    apart = independent_difference(cell, loop, level=0.999)
    assert abs(apart.mean) <= apart.half_width < 0.01


def test_a_departure_recursion_finds_the_same_throughput() -> None:
    alone = [departures(seed, 7000) for seed in range(20)]
    assert problems(alone, 2 / 3, 0.006) == []
    cell = per_hour("sheets_in_span")(results_of("q3_1a_no_buffer"))
    apart = independent_difference(cell, alone, level=0.999)
    assert abs(apart.mean) <= apart.half_width < 0.015
