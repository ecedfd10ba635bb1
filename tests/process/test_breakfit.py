"""What is begun anew after breaks and fits no window is told before anything is run."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Person, Upkeep
from simkit.process.breakfit import break_findings, longest_window_s
from simkit.process.shifts import longest_common_s
from tests.cell.bench_plant import element, person, plant, program
from tests.small_plant import changed_settings, small_plant

BREAK = (("09:00", "09:15"),)


def told(plant: PlantInputs, rule: str = "stop", task: str = "changeover") -> list[str]:
    settings = changed_settings(plant.settings, {"people": {"break_rules": {task: rule}}})
    return [str(finding) for finding in break_findings(dataclasses.replace(plant, settings=settings))]


def test_the_longest_stretch_in_all_calendars() -> None:
    assert longest_common_s([[(0, 10), (12, 20)]]) == 10
    assert longest_common_s([[(0, 10), (12, 20)], [(5, 19)]]) == 7
    assert longest_common_s([[(0, 10), (10, 13)]]) == 13
    assert longest_common_s([[(0, 10)], [(10, 20)]]) == 0


def test_a_crew_is_of_different_people() -> None:
    crew = [({"load", "second"}, [(0.0, 100.0)]), ({"load"}, [(90.0, 200.0)])]
    assert longest_window_s(crew, ("load",)) == 110
    assert longest_window_s(crew, ("load", "second")) == 10
    assert longest_window_s(crew, ("bench",)) == 0


def test_a_changeover_longer_than_every_window_is_an_error() -> None:
    """The shift is cut into 180 and 285 minutes."""
    (text,) = told(plant(breaks=BREAK, times={"fixed": 286.0}))
    assert 'plant.toml people.break_rules.changeover "stop"' in text
    assert "takes 286 min" in text
    assert "more than 285 min in one piece" in text
    assert "pause or finish" in text


@pytest.mark.parametrize(("minutes", "rule"), [(285.0, "stop"), (286.0, "pause"), (286.0, "finish")])
def test_what_fits_or_goes_by_another_rule_is_no_finding(minutes: float, rule: str) -> None:
    assert told(plant(breaks=BREAK, times={"fixed": minutes}), rule) == []


def test_bench_work_adds_up_over_the_sheet() -> None:
    """Two elements of 150 min at each sheet of the longest program."""
    rows = (element("bench", 150.0, ""), dataclasses.replace(element("bench", 150.0, ""), element="more"))
    (text,) = told(plant(breaks=BREAK, elements=rows, programs=(program("A", 1.0),)), task="bench")
    assert "bench of program A takes 300 min" in text


def test_stops_and_care_are_looked_at_too_and_a_technician_goes_by_the_rule_of_stops() -> None:
    stops = tuple(dataclasses.replace(row, repair_min=1000.0) for row in small_plant().stops)
    found = told(small_plant(stops=stops), task="clear")
    assert len(found) == 2, "one for those who clear, one for technicians"
    care = Upkeep(task="bearings", exposure="sheet", interval=9, duration_min=280, isolation_min=6)
    assert "bearings takes 286 min" in told(plant(breaks=BREAK, upkeep=(care,)), task="upkeep")[0]


def test_who_is_always_there_can_do_anything() -> None:
    crew = (*small_plant().people, Person(person_id="T", skills=("technician", "clear"), shift="always"))
    stops = tuple(dataclasses.replace(row, repair_min=1000.0) for row in small_plant().stops)
    assert told(small_plant(stops=stops, people=crew), task="clear") == []


def test_the_longest_person_is_counted_and_not_the_first() -> None:
    crew = (dataclasses.replace(person("OP"), duties="Mon-Fri 06:00-13:00"), person("TWO"))
    assert told(plant(people=crew, times={"fixed": 300.0})) == []
