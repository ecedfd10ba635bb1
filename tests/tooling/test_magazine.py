from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from simkit.base.messages import BadInput
from simkit.plant.checks import run_checks
from simkit.plant.settings import Magazine
from simkit.tooling.magazine import Shelf, Stored, filled_magazine, most_used, weights_of, with_the_first
from simkit.tooling.toolroom import NO_CLEARANCE, make_tool_room
from tests.small_plant import small_plant
from tests.tooling.magazines import FEW, check_magazine, kept, magazines, settings_with, tool_lists, weighed
from tests.tooling.rooms import form, forming, need, tool


def stock(tools, uses=(), listed=(), **sections):
    return filled_magazine(Magazine.model_validate(sections), tools, kept(tools), uses, listed)


def test_each_place_holds_a_tool_with_its_most_used_dies():
    uses = [(need(0), 1.0), (need(1, 0.3), 5.0), (need(1), 2.0), (need(2), 3.0), (forming(3), 4.0)]
    tools = [tool(0), tool(1), tool(2), form(3)]
    state = stock(tools, uses, places={"16": 4, "30": 1}, dies_per_place={"16": 2})
    first = (Stored(1, 1, (0.3, 0.2)), Stored(3, 1, (NO_CLEARANCE,)), Stored(2, 1, (0.2,)), Stored(0, 1, (0.2,)))
    assert state.shelves == (Shelf(16.0, 2, first), Shelf(30.0, 1, (None,)))
    assert state.shelf_of == (0, 0, 0, 0)
    assert state.contents == {(1, 0.3), (1, 0.2), (3, NO_CLEARANCE), (2, 0.2), (0, 0.2)}


THREE = (0.2, 0.3, 0.4)


def test_further_dies_stand_alone_behind_all_tools_the_most_used_first():
    tools = [tool(0, clearances=THREE), tool(1, clearances=THREE)]
    uses = [(need(0), 9.0), (need(0, 0.3), 2.0), (need(0, 0.4), 1.0), (need(1), 6.0), (need(1, 0.3), 4.0)]
    state = stock(tools, uses, places={"16": 6})
    alone = (Stored(1, 0, (0.3,)), Stored(0, 0, (0.3,)), Stored(0, 0, (0.4,)))
    assert state.shelves[0].places == (Stored(0, 1, (0.2,)), Stored(1, 1, (0.2,)), *alone, None)


def test_a_further_die_joins_others_of_its_tool_where_they_leave_room():
    dies = (0.2, 0.3, 0.4, 0.5, 0.6)
    tools = [tool(0, clearances=dies), tool(1, clearances=THREE)]
    uses = [(need(0, die), 9.0 - number) for number, die in enumerate(dies)] + [(need(1, die), 6.5) for die in THREE]
    first, second = Stored(0, 1, (0.2, 0.3)), Stored(1, 1, (0.2, 0.3))
    fill = {count: stock(tools, uses, places={"16": count}, dies_per_place={"16": 2}) for count in (2, 3, 4, 5)}
    assert fill[2].shelves[0].places == (first, second)
    assert fill[3].shelves[0].places == (first, second, Stored(0, 0, (0.4,)))
    assert fill[4].shelves[0].places == (first, second, Stored(0, 0, (0.4, 0.5)), Stored(1, 0, (0.4,)))
    assert fill[5].shelves[0].places == (*fill[4].shelves[0].places, Stored(0, 0, (0.6,)))


def test_a_second_copy_stands_behind_everything_else_with_the_most_used_dies():
    tools = [tool(0, copies=2), tool(1)]
    state = stock(tools, [(need(0), 9.0), (need(0, 0.3), 8.0), (need(1), 1.0)], places={"16": 4})
    assert state.shelves[0].places == (
        Stored(0, 1, (0.2,)), Stored(1, 1, (0.2,)), Stored(0, 0, (0.3,)), Stored(0, 2, (0.2,))
    )  # fmt: skip


def test_the_gripper_loads_a_copy_that_has_a_place_with_a_die_that_has_one():
    tools = [tool(0, copies=2, clearances=THREE), tool(1)]
    state = stock(tools, listed=[(0, 0.2), (0, 0.3)], places={"16": 3})
    assert [state.gives(0, die, 1) for die in THREE] == [True, True, False]
    assert not state.gives(0, 0.2, 2)
    assert state.gives(0, 0.3)
    assert not state.gives(1, 0.2, 1)


