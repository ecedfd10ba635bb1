"""Published values of unreliable servers, unlike machines under one operator, and availability, through the real cell.

Beside ``test_queues.py``: the same rule of comparison, and here the values of each machine are read from the traces.
A failure by *running hours* ages only while the machine works; one by *calendar hours* strikes an idle machine too.
Time unit of the published queues: an hour.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from simkit.cell.run import simulate
from simkit.cell.trace import RUN, Trace
from simkit.experiment.measures import state_table
from simkit.experiment.replication import draw_luck
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import MachineRow
from simkit.process.workload import Workload, make_workload
from tests.published.long_run import GUARD, REPLICATIONS, problems
from tests.published.rows import Row
from tests.published.test_queues import ASHCROFT, TODAY, interference, measure, per_machine_hour, plant_of

GAVER = (
    "Pollaczek-Khinchine formula on the completion time; Gaver 1962, Avi-Itzhak and Naor 1963, from memory; value from "
    "the formula"
)
CHRISTIE = "White and Christie 1958, from memory; value from the formula"
CHAIN = "exact balance equations of the Markov chain, worked by hand"
CONTEST = "programming-contest problem 'Machine Repair Simulation', its data and its printed answer"
RENEWAL = "renewal theorem, A = MTBF / (MTBF + MTTR); Barlow and Proschan, from memory; value from the formula"
TRIVEDI = "A(t) = mu/(l + mu) + l/(l + mu) e^-(l + mu)t; Trivedi, from memory; value from the formula"
EXPERIMENT, CELL = "simkit.experiment.runner.run_experiment", "simkit.cell.run.simulate"
Overrides = tuple[str, ...]


def varied(case: str, machines: int = 0, overrides: Overrides = ()) -> dict[str, Any]:
    """What ``run_experiment`` is called with: a plant of this folder, with so many alike machines (0: its own).

    A negative number keeps the first machines of the folder.
    """
    plant = plant_of(case)
    alike = tuple(MachineRow(machine_id=f"M{row}") for row in range(machines))
    kept = alike if machines > 0 else plant.machines[: -machines or None]
    plant = dataclasses.replace(plant, machines=kept)
    return {"plant": plant, "combinations": ((),), "overrides": overrides, "workers": 1, "progress": False}


@lru_cache
def experiment(case: str, machines: int, overrides: Overrides) -> Results:
    """Twenty replications, run once for all rows of a case."""
    return run_experiment(**varied(case, machines, overrides))


def workload_of(plant: PlantInputs, replication: int, overrides: Overrides = ()) -> Workload:
    """One replication's work."""
    scenario = make_scenario(plant, (), overrides)
    run = scenario.plant.settings.run
    draws = draw_luck(scenario, run.seed, replication, run.weeks, 1.0)
    return make_workload(scenario, draws)


@lru_cache
def by_machine(case: str, machines: int, overrides: Overrides) -> tuple[dict[str, Any], ...]:
    """Per replication: run share, mean wait in hours of each machine, and the operator's busy share."""
    plant = varied(case, machines)["plant"]
    return tuple(one_run(workload_of(plant, replication, overrides)) for replication in range(REPLICATIONS))


def one_run(workload: Workload) -> dict[str, Any]:
    """What is read of one replication, after the warm-up."""
    trace, run = simulate(workload), workload.plant.settings.run
    span = (run.warmup_s, trace.end_s)
    length_s = span[1] - span[0]
    own = zip(trace.machines, workload.by_machine, strict=True)
    runs = [state_table(log, of_it, trace.open_spans, span)[:3].sum() / length_s for log, of_it in own]
    tasks = trace.tasks
    asked, begun, row = (np.array(column) for column in (tasks.asked_s, tasks.begun_s, tasks.request_machine))
    counted = (asked >= span[0]) & (asked < span[1])
    waits = [float((begun - asked)[counted & (row == at)].mean()) / 3600 for at in range(len(runs))]
    busy = np.clip(np.array(tasks.end_s), *span) - np.clip(np.array(tasks.start_s), *span)
    return {"A": runs, "Wq": waits, "U": float(busy.sum()) / length_s}


