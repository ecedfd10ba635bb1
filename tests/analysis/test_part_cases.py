"""The cases that only the study of parts simulates: which there are, that each is legal, and what they change."""

from __future__ import annotations

import pytest

from simkit.analysis.hand_over import CHUTE, HandOver, Roles
from simkit.analysis.part_cases import (
    BENCH,
    BENCH_PLACES,
    FAIL,
    FAIL_SHARES,
    NIGHT,
    PICK,
    PICK_SHARES,
    PLENTY,
    STACKS,
    WAY,
    part_cases,
    pick_rows,
)
from simkit.plant.scenarios import make_scenario
from tests.must_lose.changed import whole_demo
from tests.report.option_plant import option_plant
from tests.small_plant import small_plant

PACKAGE = ("N2", "N1")


@pytest.fixture(scope="module")
def over():
    return HandOver(whole_demo(), PACKAGE)


@pytest.fixture(scope="module")
def cases(over):
    return part_cases(over)


def of(cases, group):
    return [case for case in cases if case.group == group]


def test_options_are_found_by_what_they_do(over):
    roles = over.roles
    assert (roles.removal, roles.stack, roles.bench_person) == (("A4",), ("A8",), ("N3",))
    assert (roles.magazine, roles.store, roles.night) == (("A1",), ("A5b",), ("C1",))
    assert over.combined(roles.night_with(roles.removal)) == ("A1", "A4", "A5b", "C1")


def test_a_plant_without_options_has_only_cases_of_its_bench():
    over = HandOver(small_plant())
    assert over.roles == Roles(None, None, None, None, None, None)
    assert {case.group for case in part_cases(over)} == {BENCH}


def test_a_plant_that_has_removal_today_needs_no_option_for_it():
    over = HandOver(small_plant(removal={"pickers": 1}))
    assert over.roles.removal == ()
    assert {case.group for case in part_cases(over)} == {WAY, BENCH}


def test_every_case_is_legal_and_named_once(cases, over):
    assert len({case.name for case in cases}) == len(cases)
    for case in cases:
        scenario = case.scenario(over.wide)
        assert (scenario.name, scenario.option_ids) == (case.name, case.options)


def test_curves_multiply_what_is_on_offer(cases, over):
    base = make_scenario(whole_demo(), ("A4",)).plant
    assert [case.facts["share"] for case in of(cases, PICK)] == list(PICK_SHARES)
    for case in of(cases, PICK):
        changed = pick_rows(case.scenario(over.wide).plant, "pick", "pick_blocking")
        wanted = {name: s * case.facts["share"] for name, s in pick_rows(base, "pick", "pick_blocking").items()}
        assert changed == pytest.approx(wanted)
    for case in of(cases, FAIL):
        rates = [row.rate for row in case.scenario(over.wide).plant.stops if row.exposure == "pick"]
        assert rates == [pytest.approx(case.facts["rate"])]
        assert "C1" in case.options
    assert [case.facts["share"] for case in of(cases, FAIL)] == list(FAIL_SHARES)


def test_places_of_bench_and_stacks_are_those_named(cases, over):
    assert [case.scenario(over.wide).plant.settings.bench.places for case in of(cases, BENCH)] == list(BENCH_PLACES)
    stacks = [case.scenario(over.wide).plant.settings.removal for case in of(cases, STACKS)]
    assert [removal.stack_places for removal in stacks] == [2, 8, PLENTY, 4, 4]
    assert [removal.stacking for removal in stacks] == ["by_order"] * 3 + ["as_nested", "kits"]


def test_the_corners_of_a_pair_differ_by_the_pair_alone(over):
    assert over.under == PACKAGE
    for name, pair in over.roles.pairs.items():
        both, first, second, neither = map(set, over.corners(pair, over.night_bases[name]))
        assert both - neither == set(pair[0]) | set(pair[1])
        assert (first - neither, second - neither) == (set(pair[0]), set(pair[1]))
        assert {"C1", *PACKAGE} <= neither


def test_corners_of_both_pairs_are_simulated_by_day_and_at_night(cases):
    held = {frozenset(case.options) for case in of(cases, NIGHT)}
    for wanted in ({"A4"}, {"A1"}, {"A1", "A4"}, {"A5b"}, {"A4", "A5b"}):
        assert wanted in held
    for wanted in ({"A5b"}, {"A1", "A5b"}, {"A4", "A5b"}, {"A1"}, {"A1", "A4"}, {"A1", "A4", "A5b"}):
        assert wanted | {"C1", *PACKAGE} in held


def test_what_cannot_be_picked_goes_down_the_chute_and_is_sorted(cases, over):
    case = next(case for case in of(cases, WAY) if case.options == ("A4", CHUTE))
    plant = case.scenario(over.wide).plant
    assert {program.handover for program in plant.programs} == {"mixed"}
    rows = {row.element: (row.state, row.typical, row.basis) for row in plant.elements if row.unit == "s/chute_part"}
    assert rows == {"chute_drop": ("unloading", 2.0, "default"), "chute_sort": ("bench", 3.0, "default")}


def test_widening_drops_needs_and_adds_one_option():
    wide = HandOver(option_plant()).wide
    assert [option.id for option in wide.options] == [*(o.id for o in option_plant().options), CHUTE]
    assert not any(option.needs for option in wide.options)
    assert make_scenario(wide, ("C1",)).plant.settings.calendar.night.rule == "allowed"
