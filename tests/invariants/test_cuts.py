"""A horizon that truly cuts a stop, a changeover or the night of a clock change: nothing is lost or made up there.

Each case first shows, on the run without the cut, what the machine is at when the cut comes, and that the cut lies
inside it. The cut run must be legal, agree with the oracle, and be the first part of the other one, record by record.
"""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from simkit.process.workload import Workload
from tests.cell.bench_plant import order, person, plant, program, tool, use
from tests.invariants.legal import check_all
from tests.invariants.test_calendar_edges import AUTUMN, NIGHT, SPRING
from tests.oracle.compare import first_difference, of_log
from tests.oracle.plants import workload_of
from tests.small_plant import changed_settings

HOUR, MINUTE, OPEN = 3600.0, 60.0, 6 * 3600.0
FAR_S = 12 * 86400.0


def until(built: PlantInputs, end_s: float) -> tuple[Trace, Workload]:
    run = {"run": {"horizon_s": end_s}}
    work = workload_of(dataclasses.replace(built, settings=changed_settings(built.settings, run)))
    return simulate(work), work


def at_the_cut(built: PlantInputs, cut_s: float) -> tuple[str, float, float]:
    """What the machine is at when the cut comes, from when to when, in the run that goes on; seconds."""
    trace, _ = until(built, FAR_S)
    (found,) = [row for row in of_log(trace.machines[0]) if row[1] < cut_s < row[2]]
    return found


def check_cut(built: PlantInputs, cut_s: float) -> Trace:
    """The cut run is legal, as the oracle says, and the first part of the run that goes on."""
    trace, work = until(built, cut_s)
    assert trace.end_s == cut_s
    check_all(trace, work)
    assert first_difference(work) == ""
    whole, _ = until(built, FAR_S)
    assert of_log(trace.machines[0]) == clipped(of_log(whole.machines[0]), cut_s)
    assert people(trace, cut_s) == people(whole, cut_s)
    made = zip(whole.machines[0].made, whole.machines[0].made_at_s, strict=True)
    assert trace.machines[0].made == [sheet for sheet, moment in made if moment < cut_s]
    measures = measure_run(trace, work)
    assert measures["material_kg"] == pytest.approx(measures["parts_kg"] + measures["scrap_kg"])
    return trace


def clipped(rows: list[tuple[str, float, float]], cut_s: float) -> list[tuple[str, float, float]]:
    return [(state, start, min(end, cut_s)) for state, start, end in rows if start < cut_s]


def people(trace: Trace, cut_s: float) -> list[tuple[int, int, float, float]]:
    tasks = trace.tasks
    rows = zip(tasks.person, tasks.task, tasks.start_s, tasks.end_s, strict=True)
    return sorted((who, what, a, min(b, cut_s)) for who, what, a, b in rows if a < min(b, cut_s))


# --- a stop ---------------------------------------------------------------------------------------


def jammed(**changes: object) -> PlantInputs:
    """Sheets of 10 min; a stop after 25 running minutes: two tries of 2 min, then 20 by who comes at 40."""
    jam = Stop(cause="jam", exposure="running_hour", rate=1.0, repair_min=20, file="f", retries=2, retry_s=120.0,
               sheets_scrapped=1.0)  # fmt: skip
    crew = (dataclasses.replace(person("OP"), duties="Mon 06:00-06:40"), person("BE", "bench"))
    return plant(**{"orders": (order("1", "A", 9),), "stops": (jam,), "people": crew, "times": {"bench": 3.0},
                    "sequences": {"f": (25 / 60, 100.0), "f:repair": (20.0,)}, **changes})  # fmt: skip


@pytest.mark.parametrize("minutes", [26.0, 35.0, 50.0], ids=["a try", "waiting for somebody", "the repair"])
def test_cut_in_a_stop(minutes: float) -> None:
    """Stopped from 25 to 60; cut in each of its parts."""
    cut_s = OPEN + minutes * MINUTE
    assert at_the_cut(jammed(), cut_s) == ("stopped", OPEN + 25 * MINUTE, OPEN + 60 * MINUTE)
    trace = check_cut(jammed(), cut_s)
    (stopped,) = [row for row in of_log(trace.machines[0]) if row[0] == "stopped"]
    assert stopped[2] - stopped[1] == (minutes - 25) * MINUTE
    assert trace.machines[0].lost == [], "the sheet is lost when the stop is over, not before"


