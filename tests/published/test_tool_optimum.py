"""Published optima, bounds and groups of the tool-switching problem, against the exact search.

Not here: the sets too large to print (Crama 15 x 20 to 40 x 60, Catanzaro B to D, Laporte with more than 8 jobs,
Mecler) and the instances of the small sets whose lists are not printed beside their values.
"""

from __future__ import annotations

from collections import Counter
from itertools import permutations
from operator import attrgetter
from random import Random

import pytest

from tests.published.rows import Row
from tests.published.tool_lists import (
    CATANZARO,
    CRAMA,
    GHIANI,
    GHIANI_JOBS,
    LAPORTE,
    LAPORTE_JOBS,
    LISTED,
    OWN,
    OWN_LISTS,
    PRIVAULT,
    PRIVAULT_JOBS,
    TANG,
    TANG_JOBS,
    YANASSE,
    YANASSE_JOBS,
    jobs_of,
    picked,
)
from tests.tooling.optimum import best_order, dominated, worst_order

SIX = "1,2,3,7,8,10"
TABLE_2 = "1,2:2 1,3:3 1,7:2 1,8:2 1,10:1 2,3:3 2,7:1 2,8:0 2,10:1 3,7:3 3,8:2 3,10:2 7,8:2 7,10:2 8,10:2"
CERTIFIED = "dynamic programming, independently; s1n001 also certified by MIP solvers"
OPTIMA = {"s1n001": (7, 18), "s1n002": (12, 22), "s1n005": (8, 21), "datA1": (10, 21)}
"""Switches of the best order and of the worst."""
OWN_OPTIMA = {"OWN-1": (9, 17, 16, 6), "OWN-2": (15, 27, 30, 6), "OWN-3": (11, 21, 22, 5), "OWN-4": (9, 25, 16, 3)}
"""Switches and insertions of the best order, switches of the worst, fewest groups."""


def row(name: str, function: str, jobs: list[set[int]], capacity: int, expected: int, source: str, read: str) -> Row:
    """A row of the exact search; ``read`` names the count."""
    full_name, inputs = f"tests.tooling.optimum.{function}", {"jobs": jobs, "capacity": capacity}
    reader = len if read == "groups" else attrgetter(read)
    return Row(name, full_name, inputs, expected, read, 0, "whole number", source, reader)


def tang_rows() -> list[Row]:
    six = picked(TANG_JOBS, SIX)
    part_of = Row("SSP-D10", "tests.tooling.optimum.dominated", {"jobs": TANG_JOBS}, {3: 2, 4: 2, 5: 1, 8: 6},
                  "job, from 0", 0, "whole numbers", f"{TANG}: F(3)={{4,5}}; jobs 6 and 9 worked by hand")  # fmt: skip
    pairs = [
        Row(f"SSP-D11 ({pair})", "tests.tooling.optimum.pair_bound",
            dict(zip(("first", "second"), picked(TANG_JOBS, pair), strict=True)) | {"capacity": 4}, int(bound),
            "switches", 0, "whole number", f"{TANG} (table II)")
        for pair, bound in (entry.split(":") for entry in TABLE_2.split())
    ]  # fmt: skip
    return [
        part_of,
        *pairs,
        row("SSP-D13 six jobs", "best_order", six, 4, 7, TANG, "switches"),
        row("SSP-D13 ten jobs", "best_order", TANG_JOBS, 4, 7, TANG, "switches"),
        row("SSP-D13 insertions", "best_order", TANG_JOBS, 4, 11, TANG, "insertions"),
        row("SSP-D13 worst of six", "worst_order", six, 4, 12, f"data: {TANG}; count: {OWN}", "switches"),
        row("SSP-D13 worst of ten", "worst_order", TANG_JOBS, 4, 17, f"data: {TANG}; count: {OWN}", "switches"),
        row("SSP-D17", "groups", TANG_JOBS, 4, 5, f"data: {TANG}; count: {OWN}", "groups"),
    ]


