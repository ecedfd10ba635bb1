"""The prepared queue of a night, by hand: eight hours of work by day, then what is ready comes first."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.plant import PlantInputs
from tests.cell.bench_plant import WORKDAYS, order, person, plant, program, run, use
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

ALLOWED = {"rule": "allowed", "windows": ({"days": WORKDAYS, "start": "14:00", "end": "06:00"},),
           "assessed_by": "a test", "assessed_on": "2026-01-01"}  # fmt: skip
DAY, SHORT, LONG, ODD = "D", "S", "L", "O"
"""Programs: ten hours that fill the day, one hour, three hours, and two hours of a kind that needs somebody."""


def queue_plant(queue: str, odd: dict[str, Any] | None = None, **changes: Any) -> PlantInputs:
    """A committed day order, then odd, short and long ones; a stack takes what is made at night."""
    odd_program = program(ODD, 120.0, **{"material": "MS"} | (odd or {}))
    programs = (program(DAY, 600.0), odd_program, program(SHORT, 60.0), program(LONG, 180.0))
    built = plant(**{
        "orders": tuple(order(str(n), name) for n, name in enumerate((DAY, ODD, SHORT, LONG), 1)),
        "programs": programs, "program_parts": (), "people": (person("OP"), person("BE", "bench", "second_person")),
        "calendar": {"night": ALLOWED}, "rules": {"night_queue": queue, "first_piece": "new_program"},
        "stack": {"places": 9},
        "times": {"fetch": 5.0, "nozzle": 4.0, "first": 6.0, "tool": 3.0}, **changes,
    })  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def started_h(built: PlantInputs) -> list[float]:
    """Hours of the first day at which the orders started, in the order of the book."""
    return [job.started_s / 3600 for job in run(built).jobs]


UNREADY = {
    "another material that no store holds": {"material": "AL"},
    "a program that is not proven": {"proven": False},
}  # fmt: skip


@pytest.mark.parametrize("odd", UNREADY)
def test_what_needs_nobody_comes_first_and_the_longest_of_it(odd: str) -> None:
    """The day order is out at 16:05; as ranked the odd one ends the night, prepared the others go first."""
    ranked, prepared = (started_h(queue_plant(queue, UNREADY[odd])) for queue in ("as_ranked", "prepared"))
    free = ranked[1]
    assert ranked[2] >= 30.0
    assert prepared[3] == free
    assert prepared[2] == free + 3.0
    assert prepared[1] == free + 4.0


def test_a_tool_that_stands_nowhere_waits_for_the_morning() -> None:
    uses = {"program_tools": use(ODD, "T1")}
    ranked, prepared = (started_h(queue_plant(queue, **uses)) for queue in ("as_ranked", "prepared"))
    assert ranked[2] >= 30.0
    assert prepared[3] < prepared[2] < prepared[1]


def test_if_all_are_ready_the_committed_order_stays_and_then_the_longest_goes_first() -> None:
    ranked, prepared = (started_h(queue_plant(queue)) for queue in ("as_ranked", "prepared"))
    assert ranked == sorted(ranked)
    assert prepared[1] == ranked[1]
    assert prepared[1] < prepared[3] < prepared[2]


def test_a_rush_order_goes_first_all_the_same() -> None:
    orders = (order("1", DAY), order("2", SHORT), order("3", LONG), order("4", ODD, rush=True))
    orders = (*orders[:3], dataclasses.replace(orders[3], released=orders[3].released))
    built = queue_plant("prepared", {"material": "AL"}, orders=orders)
    assert started_h(built)[3] == min(started_h(built))


def test_by_day_the_rule_changes_nothing() -> None:
    by_day = {"calendar": {"night": {}}, "orders": (order("1", SHORT), order("2", ODD), order("3", LONG))}
    assert started_h(queue_plant("prepared", **by_day)) == started_h(queue_plant("as_ranked", **by_day))
