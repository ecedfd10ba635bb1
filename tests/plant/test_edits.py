"""Edits: order of operations, conflicts, rows added and removed, values checked again."""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.messages import BadInput
from simkit.plant.edits import apply_edits, literal, override_plant, parse_override, with_machine_overrides
from simkit.plant.options import Edit
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import MachineRow
from tests.small_plant import small_plant, with_element

PLANT = small_plant()
FETCH = "elements[material_fetch].typical"


def edit(path: str, value: Any = None, op: str = "set") -> Edit:
    return Edit.model_validate({"path": path, "op": op, "value": value})


def applied(*edits: tuple[str, Edit], plant: PlantInputs = PLANT, **replaces: str) -> PlantInputs:
    return apply_edits(plant, edits, {name: frozenset({other}) for name, other in replaces.items()})


def refusal(*edits: tuple[str, Edit], **replaces: str) -> str:
    with pytest.raises(BadInput) as caught:
        applied(*edits, **replaces)
    return str(caught.value)


def typical(plant: PlantInputs, element: str) -> list[float]:
    return [row.typical for row in plant.elements if row.element == element]


def test_set_then_multiply_then_add_whatever_the_order() -> None:
    edits = [
        ("A", edit(FETCH, 10.0)),
        ("B", edit(FETCH, 0.5, "multiply")),
        ("C", edit(FETCH, 0.4, "multiply")),
        ("D", edit(FETCH, 1.0, "add")),
        ("E", edit(FETCH, 2.0, "add")),
    ]
    for order in itertools.permutations(edits):
        assert typical(applied(*order), "material_fetch") == [pytest.approx(10 * 0.5 * 0.4 + 3)]


@settings(max_examples=25, deadline=None)
@given(st.permutations([("A", 0.5, "multiply"), ("B", 3.0, "multiply"), ("C", 1.25, "add"), ("D", -0.5, "add")]))
def test_the_order_of_options_changes_nothing(order: list[tuple[str, float, str]]) -> None:
    plant = applied(*((name, edit(FETCH, value, op)) for name, value, op in order))
    assert typical(plant, "material_fetch") == [6.0 * 0.5 * 3.0 + 0.75]


def test_the_plant_itself_is_not_changed() -> None:
    before = small_plant()
    applied(("A", edit("plant.calendar.shifts[early].start", "05:00")), ("A", edit("orders[*].sheets", 1)))
    assert before == PLANT


def test_different_sets_conflict_and_like_ones_do_not() -> None:
    text = refusal(("A", edit(FETCH, 1.0)), ("B", edit(FETCH, 2.0)))
    assert "elements[material_fetch|].typical is set to different values: A sets 1.0 and B sets 2.0" in text
    assert typical(applied(("A", edit(FETCH, 1.0)), ("B", edit(FETCH, 1.0))), "material_fetch") == [1.0]


def test_an_option_that_overrides_another_wins() -> None:
    edits = (("A", edit(FETCH, 1.0)), ("B", edit(FETCH, 2.0)))
    assert typical(applied(*edits, A="B"), "material_fetch") == [1.0]
    assert typical(applied(*edits, B="A"), "material_fetch") == [2.0]
    assert "override each other" in refusal(*edits, A="B", B="A")


def test_within_one_option_the_later_set_wins() -> None:
    plant = applied(("A", edit("elements[*].owner", "all")), ("A", edit("elements[hit].owner", "one")))
    assert {row.owner for row in plant.elements if row.element == "hit"} == {"one"}
    assert {row.owner for row in plant.elements if row.element != "hit"} == {"all"}


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("elements[load].typical", [5.0, 5.0]),
        ("elements[load|].typical", [5.0, 2.6]),
        ("elements[load|mass_kg>25].typical", [1.9, 5.0]),
        ("elements[task_of=load].typical", [5.0, 5.0]),
        ("elements[typical>2.5].typical", [1.9, 5.0]),
        ("elements[typical<1.95].typical", [5.0, 2.6]),
        ("elements[*].typical", [5.0, 5.0]),
    ],
)
def test_selectors(path: str, expected: list[float]) -> None:
    assert typical(applied(("A", edit(path, 5.0))), "load") == expected