def test_a_tool_of_two_positions_takes_two_places_and_counts_per_place():
    tools = [tool(0, positions=2), tool(1), tool(2)]
    uses = [(need(0), 5.0), (need(1), 3.0), (need(2), 1.0)]
    wide, narrow, last = Stored(0, 1, (0.2,)), Stored(1, 1, (0.2,)), Stored(2, 1, (0.2,))
    assert stock(tools, uses, places={"16": 4}).shelves[0].places == (narrow, wide, wide, last)
    assert stock(tools, uses, places={"16": 3}).shelves[0].places == (narrow, wide, wide)


def test_nothing_gets_in_past_a_tool_for_which_no_place_is_left():
    """With one place more the narrow tool behind it would leave again: more places could then miss more."""
    ranked = (Stored(0, 1, (0.2,)), Stored(1, 1, (0.2,)))
    tools = [tool(0, positions=2), tool(1)]
    fill = [with_the_first(Shelf(16.0, 1, (None,) * count), tools, ranked).places for count in (1, 2, 3)]
    assert fill == [(None,), (ranked[0], ranked[0]), (ranked[0], ranked[0], ranked[1])]


def test_tools_of_another_size_have_no_shelf():
    state = stock([tool(0, 16), tool(1, 30)], [(need(1), 1.0)], places={"16": 1})
    assert state.shelf_of == (0, -1)
    assert state.contents == frozenset()


def test_dies_alone_of_a_wide_tool_take_one_place():
    tools = [tool(0, positions=2)]
    state = stock(tools, [(need(0), 2.0), (need(0, 0.3), 1.0)], places={"16": 3})
    assert state.shelves[0].places == (*[Stored(0, 1, (0.2,))] * 2, Stored(0, 0, (0.3,)))


def test_contents_stand_as_listed():
    """All dies of the second tool, of which it takes one along; what is listed again is the second copy."""
    tools = [tool(0), tool(1, copies=2), form(2)]
    state = stock(tools, listed=[(1, None), (0, 0.3), (2, None), (1, 0.3)], places={"16": 6})
    first = (Stored(1, 1, (0.2,)), Stored(0, 1, (0.3,)), Stored(2, 1, (NO_CLEARANCE,)))
    assert state.shelves[0].places == (*first, Stored(1, 0, (0.3,)), Stored(1, 2, (0.3,)), None)


def test_everything_listed_that_finds_no_room_is_told_at_once():
    tools = [tool(0), tool(1, positions=2), tool(2, 30), tool(3, copies=2)]
    listed = [(0, None), (1, 0.2), (2, 0.2), (3, None), (0, 0.2), (3, None)]
    with pytest.raises(BadInput) as caught:
        stock(tools, listed=listed, places={"16": 7})
    assert [str(finding).split(". ")[0] for finding in caught.value.findings] == [
        'plant.magazine.contents "T2": the magazine has no places of 30 mm',
        'plant.magazine.contents "T0": listed for 2 copies; 1 owned',
        'plant.magazine.contents "T3": 2 dies are listed for one more copy; a place takes 1',
        "plant.magazine.contents: tools listed take 8 places of 16 mm; there are 7",
    ]
    assert all(finding.place and finding.mend for finding in caught.value.findings)


def test_the_room_refuses_too_many_tools():
    settings = settings_with({"16": 1}, contents=("T0@0.20", "T1@0.20"))
    with pytest.raises(BadInput, match="take 2 places of 16 mm; there are 1"):
        make_tool_room(settings, [tool(0), tool(1)])


def test_without_places_nothing_is_in_it():
    settings = settings_with({}, contents=("T0", "T1"))
    room = make_tool_room(settings, [tool(0), tool(1)])
    assert not room.has_magazine
    assert room.magazine.contents == frozenset()


def test_sizes_are_numbers_however_they_are_written():
    magazine = Magazine(places={"16.0": 2}, dies_per_place={"16": 3})
    assert magazine.places == {"16": 2}
    assert stock([tool(0)], places={"16.0": 2}, dies_per_place={"16": 3}).shelves[0].dies_per_place == 3


