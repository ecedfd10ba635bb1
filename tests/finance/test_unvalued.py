"""What has no price is named and in no amount; what no rule sets off is a note."""

from __future__ import annotations

import pytest

import simkit as sk
from simkit.finance.guards import idle_rates, not_valued, unvalued
from simkit.plant.reading import read_plant
from tests.report.option_plant import write_option_plant
from tests.small_plant import small_plant

WINDOW = {"overtime": [{"days": ["Sat"], "start": "06:00", "end": "12:00"}]}
FREE = {"operator_rate_per_h": 0.0, "subcontract_per_h": 0.0, "margin_per_h": 0.0}
PRICED = {"operator_rate_per_h": 30.0, "subcontract_per_h": 100.0, "margin_per_h": 80.0}
ALL = {"overtime": True, "subcontract": True, "refuse": True}


def plant(overflow=None, money=None, **settings):
    return small_plant(overflow=overflow or {}, money=money or FREE, calendar=WINDOW, people=(), **settings)


def places(found):
    return [finding.column for finding in found]


def test_each_rule_without_a_price_is_named_with_the_field_to_fill_in():
    gaps = unvalued(plant(ALL))
    assert [gap.effect for gap in gaps] == ["overtime", "subcontracted hours", "orders refused"]
    assert not_valued(plant({"subcontract": True})) == (
        "Not valued, and in no amount: subcontracted hours: no price of an hour bought outside "
        "(money.subcontract_per_h)."
    )


def test_nothing_is_missing_where_all_is_priced_or_nothing_is_done_or_hours_stay_hours():
    assert not_valued(plant(ALL, PRICED)) == ""
    assert not_valued(plant()) == ""
    assert not_valued(plant(ALL, finance={"value_rules": ["hours_only"]})) == ""


def test_rates_without_triggers_and_triggers_without_rates_are_notes():
    assert places(idle_rates(plant({}, PRICED))) == ["money.subcontract_per_h", "money.margin_per_h"]
    assert places(idle_rates(plant(ALL))) == [
        "rate_per_h of people.csv", "money.subcontract_per_h", "money.margin_per_h",
    ]  # fmt: skip
    assert places(idle_rates(plant(ALL, PRICED))) == []
    bare = small_plant(overflow={"overtime": True}, money=FREE, people=())
    assert places(idle_rates(bare)) == ["overflow.overtime"]
    assert all(finding.severity == "note" for finding in idle_rates(plant(ALL)))


@pytest.mark.parametrize("demo", ["data/tarnholt", "simkit/plant/example"])
def test_the_plants_that_come_with_the_kit_have_a_price_for_what_they_do(demo):
    assert list(idle_rates(read_plant(demo))) == []


def test_the_answer_says_first_that_nothing_is_short_and_what_has_no_price(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    plant = sk.read_plant(folder)
    changes = {"plant.overflow.subcontract": True, "plant.money.subcontract_per_h": 0.0}
    made = plant.scenarios({"Today": [], "Removal": "A4+C1"}, changes)
    study = sk.simulate(made, replications=2, weeks=1, demand=0.3, workers=1, progress=False)
    said = sk.answer(study, study.money())
    assert "Today is not short of time" in said.head
    assert "Not valued, and in no amount: subcontracted hours" in said.head
    assert "Not valued" not in sk.answer(study).head
