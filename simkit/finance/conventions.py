"""What every figure of a cash-flow table rests on, in words: printed wherever the figures are."""

from __future__ import annotations

from simkit.finance.tax import LOSSES, depreciation_text
from simkit.plant.settings_money import Finance


def conventions(finance: Finance) -> tuple[str, ...]:
    """What a cash-flow table rests on, in words."""
    timing = {
        "end_year": "flows of a year at its end",
        "mid_year": "flows of a year in its middle, the residual too, the first payment at its moment",
        "monthly": "flows of a year in twelve equal parts at the ends of months",
    }
    money = (
        "nominal money and rate, prices of the as-of date hold in year 1 and grow from year 2 on"
        if finance.rate_basis == "nominal"
        else "money of year 0 and a real rate, prices of the as-of date are money of year 0 and grow beyond inflation "
        f"from year 2 on, inflation {100 * finance.inflation:g} % a year from the as-of date on, read by what is "
        "nominal: depreciation, stages after the first payment, residual, stock and single amounts"
    )
    purchases = "a purchase costs the price of the as-of date grown once for each full year that has passed"
    after = "what is paid after the horizon counts at the horizon, single income after it does not count"
    stages = "stages of payment where they fall" if finance.payments_at else "all stages at the first payment"
    season = f"{len(finance.season)} seasons" if finance.season else "all production weeks alike"
    wait = finance.start_after_years
    waiting = [f"first payment {wait} years after the as-of date"] if wait else []
    return (
        timing[finance.timing], money, purchases, stages, after, LOSSES[finance.losses], depreciation_text(finance),
        season, *waiting,
    )  # fmt: skip
