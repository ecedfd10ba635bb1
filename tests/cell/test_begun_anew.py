"""Work that is broken off at the end of a window and begun anew, by hand: what was done before is lost, not free."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.base.messages import CellError
from simkit.cell.trace import Trace
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import WeeklyWindow
from simkit.plant.tables import Stop
from tests.cell.bench_plant import order, person, plant, run, story, work
from tests.invariants.legal import check_all
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

DAY = 24 * 60.0
BREAK = (("09:00", "09:15"),)
"""From minute 180 to 195."""
CREW = (person("OP", "changeover", "load", "unload", "material", "clear"), person("BE", "bench"))
CHANGEOVER, BENCH = {"changeover": "stop"}, {"bench": "stop"}


def built(at_break: dict[str, str], pairs: tuple[str, ...] = (), **changes: Any) -> PlantInputs:
    """The plant with break rules; cell and oracle agree on it, and every invariant holds."""
    found = plant(people_rules={"break_rules": at_break, "may_interrupt": pairs}, **changes)
    assert first_difference(workload_of(found)) == ""
    check_all(run(found), workload_of(found))
    return found


def in_vain(trace: Trace) -> list[tuple[float, float]]:
    """Moments at which work was broken off (minutes after 06:00), and the minutes lost."""
    rows = zip(trace.tasks.anew_at_s, trace.tasks.anew_s, strict=True)
    return [(at / 60 - 360, seconds / 60) for at, seconds in rows]


def test_a_changeover_is_broken_off_at_the_break_and_needs_all_its_time_again():
    """200 min: 180 before the break are lost, the whole again from 195 until 395; by pause it ends at 215."""
    trace = run(built(CHANGEOVER, breaks=BREAK, times={"fixed": 200.0}))
    assert story(trace)[:3] == [("changeover", 180.0), ("waiting_person", 195.0), ("changeover", 395.0)]
    assert work(trace, 0) == [("changeover", 0.0, 180.0), ("changeover", 195.0, 395.0)]
    assert in_vain(trace) == [(180.0, 180.0)]
    paused = run(built({"changeover": "pause"}, breaks=BREAK, times={"fixed": 200.0}))
    assert story(paused)[2] == ("changeover", 215.0)


def test_what_ends_with_the_window_is_done():
    trace = run(built(CHANGEOVER, breaks=BREAK, times={"fixed": 180.0}))
    assert story(trace)[0] == ("changeover", 180.0)
    assert in_vain(trace) == []


def test_the_next_shift_begins_anew_and_the_loss_is_measured():
    """Bench 40 min, asked for at 470 of 480: ten minutes are lost, then the whole next morning; seconds add up."""
    made = built(BENCH, people=CREW, times={"fixed": 460.0, "bench": 40.0})
    trace = run(made)
    assert work(trace, 1) == [("bench", 470.0, 480.0), ("bench", DAY, DAY + 40.0)]
    measures = measure_run(trace, workload_of(made))
    assert measures["person_in_vain_h"] == pytest.approx(10 / 60)
    assert measures["person_bench_h"] == pytest.approx(40 / 60 + measures["person_in_vain_h"])


def test_seconds_with_people_are_the_work_done_and_the_work_lost():
    """Twelve sheets of 50 min at the bench, with breaks and shift ends: spent = 12 x 50 + what was lost."""
    made = built(BENCH, breaks=BREAK, people=CREW, orders=(order("1", "A", 12),), times={"bench": 50.0})
    trace = run(made)
    spent = sum(end - start for _, start, end in work(trace, 1))
    assert spent == 12 * 50.0 + sum(minutes for _, minutes in in_vain(trace))
    assert in_vain(trace)[0] == (180.0, 20.0), "sheets from 10 on: 60, 110, 160, the fourth for 20 min"


def test_of_two_people_both_lose_their_time():
    """Loading 30 min by two: the second goes at 08:20 (140); from 130 until then, ten minutes of two persons."""
    crew = (person("OP"), dataclasses.replace(person("TWO", "second_person"), duties="Mon 08:20-10:00"))
    made = built({"load": "stop"}, people=crew, machine={"one_person_kg": 5.0}, times={"fixed": 130.0, "load": 30.0})
    trace = run(made)
    assert in_vain(trace) == [(140.0, 20.0)]
    assert story(trace)[1:4] == [("loading", 140.0), ("waiting_person", 240.0), ("loading", 270.0)]


def test_who_stays_for_overtime_goes_on():
    """200 min from 400 on: over the shift end at 480 into overtime without a loss; without overtime 80 are lost."""
    extra = {"overtime": (WeeklyWindow(days=("Mon",), start="14:00", end="18:00"),)}
    rules = {"planning_factor": 5.0, "overtime_cap_h_per_week": 50.0}
    times = {"fixed": 200.0}
    crew = (dataclasses.replace(person("OP"), duties="Mon 06:00-12:40"), person("BE", "bench"))
    made = built(CHANGEOVER, people=crew, times=times, calendar=extra, rules=rules,
                 overflow={"overtime": True})  # fmt: skip
    assert in_vain(run(made)) == []
    assert work(run(made), 0)[:2] == [("changeover", 400.0, 480.0), ("changeover", 480.0, 600.0)]
    without = run(built(CHANGEOVER, people=crew, times=times))
    assert in_vain(without) == [(480.0, 80.0)]


def test_an_interruption_keeps_what_is_done_but_the_next_break_does_not():
    """Bench from 12 on, interrupted from 22 to 24 for loading; at 180 all of it is lost, both pieces."""
    made = built(BENCH, ("load > bench",), breaks=BREAK, orders=(order("1", "A", 2),), people=(person("OP"),),
                 times={"load": 2.0, "bench": 200.0})  # fmt: skip
    trace = run(made)
    assert work(trace, 0)[:4] == [
        ("load", 0.0, 2.0), ("load", 12.0, 14.0), ("bench", 14.0, 180.0), ("bench", 195.0, 395.0)]  # fmt: skip
    early = built(BENCH, ("clear > bench",), breaks=BREAK, people=(person("OP"),), times={"bench": 172.0},
                  orders=(order("1", "A", 2),), stops=(JAM,), sequences=JAMS)  # fmt: skip
    assert work(run(early), 0)[:3] == [("bench", 10.0, 15.0), ("clear", 15.0, 20.0), ("bench", 20.0, 180.0)]
    assert in_vain(run(early))[0] == (180.0, 165.0)


JAM = Stop(cause="jam", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=5, file="s.csv")
JAMS = {"s.csv": (0.25, 99.0), "s.csv:repair": (5.0, 5.0)}


def test_work_longer_than_every_window_is_refused_and_not_begun_for_ever():
    with pytest.raises(CellError, match=r"work of 300 min for 'changeover' .* more than 285 min in one piece"):
        run(plant(people_rules={"break_rules": CHANGEOVER}, breaks=BREAK, times={"fixed": 300.0}))
    trace = run(plant(people_rules={"break_rules": CHANGEOVER}, breaks=BREAK, times={"fixed": 285.0}))
    assert story(trace)[:3] == [("changeover", 180.0), ("waiting_person", 195.0), ("changeover", 480.0)]


def test_moved_work_goes_by_the_rule_of_preparation():
    """A tool of 40 min preset aside, asked for at 06:00; the only one who prepares leaves at 06:30 until 09:00."""
    from tests.cell.bench_plant import element

    aside = dataclasses.replace(element("fixed", 40.0, ""), element="preset", task_of="preparation", state="outside")
    crew = (person("OP", "changeover", "load", "unload", "clear"),
            dataclasses.replace(person("PRE", "preparation", "bench"), duties="Mon 06:30-09:00"))  # fmt: skip
    times = plant().elements
    made = built({"preparation": "stop"}, people=crew, elements=(*times, aside))
    assert work(run(made), 1) == [("preparation", 0.0, 30.0), ("preparation", 180.0, 220.0)]
    kept = built({"changeover": "stop"}, people=crew, elements=(*times, aside))
    assert work(run(kept), 1) == [("preparation", 0.0, 30.0), ("preparation", 180.0, 190.0)]
