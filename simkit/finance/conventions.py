"""What every figure of a cash-flow table rests on, in words: printed wherever the figures are."""

from __future__ import annotations

from simkit.finance.tax import LOSSES, depreciation_text
from simkit.plant.settings_money import Finance


def conventions(finance: Finance) -> tuple[str, ...]:
    """What a cash-flow table rests on, in words."""
    timing = {
        "end_year": "flows of a year at its end",
        "mid_year": "flows of a year in its middle, the first payment undiscounted",
        "monthly": "flows of a year in twelve equal parts at the ends of months",
    }
    money = (
        "nominal money and rate"
        if finance.rate_basis == "nominal"
        else f"money of year 0 and a real rate, inflation {100 * finance.inflation:g} %"
    )
    stages = "stages of payment where they fall" if finance.payments_at else "all stages at the first payment"
    season = f"{len(finance.season)} seasons" if finance.season else "all production weeks alike"
    wait = finance.start_after_years
    waiting = [f"first payment {wait} years after the as-of date"] if wait else []
    return (timing[finance.timing], money, stages, LOSSES[finance.losses], depreciation_text(finance), season, *waiting)
