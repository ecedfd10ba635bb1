"""The cases that only the study of tools simulates: which there are, and that each is a legal scenario."""

from __future__ import annotations

import dataclasses

from simkit.analysis.standard_layout import Layout, find_layout
from simkit.analysis.tool_cases import (
    BLIND,
    LAYOUT,
    MAGAZINE,
    NIGHT,
    PINNED,
    RULE,
    layout_cases,
    magazine_cases,
    option_editing,
    rule_cases,
    static_facts,
)
from simkit.plant.options import Edit, Option
from tests.report.option_plant import option_plant
from tests.small_plant import small_plant

FOUND = Layout(("TL-001", "TL-003@0.3"), (), (7200.0, 5400.0, 3600.0), (1800.0, 900.0))
TWINS = Layout(("TL-001", "TL-001@0.3"), ("TL-001",), (7200.0, 5400.0, 1800.0), (900.0, 900.0))


def test_each_layout_is_a_case_and_the_first_goes_with_the_rule():
    plant = option_plant()
    cases = list(layout_cases(plant, [FOUND, TWINS]))
    assert [(case.name, case.group) for case in cases] == [
        ("Layout found", LAYOUT), ("Layout with twins", LAYOUT), ("N1 with layout found", RULE),
    ]  # fmt: skip
    assert cases[0].facts == {"static_saved_h": 1.0, "before_h": 2.0, "stations": 2, "twins": 0}
    assert cases[0].worth_h == (0.5, 0.25)
    assert cases[2].options == ("N1",)
    for case in cases:
        assert case.scenario(plant).name == case.name
    assert cases[1].scenario(plant).plant.tools[0].copies == 2


def test_the_same_layout_twice_is_one_case_and_an_empty_one_none():
    plant = small_plant()
    assert [case.name for case in layout_cases(plant, [FOUND, FOUND])] == ["Layout found"]
    assert list(layout_cases(plant, [Layout((), (), (0.0,))] * 2)) == []


def test_a_longer_search_that_buys_no_twin_has_a_name_of_its_own():
    longer = Layout((*FOUND.pins, "TL-002"), (), (*FOUND.after_s, 3000.0), (1800.0, 900.0, 600.0))
    names = [case.name for case in layout_cases(small_plant(), [FOUND, longer])]
    assert names == ["Layout found", "Layout searched on"]


def test_the_magazine_at_other_sizes_by_day_and_night():
    plant = option_plant()
    cases = list(magazine_cases(plant, ("A1", "A4", "C1")))
    groups = [case.group for case in cases]
    assert (groups.count(MAGAZINE), groups.count(NIGHT), groups.count(BLIND)) == (5, 4, 1)
    assert [case.facts["places"] for case in cases if case.group == MAGAZINE] == [0, 9, 18, 27, 44]
    blind = cases[-1].scenario(plant).plant.settings.magazine
    assert (blind.lookahead, blind.places) == (False, {"16": 20, "30": 10, "55": 5})
    assert len({case.name for case in cases}) == len(cases)
    for case in cases:
        assert case.scenario(plant).physics_hash


def test_a_plant_without_a_magazine_has_no_sizes():
    assert list(magazine_cases(small_plant())) == []


def test_the_searched_order_of_work_stands_alone():
    (case,) = rule_cases(small_plant())
    assert (case.group, case.scenario(small_plant()).plant.settings.rules.dispatch) == (RULE, "searched")
    assert list(rule_cases(small_plant(rules={"dispatch": "searched"}))) == []
    assert list(rule_cases(small_plant(tools=(), program_tools=()))) == []


def test_the_facts_of_an_own_layout_are_by_the_same_sum():
    layout = find_layout(small_plant(), twins=True)
    edits = (
        Edit(path=PINNED, value=["TL-001"]),
        Edit(path="tools[TL-001].copies", op="add", value=1),
    )
    plant = dataclasses.replace(
        small_plant(), options=(Option(id="N5", name="Layout", kind="low_capital", edits=edits),)
    )
    option = option_editing(plant, PINNED)
    assert option is not None
    facts = static_facts(plant, option)
    assert (facts["stations"], facts["twins"]) == (1, 1)
    assert facts["static_saved_h"] <= layout.after_s[0] / 3600
    assert option_editing(plant, "plant.rules.dispatch") is None


def test_the_facts_of_a_size_are_its_share_and_its_places():
    """Of 20, 10 and 5 places a quarter is 5, 2.5 and 1.25: 9 in whole places."""
    sizes = [case.facts for case in magazine_cases(option_plant()) if case.group == MAGAZINE]
    assert sizes == [
        {"share": share, "places": places} for share, places in ((0, 0), (0.25, 9), (0.5, 18), (0.75, 27), (1.25, 44))
    ]
