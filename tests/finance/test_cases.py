"""Many cases at once: the table built for all of them equals the table built for each alone."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from simkit.finance.cases import Cases, Divided, as_number, as_rows, below, in_cases, interpolated, least, most, ratio
from simkit.finance.cashflow import build_cashflow
from simkit.finance.evaluate import UNSIGNED
from simkit.finance.inputs import ScenarioTotals
from simkit.finance.lines import HEADLINE_CLASSES
from simkit.plant.options import Option, ShareRange
from tests.finance.hand import CREW, TODAY_H, hand_plant

COUNT = 60


def numbers(*values: float) -> Cases:
    return Cases(np.array(values))


def test_arithmetic_is_case_by_case():
    x = numbers(1.0, 2.0)
    assert ((2 * x + 1 - x / 2) ** 2).values.tolist() == [2.5**2, 4.0**2]
    assert ((1 - x) / x).values.tolist() == [0.0, -0.5]
    assert (np.float64(3.0) * x).values.tolist() == [3.0, 6.0]
    assert sum([x, x]).values.tolist() == [2.0, 4.0]
    assert (2.0**x).values.tolist() == [2.0, 4.0]
    assert f"{x:.1f}" == "1.0"


def test_a_common_decision_is_plain_and_a_divided_one_is_raised():
    x = numbers(1.0, 2.0)
    assert x > 0
    assert not x < 0
    with pytest.raises(Divided) as split:
        bool(x > 1.5)
    assert split.value.mask.tolist() == [False, True]
    with pytest.raises(Divided):
        float(x)
    with pytest.raises(Divided):
        math.ceil(x)
    assert math.ceil(numbers(1.2, 1.9)) == 2


def test_choices_without_dividing():
    x = numbers(-1.0, 0.0, 3.0)
    assert least(x, 1.0).values.tolist() == [-1.0, 0.0, 1.0]
    assert most(x, 1.0).values.tolist() == [1.0, 1.0, 3.0]
    assert ratio(6.0, x).values.tolist() == [-6.0, 0.0, 2.0]
    assert below(x, 1.0).values.tolist() == [1.0, 1.0, 0.0]
    assert below(x, 9.0) is True
    assert (least(1, 2), most(1, 2), ratio(1, 0), below(1, 2)) == (1, 2, 0.0, True)


def test_interpolation_is_numpys():
    levels, values = (0.8, 1.0, 1.6), (4.0, 5.0, 11.0)
    at = np.array([0.8, 0.9, 1.0, 1.3, 1.6])
    assert interpolated(Cases(at), levels, values).values == pytest.approx(np.interp(at, levels, values))
    both = interpolated(1.3, levels, [numbers(4, 0), numbers(5, 0), numbers(11, 0)])
    assert both.values.tolist() == [pytest.approx(8.0), 0.0]
    assert interpolated(2.0, (2.0,), (7.0,)) == 7.0


def test_divided_groups_are_evaluated_apart_down_to_single_cases():
    x = np.array([1.0, 5.0, 2.0, 7.0])

    def evaluate(group):
        number = as_number(x[group])
        return as_rows([1.0 if number < 3 else float(number)], len(group))

    assert in_cases(4, 1, evaluate)[:, 0].tolist() == [1.0, 5.0, 1.0, 7.0]


def sampled(generator: np.random.Generator) -> dict[str, np.ndarray]:
    """Inputs of COUNT cases: hours on both sides of zero and of today's budget, prices, growth, times, persistence."""
    ranges = {
        "overtime_h": (0, 12), "subcontract_h": (0, 16), "unmet_h": (0, 8), "hours_needed": (60, 99),
        "energy_kwh": (80, 120),
        "energy": (0.1, 0.4), "outside": (80, 140), "capital": (5e3, 9e4), "wages": (0.01, 0.06), "lead": (5, 70),
        "ramp": (0.0, 14.0), "kept": (0.5, 1.0), "tax": (0.1, 0.4), "demand": (1.0, 2.0), "inhouse_h": (50, 59),
    }  # fmt: skip
    return {name: generator.uniform(low, high, COUNT) for name, (low, high) in ranges.items()}


def flows(value: dict[str, object], count: int) -> np.ndarray:
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
    return as_rows(cash.amounts("A1", HEADLINE_CLASSES, without=UNSIGNED), count)


def test_a_table_of_many_cases_equals_the_table_of_each():
    drawn = sampled(np.random.default_rng(7))
    together = in_cases(COUNT, 5, lambda group: flows({n: Cases(v[group]) for n, v in drawn.items()}, len(group)))
    for case in range(COUNT):
        alone = flows({name: float(values[case]) for name, values in drawn.items()}, 1)
        assert together[case] == pytest.approx(alone[0], rel=1e-9, abs=1e-6)
    assert len(np.unique(np.round(together.sum(axis=1), 3))) == COUNT