def test_a_selector_looks_into_lists() -> None:
    plant = applied(("A", edit("people[skills=bench].rate_per_h", 99.0)))
    assert [row.rate_per_h for row in plant.people] == [30, 30, 99, 99]


def test_numbers_in_keys_compare_as_numbers() -> None:
    plant = applied(("A", edit("program_tools[P-1|TL-005|90.0].hits_per_sheet", 41)))
    assert [row.hits_per_sheet for row in plant.program_tools if row.tool_id == "TL-005"] == [41]


@pytest.mark.parametrize(
    ("path", "value", "why"),
    [
        ("element[load].typical", 1.0, "did you mean 'elements'?"),
        ("elements[lod].typical", 1.0, "did you mean 'load'?"),
        ("elements[load].typicl", 1.0, "did you mean 'typical'?"),
        ("elements[load|mass_kg>26].typical", 1.0, "did you mean 'load|mass_kg>25'?"),
        ("programs[family=LOK].repositions", 1, "did you mean 'LOCK'?"),
        ("elements[typical>1000].typical", 1.0, "no row of elements has typical>1000"),
        ("elements.typical", 1.0, "does not name a value"),
        ("elements[load]", 1.0, "does not name a value"),
        ("elements[load].element", "x", "is part of the key"),
        ("plant.rules.dispach", "due", "did you mean 'dispatch'?"),
        ("plant.rules.refuse_backlog_h", 4.0, "withdrawn, overflow.refuse = true stands in its place"),
        ("plant.rule.dispatch", "due", "did you mean 'rules'?"),
        ("plant.calendar.shifts[erly].start", "05:00", "did you mean 'early'?"),
        ("plant.rules.dispatch.x", "due", "leads into a single value"),
        ("plant", 1, "does not name a key"),
        ("load typical", 1, "is not a path"),
    ],
)
def test_a_path_that_leads_nowhere(path: str, value: Any, why: str) -> None:
    assert why in refusal(("A", edit(path, value)))


@pytest.mark.parametrize(
    ("path", "op", "value", "why"),
    [
        ("elements[load].typical", "set", -1.0, "must be 0 or more"),
        ("elements[load].typical", "set", "1,5", "decimal comma"),
        ("elements[load].law", "set", "gama", "did you mean 'gamma'?"),
        ("elements[load].typical", "set", True, "wrong kind"),
        ("orders[1001].sheets", "multiply", 1.5, "not a whole number"),
        ("orders[1001].rush", "multiply", 2, "cannot be multiplied"),
        ("orders[1001].due", "add", 1, "cannot be multiplied or added to"),
        ("elements[load].typical", "multiply", "2", "is not a factor"),
        ("programs[P-1].measured_run_s", "multiply", 2, "it holds None"),
        ("plant.rules.dispatch", "set", "fastest", "known names: arrival, due, grouped, searched"),
        ("plant.rules.window_orders", "set", 0, "greater than or equal to 1"),
        ("plant.rules.dispatch", "multiply", 2, "cannot be multiplied"),
        ("plant.finance.discount_rate", "add", 5, "5.09 means 509 % a year; 0.0509 is 5.09 % a year"),
    ],
)
def test_a_value_that_is_refused(path: str, op: str, value: Any, why: str) -> None:
    text = refusal(("A7", edit(path, value, op)))
    assert why in text
    assert f"option A7 {path}" in text


def test_all_problems_come_at_once() -> None:
    text = refusal(
        ("A", edit("elements[lod].typical", 1.0)),
        ("B", edit("plant.rules.dispatch", "fast")),
        ("C", edit("elements[hit].typical", -1.0)),
        ("D", edit("tools", {"tool_id": "x"}, "add_row")),
        ("E", edit("tools[none]", None, "remove_row")),
    )
    assert text.startswith("5 problems")


