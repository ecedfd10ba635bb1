"""Published values of the tool-switching problem, through the exchange decision that the cell itself uses.

Alike tools, one station class. Insertions count the first loads, switches do not (Tang and Denardo).
"""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest

from simkit.tooling.sequence import insertions, switches
from tests.published.rows import Row

PAGING = "reference string of operating-system textbooks, from memory; counts reckoned independently"
TANG = "Tang and Denardo 1988, Operations Research 36(5):767-777, tables I and III"
YANASSE = "Yanasse, Rodrigues and Senne 2009, Gestao e Producao 16(3):303-314, example TESTE1"
GHIANI = "Ghiani, Grieco and Guerriero 2010, Networks 55:379-385, example 1"
PRIVAULT = "Privault and Finke 1995, Journal of Intelligent Manufacturing 6:87-94 (after Crama 1991)"
CRAMA = "Crama, Kolen, Oerlemans and Spieksma 1994, IJFMS 6:33-54, test problem"
CATANZARO = "Catanzaro, Gouveia and Labbe 2015, EJOR 244:766-777, test problem"
OWN = "worked out by dynamic programming and by enumeration, independently"


def jobs_of(text: str) -> list[set[int]]:
    """Jobs written as ``1,4 | 2,3``."""
    return [{int(tool) for tool in job.split(",")} for job in text.split("|")]


PAGES = [{page} for page in (7, 0, 1, 2, 0, 3, 0, 4, 2, 3, 0, 3, 2, 1, 2, 0, 1, 7, 0, 1)]
ANOMALY = [{page} for page in (1, 2, 3, 4, 1, 2, 5, 1, 2, 3, 4, 5)]
TANG_JOBS = jobs_of("1,4,8,9 | 1,3,5 | 2,6,7,8 | 7 | 6 | 3 | 1,5,7,9 | 3,5,8 | 5,7 | 1,2,4")
YANASSE_JOBS = jobs_of("1,4 | 1,3,5 | 2,4 | 3,4 | 1,5 | 3,5 | 4,5 | 1,2,4")
GHIANI_JOBS = jobs_of("1,3,8,9 | 1,2,5,9 | 1,4,9 | 1,6,7")
PRIVAULT_JOBS = jobs_of("2,3 | 1,2 | 3 | 1 | 1,3")
LISTED = {
    "s1n001": (4, 12, CRAMA, "2,6 | 1,3,9 | 4,7 | 4,8 | 2,3,5,7 | 2,3,5,9 | 2,4,9 | 6,8,9 | 4,9,10 | 7,8"),
    "s1n002": (4, 16, CRAMA, "2,3,6,7 | 2,5,8 | 5,9,10 | 1,7,9,10 | 2,9 | 3,8,9,10 | 2,4 | 5,7,8,9 | 5,6,10 | 1,3,6,8"),
    "s1n005": (4, 16, CRAMA, "6,7,10 | 3,9 | 1,5,6,8 | 2,8 | 4,9 | 1,8,9 | 4,5,6,8 | 4,7 | 1,2,7,10 | 1,4,5,8"),
    "datA1": (4, 14, CATANZARO, "6,7 | 2,3 | 1,6,9 | 1,5,9 | 5,8,10 | 1,3,6,8 | 5,6,8,9 | 5,7,8 | 1,4,5,8 | 1,2,4,10"),
}
OWN_LISTS = {
    "OWN-1": (8, 21, 24, "1,3,9,10,11,12|1,2,6,7,10,16|1,2,3,4,6,11|1,2,3,5,6,9,14|1,2,3,9,11,13,15|1,2,3,5,7,8"
              "|1,2,9,10,15|1,4,7,16"),
    "OWN-2": (12, 33, 37, "1,2,3,5,6,7,8,9,17,23,24|1,3,4,5,10,16,19|4,6,9,23,24|1,2,3,4,5,7,9,10,11,15,22,23"
              "|1,2,3,7,8,10,12,13,17|1,2,3,4,5,8,10|1,2,3,5,6,8,13,14,19,21,24|1,2,3,5,6,8,10,13,15,17,18,21"
              "|1,2,5,6,7,11,21"),
    "OWN-3": (10, 25, 28, "2,7,8,12,14,15,16|1,2,4,5,13|1,13,20|2,4,10,12,13,14,18|2,3,4,6,7,8,10,15,20|1,2,3,6,15"
              "|1,4,6,7,9,15|1,3,7,9,12,13,14,15,17,19|1,3,6,7,9,10"),
    "OWN-4": (16, 28, 33, "2,3,7,9,14,15|1,3,4,11,12,16|1,2,3,6,10,11,17,21|1,2,3,10,29|1,4,6,8,10,11,14,21,22,23,25"
              "|1,2,5,6,7,12,14,17,18|1,2,3,4,5,6,7,8,9,13,17,18,29|1,2,3,6,12,13,16,23,27,30"),
}  # fmt: skip


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
    return Row(name, f"simkit.tooling.sequence.{count}", inputs, expected, count, ties, reason, source)


def picked(jobs: list[set[int]], numbers: str) -> list[set[int]]:
    """Jobs by their printed numbers, as in ``7,2,5``."""
    return [jobs[int(number) - 1] for number in numbers.split(",")]


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
