"""Edge cases of the calendar as one table: wall times on a day, and what they are in elapsed hours.

Zone Europe/Berlin: on Sunday 29 March 2026 the hour from 02:00 to 03:00 is skipped, on Sunday 25 October 2026 it comes
twice. Elapsed hours count from midnight of the Saturday (Friday for the two-day cases) before.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from typing import Any

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Shift
from simkit.plant.tables import CalendarDay, Person
from simkit.process.shifts import plan_shifts
from tests.small_plant import MONDAY, changed_settings, small_plant

H = 3600.0
SPRING, AUTUMN = dt.date(2026, 3, 28), dt.date(2026, 10, 24)
SAT, SUN = ("Sat",), ("Sun",)
Hours = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Edge:
    """A shift on given days with its breaks, over three days from ``first``; what comes out, in elapsed hours."""

    name: str
    first: dt.date
    days: tuple[str, ...]
    times: tuple[str, str]
    breaks: tuple[tuple[str, str], ...]
    attended: Hours
    person: Hours
    closed: tuple[dt.date, ...] = ()
    rows: tuple[CalendarDay, ...] = ()


EDGES = [
    Edge("shift across midnight", MONDAY, ("Mon",), ("22:00", "06:00"), (("01:00", "01:30"),),
         ((22, 30),), ((22, 25), (25.5, 30))),
    Edge("the same, a break before midnight and one across it", MONDAY, ("Mon",), ("18:00", "02:00"),
         (("20:00", "20:15"), ("23:45", "00:15")), ((18, 26),), ((18, 20), (20.25, 23.75), (24.25, 26))),
    Edge("break at the shift's end", MONDAY, ("Mon",), ("06:00", "14:00"), (("13:30", "14:00"),),
         ((6, 14),), ((6, 13.5),)),
    Edge("break at the shift's start", MONDAY, ("Mon",), ("06:00", "14:00"), (("06:00", "06:15"),),
         ((6, 14),), ((6.25, 14),)),
    Edge("a shift of a whole day", MONDAY, ("Mon",), ("06:00", "06:00"), (), ((6, 30),), ((6, 30),)),
    Edge("night before a skipped hour is an hour shorter", SPRING, SAT, ("22:00", "06:00"), (),
         ((22, 29),), ((22, 29),)),
    Edge("night before a double hour is an hour longer", AUTUMN, SAT, ("22:00", "06:00"), (),
         ((22, 31),), ((22, 31),)),
    Edge("day shift after a skipped hour starts an hour earlier", SPRING, SUN, ("06:00", "14:00"), (),
         ((29, 37),), ((29, 37),)),
    Edge("day shift after a double hour starts an hour later", AUTUMN, SUN, ("06:00", "14:00"), (),
         ((31, 39),), ((31, 39),)),
    Edge("a break in the skipped hour keeps its length, an hour later on the clock", SPRING, SAT, ("22:00", "06:00"),
         (("02:15", "02:45"),), ((22, 29),), ((22, 26.25), (26.75, 29))),
    Edge("a break in the double hour is taken once, the first time", AUTUMN, SAT, ("22:00", "06:00"),
         (("02:15", "02:45"),), ((22, 31),), ((22, 26.25), (26.75, 31))),
    Edge("a break that ends as the double hour ends keeps its length", AUTUMN, SAT, ("22:00", "06:00"),
         (("02:30", "03:00"),), ((22, 31),), ((22, 26.5), (27, 31))),
    Edge("a shift inside the skipped hour does not happen", SPRING, SUN, ("02:15", "03:00"), (), (), ()),
    Edge("a shift that starts in the skipped hour starts an hour later on the clock", SPRING, SUN, ("02:30", "10:00"),
         (), ((26.5, 33),), ((26.5, 33),)),
    Edge("holiday after a night: what began before runs on", MONDAY, ("Mon", "Tue", "Wed"), ("22:00", "06:00"), (),
         ((22, 30), (70, 78)), ((22, 30), (70, 78)), closed=(MONDAY + dt.timedelta(1),)),
    Edge("holiday on the day of a night: it does not begin", MONDAY, ("Mon",), ("22:00", "06:00"), (), (), (),
         rows=(CalendarDay(date=MONDAY),)),
    Edge("a shift moved on one day, its break outside falls away", MONDAY, ("Mon",), ("06:00", "14:00"),
         (("12:00", "12:30"),), ((6, 11),), ((6, 11),), rows=(CalendarDay(date=MONDAY, change="moved", end="11:00"),)),
    Edge("a Saturday added by a row", dt.date(2026, 1, 10), ("Mon",), ("06:00", "14:00"), (("09:00", "09:15"),),
         ((6, 14), (54, 62)), ((6, 9), (9.25, 14), (54, 57), (57.25, 62)),
         rows=(CalendarDay(date=dt.date(2026, 1, 10), shift="s", change="added"),)),
    Edge("added on a closed day", MONDAY, ("Mon",), ("06:00", "14:00"), (), ((6, 14),), ((6, 14),), closed=(MONDAY,),
         rows=(CalendarDay(date=MONDAY, shift="s", change="added"),)),
]  # fmt: skip


def plant_of(edge: Edge, **calendar: Any) -> PlantInputs:
    shift = Shift(name="s", days=edge.days, start=edge.times[0], end=edge.times[1], breaks=edge.breaks)
    plant = small_plant(people=(Person(person_id="P", skills=("load",), shift="s"),))
    changes = {"calendar": {"shifts": (shift,), "closed_days": edge.closed, **calendar},
               "run": {"start_monday": edge.first}}  # fmt: skip
    settings = changed_settings(plant.settings, changes).model_copy(update={"time_zone": "Europe/Berlin"})
    return dataclasses.replace(plant, settings=settings, calendar=edge.rows)


@pytest.mark.parametrize("edge", EDGES, ids=lambda edge: edge.name)
def test_edge_case(edge: Edge) -> None:
    plan = plan_shifts(plant_of(edge), 4)
    assert [(a / H, b / H) for a, b in plan.attended] == list(edge.attended)
    assert [(a / H, b / H) for a, b in plan.person[0]] == list(edge.person)


WINDOWS = [
    ("night over a skipped hour", SPRING, ("22:00", "06:00"), [(22.0, 29.0)]),
    ("night over a double hour", AUTUMN, ("22:00", "06:00"), [(22.0, 31.0)]),
    ("a whole Saturday to Sunday before a skipped hour", SPRING, ("06:00", "06:00"), [(6.0, 29.0)]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "first", "times", "hours"), WINDOWS, ids=[row[0] for row in WINDOWS])
def test_night_windows(name: str, first: dt.date, times: tuple[str, str], hours: list[tuple[float, float]]) -> None:
    window = {"days": SAT, "start": times[0], "end": times[1]}
    plant = plant_of(Edge(name, first, ("Mon",), ("06:00", "14:00"), (), (), ()),
                     night={"rule": "allowed", "windows": (window,)})  # fmt: skip
    assert [(a / H, b / H) for a, b in plan_shifts(plant, 3).nights] == hours
