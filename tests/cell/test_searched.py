"""The searched dispatch rule on the board of the demo plant: no clock, the machine's turret is told."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from simkit.cell.orders import Orders
from simkit.cell.toolfacts import tool_facts_of
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.draws import make_draws
from simkit.process.workload import make_workload
from simkit.tooling.improve import MachineStand
from simkit.tooling.searchinputs import SearchInputs

DAY_S = 24 * 3600.0
NEVER_OUT = ("plant.overflow.subcontract=false", "plant.overflow.refuse=false")


@lru_cache
def plant():
    return read_plant(Path(__file__).parents[2] / "data" / "tarnholt", calibrated=False)


@lru_cache
def workload(*overrides):
    scenario = make_scenario(plant(), (), (*NEVER_OUT, *overrides))
    return make_workload(scenario, make_draws(plant(), 1, 0, weeks=1, demand_factor=1.0))


def board(rule, *overrides, orders=14):
    """A board with orders released that nothing presses, and how the machine stands at the start."""
    work = workload(f"plant.rules.dispatch={rule}", *overrides)
    book = tool_facts_of(work)
    made = Orders(work, book.needs)
    for job in unpressed(made)[:orders]:
        made.release(job)
    return made, MachineStand(book.room, book.start, 0, (-1, None, None, None))


def unpressed(made):
    return [job for job in made.jobs if not job.rush and job.due_s > 3 * DAY_S]


def following(made, stand):
    """The next order at the start of the run."""
    return made.next(0.0, -1, frozenset(), stand)


def taken(made, stand):
    """Numbers of the orders in the sequence in which the rule takes them, if the machine never changes."""
    numbers = []
    while (job := following(made, stand)) is not None:
        numbers.append(job.number)
    return numbers


def test_t12_with_every_order_in_the_guard_searched_is_due():
    forced = "plant.rules.due_guard_days=1000"
    assert taken(*board("searched", forced)) == taken(*board("due"))


def test_t12_a_window_of_one_order_is_due():
    assert taken(*board("searched", "plant.rules.window_orders=1")) == taken(*board("due"))


def test_searched_does_not_always_equal_due():
    assert taken(*board("searched")) != taken(*board("due"))


def test_rush_goes_first():
    made, stand = board("searched")
    late = unpressed(made)[14]
    late.rush = True
    made.release(late)
    assert following(made, stand) is late


def searches(monkeypatch):
    """Counts of the windows that are searched."""
    seen = []
    plain = SearchInputs.pieces

    def counted(self, orders, *more):
        seen.append(len(orders))
        return plain(self, orders, *more)

    monkeypatch.setattr(SearchInputs, "pieces", counted)
    return seen


def test_a_plan_stands_until_an_order_is_released_or_the_machine_stands_otherwise(monkeypatch):
    seen = searches(monkeypatch)
    made, stand = board("searched", orders=8)
    following(made, stand)
    assert seen == [8]
    planned = list(made._plan.order)
    as_foreseen = made._plan.foreseen[0]
    stand = replace(stand, turret=as_foreseen[0], set_up=as_foreseen[1], counter=1)
    assert following(made, stand).number == planned[0]
    assert seen == [8]
    made.release(unpressed(made)[8])
    as_foreseen = made._plan.foreseen[0]
    following(made, replace(stand, turret=as_foreseen[0], set_up=as_foreseen[1], counter=2))
    assert seen == [8, 7]
    following(made, stand)
    assert seen == [8, 7, 6]


def test_an_order_put_back_is_searched_again(monkeypatch):
    seen = searches(monkeypatch)
    made, stand = board("searched", orders=5)
    made.put_back(following(made, stand))
    following(made, stand)
    assert seen == [5, 5]


def test_the_known_queue_is_the_plan_then_the_rest_by_due_date():
    made, stand = board("searched", "plant.rules.eviction=soonest", orders=14)
    following(made, stand)
    planned = list(made._plan.order)
    assert len(planned) == 9
    rest = [job for job in made.waiting if job.number not in planned]
    rest.sort(key=lambda job: (job.due_s, job.released_s, job.number))
    numbers = [*planned, *(job.number for job in rest)]
    assert made.known_queue(0.0, -1, frozenset()) == [made.needs[made.jobs[number].program] for number in numbers]


def test_the_rule_must_know_how_the_machine_stands():
    made, _ = board("searched")
    with pytest.raises(ValueError, match="how the machine stands"):
        made.next(0.0, -1, frozenset())


def test_a_window_knows_seconds_hours_and_the_working_time_left():
    work = workload("plant.rules.dispatch=searched")
    window = SearchInputs(work, tool_facts_of(work).needs)
    first = work.plan.attended[0]
    assert window.crew.between_s(0.0, first[0] + 60.0) == 60.0
    breaks_s = 2 * 45 * 60.0
    assert window.crew.between_s(0.0, first[1]) == first[1] - first[0] - breaks_s
    made, stand = board("searched", orders=1)
    job = made.waiting[0]
    order = [(job.row, job.program, job.members)]
    piece = window.pieces(order, first[0], stand)[0]
    assert piece.set_up_s == (360.0, 240.0, 0.0, pytest.approx(7.0, abs=1.0))
    assert piece.work_s == pytest.approx(job.hours * 3600)
    assert piece.due_in_s == window.crew.between_s(first[0], job.due_s)
    stored = replace(stand, at_hand=frozenset({job.row.material}))
    assert window.pieces(order, first[0], stored)[0].set_up_s == (0.0, *piece.set_up_s[1:])
