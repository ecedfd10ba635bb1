"""Published after-tax cases, built and measured through the cash-flow table itself.

The yearly saving enters as subcontracted hours: 1 h a week at a price of saving / 50 weeks.
"""

from __future__ import annotations

import pytest

from simkit.finance.evaluate import MoneyResult, evaluate
from simkit.plant.options import Range
from simkit.plant.settings_money import Money
from tests.finance.hand import BOUGHT, hand_plant, table, today, totals


def built(capital: float, saving: float, years: int, **finance) -> MoneyResult:
    option = BOUGHT.model_copy(
        update={"capital": Range(low=capital, quoted=capital, high=capital), "life_years": float(years)}
    )
    plant = hand_plant(option, money=Money(subcontract_per_h=saving / 50), horizon_years=years,
                       depreciation_years=years, **finance)  # fmt: skip
    return evaluate(table(plant, today(), totals(subcontract_h=7.0)))["A1"]


def test_d19_automation_that_cuts_cost():
    """Ross et al., cost-cutting proposals (inputs seen, value 3,860 from memory): 80,000, saves 22,000 before tax.

    Straight line over 5 years, sold for 20,000 (a quarter), tax 34 %, 10 %. Tolerance 0.5: digits of the print.
    """
    result = built(80_000, 22_000, 5, tax_rate=0.34, residual_share=0.25, discount_rate=0.10)
    assert result.flows == pytest.approx((-80_000, 19_960, 19_960, 19_960, 19_960, 33_160))
    assert result.npv == pytest.approx(3_860.27, abs=0.5)
    assert result.irr.roots == pytest.approx((0.11738,), abs=5e-5)


@pytest.mark.parametrize(("inflation", "tax", "rate"), [(0.0, 0.0, 0.1199), (0.0, 0.46, 0.0672), (0.05, 0.46, 0.1018)])
def test_d26_inflation_hits_the_return_after_tax(inflation, tax, rate):
    """Newnan, Engineering Economic Analysis, Ex 14-9: 12,000, then 2,918 a year for 6 years in money of year 0.

    Straight line over 6 years, tax 46 %; nominal rates. Prices of the table hold in year 1, so the saving
    enters as 2,918 (1 + f). Tolerance 0.05 points: digits of the print.
    """
    result = built(12_000, 2_918 * (1 + inflation), 6, tax_rate=tax, price_growth=inflation)
    assert result.irr.roots == pytest.approx((rate,), abs=5e-4)
    if inflation:
        assert (1 + result.irr.roots[0]) / (1 + inflation) - 1 == pytest.approx(0.0494, abs=5e-4)
