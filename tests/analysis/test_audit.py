"""Predicted against achieved, by hand: 3 replications of one week, 4, 5 and 6 h of overtime saved."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from simkit.analysis.audit import FORM_MEASURES, LESS_IS_BETTER, Achieved, Audit, half_width, look_at
from simkit.experiment.results import Results
from simkit.plant.plant import ScenarioInputs
from tests.finance.hand import BOUGHT, TODAY_H, hand_plant

T2 = 4.302653  # t of 97.5 % with 2 degrees of freedom


def audit(saved=(4.0, 5.0, 6.0), levels=(1.0,), **finance) -> Audit:
    plant = hand_plant(BOUGHT, **{"production_weeks": 52, **finance})
    rows = []
    for factor in levels:
        for replication, hours in enumerate(saved):
            both = {"today": TODAY_H, "A1": {**TODAY_H, "overtime_h": factor * (6.0 - hours), "stops": 10.0}}
            both["today"] = {**both["today"], "stops": 0.0}
            both = {name: {**found, "machine_availability": 0.9} for name, found in both.items()}
            rows += [(s, factor, replication, m, v, "h") for s, found in both.items() for m, v in found.items()]
    columns = ["scenario", "demand_factor", "replication", "measure", "value", "unit"]
    scenarios = {"today": ScenarioInputs("today", plant), "A1": ScenarioInputs("A1", plant, ("A1",))}
    return Audit(plant, Results(pd.DataFrame(rows, columns=columns)), scenarios)


def count(measure="overtime_h", achieved=1.0, months=3, unit="h/week", **more) -> Achieved:
    return Achieved(scenario="A1", months=months, measure=measure, unit=unit, achieved=achieved, **more)


def only(rows, of=None):
    (line,) = (of or audit()).compare(rows)
    return line


def test_the_interval_holds_the_error_of_the_mean_and_the_spread_of_the_weeks():
    """Mean 1 h, sd 1 h a week over 3 runs: error 1/sqrt 3; the mean of 13 weeks spreads by 1/sqrt 13."""
    line = only([count()])
    assert line.predicted == pytest.approx(1.0)
    assert line.high - line.predicted == pytest.approx(T2 * math.sqrt(1 / 3 + 1 / 13), rel=1e-6)
    assert half_width(0.5, 2.0, 3, 4.0, 16.0) == pytest.approx(T2 * math.sqrt(0.25 + 1.0), rel=1e-6)


def test_a_count_is_held_against_a_calendar_week_of_a_plant_that_closes_for_some():
    """39 of 52 weeks produce: 1 h a production week is 0.75 h a calendar week, from 9.75 production weeks in 3 months.

    Money likewise: 412.5 x 0.75; a share is the same in either week.
    """
    open_39 = audit(production_weeks=39)
    line, saved, share = open_39.compare([
        count(achieved=0.75), count("saved_overtime", 309.375, unit="CU/week"),
        count("machine_availability", 0.9, unit="1"),
    ])  # fmt: skip
    assert (line.predicted, saved.predicted, share.predicted) == pytest.approx((0.75, 309.375, 0.9))
    assert line.high - line.predicted == pytest.approx(0.75 * T2 * math.sqrt(1 / 3 + 1 / 9.75), rel=1e-6)
    assert [one.verdict for one in (line, saved, share)] == ["within"] * 3


@pytest.mark.parametrize(("achieved", "verdict"), [(1.0, "within"), (3.7, "within"), (3.8, "above"), (-1.8, "below")])
def test_a_count_is_within_or_above_or_below(achieved, verdict):
    line = only([count(achieved=achieved)])  # 1 +- 2.756
    assert line.verdict == verdict
    assert bool(line.look_at) == (verdict != "within")


def test_longer_stretches_have_narrower_intervals():
    widths = [line.high - line.low for line in audit().compare([count(months=m) for m in (3, 6, 12)])]
    assert widths[0] == pytest.approx(widths[1])  # 13 weeks each
    assert widths[2] < widths[1]


def test_the_ramp_of_the_settings_is_in_the_prediction():
    """Half the benefit at first, all after 6 months: months 0 to 3 have 62.5 % of it, 3 to 6 87.5 %, then all."""
    lines = audit(ramp_start=0.5, ramp_months=6).compare([count(months=m) for m in (3, 6, 12)])
    assert [line.predicted for line in lines] == pytest.approx([6 - 0.625 * 5, 6 - 0.875 * 5, 1.0])


def test_the_demand_of_that_time_is_read_between_the_simulated_levels():
    line = only([count(demand_factor=1.5)], audit(levels=(1.0, 2.0)))
    assert line.predicted == pytest.approx(1.5)


def test_money_saved_carries_the_error_of_its_runs():
    """5 h a week at (30 + 25) x 1.5, the crew of the plant's own roster: 412.5; error 82.5 / sqrt 3."""
    line = only([count("saved_overtime", 412.5, unit="CU/week")])
    assert line.predicted == pytest.approx(412.5)
    assert line.high - 412.5 == pytest.approx(T2 * 82.5 * math.sqrt(1 / 3 + 1 / 13), rel=1e-6)


def test_one_replication_cannot_tell():
    line = only([count(achieved=99.0)], audit(saved=(5.0,)))
    assert (line.high, line.verdict) == (math.inf, "within")


def test_a_measure_that_never_varied_must_be_met():
    assert [only([count("stops", stops, unit="stops/week")]).verdict for stops in (10.0, 10.5, 9.0)] == [
        "within", "above", "below"]  # fmt: skip


def test_empty_counts_are_left_out():
    assert audit().compare([count(achieved=None)]) == ()


def test_the_blank_form_asks_for_what_the_study_has_and_names_owners():
    rows = audit(budget_lines=({"line": "overtime", "account": "x", "owner": "controller"},)).blank("A1")
    assert {row.months for row in rows} == {3, 6, 12}
    first = {row.measure: row for row in rows if row.months == 3}
    assert set(first) == {"hours_needed", "overtime_h", "subcontract_h", "unmet_h", "stops", "saved_overtime"}
    assert first["saved_overtime"].owner == "controller"
    assert first["stops"].owner == BOUGHT.owner
    assert first["overtime_h"].unit == "h/week"
    assert all(row.achieved is None for row in rows)


def test_everything_wrong_with_a_form_is_told_at_once():
    strange = Achieved(scenario="A2", months=3, measure="x", unit="")
    rows = [
        (count("overtme_h"), 2), (count(months=4), 3), (count(unit="h"), 4), (count(demand_factor=2.0), 5),
        (count("saved_overtme"), 6), (count("bench_h"), 7), (strange, 8),
    ]  # fmt: skip
    found = audit().findings(rows, "a.csv")
    assert [f.row for f in found] == [2, 3, 4, 5, 6, 7, 8]
    said = [str(f) for f in found]
    for piece, text in zip(
        ("did you mean 'overtime_h'", "3, 6 and 12", "Give it in h/week", "nothing is extrapolated",
         "did you mean 'overtime'", "was not measured", "known names: A1"), said, strict=True,
    ):  # fmt: skip
        assert piece in text


def test_a_form_without_a_value_is_a_finding():
    (finding,) = audit().findings([(count(achieved=None), 2)], "a.csv")
    assert "no achieved value" in finding.why


def test_every_measure_of_the_form_is_known_and_has_a_direction_or_none():
    assert set(LESS_IS_BETTER) == set(FORM_MEASURES) - {"night_running_h"}
    assert look_at("saved_overtime").startswith("first the demand")
