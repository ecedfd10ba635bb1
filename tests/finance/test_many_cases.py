"""Many cases at once: the table built for all of them equals the table built for each alone."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.finance.casearrays import first_case, over_years, ratio, whole_up
from simkit.finance.cashflow import build_cashflow
from simkit.finance.inputs import ScenarioTotals, WeeklyAmounts
from simkit.finance.lines import HEADLINE_CLASSES
from simkit.plant.options import Option, ShareRange
from tests.finance.hand import CREW, TODAY_H, hand_plant

COUNT = 60


def test_a_ratio_to_nothing_is_nothing_case_by_case():
    assert ratio(6.0, np.array([-1.0, 0.0, 3.0])).tolist() == [-6.0, 0.0, 2.0]
    assert (ratio(1.0, 0.0), ratio(1.0, 4.0)) == (0.0, 0.25)


def test_whole_numbers_upwards_but_for_a_rounding_error():
    assert whole_up(np.array([0.0, 1.0 + 1e-12, 1.1, 2.0])).tolist() == [0, 1, 2, 2]


def test_a_value_in_a_year_of_the_first_case():
    years = over_years([1.0, np.array([2.0, 3.0])])
    assert years.tolist() == [[1, 1], [2, 3]]
    assert [first_case(value, 1) for value in (7.0, np.array([5.0, 6.0]), years, years[:1])] == [7, 5, 2, 1]


def test_amounts_between_levels_are_numpys_interpolation():
    levels, values = (0.8, 1.0, 1.6), (4.0, 5.0, 11.0)
    totals = ScenarioTotals("a", {f: {"h": v, "span_weeks": 1.0} for f, v in zip(levels, values, strict=True)})
    at = np.array([[0.8, 0.9], [1.0, 1.3], [1.6, 1.6]])
    assert WeeklyAmounts(totals, at)("h") == pytest.approx(np.interp(at, levels, values))
    assert totals.per_week("h", 1.3) == pytest.approx(8.0)
    many = ScenarioTotals(
        "a", {f: {"h": np.array([v, 0.0]), "span_weeks": 1.0} for f, v in zip(levels, values, strict=True)}
    )
    assert many.per_week("h", 1.3).tolist() == [pytest.approx(8.0), 0.0]


def sampled(generator: np.random.Generator) -> dict[str, np.ndarray]:
    """Inputs of COUNT cases: hours on both sides of zero and of today's budget, prices, growth, times, persistence."""
    ranges = {
        "overtime_h": (0, 12), "subcontract_h": (0, 16), "unmet_h": (0, 8), "hours_needed": (60, 99),
        "energy_kwh": (80, 120),
        "energy": (0.1, 0.4), "outside": (80, 140), "capital": (5e3, 9e4), "wages": (0.01, 0.06), "lead": (5, 70),
        "ramp": (0.0, 14.0), "kept": (0.5, 1.0), "tax": (0.1, 0.4), "demand": (1.0, 2.0), "inhouse_h": (50, 59),
    }  # fmt: skip
    return {name: generator.uniform(low, high, COUNT) for name, (low, high) in ranges.items()}


def flows(value: dict[str, float]) -> np.ndarray:
    """Headline flows of one table: of a case when the values are plain, of many when they are not."""
    option = Option(
        id="A1", name="x", kind="bought", yearly_cost=700.0, life_years=3.0, stop_days=2.0, owner="o",
        persistence=ShareRange(low=0.5, quoted=0.5, high=0.5),
    )  # fmt: skip
    capital = option.capital.model_copy(update={"quoted": value["capital"]})
    kept = option.persistence.model_copy(update={"quoted": value["kept"]})
    option = option.model_copy(update={"capital": capital, "persistence": kept, "lead_weeks": value["lead"]})
    plant = hand_plant(option, training=500.0, residual_share=0.1)
    settings = plant.settings
    later = settings.finance.demand[0].model_copy(update={"from_year": 2, "factor": value["demand"]})
    changes = {
        "wage_growth": value["wages"], "ramp_months": value["ramp"], "ramp_start": 0.6, "tax_rate": value["tax"],
        "demand": (*settings.finance.demand, later),
    }  # fmt: skip
    finance = settings.finance.model_copy(update=changes)
    money = settings.money.model_copy(update={"energy_per_kwh": value["energy"], "subcontract_per_h": value["outside"]})
    plant = dataclasses.replace(plant, settings=settings.model_copy(update={"money": money, "finance": finance}))
    base = {**TODAY_H, "energy_kwh": 100.0, "inhouse_h": 88.0}
    own = {name: value[name] for name in (*TODAY_H, "energy_kwh", "inhouse_h") if name in value}
    more = {name: 1.4 * amount for name, amount in {**base, **own, "span_weeks": 1.0}.items()}
    today = ScenarioTotals("today", {1.0: base, 2.0: {**base, "overtime_h": 9.0, "hours_needed": 180.0}}, (), CREW)
    after = ScenarioTotals("A1", {1.0: {**base, **own}, 2.0: {**more, "span_weeks": 1.0}}, ("A1",), CREW)
    cash = build_cashflow(plant, today, [after])
    return cash.amounts("A1", HEADLINE_CLASSES).T


def test_a_table_of_many_cases_equals_the_table_of_each():
    drawn = sampled(np.random.default_rng(7))
    together = flows(drawn)
    for case in range(COUNT):
        alone = flows({name: float(values[case]) for name, values in drawn.items()})
        assert together[case] == pytest.approx(alone[0], rel=1e-9, abs=1e-6)
    assert len(np.unique(np.round(together.sum(axis=1), 3))) == COUNT
