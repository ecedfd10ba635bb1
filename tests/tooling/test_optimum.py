from __future__ import annotations

from itertools import combinations, pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.tooling.alike import insertions
from tests.tooling.optimum import MAX_JOBS, best_order, dominated, groups, pair_bound, worst_order

FEW = settings(max_examples=60, deadline=None, derandomize=True)


@st.composite
def few_jobs(draw, most=6):
    """Jobs of up to eight tools, and places enough for each."""
    jobs = draw(st.lists(st.frozensets(st.integers(0, 7), max_size=5), min_size=1, max_size=most))
    return jobs, draw(st.integers(max(1, *map(len, jobs)), 6))


def counted(jobs, capacity):
    """Insertions of a sequence, by trying every magazine."""
    costs = {frozenset(): 0}
    for job in jobs:
        after = {}
        for magazine, cost in costs.items():
            others = sorted(magazine - job)
            for kept in combinations(others, min(len(others), capacity - len(job))):
                key, total = job | frozenset(kept), cost + len(job - magazine)
                after[key] = min(total, after.get(key, total))
        costs = after
    return min(costs.values())


@FEW
@given(few_jobs())
def test_best_and_worst_are_those_of_all_orders(case):
    jobs, capacity = case
    tried = [counted(order, capacity) for order in permutations(jobs)]
    assert best_order(jobs, capacity).insertions == min(tried)
    assert worst_order(jobs, capacity).insertions == max(tried)


@FEW
@given(few_jobs())
def test_the_order_returned_costs_in_the_cell_what_is_said(case):
    jobs, capacity = case
    for found in (best_order(jobs, capacity), worst_order(jobs, capacity)):
        assert sorted(found.order) == list(range(len(jobs)))
        assert insertions([jobs[at] for at in found.order], capacity) == found.insertions
        assert found.switches == found.insertions - min(capacity, len(frozenset().union(*jobs)))


@FEW
@given(few_jobs())
def test_bounds_hold_for_every_order(case):
    jobs, capacity = case
    best = best_order(jobs, capacity)
    assert best.insertions >= len(frozenset().union(*jobs))
    pairs = sum(pair_bound(jobs[a], jobs[b], capacity) for a, b in pairwise(best.order))
    assert best.insertions >= len(jobs[best.order[0]]) + pairs


@FEW
@given(few_jobs())
def test_groups_fit_cover_every_job_and_are_the_fewest(case):
    jobs, capacity = case
    found = groups(jobs, capacity)
    assert sorted(at for group in found for at in group) == list(range(len(jobs)))
    assert all(len(frozenset().union(*(jobs[at] for at in group))) <= capacity for group in found)
    assert len(found) == fewest_groups(jobs, capacity)


def fewest_groups(jobs, capacity):
    """By giving each job to every group open so far, or to a new one."""
    opened = {(): 0}
    for job in jobs:
        after = set()
        for unions in opened:
            after.add(tuple(sorted((*unions, job), key=sorted)))
            for at, union in enumerate(unions):
                if len(union | job) <= capacity:
                    after.add(tuple(sorted((*unions[:at], union | job, *unions[at + 1 :]), key=sorted)))
        opened = dict.fromkeys(after, 0)
    return min(map(len, opened))


def test_jobs_inside_others_follow_them_at_no_cost():
    jobs = [{1}, {1, 2, 3}, {4, 5, 6}, {1, 2}, {4, 5, 6}]
    assert dominated(jobs) == {0: 1, 3: 1, 4: 2}
    best = best_order(jobs, 3)
    assert best.insertions == 6
    assert [jobs[at] for at in best.order] in ([{1, 2, 3}, {1}, {1, 2}, {4, 5, 6}, {4, 5, 6}],
                                               [{4, 5, 6}, {4, 5, 6}, {1, 2, 3}, {1}, {1, 2}])  # fmt: skip
    assert len(groups(jobs, 3)) == 2


def test_nothing_to_do_and_jobs_without_tools():
    assert best_order([], 3).order == ()
    assert groups([], 3) == ()
    assert best_order([set(), set()], 1).insertions == 0
    assert groups([set(), {1}], 1) == ((0, 1),)


def test_a_job_too_big_for_the_turret_is_refused():
    with pytest.raises(ValueError, match="job 1 needs 3 tools, the turret holds 2"):
        best_order([{1}, {1, 2, 3}], 2)


@pytest.mark.parametrize("search", [best_order, worst_order, groups])
def test_too_many_jobs_are_refused(search):
    with pytest.raises(ValueError, match=f"{MAX_JOBS + 1} jobs to put in order, .* at most {MAX_JOBS}"):
        search([{at, at + 1} for at in range(MAX_JOBS + 1)], 3)


def test_jobs_inside_others_do_not_count_towards_the_limit():
    jobs = [{at, at + 1} for at in range(4)] * 4
    assert best_order(jobs, 3).insertions == 5
