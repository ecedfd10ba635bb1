"""Order of buying under a budget, and the cost of waiting: paths counted by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.finance.buying import SetsOnOffer, buying_paths, offers_of, started_later
from simkit.finance.evaluate import evaluate
from simkit.finance.measures import npv, value_of_waiting
from simkit.plant.settings_money import DemandYear
from tests.finance.hand import BOUGHT, hand_plant, table, today, totals
from tests.finance.test_cashflow import levels, priced

OPTIONS = {"A": frozenset("A"), "B": frozenset("B"), "A+B": frozenset("AB")}


def offers(a, b, both, capital=(100.0, 60.0, 160.0)) -> SetsOnOffer:
    """Values by year of A, B and both; capital the same in every year."""
    values = dict(zip(OPTIONS, (a, b, both), strict=True))
    years = len(a)
    return SetsOnOffer(OPTIONS, {name: (c,) * years for name, c in zip(OPTIONS, capital, strict=True)}, values)


def test_without_a_budget_everything_that_is_worth_it_is_bought_at_once():
    best, *others = buying_paths(offers((50, 40), (30, 25), (85, 70)))
    assert [(step.year, step.scenario) for step in best.steps] == [(0, "A+B")]
    assert (best.value, best.capital, best.regret) == (85, 160, 0)
    assert {path.first: path.value for path in others} == {
        "A": 50 + 70 - 40, "B": 30 + 70 - 25, "today": 70}  # fmt: skip


def test_a_budget_decides_what_comes_first_and_what_it_costs_to_wait_with_the_rest():
    """110 a year: A now (50) and B next year (70 - 40 more), or B now (30) and A next year (70 - 25 more)."""
    best, second, wait = buying_paths(offers((50, 40), (30, 25), (85, 70)), (110.0, 110.0))
    assert [(s.year, s.scenario, s.added, s.capital, s.value_so_far) for s in best.steps] == [
        (0, "A", ("A",), 100.0, 50), (1, "A+B", ("B",), 60.0, 80)]  # fmt: skip
    assert (best.value, best.regret) == (80, 5)
    assert (second.first, second.value) == ("B", 75)
    assert wait.first == "today"
    assert wait.value == 70  # what is left of the first budget is kept: both next year
    assert best.regret_of_stopping(1) == pytest.approx(85 - 50)
    assert best.regret_of_stopping(0) == pytest.approx(85)


def test_of_equal_paths_the_cheapest_is_named_and_of_those_that_cannot_be_told_apart_too():
    """A and A+B are worth 50 alike: A costs 60 less. At 52 +- 5 for both the replications do not tell them apart."""
    assert buying_paths(offers((50, 40), (1, 1), (50, 40)))[0].steps[-1].scenario == "A"
    noise = np.array([-4.0, 3.0, -2.0, 4.0, -3.0, 2.0])
    values = {"A": (50, 40), "B": (1, 1), "A+B": (52, 39)}
    unsure = {n: [v + noise * (n == "A+B") for v in pair] for n, pair in values.items()}
    made = dataclasses.replace(offers(*values.values()), samples=unsure)
    assert buying_paths(offers(*values.values()))[0].steps[-1].scenario == "A+B"
    assert [(path.steps[-1].scenario, path.value) for path in buying_paths(made)][:2] == [("A", 50), ("A+B", 52)]
    sure = {n: [v + noise / 100 for v in pair] for n, pair in values.items()}
    assert buying_paths(dataclasses.replace(made, samples=sure))[0].steps[-1].scenario == "A+B"


def test_a_set_that_is_worth_less_than_its_parts_is_not_reached_by_adding_them():
    """Both save the same hours: 55 together, not 80. B is not added to A."""
    best = buying_paths(offers((50, 40), (30, 25), (48, 35)))[0]
    assert [step.scenario for step in best.steps] == ["A"]
    assert best.value == 50


def test_what_loses_is_not_bought():
    best = buying_paths(offers((-5, -4), (-3, -2), (-9, -8)))[0]
    assert (best.first, best.steps, best.value) == ("today", (), 0.0)


def test_what_gains_by_waiting_waits():
    best = buying_paths(offers((10, 15), (-1, -1), (5, 9)))[0]
    assert [(step.year, step.scenario) for step in best.steps] == [(1, "A")]


NUMBER = st.floats(-100, 100)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(NUMBER, min_size=6, max_size=6), st.floats(0, 200), st.floats(0, 200))
def test_a_budget_never_helps_and_no_step_breaks_it(values, first, second):
    made = offers(values[:2], values[2:4], values[4:])
    free = buying_paths(made)[0]
    for path in buying_paths(made, (first, second)):
        assert path.value <= free.value + 1e-3  # values are told apart to a thousandth
        assert path.regret == pytest.approx(free.value - path.value, abs=1e-3)
        spent = [sum(s.capital for s in path.steps if s.year <= year) for year in (0, 1)]
        assert spent[0] <= first + 1e-6
        assert spent[1] <= first + second + 1e-6


SAVES = totals(overtime_h=1.0)


def test_offers_read_capital_and_value_of_each_start_to_one_horizon():
    """11 250 a year for 4 years less 20 000; a year later 20 000 x 1.1 for 3 years."""
    plant = hand_plant(priced(capital=20_000.0), price_growth=0.1)
    found = offers_of(plant, today(), [SAVES], ["A1"], 2)
    assert found.capital["A1"] == pytest.approx([20_000, 22_000])
    later = npv(0.1, [0, -22_000, 11_250, 11_250, 11_250])
    assert found.value["A1"] == pytest.approx([npv(0.1, [-20_000, *[11_250] * 4]), later])
    assert found.options == {"A1": frozenset({"A1"})}


def test_waiting_a_year_costs_the_discount_where_nothing_changes():
    """The same 4 years of use a year later, at the same price: worth 1/1.1 of now."""
    plant = hand_plant(priced(capital=20_000.0))
    now = evaluate(table(plant, today(), SAVES))["A1"].npv
    later = started_later(plant, today(), [SAVES], ["A1"])["A1"]
    assert later == pytest.approx(now / 1.1)
    assert value_of_waiting(now, now, 1, 0.1) == pytest.approx(later - now)
    loses = hand_plant(priced(capital=90_000.0))
    lost = evaluate(table(loses, today(), SAVES))["A1"].npv
    assert lost < started_later(loses, today(), [SAVES], ["A1"], 2)["A1"] < 0


def test_waiting_gains_where_demand_comes_later():
    """8 h given out from year 2 on only: bought now, the first year is idle."""
    demand = (DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=2.0))
    none, many = {"subcontract_h": 0.0}, {"subcontract_h": 8.0, "hours_needed": 200.0}
    before = levels("today", (), {1.0: none, 2.0: many})
    after = levels("A1", ("A1",), {1.0: none, 2.0: {**many, "subcontract_h": 0.0}})
    plant = hand_plant(priced(capital=100_000.0), demand=demand, horizon_years=4, depreciation_years=4)
    # the benefit of the first idle year is not lost by waiting, and one more year of use follows at the end
    yearly = 8 * 50 * 110
    now = evaluate(table(plant, before, after))["A1"]
    assert now.npv_with_avoided == pytest.approx(npv(0.1, [-100_000, 0, *[yearly] * 3]))
    assert now.npv == pytest.approx(-100_000)
    assert started_later(plant, before, [after], ["A1"])["A1"] == pytest.approx(-100_000 / 1.1)


def test_prices_that_grow_faster_than_the_rate_make_waiting_dear():
    slow, fast = (
        started_later(hand_plant(priced(capital=20_000.0), price_growth=g), today(), [SAVES], ["A1"])["A1"]
        for g in (0.0, 0.3)
    )
    assert fast == pytest.approx(slow - 0.3 * 20_000 / 1.1)


def test_only_simulated_sets_are_offered():
    with pytest.raises(KeyError, match=r"A1\+A4"):
        offers_of(hand_plant(BOUGHT), today(), [SAVES], ["A1+A4"], 1)
