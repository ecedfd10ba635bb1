"""Several machines with a common queue are the many-server queue of the textbooks, whatever the look-ahead.

By the rule of comparison of ``test_queues.py``. The exact form of the same statement stands below: at no moment does an
order wait beside a machine without work. Time unit of the published queues: the mean service, one hour here.
"""

from __future__ import annotations

import dataclasses
import heapq
from collections.abc import Iterator

import numpy as np
import pytest

from simkit.base.vocabulary import NO_WORK
from simkit.cell.commitments import Commitments
from simkit.cell.run import simulate
from simkit.cell.trace import STATE_CODE, Trace
from tests.published.long_run import problems
from tests.published.test_interference import Case, CaseRow, Overrides, experiment, workload_of
from tests.published.test_queues import measure, plant_of

ERLANG = (
    "Erlang's delay formula; Gross and Harris, Fundamentals of Queueing Theory, from memory; value from the formula"
)
LOSS = "M/M/c/K; Gross and Harris, Fundamentals of Queueing Theory, from memory; value computed"
PACKAGE = "M/M/2/5 at rates 3 and 2, test of a queueing package (P5, L, Wq printed)"
NONE_AHEAD = ("plant.rules.lookahead_sheets=0",)
wait_h = measure("machine_wait_mean_s", 1 / 3600)

THREE = Case("1.13", "q1_13_m_m_3", ERLANG)
FIVE = Case("1.14", "q1_14_m_m_5", ERLANG)
PLACES = Case("1.15", "q1_15_m_m_3_7", LOSS)
PRINTED = Case("1.5", "q1_15_m_m_3_7", PACKAGE, 2, ("plant.run.arrival_mean_s=2400", "plant.overflow.least_h=7"))
"""Places are those of the planner's rule: an order that would be short of time is refused. An order is planned at ten
hours here, and each machine has a day until it is due: the eighth order is short by 80 - 72 h, the seventh by -2 h."""
CASES = [
    PRINTED,
    *(case for one in (THREE, FIVE, PLACES) for case in (one, dataclasses.replace(one, overrides=NONE_AHEAD))),
]
EXPECTED = {
    "1.13": {"Wq": (4 / 9, "h", 0.16), "Lq": (8 / 9, "orders", 0.16), "C": (4 / 9, "share that waits", 0.05)},
    "1.14": {"Wq": (0.118075802, "h", 0.13), "Lq": (0.354227405, "orders", 0.13),
             "C": (0.236151603, "share that waits", 0.07)},
    "1.15": {"Wq": (0.416767718, "h", 0.09), "Lq": (0.959987036, "orders", 0.09),
             "P7": (0.0786358974, "share refused", 0.16)},
    "1.5": {"Wq": (2 * 0.230857580, "h", 0.11), "P5": (0.0851138354, "share refused", 0.2)},
}  # fmt: skip
"""By case: the value, its unit and the relative half-width at most. At 2, 3, 2.5 and 1.5 Erlang."""
READ = {"Wq": wait_h, "Lq": measure("machine_queue_mean"), "C": measure("machine_wait_share"),
        "P7": measure("refused_share"), "P5": measure("refused_share")}  # fmt: skip


def rows() -> Iterator[CaseRow]:
    """The published values, with the plant's look-ahead of one sheet and with none."""
    for case in CASES:
        for name, (expected, unit, width) in EXPECTED[case.number].items():
            words = f"{name}{' with no look-ahead' if case.overrides == NONE_AHEAD else ''}"
            yield case.row(words, expected, unit, width, READ[name])


PUBLISHED: list[CaseRow] = list(rows())


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: CaseRow) -> None:
    row.check()


# ---- broken twins ----

BROKEN: dict[str, tuple[Case, int, Overrides]] = {
    "a faster service": (THREE, 0, ("elements[service].typical*=0.85",)),
    "a faster service with no look-ahead": (THREE, 0, ("elements[service].typical*=0.85", *NONE_AHEAD)),
    "a machine more": (FIVE, 6, ()),
    "a place more": (PLACES, 0, ("plant.overflow.least_h=13",)),
    "a machine more with no look-ahead": (FIVE, 6, NONE_AHEAD),
}


def waits_of(case: Case, machines: int, overrides: Overrides) -> list[str]:
    """What is wrong with the mean wait of a case with so many machines and these overrides."""
    values = wait_h(experiment(case.folder, machines, overrides))
    return problems(values, EXPECTED[case.number]["Wq"][0], np.inf)


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_model_turns_the_row_red(name: str) -> None:
    assert [text for text in waits_of(*BROKEN[name]) if "is not" in text]


# ---- the same without chance: nobody waits beside an idle machine ----


def one_day(overrides: Overrides = ()) -> Trace:
    return simulate(workload_of(plant_of("q1_13_m_m_3"), 0, ("plant.run.horizon_s=360000", *overrides)))


def waits_beside_an_idle_machine(trace: Trace) -> list[tuple[int, float]]:
    """(order, moment in s) of orders that wait while a machine has no work."""
    idle = [
        (start, end)
        for log in trace.machines
        for state, start, end in zip(log.state, log.start_s, log.end_s, strict=True)
        if state == STATE_CODE[NO_WORK]
    ]
    return [
        (job.number, start)
        for job in trace.jobs
        for start, end in idle
        if job.started_s >= 0 and max(job.released_s, start) < min(job.started_s, end)
    ]


@pytest.mark.parametrize("overrides", [(), NONE_AHEAD, ("orders[O1].sheets=3", "plant.rules.lookahead_sheets=2",
                                                        "plant.run.arrival_mean_s=5400")])  # fmt: skip
def test_no_order_waits_beside_a_machine_without_work(overrides: Overrides) -> None:
    trace = one_day(overrides)
    assert waits_beside_an_idle_machine(trace) == []
    assert sum(job.started_s > job.released_s for job in trace.jobs) > 20
    assert any(state == STATE_CODE[NO_WORK] for log in trace.machines for state in log.state)


def test_a_commitment_that_binds_lets_machines_stand_idle(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Commitments, "take_over", lambda self, fits: None)
    assert waits_beside_an_idle_machine(one_day()) != []
    assert waits_beside_an_idle_machine(one_day(NONE_AHEAD)) == []


# ---- the same model written again, without the cell ----


def starts_s(released_s: list[float], service_s: list[float], servers: int) -> list[float]:
    """When each order is served, first come first served: it takes the server that is free first."""
    free, starts = [0.0] * servers, []
    for released, service in zip(released_s, service_s, strict=True):
        starts.append(max(released, heapq.heappop(free)))
        heapq.heappush(free, starts[-1] + service)
    return starts


@pytest.mark.parametrize("case", [THREE, FIVE], ids=["three", "five"])
def test_a_recursion_of_its_own_starts_each_order_at_the_same_second(case: Case) -> None:
    work = workload_of(plant_of(case.folder), 0, ("plant.run.horizon_s=720000", *NONE_AHEAD))
    own = starts_s(work.draws.book.released_s.tolist(), work.sheets.run_s.tolist(), len(work.plant.machines))
    started = [(job.started_s, start) for job, start in zip(simulate(work).jobs, own, strict=True)]
    assert all(there == start for there, start in started if there >= 0)
    assert sum(there >= 0 for there, _ in started) > 300
