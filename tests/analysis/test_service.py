"""Case by case: what makes a scenario not recommendable, and what does not."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.analysis import service
from simkit.analysis.service import recommendable
from simkit.experiment.results import results_from
from simkit.plant.plant import ScenarioInputs
from tests.small_plant import small_plant

UNITS = {"late_share": "1", "refused_share": "1", "unmet_h": "h", "subcontract_h": "h", "span_weeks": "weeks"}
EVEN = np.array([0.04, 0.05, 0.06, 0.05])
TODAY = ScenarioInputs("today", small_plant())
OTHER = ScenarioInputs("A1", small_plant(), ("A1",))


def results(demand: float = 1.0, **changes):
    """Four replications of four weeks: today, and a scenario with other values of some measures."""
    base = {
        "late_share": EVEN,
        "refused_share": 0.4 * EVEN,
        "unmet_h": 40 * EVEN,
        "subcontract_h": 80 * EVEN,
        "span_weeks": np.full(4, 4.0),
    }
    rows = [
        (name, demand, k, {measure: values[k] for measure, values in own.items()})
        for name, own in (("today", base), ("A1", {**base, **changes}))
        for k in range(4)
    ]
    return results_from(rows, UNITS)


def verdict(demand: float = 1.0, option: ScenarioInputs = OTHER, today: ScenarioInputs = TODAY, **changes):
    return recommendable(results(demand, **changes), today, option, (demand,))


def with_people(scenario: ScenarioInputs, people, **settings) -> ScenarioInputs:
    plant = scenario.plant
    kept = plant.settings.people.model_copy(update=settings)
    plant = dataclasses.replace(plant, people=people, settings=plant.settings.model_copy(update={"people": kept}))
    return dataclasses.replace(scenario, plant=plant)


def test_the_same_as_today_is_recommendable():
    assert verdict().ok
    assert verdict().text == "recommendable"


def test_surely_more_late_orders_are_a_reason_however_few():
    found = verdict(1.25, late_share=EVEN + 0.01)
    assert found.reasons == ("at demand 1.25, 7.9 % of orders late or refused, 0.98 points more than today",)
    assert not found.ok


def test_orders_late_that_today_refuses_are_none_up_to_the_limit_of_the_plant():
    """Today 5 % late of 98 %, 2 % refused: 6.9 %. None refused and 4.9 % late is no loss, 6.5 % late is over 5 %."""
    none = {"refused_share": 0 * EVEN, "unmet_h": 0 * EVEN}
    assert verdict(late_share=EVEN - 0.001, **none).ok
    assert TODAY.plant.settings.rules.late_share_limit == 0.05
    found = verdict(late_share=EVEN + 0.015, **none)
    [reason] = found.reasons
    assert reason == "at demand 1, 6.5 % of orders late, 1.5 points more than today and above the limit of 5 %"
    assert verdict(late_share=EVEN + 0.001, **none).reasons[0].startswith("at demand 1, 5.1 % of orders late, 0.1")


def test_refusing_instead_of_being_late_keeps_no_due_date():
    assert "late or refused" in verdict(late_share=0 * EVEN, refused_share=1.5 * EVEN).reasons[0]


def test_more_late_orders_within_the_luck_of_the_runs_are_none():
    assert verdict(late_share=EVEN + np.array([0.03, -0.02, 0.02, -0.01])).ok


def test_fewer_late_orders_are_none_even_far_above_the_limit():
    assert verdict(late_share=EVEN - 0.01).ok


def test_surely_more_refused_hours_are_a_reason():
    assert verdict(unmet_h=40 * EVEN + 8).reasons == ("at demand 1, 2 h a week more refused than today",)


def test_surely_more_hours_given_out_need_a_named_subcontractor():
    found = verdict(subcontract_h=80 * EVEN + 8)
    assert found.reasons == ("at demand 1, 2 h a week more subcontracted than today, and no subcontractor is named",)


@pytest.mark.parametrize(("confirmed_h", "ok"), [(3.0, True), (2.9, False)])
def test_confirmed_hours_must_cover_what_is_given_out(confirmed_h, ok, monkeypatch):
    """1 h a week today, 3 h with it."""
    monkeypatch.setattr(service, "named_subcontractor", lambda plant: ("Hollin Cutting", confirmed_h))
    found = verdict(subcontract_h=80 * EVEN + 8)
    assert found.ok == ok
    assert ok or "3 h, and Hollin Cutting confirms 2.9" in found.reasons[0]


def test_hours_given_out_instead_of_being_made_late_are_judged_one_by_one():
    found = verdict(late_share=EVEN - 0.04, subcontract_h=80 * EVEN + 8, unmet_h=40 * EVEN + 8)
    assert len(found.reasons) == 2


def test_every_demand_counts():
    both = results().joined(results(1.25, unmet_h=40 * EVEN + 8))
    with pytest.raises(KeyError, match=r"demand factor 1.5 was not run"):
        recommendable(both, TODAY, OTHER, (1.0, 1.5))
    found = recommendable(both, TODAY, OTHER, (1.0, 1.25))
    assert found.reasons == ("at demand 1.25, 2 h a week more refused than today",)


def test_a_skill_that_nobody_covers_and_a_shift_below_its_minimum_are_reasons():
    people = TODAY.plant.people
    assert len(people) > 1
    gone = verdict(option=with_people(OTHER, people[:1]))
    assert [reason.split(" for ")[0] for reason in gone.reasons] == ["nobody left"]
    two = tuple(dataclasses.replace(people[0], person_id=name) for name in ("A", "B"))
    least = {"minimum_attendance": 2}
    few = verdict(today=with_people(TODAY, two, **least), option=with_people(OTHER, two[:1], **least))
    assert few.reasons == (f"only 1 in shift {two[0].shift}, minimum 2",)
    closed = verdict(today=with_people(TODAY, two), option=with_people(OTHER, two[:1]))
    assert closed.ok
