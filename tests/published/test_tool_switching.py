"""Published values of the tool-switching problem, through the exchange decision that the cell itself uses.

Alike tools, one station class. Insertions count the first loads, switches do not (Tang and Denardo).
"""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest

from tests.published.rows import Row
from tests.published.tool_lists import (
    ANOMALY,
    CRAMA,
    CRAMA_EXAMPLE,
    CRAMA_JOBS,
    GHIANI,
    GHIANI_JOBS,
    LISTED,
    OWN,
    OWN_LISTS,
    PAGES,
    PAGING,
    PRIVAULT,
    PRIVAULT_JOBS,
    TANG,
    TANG_JOBS,
    YANASSE,
    YANASSE_JOBS,
    jobs_of,
    picked,
)
from tests.tooling.alike import insertions, switches

TIES = "of tools last used by one job the count lets the lowest number leave, the cell the one loaded first"


def row(
    name: str,
    count: str,
    jobs: list[set[int]],
    capacity: int,
    expected: int,
    source: str,
    ties: int = 0,
    **more: object,
) -> Row:
    """A row for ``insertions`` or ``switches``: whole numbers, so nothing is tolerated but another rule for ties."""
    inputs = {"jobs": jobs, "capacity": capacity, **more}
    reason = TIES if ties else "whole number"
    return Row(name, f"tests.tooling.alike.{count}", inputs, expected, count, ties, reason, source)


def paging_rows() -> list[Row]:
    counts = {
        ("SSP-D4", 3): (9, 12, 15), ("SSP-D4", 4): (8, 8, 10),
        ("SSP-D5", 3): (7, 10, 9), ("SSP-D5", 4): (6, 8, 10),
    }  # fmt: skip
    return [
        row(f"{name} C={capacity} {policy}", "insertions", PAGES if name == "SSP-D4" else ANOMALY, capacity, expected,
            PAGING, policy=policy)
        for (name, capacity), values in counts.items()
        for policy, expected in zip(("soonest", "lru", "fifo"), values, strict=True)
    ]  # fmt: skip


def tang_rows() -> list[Row]:
    table_3 = {"3,10,1,7,2,8": 7, "1,10,3,8,2,7": 7, "3,8,2,10,1,7": 8, "1,10,7,2,8,3": 7, "3,10,1,8,2,7": 7,
               "3,8,2,7,1,10": 7}  # fmt: skip
    rows = [row(f"SSP-D12 {s}", "switches", picked(TANG_JOBS, s), 4, n, TANG) for s, n in table_3.items()]
    rows += [
        row(f"SSP-D14 {policy}", "insertions", TANG_JOBS, 4, expected, f"data: {TANG}; count: {OWN}", policy=policy)
        for policy, expected in (("soonest", 18), ("lru", 20), ("fifo", 20))
    ]
    rows += [
        row(f"SSP-D15 C={capacity}", "insertions", TANG_JOBS, capacity, expected, f"data: {TANG}; count: {OWN}")
        for capacity, expected in zip(range(4, 10), (18, 15, 13, 11, 10, 9), strict=True)
    ]
    started = row("SSP-D16", "insertions", TANG_JOBS, 4, 17, f"data: {TANG}; count: {OWN}", start=(2, 6, 7, 8))
    return [*rows, started]


def small_rows() -> list[Row]:
    printed = {"7,2,5,6,4,8,3,1": 3, "2,5,6,7,4,8,3,1": 3, "2,5,6,4,7,8,3,1": 3, "2,5,6,4,8,3,1,7": 3, "4,2,8": 3,
               "2,4,8": 2, "2,8,4": 3}  # fmt: skip
    rows = [row(f"SSP-D20 {s}", "switches", picked(YANASSE_JOBS, s), 3, n, YANASSE) for s, n in printed.items()]
    return [
        *rows,
        row("SSP-D21 forward", "switches", GHIANI_JOBS, 4, 5, GHIANI),
        row("SSP-D21 reversed", "switches", GHIANI_JOBS[::-1], 4, 5, GHIANI),
        row("SSP-D21 insertions", "insertions", GHIANI_JOBS, 4, 9, GHIANI),
        row("SSP-D22", "switches", PRIVAULT_JOBS, 2, 2, PRIVAULT),
        row("SSP-D23", "insertions", CRAMA_JOBS, 2, 4, CRAMA_EXAMPLE),
    ]