@dataclass(frozen=True)
class CaseRow(Row):
    """A long-run mean; ``tolerance`` is the widest 95 % half-width. ``values`` gives one value per replication."""

    values: Callable[[], Any] = tuple

    def check(self) -> None:
        """Compare with the case; fails with what is wrong and the source."""
        found = problems(self.values(), self.expected, self.tolerance)
        assert found == [], f"{self.id}: {found} {self.unit} ({self.source})"


@dataclass(frozen=True)
class Case:
    """A plant of this folder and what is broken in its twin."""

    number: str
    folder: str
    source: str
    machines: int = 0
    overrides: Overrides = ()

    def row(self, name: str, expected: float, unit: str, width: float, read: Any) -> CaseRow:
        """A row of an experiment; ``width`` is relative."""
        values = lambda: read(experiment(self.folder, self.machines, self.overrides))  # noqa: E731
        inputs = varied(self.folder, self.machines, self.overrides)
        return CaseRow(f"{self.number} {name}", EXPERIMENT, inputs, expected, unit, width * expected, GUARD,
                       self.source, values=values)  # fmt: skip

    def machine_row(self, name: str, expected: float, unit: str, width: float, at: int | None = None) -> CaseRow:
        """A row of one machine (``at``), or of the operator, from the traces."""

        def values() -> list[float]:
            runs = by_machine(self.folder, self.machines, self.overrides)
            return [run[name.split()[0]] if at is None else run[name.split()[0]][at] for run in runs]

        inputs = {"workload": f"twenty replications of {self.folder}"}
        return CaseRow(f"{self.number} {name}", CELL, inputs, expected, unit, width * expected, GUARD, self.source,
                       values=values)  # fmt: skip


# ---- unreliable servers, availability, constant service ----


def orders_there(results: Results) -> Any:
    """Orders in the system: those that wait and those in work."""
    return results.values(TODAY, "machine_queue_mean") + results.values(TODAY, "orders_in_process_mean")


def state_share(state: str) -> Callable[[Results], Any]:
    """Share of machine time in a state."""
    return lambda results: per_machine_hour(results, f"state_{state}_h")


WHILE_SERVING = Case("1.10", "q1_10_fails_while_serving", GAVER)
ALWAYS = Case("1.11", "q1_11_fails_always", CHRISTIE)

ASHCROFT_CASES = {
    "a": (2, 0.5, 0.622459331, 0.622459331, 0.132622006, 0.213061319),
    "b": (3, 0.2, 0.803564113, 0.482138468, 0.107169192, 0.222278865),
    "c": (4, 0.25, 0.723041344, 0.723041344, 0.384793282, 0.532187109),
    "d": (5, 0.1, 0.887958217, 0.443979109, 0.116229805, 0.261791158),
    "f": (6, 0.2, 0.710673682, 0.852808419, 0.883149487, 1.03557782),
}
"""Letter to machines, x, and the published A, U, Lq and Wq of constant service."""


def ashcroft_rows() -> list[CaseRow]:
    """Constant service at other loads, and a service of two exponential stages."""
    rows = []
    for letter, (machines, x, *values) in ASHCROFT_CASES.items():
        case = Case(f"2.2{letter}", "q2_2e_constant_service", ASHCROFT, machines, (f"stops[call].rate={x}",))
        named = interference(values[0], values[1], values[2], None, values[3])
        rows += [case.row(name, *row) for name, row in named.items()]
    staged = ("stops[call].rate=0.2", "stops[call].repair_law=gamma", f"stops[call].repair_cv={0.5**0.5}")
    case = Case("2.2g", "q2_2e_constant_service", "Takacs 1962, from memory; value from the formula", 4, staged)
    named = interference(0.764895578, 0.611916462, 0.328501228, None, 0.328501228 / 0.611916462)
    return [*rows, *(case.row(name, *row) for name, row in named.items())]


