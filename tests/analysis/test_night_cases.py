"""Cases of nights: each end that is taken away is gone, and help comes when it is said to."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.cases import Case
from simkit.analysis.night_cases import (
    BASE,
    alone_cases,
    freed_case,
    help_cases,
    more_cases,
    next_case,
    single_cases,
)
from simkit.analysis.night_wants import WORDS, all_wants, kind_of, removal, removals, words_of
from simkit.base.vocabulary import NIGHT_WANTS
from simkit.experiment.nights import Night, night_records
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Stop, Upkeep
from simkit.process.shifts import plan_shifts
from tests.cell.bench_plant import element, order, program, run
from tests.experiment.test_nights import unattended
from tests.oracle.plants import workload_of

AS_IT_IS = Case("today", BASE, "the set as it is")


def plants() -> Plant:
    """Sheets of an hour, a stack of 9; a stop after 3 h of the night, care after 5 h; 30 sheets of a proven program."""
    stop = Stop(cause="jam", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=1, file="s.csv")
    care = Upkeep(task="bin", exposure="running_hour", interval=13, duration_min=1)
    sequences = {"s.csv": (11.0, 1e4), "s.csv:repair": (1.0, 1.0)}
    return dataclasses.replace(unattended(30, stack=9), stops=(stop,), upkeep=(care,), sequences=sequences)


def night(case: Case, plant: Plant) -> Night:
    built = case.scenario(plant).plant
    return night_records(run(built), workload_of(built))[0]


def test_ends_are_taken_away_one_after_the_other_as_they_show_up() -> None:
    """The stop ends it after 3 h; without it the bin after 5 h; then the stack with the sheet after
    its ninth, after 10 h and the minute that the bin takes by itself; then nothing in 16 h."""
    plant, case, gone, found = plants(), AS_IT_IS, [], []
    while True:
        record = night(case, plant)
        found.append((record.want, record.running_h))
        after = next_case(plant, case, gone, [(record.ended_by, record.want)]) if record.want else None
        if after is None:
            break
        assert after.of == case.name
        gone.append(after.want)
        case = after
    assert [want for want, _ in found] == ["jam", "bin", "stack_full", ""]
    assert [hours for _, hours in found][:3] == pytest.approx([3.0, 5.0, 10.0 + 1 / 60])
    assert found[3][1] == pytest.approx(16.0)


def test_each_end_alone_and_all_of_them() -> None:
    plant = plants()
    ranked = [("stop", "jam"), ("queue", ""), ("output", "bin")]
    singles = list(single_cases(plant, AS_IT_IS, ranked))
    assert [case.want for case in singles] == ["jam", "bin"]
    assert night(singles[0], plant).want == "bin"
    assert night(singles[1], plant).want == "jam"
    assert night(freed_case(plant, AS_IT_IS), plant).ended_by == ""
    alone = {case.want: night(case, plant).want for case in alone_cases(plant, AS_IT_IS)}
    assert alone == {"stop": "jam", "care": "bin", "release": "", "tool": "", "material": "", "output": "stack_full"}


def test_more_room_for_output_carries_the_night_further() -> None:
    """The bin takes its minute by itself, so that the sixteenth sheet is a minute late for the morning."""
    plant = plants()
    output = next(case for case in more_cases(plant, AS_IT_IS) if case.want == "output")
    record = night(output, plant)
    assert (record.sheets, record.ended_by) == (15, "")
    assert plant.settings.stack.places == 9


def test_every_want_has_words_and_an_edit_that_this_or_no_plant_has() -> None:
    plant = plants()
    assert set(WORDS) == set(NIGHT_WANTS)
    for want in all_wants(plant):
        assert words_of(plant, "stop", want)
        assert kind_of(plant, want)
        edits = removal(plant, want)
        assert edits is None or Case("x", BASE, "x", edits=edits).why_illegal(plant) == ""
    assert removal(plant, "tool_by_hand") is None  # there is no magazine to put it into
    assert len(removals(plant, ["bench_full", "stack_full"])) == len(removals(plant, ["stack_full"]))
    assert Case("x", BASE, "x", edits=removals(plant, all_wants(plant))).why_illegal(plant) == ""


def test_a_program_that_is_not_proven_no_longer_ends_a_night() -> None:
    """The first piece of the day takes 5 min, so that the eighth sheet ends in the night, as do two more."""
    built = unattended(10, stack=9)
    programs = (program("A", 60.0), program("B", 60.0, proven=False))
    elements = (*(row for row in built.elements if row.element != "first"), element("first", 5.0))
    orders = (order("1", "A", 9), order("2", "B", 3))
    built = dataclasses.replace(built, programs=programs, orders=orders, elements=elements)
    wants = ("unproven_program", "first_piece")
    found = [night(Case("x", BASE, "x", edits=removals(built, wants[:n])), built) for n in range(3)]
    assert [(record.ended_by, record.want) for record in found] == [
        ("release", "unproven_program"), ("release", "first_piece"), ("queue", "")]  # fmt: skip
    assert [record.sheets for record in found] == [3, 3, 5]


def test_a_visit_lies_in_the_night_and_is_paid_for() -> None:
    plant = plants()
    cases = {case.name: case for case in help_cases(plant, AS_IT_IS)}
    assert list(cases) == ["Somebody there at 22:00", "Somebody there at 02:00", "Somebody there at 22:00 and 02:00",
                           "On call, 30 min, 1 a night", "On call, 30 min, 3 a night"]  # fmt: skip
    visit = cases["Somebody there at 02:00"]
    shift = visit.scenario(plant).plant.settings.calendar.shifts[-1]
    assert (shift.start, shift.end, shift.days[0], shift.days[-1]) == ("02:00", "03:00", "Tue", "Sat")
    assert visit.paid_h == 5.0
    assert plan_shifts(visit.scenario(plant).plant, 2).visits[0] == (26.0 * 3600, 27.0 * 3600)
    early = cases["Somebody there at 22:00"].scenario(plant).plant.settings.calendar.shifts[-1]
    assert (early.start, early.days[0], early.days[-1]) == ("22:00", "Mon", "Fri")
    called = night(cases["On call, 30 min, 1 a night"], plant)
    assert (called.calls, called.want) == (1, "bin")
    assert called.running_h == pytest.approx(5.0 + 1 / 60, abs=0.02)


def test_an_illegal_case_says_why() -> None:
    wrong = Case("x", BASE, "x", edits=({"path": "stops[none].rate", "op": "set", "value": 0.0},))
    assert wrong.why_illegal(plants())
    assert make_scenario(plants()).plant.stops
