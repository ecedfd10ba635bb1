"""Which inputs decide whether part removal pays: each alone, with hand and device on equal terms."""

from __future__ import annotations

import pytest

import simkit as sk
from simkit.analysis.removal_inputs import removal_inputs
from tests.demo.conftest import ROOT
from tests.desk.test_part_tables import RUN, write_picking_plant

DATA = ROOT / "data"


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    plant = sk.read_plant(write_picking_plant(tmp_path_factory.mktemp("inputs") / "plant"))
    return sk.simulate(plant.parts.inputs(), **RUN)


def test_each_input_has_its_cases_and_what_is_done_by_hand_changes_today_too(study):
    inputs = removal_inputs(study.scenario("Part removal").made.plant)
    assert [one.name for one in inputs] == [
        "Entry into the guarded cell", "A pick", "Skeleton by the device", "Skeleton by hand",
        "Breaking out by hand", "Failed picks", "Sample drawer, at no price", "Parts it cannot grip",
    ]  # fmt: skip
    ends = sum((one.at_low is not None) + (one.at_high is not None) for one in inputs)
    by_hand = [name for name in study.names if name.startswith("Today: ")]
    assert len(study.names) == 2 + ends + len(by_hand)
    assert by_hand == [
        "Today: Skeleton by hand, 0.25 min", "Today: Skeleton by hand, 1 min",
        "Today: Breaking out by hand, half as long", "Today: Breaking out by hand, twice as long",
    ]  # fmt: skip
    assert removal_inputs(study.scenario("Today").made.plant) == ()


@pytest.mark.parametrize(("plant", "tried"), [("tarnholt", True), ("uthmarsh", False)])
def test_what_nothing_says_the_time_of_is_not_tried(plant, tried):
    """Without a row for parts that are sorted after the chute, none is sent down it: that time would be missing."""
    removal = sk.read_plant(DATA / plant).scenario("Part removal", ["A4"]).made.plant
    assert ("Parts it cannot grip" in [one.name for one in removal_inputs(removal)]) == tried


def test_a_worse_device_is_worth_less_and_a_worse_bench_makes_it_worth_more(study):
    table = study.parts.inputs().set_index("removal_input")
    for name in ("Entry into the guarded cell", "A pick", "Skeleton by the device", "Failed picks"):
        assert table.value_at_low[name] >= table.value_at_high[name], name
        assert table.freed_h_at_low[name] > table.freed_h_at_high[name], name
    for name in ("Breaking out by hand", "Skeleton by hand"):
        assert table.value_at_low[name] <= table.value_at_high[name], name
        assert table.freed_h_at_low[name] <= table.freed_h_at_high[name], name
    told = study.parts.freed(["Part removal"])["Part removal"].mean
    assert table.freed_h_at_high["Sample drawer, at no price"] > told
    assert table.moved.is_monotonic_decreasing


def test_the_value_is_the_difference_of_the_two_cash_flows_that_an_input_changes(study):
    cash = study.money().measures().set_index("scenario")["npv"]
    table = study.parts.inputs().set_index("removal_input")
    name = "Breaking out by hand"
    by_hand = cash[f"Part removal: {name}, twice as long"] - cash[f"Today: {name}, twice as long"]
    assert table.value_at_high[name] == pytest.approx(by_hand, rel=1e-6, abs=1.0)
    entry = table.loc["Entry into the guarded cell"]
    assert entry.value_at_low == pytest.approx(cash["Part removal: Entry into the guarded cell, 2 min"], abs=1.0)


def test_a_plant_without_removal_has_nothing_to_decide(tmp_path):
    plant = sk.read_plant(sk.example_plant(tmp_path / "plant"))
    assert [case.name for case in plant.parts.inputs()] == ["Today"]
    found = sk.simulate(plant.parts.inputs(), **{**RUN, "replications": 2, "weeks": 1.0})
    assert len(found.parts.inputs()) == 0