AVAILABLE = {
    "4.1": (100 / 110, ()),
    "4.2": (0.9, (f"stops[failure].rate={1 / 45}", "stops[failure].repair_min=300")),
    "4.1 constant repair": (100 / 110, ("stops[failure].repair_law=constant",)),
    "4.1 repair of two stages": (100 / 110, ("stops[failure].repair_law=gamma",
                                             f"stops[failure].repair_cv={0.5**0.5}")),
}  # fmt: skip


def availability_rows() -> list[CaseRow]:
    """The same availability whatever the law of repair."""
    return [
        Case(number, "q4_1_one_machine", RENEWAL, 0, overrides).row(
            "A", expected, "share of time not stopped", 0.01, measure("machine_availability"))
        for number, (expected, overrides) in AVAILABLE.items()
    ]  # fmt: skip


STOCHASTIC = [
    WHILE_SERVING.row("Wq", 2.3, "h", 0.1, measure("machine_wait_mean_s", 1 / 3600)),
    WHILE_SERVING.row("L", 1.75, "orders", 0.08, orders_there),
    WHILE_SERVING.row("P(down)", 0.1, "share of time", 0.06, state_share("stopped")),
    WHILE_SERVING.row("P(empty)", 0.4, "share of time", 0.03, state_share("no_work")),
    ALWAYS.row("L", 1.91666667, "orders", 0.06, orders_there),
    ALWAYS.row("P(down)", 1 / 6, "share of time", 0.04, state_share("stopped")),
    ALWAYS.row("P(empty and up)", 1 - 1 / 6 - 0.5, "share of time", 0.04, state_share("no_work")),
    *ashcroft_rows(),
    *availability_rows(),
]

THREE = Case("2.4 first come first served", "q2_4_three_unlike", CHAIN)
PRIORITY = Case("2.4 priority 1, 2, 3", "q2_4_priority", CHAIN)
UNLIKE = {
    THREE: ((0.754574380, 0.755126544, 0.822453626), (1.25250401, 0.864220277, 1.31748048), 0.475649998),
    PRIORITY: ((0.761837951, 0.755587054, 0.815415500), (1.12615102, 0.85211356, 1.52737284), 0.476169796),
}


def unlike_rows() -> list[CaseRow]:
    """Each machine's run share and wait, and the operator's busy share."""
    rows = []
    for case, (runs, waits, busy) in UNLIKE.items():
        for at, (run, wait) in enumerate(zip(runs, waits, strict=True)):
            rows.append(case.machine_row(f"A M{at + 1}", run, "share of time the machine runs", 0.015, at))
            rows.append(case.machine_row(f"Wq M{at + 1}", wait, "h", 0.14, at))
        rows.append(case.machine_row("U", busy, "share of time", 0.03))
    return rows


def two_station_rows() -> list[CaseRow]:
    """Two of those machines alone: the order of service does not matter."""
    case = dataclasses.replace(THREE, number="2.4 two stations", machines=-2)
    values = ((0.784132841, 0.752941176), (0.774907749, 0.357142857))
    rows = [case.machine_row("U", 0.363468635, "share of time", 0.03)]
    for at, (run, wait) in enumerate(values):
        rows.append(case.machine_row(f"A M{at + 1}", run, "share of time the machine runs", 0.015, at))
        rows.append(case.machine_row(f"Wq M{at + 1}", wait, "h", 0.14, at))
    return rows


def both_run_rows() -> list[CaseRow]:
    """Two stations with MTTR/MTBF of 0.1 and 0.2: as one line without a place between them, and side by side."""
    line = {"workload": "one machine that either failure stops"}
    apart = {"workload": "two machines, each with its failure"}
    unit = "share of time both run"
    return [
        CaseRow("4.3 one line", CELL, line, 1 / 1.3, unit, 0.01, GUARD, RENEWAL, values=lambda: shares(one_line())),
        CaseRow("4.3 side by side", CELL, apart, 1 / (1.1 * 1.2), unit, 0.01, GUARD, RENEWAL,
                values=lambda: shares(side_by_side())),
    ]  # fmt: skip


