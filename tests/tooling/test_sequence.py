from __future__ import annotations

import pytest

from simkit.tooling.sequence import Waiting, next_order, parted, ranked


def order(position, released=0.0, due=1000.0, rush=False, material=0, clearance=0.2, tools=(), nozzle=0):
    return Waiting(position, released, due, rush, material, clearance, frozenset(tools), nozzle)


def test_arrival_takes_release_then_position():
    waiting = [order(2, 5.0), order(1, 5.0), order(3, 4.0)]
    assert ranked("arrival", waiting, 9) == [2, 1, 0]


def test_due_takes_the_earliest_due_then_arrival():
    waiting = [order(0, 1.0, due=9.0), order(1, 0.0, due=9.0), order(2, 5.0, due=8.0)]
    assert ranked("due", waiting, 9) == [2, 1, 0]


@pytest.mark.parametrize("rule", ["arrival", "due", "grouped"])
def test_rush_goes_first_and_ties_go_to_arrival(rule):
    waiting = [order(0), order(1, rush=True), order(2, rush=True)]
    assert ranked(rule, waiting, 9) == [1, 2, 0]


def test_grouped_takes_material_then_clearance_then_fewest_tools_to_fetch():
    waiting = [
        order(0, material=1, clearance=0.2, tools={1}),
        order(1, material=0, clearance=0.3, tools={1}),
        order(2, material=0, clearance=0.2, tools={1, 5}),
        order(3, material=0, clearance=0.2, tools={1, 2, 3}),
    ]
    assert ranked("grouped", waiting, 9, 0, 0.2, {1, 2, 3}) == [3, 2, 1, 0]


def test_grouped_stays_with_the_nozzle_after_the_material_and_before_the_clearance():
    """On the machine: material 0, nozzle 3, clearance 0.2. First its material; of the others its nozzle, though at
    another clearance; then its clearance alone; then neither. Nozzles that are all alike change nothing."""
    facts = [(1, 4, 0.3), (1, 4, 0.2), (2, 3, 0.3), (0, 3, 0.3)]
    for nozzles, expected in ((True, [3, 2, 1, 0]), (False, [3, 1, 0, 2])):
        waiting = [
            order(n, material=of, nozzle=nozzle * nozzles, clearance=mm) for n, (of, nozzle, mm) in enumerate(facts)
        ]
        assert ranked("grouped", waiting, 9, 0, 0.2, last_nozzle=3 * nozzles) == expected
        assert next_order("grouped", waiting, 0, 0.2, last_nozzle=3 * nozzles) == 3
        for rule in ("arrival", "due"):
            assert ranked(rule, waiting, 9, 0, 0.2, last_nozzle=3 * nozzles) == [0, 1, 2, 3]


def test_an_order_near_its_due_date_goes_before_the_group():
    waiting = [order(0, due=500.0), order(1, due=150.0, material=7), order(2, due=140.0, material=8)]
    assert ranked("grouped", waiting, 9, 0, 0.2, now_s=100.0, due_guard_s=50.0) == [2, 1, 0]
    assert next_order("grouped", waiting, 0, 0.2, now_s=0.0, due_guard_s=50.0) == 0


def test_only_the_window_is_grouped():
    waiting = [order(n, due=100.0 + n, material=n) for n in range(5)]
    assert next_order("grouped", waiting, 3, window=4) == 3
    assert next_order("grouped", waiting, 3, window=3) == 0


@pytest.mark.parametrize("rule", ["arrival", "due", "grouped"])
def test_the_first_of_the_ranking_is_the_next_order(rule):
    waiting = [order(n, n * 7 % 5, due=100 + n * 3 % 7, material=n % 3, rush=n == 9) for n in range(8)]
    for drop in range(8):
        left = waiting[:drop] + waiting[drop + 1 :]
        assert ranked(rule, left, 3, 1, 0.2, {1}, 4)[0] == next_order(rule, left, 1, 0.2, {1}, 4)


def test_an_unknown_rule_is_refused():
    with pytest.raises(ValueError, match="no dispatch rule"):
        next_order("fastest", [order(0)])


def test_rush_and_guarded_orders_are_parted_from_the_others_each_by_due_date():
    waiting = [
        order(0, due=900.0),
        order(1, due=140.0),
        order(2, due=800.0),
        order(3, due=950.0, rush=True),
        order(4, due=120.0),
    ]
    assert parted(waiting, 100.0, 50.0) == ([3, 4, 1], [2, 0])
    assert parted(waiting, 100.0, 1000.0) == ([3, 4, 1, 2, 0], [])
    assert parted([], 0.0, 0.0) == ([], [])