def test_settings_of_all_kinds() -> None:
    plant = applied(
        ("A", edit("plant.calendar.night.rule", "allowed")),
        ("A", edit("plant.magazine.places", {"16": 50})),
        ("A", edit("plant.magazine.dies_per_place.16", 3)),
        ("B", edit("plant.bench.places", 1, "add")),
        ("C", edit("plant.run.weeks", 2, "multiply")),
        ("D", edit("plant.rules.night_share_planned", 0.5)),
        ("D", edit("plant.calendar.closed_days", ["2026-01-06"], "add")),
    )
    settings = plant.settings
    assert settings.calendar.night.rule == "allowed"
    assert (settings.magazine.places, settings.magazine.dies_per_place) == ({"16": 50}, {"16": 3})
    assert (settings.bench.places, settings.run.weeks, settings.rules.night_share_planned) == (4, 2, 0.5)
    assert [str(day) for day in settings.calendar.closed_days] == ["2026-01-06"]
    assert (
        applied(("E", edit("plant.rules.night_share_planned", "none")), plant=plant).settings.rules
        == PLANT.settings.rules
    )


def test_members_of_lists_in_the_settings() -> None:
    night = {"name": "night", "days": ["Mon"], "start": "22:00", "end": "06:00"}
    plant = applied(
        ("A", edit("plant.calendar.shifts", night, "add_row")),
        ("A", edit("plant.calendar.shifts[late]", None, "remove_row")),
        ("A", edit("plant.calendar.shifts[night].days", ["Tue"])),
    )
    assert [(shift.name, shift.days[0]) for shift in plant.settings.calendar.shifts] == [
        ("early", "Mon"),
        ("night", "Tue"),
    ]


def test_a_setting_changed_as_a_whole_and_in_part_conflicts() -> None:
    text = refusal(("A", edit("plant.magazine.places", {"16": 5})), ("B", edit("plant.magazine.places.16", 9)))
    assert "plant.magazine.places is changed as a whole by A and in part by B" in text


def test_lists_are_added_to() -> None:
    plant = applied(
        ("A", edit("people[OP-2].skills", ["bench", "load"], "add")),
        ("B", edit("plant.rules.pinned", ["TL-001"], "add")),
    )
    assert plant.people[1].skills == (*PLANT.people[1].skills, "bench")
    assert plant.settings.rules.pinned == ("TL-001",)


PRESET = {"element": "preset", "task_of": "preparation", "unit": "min/tool_load", "state": "outside", "typical": 2}


def test_rows_are_removed_and_added_before_values_change() -> None:
    plant = applied(
        ("A", edit("elements[preset].typical", 3.0, "add")),
        ("A", edit("elements", PRESET, "add_row")),
        ("A", edit("elements[load|mass_kg>25]", None, "remove_row")),
    )
    assert typical(plant, "preset") == [5.0]
    assert typical(plant, "load") == [1.9]
    assert plant.elements[-1].element == "preset"


def test_a_row_can_be_replaced_whole() -> None:
    new = {"element": "hit", "unit": "s/hit", "state": "punching", "typical": 0.2}
    plant = applied(("A", edit("elements", new, "add_row")), ("A", edit("elements[hit]", None, "remove_row")))
    assert typical(plant, "hit") == [0.2]


def test_two_options_may_add_the_same_row_but_not_different_ones() -> None:
    same = (("A", edit("elements", PRESET, "add_row")), ("B", edit("elements", dict(PRESET), "add_row")))
    assert typical(applied(*same), "preset") == [2.0]
    other = (same[0], ("B", edit("elements", {**PRESET, "typical": 9}, "add_row")))
    assert "option A adds it with other values" in refusal(*other)
    assert typical(applied(*other, B="A"), "preset") == [9.0]
    assert typical(applied(*other, A="B"), "preset") == [2.0]


@pytest.mark.parametrize(
    ("path", "value", "why"),
    [
        ("elements", {"element": "hit", "unit": "s/hit", "state": "punching", "typical": 1}, "the plant has it"),
        ("elements", {"element": "x"}, "lacks unit, state, typical"),
        ("elements", {**PRESET, "typicl": 1}, "did you mean 'typical'?"),
        ("elements", {**PRESET, "typical": -1}, "typical -1 is out of range"),
        ("elements", 3, "not a set of columns"),
        ("elements[preset]", PRESET, "names more than a table"),
        ("plant.rules.dispatch", {}, "is not a list"),
    ],
)
def test_a_row_that_cannot_be_added(path: str, value: Any, why: str) -> None:
    assert why in refusal(("A", edit(path, value, "add_row")))


