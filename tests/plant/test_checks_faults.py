"""Tools loaded wrongly and rows that ask about tools: what is refused, with one message each, and what is noted."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.base.messages import BadInput
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Element, LoadFault, Quality, Stop
from simkit.plant.writing import write_plant
from tests.plant.conftest import Folder
from tests.plant.test_checks import only, said
from tests.small_plant import small_plant, with_element

PLANT = small_plant()
HEADS = "fault,applies_to,exchanges,rate,found_after_sheets,repair_min\n"


def fault(name: str = "turned", **changes: Any) -> LoadFault:
    row: dict[str, Any] = {"fault": name, "exchanges": ("tool_load",), "rate": 0.01, "repair_min": 20.0, **changes}
    return LoadFault(**row)


def with_faults(*rows: LoadFault, **changes: Any) -> Any:
    return small_plant(load_faults=rows, **changes)


def element(name: str, unit: str, applies_to: str, **changes: Any) -> Element:
    row: dict[str, Any] = {"task_of": "changeover", "state": "changeover", "typical": 1.0, **changes}
    return Element(element=name, unit=unit, applies_to=applies_to, **row)


def test_sound_faults_have_no_findings() -> None:
    rows = (fault(applies_to="elongated=true"), fault("swapped"), fault("clearance", exchanges=("die_change",)))
    assert said(with_faults(*rows)) == []


@pytest.mark.parametrize(
    ("line", "expected"),
    [("turned,,tool_load,1.2,1,20", 'rate "1.2": is out of range, it must be 0 to 1'),
     ("turned,,tool_load,-0.1,1,20", 'rate "-0.1": is out of range'),
     ("turned,,tool_lode,0.1,1,20", "exchanges \"tool_lode\": is not one of the known words. Write one of them; did "
      "you mean 'tool_load'?"),
     ("turned,,,0.1,1,20", "exchanges: is empty but must have a value. Write a list, separated by ;, of tool_load"),
     ("turned,,tool_load,0.1,0.5,20", 'found_after_sheets "0.5": is out of range, it must be 1 or more sheets'),
     ("turned,elongatd=true,tool_load,0.1,1,20", "'elongatd' is not something a condition can ask about; did you mean "
      "'elongated'?"),
     ("turned,elongated=yes,tool_load,0.1,1,20", "must be elongated=true or elongated=false"),
     ("turned,kept=shelf,tool_load,0.1,1,20", "must be kept=cabinet or kept=tool_room"),
     ("turned,kind>forming,tool_load,0.1,1,20", "compares a word, which can only be done with ="),
     ("turned,station_mm>big,tool_load,0.1,1,20", "'big' after station_mm is not a number")],
)  # fmt: skip
def test_bad_rows_are_refused_with_one_message(folder: Folder, line: str, expected: str) -> None:
    (folder.path / "load_faults.csv").write_text(HEADS + line + "\n", encoding="utf-8")
    assert expected in folder.only()


def test_the_table_may_be_missing(folder: Folder) -> None:
    (folder.path / "load_faults.csv").unlink()
    assert folder.messages() == folder.messages("note") == []
    assert read_plant(folder.path).load_faults == ()


def test_faults_read_back_and_options_reach_them(tmp_path: Any) -> None:
    plant = with_faults(fault(), fault("swapped", exchanges=("tool_load", "die_change"), rate=0.5))
    write_plant(plant, tmp_path / "plant")
    assert read_plant(tmp_path / "plant") == plant
    both = make_scenario(plant, (), ("load_faults[*].rate*=0.5",)).plant.load_faults
    assert [row.rate for row in both] == [0.005, 0.25]
    one = make_scenario(plant, (), ("load_faults[turned].rate=0",)).plant.load_faults
    assert [row.rate for row in one] == [0.0, 0.5]
    with pytest.raises(BadInput, match="out of range"):
        make_scenario(plant, (), ("load_faults[*].rate*=3",))


def test_rates_of_one_exchange_sum_to_one_at_most() -> None:
    assert said(with_faults(fault(rate=0.6), fault("swapped", rate=0.4))) == []
    message = only(with_faults(fault(rate=0.6), fault("swapped", rate=0.5)))
    assert "the rates of turned, swapped at a tool_load of TL-001 sum to 1.1, above 1" in message


def test_rates_sum_over_what_can_strike_one_tool() -> None:
    """Long and square figures, loads and die changes, never meet; a general row meets the special ones."""
    long, square = fault(rate=0.7, applies_to="elongated=true"), fault(rate=0.7, applies_to="elongated=false")
    die = fault("clearance", rate=0.9, exchanges=("die_change",))
    assert said(with_faults(long, square, die)) == []
    message = only(with_faults(long, square, fault("swapped", rate=0.4)))
    assert "the rates of turned, swapped at a tool_load of TL-001 sum to 1.1" in message


def test_a_cause_stands_once() -> None:
    stop = Stop(cause="turned", exposure="tool_load", rate=0.005, repair_min=25)
    message = only(with_faults(fault(), fault(applies_to="kind=forming"), stops=(*PLANT.stops, stop)))
    assert 'load_faults.csv fault "turned": is a cause of stops.csv too' in message


@pytest.mark.parametrize(
    ("exchanges", "why"),
    [(("magazine_exchange", "magazine_die_change"), "there is no magazine"), ((), "no exchange is named"),
     (("angle_change",), "no tool stands at two angles")],
)  # fmt: skip
def test_a_fault_that_strikes_nothing_is_a_note(exchanges: tuple[str, ...], why: str) -> None:
    assert why in only(with_faults(fault(exchanges=exchanges)), "note")


def test_a_magazine_brings_its_exchanges() -> None:
    row = fault(exchanges=("magazine_exchange", "magazine_die_change"))
    assert said(with_faults(row, magazine={"places": {"16": 4}})) == []


def test_dies_and_angles_bring_theirs() -> None:
    one_die = tuple(dataclasses.replace(tool, clearances=tool.clearances[-1:]) for tool in PLANT.tools)
    plant = with_faults(fault(exchanges=("die_change",)), tools=one_die, program_tools=PLANT.program_tools[:3],
                        programs=PLANT.programs[:1], orders=PLANT.orders[:1], program_parts=PLANT.program_parts[:1],
                        )  # fmt: skip
    assert "no tool has dies of two clearances" in only(plant, "note")
    turned = dataclasses.replace(PLANT.program_tools[3], angle=90.0)
    uses = (*PLANT.program_tools[:3], turned, *PLANT.program_tools[4:])
    assert said(with_faults(fault(exchanges=("angle_change",)), program_tools=uses)) == []


def test_somebody_puts_faults_right() -> None:
    people = tuple(dataclasses.replace(p, skills=tuple(s for s in p.skills if s != "technician")) for p in PLANT.people)
    stops = tuple(dataclasses.replace(s, clears="clear") for s in PLANT.stops)
    bare = {"people": people, "stops": stops, "elements": with_element(PLANT, "regrind", typical=0.0).elements}
    assert said(with_faults(fault(clears="technician", rate=0.0), **bare)) == []
    message = only(with_faults(fault(clears="technician"), **bare))
    assert "nobody in people.csv has this skill, which is needed for turned" in message


@pytest.mark.parametrize(
    ("name", "unit", "applies_to", "state"),
    [("hit", "s/hit", "kind=forming", "punching"), ("order_fixed", "min/order", "tool=TL-001", "changeover"),
     ("load", "min/sheet", "family=LOCK and station_mm>30", "loading")],
)  # fmt: skip
def test_a_sheet_row_may_not_ask_about_the_tool(name: str, unit: str, applies_to: str, state: str) -> None:
    rows = (*PLANT.elements, element(name, unit, applies_to, state=state))
    message = only(small_plant(elements=rows))
    assert f"is counted per {unit.partition('/')[2]}" in message
    assert "count the row per tool (tool_load, die_change," in message


def test_parts_are_made_by_no_single_tool() -> None:
    marks = Quality(cause="marks", applies_to="kind=forming", rate=0.1)
    assert "asks about the tool (kind), but is counted per part" in only(small_plant(quality=(marks,)))


@pytest.mark.parametrize("driver", ["regrind", "magazine_load"])
def test_what_is_for_no_sheet_may_not_ask_about_one(driver: str) -> None:
    row = element("x", f"min/{driver}", "thickness_mm>2", state="outside", task_of="technician")
    assert f"a {driver} is for no sheet" in only(small_plant(elements=(*PLANT.elements, row)))


def test_a_row_for_no_tool_is_a_note() -> None:
    row = element("tool_search", "min/tool_load", "kept=tool_room and family=LOCK")
    message = only(small_plant(elements=(*PLANT.elements, row)), "note")
    assert 'applies_to "kept=tool_room and family=LOCK": is for no tool of tools.csv' in message
    kept = (dataclasses.replace(PLANT.tools[0], kept="tool_room"), *PLANT.tools[1:])
    assert said(small_plant(elements=(*PLANT.elements, row), tools=kept)) == []
    assert "is for no tool of tools.csv" in only(with_faults(fault(applies_to="tool=TL-01")), "note")


def test_loads_of_the_magazine_are_work_outside() -> None:
    row = element("magazine_load", "min/magazine_load", "", task_of="preparation")
    message = only(small_plant(elements=(*PLANT.elements, row)))
    assert "is counted per magazine_load, which takes no time in this state" in message
    assert said(small_plant(elements=(*PLANT.elements, dataclasses.replace(row, state="outside")))) == []
