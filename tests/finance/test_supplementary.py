"""Measures beside the headline, and ways of paying kept apart from the investment, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.finance.evaluate import evaluate
from simkit.finance.financing import loan_flows, loan_of, ways_for
from simkit.finance.measures import npv
from simkit.finance.ratios import supplementary
from simkit.finance.tax import taxes
from simkit.plant.settings_money import Financing
from tests.finance.hand import BOUGHT, hand_plant, table, today, totals
from tests.finance.test_cashflow import priced

SAVES = totals(overtime_h=1.0)  # 11 250 a year
ANNUITY = 3.169865446  # of 4 years at 10 %


def built(**finance):
    return table(hand_plant(priced(capital=20_000.0, yearly_cost=1_250.0, life_years=4.0), **finance), today(), SAVES)


def test_ratios_part_investment_from_savings_by_nature():
    """20 000 less 2 000 of residual at year 4; 10 000 a year saved after running cost."""
    found = supplementary(built(residual_share=0.1), "A1")
    invested = 20_000 - 2_000 / 1.1**4
    assert found.savings_to_investment == pytest.approx(10_000 * ANNUITY / invested)
    assert found.adjusted_rate == pytest.approx(1.1 * found.savings_to_investment**0.25 - 1)
    assert found.benefit_cost == pytest.approx(11_250 * ANNUITY / (invested + 1_250 * ANNUITY))
    assert found.benefit_cost_modified == pytest.approx(10_000 * ANNUITY / invested)


def test_static_measures_of_a_mean_year():
    """10 000 a year, write-off 4 500, interest (20 000 + 2 000) / 2 x 10 %."""
    static = supplementary(built(residual_share=0.1), "A1").static
    assert static is not None
    assert (static.write_off, static.interest) == (4_500, pytest.approx(1_100))
    assert static.profit == pytest.approx(10_000 - 4_500 - 1_100)
    assert static.return_on_mean_capital == pytest.approx(5_500 / 11_000)
    assert static.payback_years == 2.0


def test_static_measures_write_off_what_is_bought_again_and_no_grant():
    """Life of 2 years in 4: 20 000 again; a fourth of 20 000 is granted; (15 000 + 20 000) / 4 a year."""
    option = priced(capital=20_000.0, life_years=2.0, grant_share=0.25)
    static = supplementary(table(hand_plant(option), today(), SAVES), "A1").static
    assert static is not None
    assert (static.write_off, static.interest) == (pytest.approx(8_750), pytest.approx(750))
    later = supplementary(table(hand_plant(priced(capital=20_000.0), start_after_years=2), today(), SAVES), "A1").static
    assert later is not None
    assert (later.yearly_surplus, later.write_off) == (pytest.approx(11_250), pytest.approx(10_000))


def test_savings_to_investment_above_one_is_a_value_above_zero():
    for capital in (20_000.0, 60_000.0):
        cash = table(hand_plant(priced(capital=capital), tax_rate=0.2), today(), SAVES)
        ratio = supplementary(cash, "A1").savings_to_investment
        assert ratio is not None
        assert (ratio > 1) == (evaluate(cash)["A1"].npv > 0)


def test_without_capital_there_is_no_ratio():
    found = supplementary(table(hand_plant(BOUGHT), today(), SAVES), "A1")
    assert (found.savings_to_investment, found.benefit_cost, found.static) == (None, None, None)
    assert found.adjusted_rate is None


# ---- ways of paying ----

LEASE = Financing(borrowing_rate=0.1, lease_rent_share=0.3, lease_years=4)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(1, 1e6), st.floats(0.001, 0.3), st.integers(1, 15), st.floats(0, 0.6))
def test_a_loan_at_the_firms_own_rate_is_worth_nothing(principal, rate, years, tax):
    flows = loan_flows(loan_of(principal, rate, years), tax)
    assert npv(rate * (1 - tax), flows) == pytest.approx(0.0, abs=1e-6 * principal)
    assert sum(loan_of(principal, rate, years).repayment) == pytest.approx(principal)


def test_a_cheaper_loan_is_worth_what_its_interest_saves():
    """Half of 20 000 for a year at 4 % where the firm pays 10 %: 600 saved in a year."""
    (way,) = ways_for(built(), "A1", Financing(borrowing_rate=0.1, loan_share=0.5, loan_rate=0.04, loan_years=1))
    assert way.flows == pytest.approx((10_000, -10_400, 0, 0, 0))
    assert way.value == pytest.approx(600 / 1.1)


def test_a_lease_against_a_purchase():
    """20 000 kept, four rents of 6 000 at once and at years 1 to 3."""
    (way,) = ways_for(built(), "A1", LEASE)
    assert way.flows == pytest.approx((14_000, -6_000, -6_000, -6_000, 0))
    assert way.value == pytest.approx(npv(0.1, way.flows))
    assert way.value < 0


def test_tax_relief_of_rents_and_the_lost_one_of_depreciation():
    """Rents relieve 25 % in their year; 5 000 a year of depreciation would have relieved 1 250.

    What is kept for 2 000 at the horizon is written off there.
    """
    (way,) = ways_for(built(tax_rate=0.25), "A1", LEASE.model_copy(update={"lease_end_share": 0.1}))
    assert way.flows == pytest.approx((20_000 - 4_500, *[-4_500 - 1_250] * 3, -0.75 * 2_000 - 1_250))


def test_what_is_kept_after_a_short_lease_is_written_off_from_then_on():
    """Two rents of 6 000 and 2 000 at year 2, of which 500 a year are written off, the rest at the horizon of 4."""
    short = LEASE.model_copy(update={"lease_years": 2, "lease_end_share": 0.1})
    (way,) = ways_for(built(tax_rate=0.25), "A1", short)
    relief = 0.25 * 5_000
    assert way.flows == pytest.approx(
        (20_000 - 4_500, -4_500 - relief, -2_000 - relief, 0.25 * 500 - relief, 0.25 * 1_500 - relief)
    )


def test_a_grant_and_stages_lower_and_move_what_cash_would_pay():
    """Lead 78 weeks, a fifth granted: 9 600 at once, 6 400 in year 2, where the lease begins; 16 000 is its price."""
    option = priced(capital=20_000.0, life_years=9.0, lead_weeks=78.0, grant_share=0.2)
    cash = table(hand_plant(option, payments_at=(0.0, 0.8, 1.0)), today(), SAVES)
    lease = LEASE.model_copy(update={"lease_years": 2, "lease_rent_share": 0.5})
    (way,) = ways_for(cash, "A1", lease)
    assert way.flows == pytest.approx((9_600, 0, 6_400 - 8_000, -8_000, 0))
    (loan,) = ways_for(cash, "A1", Financing(loan_share=0.5, loan_rate=0.0, loan_years=2))
    assert loan.flows[:3] == pytest.approx((8_000, -4_000, -4_000))


def test_a_start_that_waits_is_paid_from_its_first_payment_on():
    plant = hand_plant(priced(capital=20_000.0), start_after_years=2, price_growth=0.1)
    (way,) = ways_for(table(plant, today(), SAVES), "A1", LEASE.model_copy(update={"lease_years": 1}))
    assert way.flows[0] == pytest.approx(24_200 * (1 - 0.3))


@pytest.mark.parametrize(("losses", "relief"), [("used_at_once", 1_500.0), ("lost", 0.0), ("carried_forward", 0.0)])
def test_rents_and_depreciation_relieve_no_more_tax_than_there_is(losses, relief):
    """Nothing is saved, so that no result is taxed: only relief at once against other profit is worth anything."""
    cash = table(hand_plant(priced(capital=20_000.0), tax_rate=0.25, losses=losses), today(), totals())
    (way,) = ways_for(cash, "A1", LEASE)
    lost = 1_250 if relief else 0
    assert way.flows == pytest.approx((14_000 + relief, *[-6_000 + relief - lost] * 3, -lost))


def test_under_every_loss_rule_the_lease_is_the_difference_of_two_whole_tables():
    """The tax of the case with rents in place of its depreciation, less that of the case as bought."""
    option = priced(capital=20_000.0, yearly_cost=9_000.0)
    for losses in ("used_at_once", "carried_forward", "lost"):
        cash = table(hand_plant(option, tax_rate=0.25, losses=losses), today(), SAVES)
        (way,) = ways_for(cash, "A1", LEASE)
        before, rents = np.array([0.0, *[2_250.0] * 4]), np.array([*[6_000.0] * 4, 0.0])
        leased = before - rents - np.array(taxes((before - rents).tolist(), 0.25, losses))
        assert way.flows == pytest.approx(leased - cash.flows("A1"))


def test_what_goes_back_takes_its_residual_value_along():
    """A tenth of 20 000 is left at the horizon and taxed: 1 500 that the lessor keeps."""
    kept, returned = (
        ways_for(built(residual_share=0.1, tax_rate=0.25), "A1", LEASE.model_copy(update={"lease_then": then}))[0]
        for then in ("kept", "returned")
    )
    assert np.subtract(returned.flows, kept.flows) == pytest.approx([0, 0, 0, 0, -1_500])
    assert returned.name == "lease over 4 years, then returned"


def test_ways_of_paying_are_in_money_of_their_year_under_a_real_basis_too():
    plant = hand_plant(priced(capital=20_000.0, lead_weeks=78.0), payments_at=(0.0, 1.0, 1.0), rate_basis="real",
                       growth_basis="real", inflation=0.1)  # fmt: skip
    (way,) = ways_for(table(plant, today(), SAVES), "A1", LEASE.model_copy(update={"lease_years": 1}))
    assert way.flows[:3] == pytest.approx((12_000, 0, 8_000 - 6_000))


def test_rents_at_the_end_of_each_year():
    (way,) = ways_for(built(), "A1", LEASE.model_copy(update={"lease_in_advance": False}))
    assert way.flows == pytest.approx((20_000, -6_000, -6_000, -6_000, -6_000))


def test_the_value_of_the_investment_does_not_know_how_it_is_paid():
    plant = hand_plant(priced(capital=20_000.0))
    paid = plant.settings.model_copy(update={"financing": LEASE})
    object.__setattr__(plant, "settings", paid)
    assert evaluate(table(plant, today(), SAVES))["A1"].npv == evaluate(
        table(hand_plant(priced(capital=20_000.0)), today(), SAVES))["A1"].npv  # fmt: skip


def test_without_an_offer_or_capital_there_is_no_way_to_compare():
    assert ways_for(built(), "A1", Financing()) == ()
    assert ways_for(table(hand_plant(BOUGHT), today(), SAVES), "A1", LEASE) == ()