def one_line() -> PlantInputs:
    """A machine whose two causes strike while it runs."""
    plant = plant_of("q4_1_one_machine")
    second = dataclasses.replace(plant.stops[0], cause="second", rate=0.02)
    return dataclasses.replace(plant, stops=(*plant.stops, second))


def side_by_side() -> PlantInputs:
    """Two machines, the second with twice the failures."""
    plant = plant_of("q4_1_one_machine")
    second = MachineRow(machine_id="M2", overrides="stops[failure].rate=0.02")
    return dataclasses.replace(plant, machines=(*plant.machines, second))


def shares(plant: PlantInputs) -> list[float]:
    """Share of time in which all machines run, per replication."""
    return [all_run(simulate(workload_of(plant, replication))) for replication in range(REPLICATIONS)]


def all_run(trace: Trace) -> float:
    """Share of the run in which no machine is in another state than running."""
    moments = sorted(
        edge
        for log in trace.machines
        for code, start, end in zip(log.state, log.start_s, log.end_s, strict=True)
        if code != RUN
        for edge in ((start, 1), (end, -1))
    )
    standing, since, total = 0, 0.0, 0.0
    for moment, change in moments:
        total += (moment - since) * (standing == 0)
        standing, since = standing + change, moment
    return (total + (trace.end_s - since) * (standing == 0)) / trace.end_s


POINTS = {
    "4.1 A(10)": (0.939351917, 10.0, ()),
    "4.2 A(5)": (0.932919299, 5.0, AVAILABLE["4.2"][1]),
}  # fmt: skip
MACHINES, MANY = 25, 200
"""Machines of a run, and runs: 5000 machines in all."""


def point_rows() -> list[CaseRow]:
    """Share of many machines that run so long after the start, when all ran."""
    inputs = {"workload": f"{MANY} times {MACHINES} machines"}
    return [
        CaseRow(name, CELL, inputs | {"hours": hours}, expected, "share of machines", 0.01, GUARD, TRIVEDI,
                values=lambda hours=hours, overrides=overrides: running_at(hours, overrides))
        for name, (expected, hours, overrides) in POINTS.items()
    ]  # fmt: skip


def running_at(hours: float, overrides: Overrides) -> list[float]:
    """Share of the machines that run at a moment, per replication."""
    plant = varied("q4_1_one_machine", MACHINES)["plant"]
    cut = (*overrides, f"plant.run.horizon_s={3600 * hours}", "plant.run.warmup_s=0")
    traces = [simulate(workload_of(plant, replication, cut)) for replication in range(MANY)]
    return [float(np.mean([log.state[-1] == RUN for log in trace.machines])) for trace in traces]


def listed_rows() -> list[Row]:
    """Listed run and repair times: nothing varies."""
    busy, running = measure("people_utilisation"), measure("machine_utilisation")
    cases = [("1 machine", 1, "machine", 0.525, running), ("1 machine", 1, "repairman", 0.475, busy),
             ("3 machines", 3, "machine", 33.5 / 60, running),
             ("3 machines", 3, "repairman", 15.5 / 20, busy)]  # fmt: skip
    return [
        Row(f"2.6 {which}, {who}", EXPERIMENT, varied("q2_6_listed_times", machines), expected,
            "share of time", 1e-9, "nothing varies: rounding only", CONTEST,
            lambda results, read=read: float(read(results)[0]))
        for which, machines, who, expected, read in cases
    ]  # fmt: skip


WEEK_H = 168.0