def list_rows() -> list[Row]:
    rows = [
        row(f"{name} as listed", "switches", jobs_of(text), capacity, expected, f"data: {source}; count: {OWN}")
        for name, (capacity, expected, source, text) in LISTED.items()
    ]
    for name, (capacity, soonest, lru, text) in OWN_LISTS.items():
        rows.append(row(f"{name} soonest", "insertions", jobs_of(text), capacity, soonest, OWN))
        ties = 1 if name in ("OWN-1", "OWN-2") else 0
        rows.append(row(f"{name} lru", "insertions", jobs_of(text), capacity, lru, OWN, ties, policy="lru"))
    return rows


PUBLISHED = [*paging_rows(), *tang_rows(), *small_rows(), *list_rows()]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def next_magazines(magazine: frozenset[int], job: frozenset[int], capacity: int) -> list[frozenset[int]]:
    """Every fullest magazine that serves a job, tools put in only when needed."""
    others = sorted(magazine - job)
    keep = min(len(others), capacity - len(job))
    return [job | frozenset(chosen) for chosen in combinations(others, keep)]


def fewest_in_order(jobs: list[frozenset[int]], capacity: int) -> int:
    """Fewest insertions for a fixed order, by trying every magazine."""
    costs = {frozenset[int](): 0}
    for job in jobs:
        after: dict[frozenset[int], int] = {}
        for magazine, cost in costs.items():
            total = cost + len(job - magazine)
            for chosen in next_magazines(magazine, job, capacity):
                after[chosen] = min(total, after.get(chosen, total))
        costs = after
    return min(costs.values())


def fewest_in_any_order(jobs: list[set[int]], capacity: int) -> int:
    """Fewest insertions over all orders, by trying every set of jobs done with every magazine."""
    costs = {(0, frozenset[int]()): 0}
    for _ in jobs:
        after: dict[tuple[int, frozenset[int]], int] = {}
        for (done, magazine), cost in costs.items():
            for number, job in enumerate(jobs):
                if done >> number & 1:
                    continue
                total = cost + len(job - magazine)
                for chosen in next_magazines(magazine, frozenset(job), capacity):
                    key = (done | 1 << number, chosen)
                    after[key] = min(total, after.get(key, total))
        costs = after
    return min(costs.values())


def random_jobs(rng: Random) -> tuple[list[frozenset[int]], int]:
    tools, capacity = rng.randint(5, 9), rng.randint(2, 5)
    sizes = [rng.randint(1, min(capacity, tools)) for _ in range(rng.randint(4, 9))]
    return [frozenset(rng.sample(range(tools), size)) for size in sizes], capacity


def test_ssp_d0_soonest_is_optimal_for_a_fixed_order() -> None:
    rng = Random(20260101)
    cases = [random_jobs(rng) for _ in range(400)]
    wrong = [case for case in cases if insertions(*case) != fewest_in_order(*case)]
    assert not wrong


def test_ssp_d0_would_notice_another_rule() -> None:
    rng = Random(20260101)
    cases = [random_jobs(rng) for _ in range(100)]
    assert any(insertions(*case, policy="lru") > fewest_in_order(*case) for case in cases)


def test_ssp_d3_an_order_and_its_reverse_cost_the_same() -> None:
    rng = Random(3)
    for jobs, capacity in (random_jobs(rng) for _ in range(100)):
        assert insertions(jobs, capacity) == insertions(jobs[::-1], capacity)


@pytest.mark.parametrize(
    ("jobs", "capacity", "expected", "source"),
    [
        pytest.param(TANG_JOBS, 4, 11, TANG, id="SSP-D13: 7 switches and the first 4"),
        pytest.param(YANASSE_JOBS, 3, 6, YANASSE, id="SSP-D20: 3 switches and the first 3"),
        pytest.param(GHIANI_JOBS, 4, 9, GHIANI, id="SSP-D21"),
        pytest.param(PRIVAULT_JOBS, 2, 4, PRIVAULT, id="SSP-D22: 2 switches and the first 2"),
        pytest.param(jobs_of(LISTED["s1n001"][3]), 4, 7 + 4, CRAMA, id="s1n001: 7 switches and the first 4"),
    ],
)
def test_no_order_is_better_than_the_published_optimum(
    jobs: list[set[int]], capacity: int, expected: int, source: str
) -> None:
    assert fewest_in_any_order(jobs, capacity) == expected, source


def test_best_printed_orders_reach_the_optimum() -> None:
    best = picked(TANG_JOBS, "3,10,1,7,2,8")
    assert switches(best, 4) == 7
    assert switches(picked(YANASSE_JOBS, "7,2,5,6,4,8,3,1"), 3) + 3 == fewest_in_any_order(YANASSE_JOBS, 3)
