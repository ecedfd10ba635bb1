"""More published queues through the real cell: several servers, other laws, an operator who walks away, more machines.

Beside ``test_queues.py`` and ``test_interference.py``, by the same rule of comparison. Not here, and why:

- 1.2, two servers at a load of 0.9: an interval that proves something needs fifty times the run of the others.
- 1.3 has a machine for every order and operators as servers; machines as servers: ``test_machines_as_servers.py``.
- 1.4, the chance of four and more: the cell reports means of queues, no distribution of their length.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from simkit.experiment.results import Results
from tests.published.long_run import problems
from tests.published.test_interference import Case, CaseRow, Overrides, experiment, orders_there
from tests.published.test_queues import KSL, PALM, TODAY, interference, measure

ERLANG = "Erlang's delay formula; Gross and Harris, Fundamentals of Queueing Theory; a package prints the same"
SINGLE = "M/M/1; Rossetti, KSL Book, example C.1"
BEARINGS = "data of Gross and Harris, 'Bearing Straight'; value from the Pollaczek-Khinchine formula"
REGULAR = "D/M/1, root of s = exp(-(1 - s)/rho); Kingman's bound 2.0 is above it; value from the formula"
VACATIONS = "Levy and Yechiali 1975 and Doshi 1986, from memory: Wq = l E[S2]/(2 (1 - rho)) + E[V2]/(2 E[V])"
STEVENSON = "Stevenson, Operations Management, example 10; value from the formula, since its table is rounded"
MATLOFF = "Matloff, notes on a machine repair model (up 0.6, at once 0.67 = 1 - D printed)"

EXPONENTIAL = ("elements[service].law=exponential",)
wait_h = measure("machine_wait_mean_s", 1 / 3600)


def until_served_h(results: Results) -> Any:
    """Mean wait of an order, h: on the board, and then at the machine for the operator."""
    return wait_h(results) + results.values(TODAY, "people_wait_mean_s") / 3600


FOUR = Case("1.3", "q1_3_four_operators", ERLANG, 14)
ONE = Case("1.1", "q1_6_m_d_1", SINGLE, 0,
           (*EXPONENTIAL, "plant.run.arrival_mean_s=4320", "plant.run.horizon_s=9e6"))  # fmt: skip
TWO_POINTS = Case("1.8", "q1_8_two_points", BEARINGS)
CLOCKWORK = Case("1.9", "q1_6_m_d_1", REGULAR, 0, (*EXPONENTIAL, "plant.run.arrival_law=constant"))
WALKS_AWAY = Case("1.12", "q1_12_walks_away", VACATIONS)

QUEUES = [
    ONE.row("Wq", 12 * 0.416666667, "h", 0.13, wait_h),
    ONE.row("L", 5.0, "orders", 0.13, orders_there),
    FOUR.row("Wq", 5 * (0.211684877 - 0.2), "h", 0.13, measure("people_wait_mean_s", 1 / 3600)),
    FOUR.row("Lq", 0.105163893, "orders", 0.13, measure("people_queue_mean")),
    FOUR.row("C", 0.128533647, "share of orders that wait", 0.08, measure("people_wait_share")),
    TWO_POINTS.row("Wq", 25.5 / 60, "h", 0.13, wait_h),
    TWO_POINTS.row("Lq", 2.125, "orders", 0.13, measure("machine_queue_mean")),
    CLOCKWORK.row("Wq", 1.69273084, "h", 0.12, wait_h),
    WALKS_AWAY.row("Wq", 3.5, "h", 0.07, until_served_h),
    WALKS_AWAY.row("share of time elsewhere", 0.2, "share of time", 0.06,
                   lambda results: results.values(TODAY, "person_elsewhere_h")
                   / (168.0 * results.values(TODAY, "span_weeks"))),
]  # fmt: skip

PALM_CASES = {
    "2.1b": ("q2_1d_five_machines", PALM, 6, 0.1, 2, (0.905658210, 0.271697463, 0.0226558112, 0.0721123363)),
    "2.1c": ("q2_1a_six_machines", KSL, 5, 0.4, 1, (0.465134442, 0.930268883, 1.74405891, 0.850083953)),
    "2.1h": ("q2_1a_six_machines", STEVENSON, 5, 1 / 7, 1, (0.805392702, 0.575280501, 0.397755989, 0.472655392)),
    "2.1i": ("q2_1a_six_machines", MATLOFF, 2, 0.5, 1, (0.6, 0.6, 0.2, 1 / 3)),
}
"""Number to folder, source, machines, x, operators, and the published A, U, Lq and D."""


def palm_rows() -> list[CaseRow]:
    """Machine interference with other numbers of machines and operators."""
    rows = []
    for number, (folder, source, machines, x, operators, (a, u, waiting, d)) in PALM_CASES.items():
        case = Case(number, folder, source, machines, (f"stops[call].rate={x}",))
        named = interference(a, u, waiting, d, waiting / (operators * u))
        wider = 2.5 if number == "2.1b" else 1.6  # as long as those of ``test_queues``, but fewer machines or waits
        rows += [case.row(name, *(*row[:2], row[2] * wider, row[3])) for name, row in named.items()]
    return rows


LONG_RUN = [*QUEUES, *palm_rows()]
PUBLISHED: list[CaseRow] = LONG_RUN


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: CaseRow) -> None:
    row.check()


# ---- broken twins ----

BROKEN: dict[str, tuple[Case, Overrides, float]] = {
    "1.3 Wq": (FOUR, ("elements[service].typical*=0.9",), 5 * (0.211684877 - 0.2)),
    "1.12 Wq": (WALKS_AWAY, ("people[op1].elsewhere_min=120",), 3.5),
    "1.12 Wq of one who is called at random": (WALKS_AWAY, ("people[op1].elsewhere_per_h=0.066666667",), 3.5),
    "1.9 Wq": (CLOCKWORK, ("plant.run.arrival_law=exponential",), 1.69273084),
}
"""What is broken: a faster service, shorter walks, walks that do not wait for an empty queue, irregular arrivals."""


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_model_turns_the_row_red(name: str) -> None:
    case, broken, expected = BROKEN[name]
    wrong = dataclasses.replace(case, overrides=(*case.overrides, *broken))
    read = {"1.3": measure("people_wait_mean_s", 1 / 3600), "1.12": until_served_h, "1.9": wait_h}[case.number]
    values = read(experiment(wrong.folder, wrong.machines, wrong.overrides))
    assert [text for text in problems(values, expected, np.inf) if "is not" in text]


def test_kingmans_bound_lies_above_regular_arrivals() -> None:
    values = wait_h(experiment(CLOCKWORK.folder, CLOCKWORK.machines, CLOCKWORK.overrides))
    assert float(np.mean(values)) < 2.0