def test_cut_in_a_stop_that_is_begun_anew() -> None:
    """The repair of 20 min is broken off at 50 by a duty until 70 and begun again: cut at 80, in its second go."""
    twice = (dataclasses.replace(person("OP"), duties="Mon 06:00-06:40;Mon 06:50-07:10"), person("BE", "bench"))
    built = jammed(people=twice, people_rules={"break_rules": {"clear": "stop"}})
    cut_s = OPEN + 80 * MINUTE
    assert at_the_cut(built, cut_s) == ("stopped", OPEN + 25 * MINUTE, OPEN + 90 * MINUTE)
    trace = check_cut(built, cut_s)
    assert trace.tasks.anew_s.tolist() == [10 * MINUTE]


# --- a changeover ---------------------------------------------------------------------------------


def changed_over() -> PlantInputs:
    """Two orders with other tools, three loads of 5 min each and 10 min an order; the break is at 180."""
    return plant(
        orders=(order("1", "A", 16), order("2", "B", 4)), times={"fixed": 10.0, "tool": 5.0, "bench": 3.0},
        program_tools=(*use("A", "T0"), *use("B", "T1", "T2", "T3")), tools=tuple(map(tool, ("T0", "T1", "T2", "T3"))),
        programs=(program("A", 10.0), program("B", 10.0)), breaks=(("09:00", "09:15"),),
        people=(person("OP"), person("BE", "bench")),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("minutes", "state", "start", "end"),
    [(7.0, "changeover", 0, 15), (178.0, "changeover", 175, 180), (185.0, "waiting_person", 180, 195),
     (200.0, "changeover", 195, 215)],
    ids=["the first", "before the break", "paused", "after the break"],
)  # fmt: skip
def test_cut_in_a_changeover(minutes: float, state: str, start: float, end: float) -> None:
    """The first until 15; the second, of 25 min, from 175: five before the break, twenty after it."""
    cut_s = OPEN + minutes * MINUTE
    assert at_the_cut(changed_over(), cut_s) == (state, OPEN + start * MINUTE, OPEN + end * MINUTE)
    check_cut(changed_over(), cut_s)


# --- the night of a clock change ------------------------------------------------------------------


def through_the_night(monday: dt.date) -> PlantInputs:
    """Sheets of an hour that need nobody, by day and from 22:00 to 06:00 every night."""
    built = plant(orders=(order("1", "A", 150),), programs=(program("A", 60.0), program("B", 60.0)),
                  calendar={"night": NIGHT}, people=(person("OP"),),
                  run={"source": "replay", "start_monday": monday})  # fmt: skip
    late = tuple(dataclasses.replace(row, released=monday, due=monday) for row in built.orders)
    zone = built.settings.model_copy(update={"time_zone": "Europe/Berlin"})
    return dataclasses.replace(built, orders=late, settings=zone)


@pytest.mark.parametrize("hours", [142.5, 145.5, 146.5, 147.5, 148.5])
@pytest.mark.parametrize(("monday", "day_h", "night_h"), [(SPRING, 23, (142, 149)), (AUTUMN, 25, (142, 151))],
                         ids=["23 hours", "25 hours"])  # fmt: skip
def test_cut_in_the_night_of_a_clock_change(
    monday: dt.date, day_h: float, night_h: tuple[float, float], hours: float
) -> None:
    """Saturday 22:00 is 142 h after the first midnight; 06:00 comes after 7 or 9 hours, the change within them."""
    built, cut_s = through_the_night(monday), hours * HOUR
    _, work = until(built, FAR_S)
    days = work.plan.day_start
    assert (days[7] - days[6]) / HOUR == day_h, "Sunday is the day of the change"
    night = next(night for night in work.plan.nights if night[0] < cut_s < night[1])
    assert (night[0] / HOUR, night[1] / HOUR) == night_h
    state, start_s, end_s = at_the_cut(built, cut_s)
    assert (state, start_s, end_s) == ("run", night[0], night[1])
    trace = check_cut(built, cut_s)
    in_night = [moment for moment in trace.machines[0].made_at_s if moment > night[0]]
    assert len(in_night) == int(hours - 142), "a sheet an hour, whatever the clock on the wall shows"