def test_the_relative_uncertainty_of_an_element_is_kept() -> None:
    ranged = with_element(PLANT, "hit", low=0.3, high=0.66)
    (hit,) = (
        row
        for row in applied(("A", edit("elements[hit].typical", 0.11)), plant=ranged).elements
        if row.element == "hit"
    )
    assert (hit.low, hit.high) == (pytest.approx(0.1), pytest.approx(0.22))
    own = applied(("A", edit("elements[hit].typical", 0.1)), ("A", edit("elements[hit].low", 0.05)), plant=ranged)
    (hit,) = (row for row in own.elements if row.element == "hit")
    assert (hit.low, hit.high) == (0.05, pytest.approx(0.2))


class TestOverrides:
    @pytest.mark.parametrize(
        ("text", "path", "op", "value"),
        [
            ("plant.rules.dispatch=due", "plant.rules.dispatch", "set", "due"),
            ("elements[load|mass_kg>25].typical=2.5", "elements[load|mass_kg>25].typical", "set", 2.5),
            ("programs[family=GALL].proven = true", "programs[family=GALL].proven", "set", True),
            ('plant.rules.pinned=["TL-001", "TL-002"]', "plant.rules.pinned", "set", ["TL-001", "TL-002"]),
            ("plant.calendar.shifts[early].start=05:00", "plant.calendar.shifts[early].start", "set", "05:00"),
            ('plant.name="North = South"', "plant.name", "set", "North = South"),
            ("elements[load].typical*=1.2", "elements[load].typical", "multiply", 1.2),
            ("plant.bench.places+=1", "plant.bench.places", "add", 1),
        ],
    )
    def test_the_notation(self, text: str, path: str, op: str, value: Any) -> None:
        parsed = parse_override(text)
        assert (parsed.path, parsed.op, parsed.value) == (path, op, value)

    def test_values_are_taken_as_the_type_of_their_field(self) -> None:
        texts = ["orders[1001].due=2026-01-30", "materials[MS-1.5].nozzle=3", "tools[TL-001].clearances=0.2;0.4"]
        with pytest.raises(BadInput, match="wrong kind"):
            override_plant(PLANT, texts)
        plant = override_plant(PLANT, [texts[0], 'materials[MS-1.5].nozzle="3"', texts[2]])
        assert str(plant.orders[0].due) == "2026-01-30"
        assert plant.tools[0].clearances == (0.2, 0.4)

    def test_a_later_override_wins(self) -> None:
        assert override_plant(PLANT, ["plant.bench.places=5", "plant.bench.places=6"]).settings.bench.places == 6

    def test_faulty_ones_are_all_told(self) -> None:
        with pytest.raises(BadInput) as caught:
            override_plant(PLANT, ["nonsense", "plant.bench.places=0", "elements[hit].typical=fast"])
        text = str(caught.value)
        assert text.startswith("3 problems")
        assert '--set "nonsense": is not of the form path=value' in text

    def test_a_literal_holds_one_value(self) -> None:
        assert literal("1\nother = 2") == "1\nother = 2"


def test_a_machine_sees_its_own_overrides() -> None:
    text = 'elements[load].typical*=2; plant.machine.stations=[{size_mm=16,count=9}];plant.name="a;b"'
    plant = with_machine_overrides(PLANT, MachineRow(machine_id="M2", overrides=text))
    assert typical(plant, "load") == [3.8, 5.2]
    assert [station.count for station in plant.settings.machine.stations] == [9]
    assert plant.settings.name == "a;b"
    assert with_machine_overrides(PLANT, PLANT.machines[0]) == PLANT


def test_only_the_edited_rows_are_new() -> None:
    plant = applied(("A", edit(FETCH, 1.0)))
    assert plant.orders == PLANT.orders
    assert dataclasses.replace(plant, elements=PLANT.elements) == PLANT
