from __future__ import annotations

from simkit.tooling.sequence import SetUpBefore, WaitingOrder, by_arrival, by_due, grouped, parted
from simkit.tooling.toolroom import NO_CLEARANCE


def order(position, released=0.0, due=1000.0, rush=False, material=0, clearance=0.2, tools=(), nozzle=0):
    return WaitingOrder(position, released, due, rush, material, clearance, frozenset(tools), nozzle)


def ranked(waiting, material=-1, clearance=NO_CLEARANCE, tools=(), nozzle=0, window=10, guarded_s=0.0, limit=9):
    """Positions of the first orders as the grouped rule ranks them."""
    standing = SetUpBefore(material, clearance, nozzle, frozenset(tools))
    return [row.position for row in grouped(sorted(waiting, key=by_due), standing, window, guarded_s, limit)]


def by(key, waiting):
    return [row.position for row in sorted(waiting, key=key)]


def test_arrival_takes_release_then_position():
    waiting = [order(2, 5.0), order(1, 5.0), order(3, 4.0)]
    assert by(by_arrival, waiting) == [3, 1, 2]


def test_due_takes_the_earliest_due_then_arrival():
    waiting = [order(0, 1.0, due=9.0), order(1, 0.0, due=9.0), order(2, 5.0, due=8.0)]
    assert by(by_due, waiting) == [2, 1, 0]


def test_rush_goes_first_and_ties_go_to_arrival():
    waiting = [order(0), order(1, rush=True), order(2, rush=True)]
    assert by(by_arrival, waiting) == by(by_due, waiting) == ranked(waiting) == [1, 2, 0]


def test_grouped_takes_material_then_clearance_then_fewest_tools_to_fetch():
    waiting = [
        order(0, material=1, clearance=0.2, tools={1}),
        order(1, material=0, clearance=0.3, tools={1}),
        order(2, material=0, clearance=0.2, tools={1, 5}),
        order(3, material=0, clearance=0.2, tools={1, 2, 3}),
    ]
    assert ranked(waiting, 0, 0.2, {1, 2, 3}) == [3, 2, 1, 0]


def test_grouped_stays_with_the_nozzle_after_the_material_and_before_the_clearance():
    """On the machine: material 0, nozzle 3, clearance 0.2. First its material; of the others its nozzle, though at
    another clearance; then its clearance alone; then neither. Nozzles that are all alike change nothing."""
    facts = [(1, 4, 0.3), (1, 4, 0.2), (2, 3, 0.3), (0, 3, 0.3)]
    for nozzles, expected in ((True, [3, 2, 1, 0]), (False, [3, 1, 0, 2])):
        waiting = [
            order(n, material=of, nozzle=nozzle * nozzles, clearance=mm) for n, (of, nozzle, mm) in enumerate(facts)
        ]
        assert ranked(waiting, 0, 0.2, nozzle=3 * nozzles) == expected
        assert ranked(waiting, 0, 0.2, nozzle=3 * nozzles, limit=1) == expected[:1]


def test_an_order_near_its_due_date_goes_before_the_group():
    waiting = [order(0, due=500.0), order(1, due=150.0, material=7), order(2, due=140.0, material=8)]
    assert ranked(waiting, 0, 0.2, guarded_s=150.0) == [2, 1, 0]
    assert ranked(waiting, 0, 0.2, guarded_s=50.0)[0] == 0


def test_only_the_window_is_grouped():
    waiting = [order(n, due=100.0 + n, material=n) for n in range(5)]
    assert ranked(waiting, 3, window=4)[0] == 3
    assert ranked(waiting, 3, window=3)[0] == 0


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