def early_rows() -> list[CaseRow]:
    """Stops whose rate starts at four times the settled one and settles in S weeks: N = l (T + 3 S (1 - e^-T/S)).

    The machine never stands, since a stop takes no time.
    """
    weeks, settle, rate = 20.0, 8.0, 0.05
    expected = rate * WEEK_H * (weeks + 3.0 * settle * (1 - math.exp(-weeks / settle)))
    cut = (f"plant.run.horizon_s={weeks * WEEK_H * 3600}", "plant.run.warmup_s=0", "plant.finance.ramp_months=0",
           f"stops[failure].rate={rate}", "stops[failure].repair_min=0", "stops[failure].early_factor=4",
           f"stops[failure].settle_weeks={settle}")  # fmt: skip
    source = "expected number of a Poisson process, the integral of its rate; worked by hand"
    return [Case("early life", "q4_1_one_machine", source, 0, cut).row("stops", expected, "stops", 0.05,
                                                                       measure("stops"))]  # fmt: skip


LONG_RUN = [*STOCHASTIC, *unlike_rows(), *two_station_rows(), *both_run_rows(), *point_rows(), *early_rows()]
PUBLISHED: list[Row] = [*LONG_RUN, *listed_rows()]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


# ---- broken twins ----

FASTER = ("stops[call].repair_min*=0.9",)
BROKEN = {
    "1.10": (WHILE_SERVING, ("stops[failure].exposure=calendar_hour",), ("P(down)", "P(empty)")),
    "1.11": (ALWAYS, ("stops[failure].exposure=running_hour",), ("P(down)", "P(empty and up)")),
    "2.2a": (Case("2.2a", "q2_2e_constant_service", ASHCROFT, 2, ("stops[call].rate=0.5",)), FASTER, ("A", "U")),
    "2.2f": (Case("2.2f", "q2_2e_constant_service", ASHCROFT, 6, ("stops[call].rate=0.2",)), FASTER, ("A", "U")),
    "2.2g": (Case("2.2g", "q2_2e_constant_service", ASHCROFT, 4, ("stops[call].rate=0.2",)), (), ("Lq", "Wq")),
    "4.1": (Case("4.1", "q4_1_one_machine", RENEWAL), ("stops[failure].repair_min*=0.8",), ("A",)),
}  # fmt: skip
"""What is broken, over the same time: the other kind of ageing, a service a tenth faster, a constant one instead of two
stages, repairs a fifth shorter."""


@pytest.mark.parametrize(("number", "name"), [(number, name) for number, (*_, names) in BROKEN.items()
                                              for name in names])  # fmt: skip
def test_a_broken_model_turns_the_row_red(number: str, name: str) -> None:
    case, broken, _ = BROKEN[number]
    (row,) = (row for row in STOCHASTIC if row.id == f"{number} {name}")
    wrong = dataclasses.replace(case, overrides=(*case.overrides, *broken))
    read = {"L": orders_there, "P(down)": state_share("stopped"), "P(empty)": state_share("no_work"),
            "P(empty and up)": state_share("no_work"), "A": measure("machine_availability"),
            "Wq": measure("machine_wait_mean_s", 1 / 3600)}  # fmt: skip
    if number.startswith("2.2"):
        read = {key: values[3] for key, values in interference(1.0, 1.0, 1.0, None, 1.0).items()}
    values = read[name](experiment(wrong.folder, wrong.machines, wrong.overrides))
    assert [text for text in problems(values, row.expected, np.inf) if "is not" in text]


def test_the_priority_of_machines_shows_in_their_waits() -> None:
    (wanted,) = (row for row in PUBLISHED if row.id == "2.4 priority 1, 2, 3 Wq M1")
    first_come = [run["Wq"][0] for run in by_machine("q2_4_three_unlike", 0, ())]
    assert problems(first_come, wanted.expected, np.inf) != []


def test_two_machines_side_by_side_are_not_a_line_of_three_failures() -> None:
    third = dataclasses.replace(one_line().stops[0], cause="third", rate=0.005)
    line = dataclasses.replace(one_line(), stops=(*one_line().stops, third))
    assert problems(shares(line), 1 / 1.3, np.inf) != []