def small_rows() -> list[Row]:
    rows = [
        row("SSP-D20 optimum", "best_order", YANASSE_JOBS, 3, 3, YANASSE, "switches"),
        row("SSP-D20 optimum, insertions", "best_order", YANASSE_JOBS, 3, 6, YANASSE, "insertions"),
        row("SSP-D20 groups", "groups", YANASSE_JOBS, 3, 3, f"data: {YANASSE}; count: {OWN}", "groups"),
        row("SSP-D21 optimum", "best_order", GHIANI_JOBS, 4, 5, GHIANI, "switches"),
        row("SSP-D21 every order", "worst_order", GHIANI_JOBS, 4, 5, f"data: {GHIANI}; count: {OWN}", "switches"),
        row("SSP-D22 optimum", "best_order", PRIVAULT_JOBS, 2, 2, f"data: {PRIVAULT}; count: {OWN}", "switches"),
    ]
    for name, (capacity, jobs) in LAPORTE_JOBS.items():
        expected = {"L1-7": 14, "L6-1": 19}[name]
        rows.append(row(f"{name} optimum", "best_order", jobs, capacity, expected, LAPORTE, "switches"))
    return rows


def list_rows() -> list[Row]:
    rows = []
    for name, (best, worst) in OPTIMA.items():
        capacity, _, source, text = LISTED[name]
        jobs, counted = jobs_of(text), f"data: {source}; count: {CERTIFIED}"
        rows.append(row(f"{name} optimum", "best_order", jobs, capacity, best, counted, "switches"))
        rows.append(row(f"{name} worst", "worst_order", jobs, capacity, worst, f"data: {source}; {OWN}", "switches"))
    for name, (best, inserted, worst, fewest) in OWN_OPTIMA.items():
        capacity, _, _, text = OWN_LISTS[name]
        jobs = jobs_of(text)
        rows.append(row(f"{name} optimum", "best_order", jobs, capacity, best, OWN, "switches"))
        rows.append(row(f"{name} optimum, insertions", "best_order", jobs, capacity, inserted, OWN, "insertions"))
        rows.append(row(f"{name} worst", "worst_order", jobs, capacity, worst, OWN, "switches"))
        rows.append(row(f"{name} groups", "groups", jobs, capacity, fewest, OWN, "groups"))
    return rows


PUBLISHED = [*tang_rows(), *small_rows(), *list_rows()]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def test_sources_of_the_lists_are_the_printed_ones() -> None:
    assert [LISTED[name][2] for name in OPTIMA] == [CRAMA] * 3 + [CATANZARO]


def counted(jobs: list[frozenset[int]], capacity: int) -> int:
    """Insertions of a sequence, written apart from the kit: the tool needed latest leaves (Belady 1966)."""
    magazine, total = set[int](), 0
    for number, job in enumerate(jobs):
        total += len(job - magazine)
        later = jobs[number + 1 :]
        idle = sorted(magazine - job, key=lambda tool: next((n for n, j in enumerate(later) if tool in j), len(jobs)))
        magazine = {*job, *idle[: capacity - len(job)]}
    return total


def every_order(jobs: list[set[int]], capacity: int) -> Counter[int]:
    """How many of all orders cost how many insertions."""
    return Counter(counted(list(order), capacity) for order in permutations(map(frozenset, jobs)))


def test_ssp_d1_the_search_equals_every_order_tried() -> None:
    rng = Random(11)
    for _ in range(6):
        capacity = rng.randint(3, 6)
        jobs = [set(rng.sample(range(12), rng.randint(1, capacity))) for _ in range(7)]
        tried = every_order(jobs, capacity)
        assert best_order(jobs, capacity).insertions == min(tried)
        assert worst_order(jobs, capacity).insertions == max(tried)


def test_ssp_d13_seven_of_the_360_orders_are_best() -> None:
    tried = every_order(picked(TANG_JOBS, SIX), 4)
    assert tried.total() == 720, "an order and its reverse"
    assert tried[7 + 4] == 2 * 7


def test_ssp_d10_six_jobs_remain() -> None:
    assert sorted(set(range(10)) - set(dominated(TANG_JOBS))) == [int(number) - 1 for number in SIX.split(",")]