@pytest.mark.parametrize(
    "wrong", [{"places": {"big": 2}}, {"places": {"16": -1}}, {"places": {"-16": 1}}, {"dies_per_place": {"16": 0}},
              {"loading": "sometimes"}],
)  # fmt: skip
def test_places_that_cannot_be_are_refused(wrong):
    with pytest.raises(ValidationError):
        Magazine.model_validate(wrong)


def test_contents_are_fixed_unless_the_plant_says_otherwise():
    assert Magazine().loading == "fixed"


# ---- whatever the tools and places ----


@FEW
@given(tool_lists(), magazines(), st.data())
def test_a_filled_magazine_is_legal(tools, magazine, data):
    state = filled_magazine(magazine, tools, kept(tools), data.draw(weighed(tools)))
    check_magazine(state, tools)


@FEW
@given(tool_lists(), magazines(), st.data())
def test_what_is_in_stays_in_when_places_or_dies_are_added(tools, magazine, data):
    uses = data.draw(weighed(tools))
    before = filled_magazine(magazine, tools, kept(tools), uses)
    places = {size: count + data.draw(st.integers(0, 3)) for size, count in magazine.places.items()}
    dies = {size: count + data.draw(st.integers(0, 2)) for size, count in magazine.dies_per_place.items()}
    larger = Magazine(places=places, dies_per_place=dies)
    after = filled_magazine(larger, tools, kept(tools), uses)
    assert before.contents <= after.contents
    assert before.copies <= after.copies


@FEW
@given(tool_lists(), magazines(), st.data())
def test_nothing_left_out_is_used_more_than_what_is_in(tools, magazine, data):
    """By weight per place taken, among first copies of one size; further dies by their own weight."""
    weights = weights_of(data.draw(weighed(tools)))
    for shelf in filled_magazine(magazine, tools, kept(tools), ()).shelves:
        ranked = most_used(shelf, tools, kept(tools), weights)
        own = Counter()
        for (row, clearance), weight in weights.items():
            own[row] += weight if clearance in kept(tools)[row] else 0
        worth = [own[stored.tool] / tools[stored.tool].positions for stored in ranked if stored.copy == 1]
        assert worth == sorted(worth, reverse=True)
        alone = [weights[stored.tool, die] for stored in ranked if stored.copy == 0 for die in stored.dies]
        assert alone == sorted(alone, reverse=True)
        assert [stored.copy for stored in ranked] == sorted((s.copy for s in ranked), key=lambda copy: (1, 0, 2)[copy])


@FEW
@given(tool_lists(), magazines(), st.data())
def test_dies_stand_alone_only_behind_every_tool_that_is_used(tools, magazine, data):
    uses = data.draw(weighed(tools))
    state = filled_magazine(magazine, tools, kept(tools), uses)
    for number, shelf in enumerate(state.shelves):
        if any(stored and stored.copy == 0 for stored in shelf.places):
            used = {w[0] for w, _ in uses if w[1] in kept(tools)[w[0]] and state.shelf_of[w[0]] == number}
            assert {(row, 1) for row in used} <= state.copies


@FEW
@given(tool_lists(), magazines(), st.data())
def test_contents_listed_as_they_were_filled_are_the_same(tools, magazine, data):
    state = filled_magazine(magazine, tools, kept(tools), data.draw(weighed(tools)))
    listed = [(s.tool, die) for shelf in state.shelves for s in dict.fromkeys(shelf.places) if s for die in s.dies]
    if listed:
        again = filled_magazine(magazine, tools, kept(tools), (), listed)
        assert [set(shelf.places) for shelf in again.shelves] == [set(shelf.places) for shelf in state.shelves]


@FEW
@given(tool_lists(), magazines(), st.data())
def test_the_check_of_a_plant_refuses_what_the_magazine_refuses(tools, magazine, data):
    entry = st.sampled_from([t.tool_id for t in tools] + [f"{t.tool_id}@{die}" for t in tools for die in t.clearances])
    contents = data.draw(st.lists(entry, min_size=1, max_size=10))
    plant = small_plant(tools=tuple(tools), magazine={**magazine.model_dump(), "contents": contents})
    found = [finding for finding in run_checks(plant) if finding.column == "magazine.contents"]
    if found:
        with pytest.raises(BadInput):
            make_tool_room(plant.settings, tools)
    else:
        make_tool_room(plant.settings, tools)
