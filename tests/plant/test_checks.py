"""Checks across tables: each finds its fault, and nothing in a sound plant."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import typing
from typing import Any

import pytest

from simkit.base.messages import Finding
from simkit.plant.checks import run_checks
from simkit.plant.checks_options import check_options
from simkit.plant.left_out_costs import TOPICS, unanswered
from simkit.plant.options import CapitalLine, Edit, Option, Range, Topic, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import MachineSettings, Shift, Station, WeeklyWindow
from simkit.plant.tables import TABLES, CalendarDay, Element, HistoryRow, MachineRow, Person, StartRow
from simkit.plant.values import Refusal, fit_value
from tests.small_plant import WORKDAYS, changed_settings, small_plant, with_element

UNUSUAL = "outside what is usual|hours of the median wage|but a rectangle of"
"""Words of notes that have tests of their own."""


def said(plant: PlantInputs, severity: str = "error") -> list[str]:
    """Return the findings of one severity; the other severity must be silent, what is usual apart."""
    findings = [finding for finding in run_checks(plant) if not re.search(UNUSUAL, finding.why)]
    assert {finding.severity for finding in findings} <= {severity}, [str(f) for f in findings]
    return [str(finding) for finding in findings]


def only(plant: PlantInputs, severity: str = "error") -> str:
    messages = said(plant, severity)
    assert len(messages) == 1, "\n".join(messages)
    return messages[0]


def changed(rows: tuple[Any, ...], at: int, **fields: Any) -> tuple[Any, ...]:
    return (*rows[:at], dataclasses.replace(rows[at], **fields), *rows[at + 1 :])


def refused(table: str, name: str, text: str) -> str:
    """Why a column refuses a text, in a file as in an edit."""
    with pytest.raises(Refusal) as caught:
        fit_value(TABLES[table], name, text)
    return caught.value.why


PLANT = small_plant()
EARLY, LATE = PLANT.settings.calendar.shifts


def test_a_sound_plant_has_no_findings() -> None:
    assert run_checks(PLANT) == []


def test_due_before_release() -> None:
    message = only(small_plant(orders=changed(PLANT.orders, 0, due=dt.date(2026, 1, 1))))
    assert 'due "2026-01-01": is before the day of release, 2026-01-05' in message


def test_hits_that_do_not_sum_are_a_note() -> None:
    message = only(small_plant(programs=changed(PLANT.programs, 0, hits_per_sheet=301)), "note")
    assert "P-1: the cutting tools in program_tools.csv make 300 hits" in message
    message = only(small_plant(programs=changed(PLANT.programs, 1, forming_hits_per_sheet=19)), "note")
    assert "P-2: the forming tools in program_tools.csv make 20 hits" in message


def test_a_clearance_that_is_not_owned_is_a_note_with_its_orders() -> None:
    message = only(small_plant(tools=changed(PLANT.tools, 2, clearances=(0.2,))), "note")
    assert "TL-003 has no die for a clearance of 0.3 mm, which 3 orders need (programs P-1)" in message


def test_a_tool_without_a_station() -> None:
    message = only(small_plant(tools=changed(PLANT.tools, 0, station_size_mm=12.7)))
    assert '"TL-001": fits no station: the turret has no station of 12.7 mm' in message
    assert "16 mm, 30 mm, 55 mm" in message


def test_a_turning_tool_needs_a_turning_station() -> None:
    stations = (Station(size_mm=16, count=6), Station(size_mm=30, count=3), Station(size_mm=55, count=1))
    assert "no turning station of 55 mm" in only(small_plant(machine={"stations": stations}))


def test_a_program_with_more_tools_than_stations_is_a_note() -> None:
    stations = (Station(size_mm=16), Station(size_mm=30, count=3), Station(size_mm=55, turning=True))
    message = only(small_plant(machine={"stations": stations}), "note")
    assert 'program_id "P-2": needs 2 places of 16 mm, the turret has 1 (3 orders)' in message


def test_parts_that_outweigh_their_sheet() -> None:
    assert "the sheet itself 14.7 kg" in only(small_plant(program_parts=changed(PLANT.program_parts, 0, mass_kg=3.0)))


def test_a_program_without_parts_is_a_note() -> None:
    assert "1 programs have no parts" in only(small_plant(program_parts=PLANT.program_parts[:1]), "note")


@pytest.mark.parametrize(
    ("unit", "why"),
    [
        ("min", "has no '/'"),
        ("min/shet", "did you mean 'sheet'?"),
        ("minutes/sheet", "'minutes' is not a time unit"),
        ("ratio/sheet", "the unit 'ratio' goes with '/process'"),
        ("s/process", "the unit 'ratio' goes with '/process'"),
    ],
)
def test_units_that_cannot_be_read(unit: str, why: str) -> None:
    assert why in refused("elements", "unit", unit)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("famly=LOCK", "did you mean 'family'?"),
        ("mass_kg>heavy", "'heavy' after mass_kg is not a number"),
        ("mass_kg>2,5", "not a number"),
        ("family>LOCK", "compares a word"),
        ("LOCK", "is not a condition such as"),
        ("surface_sensitive=yes", "surface_sensitive=true or"),
    ],
)
def test_conditions_that_cannot_be_read(text: str, why: str) -> None:
    for table in ("elements", "load_faults", "quality"):
        assert why in refused(table, "applies_to", text)


def test_low_typical_high_must_rise() -> None:
    assert "load is below its low end, 3" in said(with_element(PLANT, "load", low=3.0))[0]
    assert "hit is above its high end, 0.2" in only(with_element(PLANT, "hit", high=0.2))


def test_a_general_row_below_a_special_one_is_a_note() -> None:
    loads = [row for row in PLANT.elements if row.element == "load"]
    rest = [row for row in PLANT.elements if row.element != "load"]
    assert "which it hides" in only(small_plant(elements=(*rest, *reversed(loads))), "note")


def test_moved_work_that_nobody_does_is_a_note() -> None:
    assert "nobody does it" in only(with_element(PLANT, "deburr", task_of="machine"), "note")


def test_a_task_without_a_qualified_person() -> None:
    nobody = small_plant(people=changed(PLANT.people, 0, skills=("load", "changeover")))
    messages = said(nobody)
    assert len(messages) == 2
    assert any(
        '"technician": nobody in people.csv has this skill, which is needed for regrind, breakdown' in m
        for m in messages
    )
    assert any('"programming"' in m for m in messages)


def test_an_element_of_no_time_needs_nobody() -> None:
    quiet = with_element(with_element(PLANT, "programming", typical=0.0), "regrind", typical=0.0)
    people = changed(PLANT.people, 0, skills=PLANT.people[1].skills)
    assert said(dataclasses.replace(quiet, people=people, stops=quiet.stops[1:])) == []


def test_a_person_in_no_shift() -> None:
    assert "did you mean 'early'?" in only(small_plant(people=changed(PLANT.people, 0, shift="earyl")))


def test_duties_that_cannot_be_read() -> None:
    why = refused("people", "duties", "Mon-Fri 10:00-14:00; Fri-Mon 8-9")
    assert why == "'Fri-Mon 8-9' is not like 'Mon-Fri 10:00-14:00'"


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"shifts": (EARLY.model_copy(update={"start": "6:00"}), LATE)}, 'shifts[early].start "6:00": is not a time'),
        ({"shifts": (EARLY.model_copy(update={"days": ("Mo",)}), LATE)}, '"Mo": is not a weekday'),
        (
            {"shifts": (EARLY.model_copy(update={"breaks": (("14:00", "14:30"),)}), LATE)},
            "does not lie inside the shift",
        ),
        ({"shifts": (EARLY, LATE, EARLY)}, "is the name of two shifts"),
        ({"overtime_shift": "nite"}, 'overtime_shift "nite": is not a shift'),
        ({"overtime_people": ("OP-9",)}, 'overtime_people "OP-9": is not a person'),
        ({"overtime": (WeeklyWindow(days=("Sat",), start="06:00", end="25:00"),)}, '"25:00": is not a time of day'),
    ],
)
def test_the_weekly_pattern(change: dict[str, Any], why: str) -> None:
    assert why in only(small_plant(calendar=change))


def test_a_shift_over_midnight_with_a_break_after_it_is_sound() -> None:
    night = Shift(
        name="night", days=WORKDAYS, start="22:00", end="06:00", breaks=(("23:45", "00:15"), ("02:00", "02:30"))
    )
    assert said(small_plant(calendar={"shifts": (EARLY, LATE, night)})) == []


def test_days_that_differ() -> None:
    day = dt.date(2026, 1, 7)
    assert "is not a shift of plant.toml" in only(small_plant(calendar=(CalendarDay(date=day, shift="noon"),)))
    moved = CalendarDay(date=day, shift="early", change="moved", start="05:00")
    assert "needs its start and end" in only(small_plant(calendar=(moved,)))
    assert "is not a time of day" in refused("calendar", "end", "1400")


def test_a_night_must_have_been_assessed() -> None:
    window = WeeklyWindow(days=WORKDAYS, start="22:00", end="06:00")
    night = {"rule": "allowed", "windows": (window,)}
    messages = said(small_plant(calendar={"night": night}))
    assert [m.split(":")[0] for m in messages] == [
        "plant.toml calendar.night.assessed_by",
        "plant.toml calendar.night.assessed_on",
    ]
    assert "never declares unattended running safe" in messages[0]
    assessed = {**night, "assessed_by": "works manager", "assessed_on": "2026-01-02"}
    assert said(small_plant(calendar={"night": assessed})) == []


@pytest.mark.parametrize(
    ("section", "change", "why"),
    [
        ("people", {"break_rules": {"loading": "finish"}}, 'break_rules "loading": is not a task'),
        ("people", {"priorities": ("lod",)}, "did you mean 'load'?"),
        ("run", {"start_monday": dt.date(2026, 1, 6)}, "is not a Monday"),
        ("finance", {"payments": (("order", 0.5), ("delivery", 0.4))}, "do not sum to 1"),
        ("finance", {"demand": ({"from_year": 2, "factor": 1.25},)}, "do not rise from 1"),
        ("rules", {"pinned": ("TL-01",)}, "did you mean 'TL-001'?"),
        ("rules", {"pinned": ("TL-001@wide",)}, "is not a clearance"),
        ("rules", {"pinned": ("TL-001@0.25",)}, "clearance not owned. Owned: 0.2, 0.3"),
        ("magazine", {"contents": ("XX",)}, 'contents "XX": is not in tools.csv'),
        ("magazine", {"contents": ("TL-004@0.20",)}, "clearance not owned. Owned: none"),
    ],
)
def test_settings_that_name_what_is_not_there(section: str, change: dict[str, Any], why: str) -> None:
    assert why in only(small_plant(**{section: change}))


@pytest.mark.parametrize(
    ("contents", "why"),
    [
        (("TL-001", "TL-002@0.20", "TL-002@0.20"), ""),  # a tool, its other die, two copies of one more: four places
        (("TL-001", "TL-002"), ""),
        (("TL-001", "TL-002", "TL-002@0.30"), "tools listed take 5 places of 16 mm; there are 4"),
        (("TL-001@0.20", "TL-001@0.20"), 'contents "TL-001": is listed for 2 copies; 1 owned'),
        (("TL-002", "TL-002"), 'contents "TL-002": 2 dies are listed for one more copy; a place takes 1'),
        (("TL-005",), 'contents "TL-005": the magazine has no places of 55 mm'),
        (("TL-003", "TL-004"), "tools listed take 2 places of 30 mm; there are 1"),
    ],
)
def test_what_is_listed_for_the_magazine_finds_a_place(contents: tuple[str, ...], why: str) -> None:
    magazine = {"places": {"16": 4, "30": 1}, "dies_per_place": {"30": 2}, "contents": contents}
    assert [why in message for message in said(small_plant(magazine=magazine))] == [True] * bool(why)


def test_a_time_zone_that_is_not_known() -> None:
    settings = PLANT.settings.model_copy(update={"time_zone": "Europe/Belrin"})
    assert "did you mean 'Europe/Berlin'?" in only(small_plant(settings=settings))


def test_heavy_sheets_need_a_lifter_or_a_second_person() -> None:
    message = only(small_plant(machine={"one_person_kg": 10}))
    assert "heaviest 14.7 kg" in message
    assert "not a safety assessment" in message
    assert said(small_plant(machine={"one_person_kg": 10, "lifter": True})) == []
    helper = Person(person_id="HE-1", skills=("second_person",), shift="early")
    assert said(small_plant(machine={"one_person_kg": 10}, people=(*PLANT.people, helper))) == []


@pytest.mark.parametrize(("shift", "helps"), [("early", True), ("always", True), ("on_call", False), ("late", True)])
def test_whoever_loads_helps_with_heavy_sheets_if_they_meet(shift: str, helps: bool) -> None:
    """One loads early, one late, and they never meet; a third helps one of them, unless only called at night."""
    third = Person(person_id="OP-3", skills=("load", "unload"), shift=shift)
    found = said(small_plant(machine={"one_person_kg": 10}, people=(*PLANT.people, third)))
    assert any("nobody who can help" in text for text in found) is not helps


@pytest.mark.parametrize(("starts", "helps"), [("14:00", False), ("13:30", True)])
def test_shifts_that_overlap_bring_two_people_together(starts: str, helps: bool) -> None:
    late = {**vars(PLANT.settings.calendar.shifts[1]), "start": starts}
    shifts = (PLANT.settings.calendar.shifts[0], type(PLANT.settings.calendar.shifts[1])(**late))
    found = said(small_plant(machine={"one_person_kg": 10}, calendar={"shifts": shifts}))
    assert any("nobody who can help" in text for text in found) is not helps


def test_upkeep_without_isolation_is_a_note() -> None:
    assert "scrap bin: no time to isolate" in only(
        small_plant(upkeep=changed(PLANT.upkeep, 0, isolation_min=0.0)), "note"
    )


def test_losses_beside_stops_are_a_note() -> None:
    assert "no loss is counted twice" in only(small_plant(rules={"other_losses": 0.05}), "note")
    assert said(small_plant(rules={"other_losses": 0.05}, stops=())) == []


def test_the_start() -> None:
    in_turret = StartRow(what="turret", item="TL-001", station=3)
    assert said(small_plant(start=(in_turret,))) == []
    assert "is not in tools.csv" in only(small_plant(start=(dataclasses.replace(in_turret, item="TL-01"),)))
    assert "only 10 stations" in only(small_plant(start=(dataclasses.replace(in_turret, station=11),)))
    assert "holds 2 tools" in only(small_plant(start=(in_turret, dataclasses.replace(in_turret, item="TL-002"))))
    assert "is not in orders.csv" in only(small_plant(start=(StartRow(what="backlog", item="9"),)))
    wide = StartRow(what="turret", item="TL-005", station=1)
    assert "TL-005 does not fit into station 1" in only(small_plant(start=(wide,)))
    assert said(small_plant(start=(dataclasses.replace(wide, station=10),))) == []


def test_history() -> None:
    times = {"started": dt.datetime(2026, 1, 5, 6), "finished": dt.datetime(2026, 1, 5, 8)}
    row = HistoryRow(order_id="1001", machine="M1", sheets=3, **times)
    assert said(small_plant(history=(row,))) == []
    assert "not in orders.csv" in only(small_plant(history=(dataclasses.replace(row, order_id="9"),)), "note")
    assert "is before the start" in only(
        small_plant(history=(dataclasses.replace(row, finished=dt.datetime(2026, 1, 4)),))
    )


class TestOptions:
    EDIT = Edit(path="plant.rules.dispatch", value="due")

    def said(self, *options: Option, **changes: Any) -> list[Finding]:
        return list(check_options(small_plant(options=options, **changes)))

    def test_a_sound_option(self) -> None:
        assert self.said(Option(id="N1", name="rule", kind="low_capital", edits=(self.EDIT,))) == []

    def test_names(self) -> None:
        option = Option(id="N1", name="rule", kind="low_capital", needs=("N2", ("N3", "N1")), excludes=("N4",))
        assert [f.value for f in self.said(option)] == ["N2", "N3", "N4"]
        assert (
            "two options"
            in self.said(
                option.model_copy(update={"needs": (), "excludes": ()}), Option(id="N1", name="x", kind="bought")
            )[0].why
        )

    def test_prices_must_rise(self) -> None:
        line = CapitalLine(line="installation", quoted=5, high=4)
        option = Option(id="A1", name="m", kind="bought", capital=Range(low=5, quoted=4, high=6), capital_lines=(line,))
        errors = [f.column for f in self.said(option) if f.severity == "error"]
        assert errors == ["option A1 capital", "option A1 capital line 'installation'"]

    def test_what_is_usually_left_out_needs_a_number_or_an_explicit_zero(self) -> None:
        option = Option(id="A1", name="m", kind="bought", capital=Range(low=1000, quoted=2000, high=3000))
        (finding,) = self.said(option)
        assert finding.severity == "note"
        assert "usually left out: installation (installation, freight, crane); floor" in finding.why
        silent = unanswered(option, small_plant().settings)
        assert len(silent) >= 15
        answered = option.model_copy(
            update={"capital_lines": (CapitalLine(line="Installation", quoted=0),), "nothing_for": silent[1:]}
        )
        assert self.said(answered) == []
        assert [f.column for f in self.said(answered.model_copy(update={"nothing_for": silent[2:]}))] == ["option A1"]

    def test_usual_omissions_of_low_capital_options_are_not_asked_for(self) -> None:
        assert (
            self.said(Option(id="N1", name="m", kind="low_capital", capital=Range(low=100, quoted=200, high=300))) == []
        )

    def test_a_line_answers_by_its_topic_its_words_or_its_budget(self) -> None:
        lines = (CapitalLine(line="crane", quoted=1), CapitalLine(line="x", quoted=0, topics=("floor",)))
        yearly = (YearlyLine(line="by contract", budget="spares", quoted=5), YearlyLine(line="repair", quoted=1))
        option = Option(id="A1", name="m", kind="bought", capital_lines=lines, yearly_lines=yearly)
        open_topics = unanswered(option, small_plant().settings)
        assert set(open_topics) & {"installation", "floor", "spares", "power_and_air", "service"} == {
            "power_and_air", "service"}  # fmt: skip

    def test_every_topic_has_a_meaning(self) -> None:
        assert set(typing.get_args(Topic)) == set(TOPICS)

    def test_every_option_is_tried_with_what_it_needs(self) -> None:
        adds = Edit(
            path="elements",
            op="add_row",
            value={
                "element": "preset",
                "task_of": "preparation",
                "unit": "min/tool_load",
                "state": "outside",
                "typical": 1.0,
            },
        )
        first = Option(id="N2", name="cart", kind="low_capital", edits=(adds,))
        second = Option(
            id="N3",
            name="more",
            kind="low_capital",
            needs=("N2",),
            edits=(Edit(path="elements[preset].typical", value=2.0),),
        )
        assert self.said(first, second) == []
        broken = second.model_copy(update={"needs": ()})
        (finding,) = self.said(first, broken)
        assert finding.column == "option N3 elements[preset].typical"
        assert "is not a row of elements" in finding.why

    def test_overrides_of_a_machine(self) -> None:
        machines = (MachineRow(machine_id="M1"), MachineRow(machine_id="M2", overrides="elements[hti].typical=0.4"))
        (finding,) = self.said(machines=machines)
        assert (finding.place, finding.row, finding.column) == ("machines.csv", 3, "overrides")
        assert "did you mean 'hit'?" in finding.mend


def test_stations_of_one_machine_are_its_own_matter() -> None:
    machines = (MachineRow(machine_id="M1", overrides="plant.machine.stations=[{size_mm=16,count=9}]"),)
    assert said(small_plant(machine=MachineSettings().model_dump(), machines=machines)) == []


def test_elements_keep_their_type() -> None:
    assert all(isinstance(row, Element) for row in PLANT.elements)


def changed_rule(plant: PlantInputs) -> PlantInputs:
    """The plant without first pieces, so that no time of theirs is missing."""
    return dataclasses.replace(plant, settings=changed_settings(plant.settings, {"rules": {"first_piece": "never"}}))


def test_an_element_that_no_stage_takes_is_refused() -> None:
    of_no_stage = with_element(PLANT, "first_piece", unit="min/sheet")
    assert "counted per sheet" in only(changed_rule(of_no_stage))
