"""Settings of ``plant.toml`` about money: prices, demand by year, the cash-flow table, ways of paying.

A planning aid: no tax or investment advice.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from simkit.plant.settings_base import Amount, GrowthRate, Multiple, OurDay, Price, Section, Share

LossRule = Literal["used_at_once", "carried_forward", "lost"]
PriceBasis = Literal["nominal", "real"]


def _percent_of_the_cost(percent: tuple[float, ...]) -> tuple[float, ...]:
    """Refuse a table of depreciation that holds fractions, or more than the cost. Raises ``ValueError``."""
    total = sum(percent)
    if percent and max(percent) <= 1.0:
        raise ValueError(f"writes off {total:g} % of the cost; if fractions are meant, {percent[0]:g} is "
                         f"{100 * percent[0]:g} %: write {100 * percent[0]:g}")  # fmt: skip
    if total > 100.0 + 1e-6:
        raise ValueError(f"sums to {total:g} %, more than the cost")
    return percent


class Money(Section):
    """Prices of what the cell uses, and what freed hours are worth."""

    energy_per_kwh: Price = Field(default=0.17, description="energy, money/kWh")
    gas_per_m3: Price = Field(default=0.24, description="assist gas, money/m3")
    subcontract_per_h: Price = Field(default=0.0, description="price of a machine hour bought outside, money/h")
    margin_per_h: Price = Field(default=0.0, description="contribution margin of a sold hour, money/h")
    bench_rate_per_h: Price = Field(default=0.0, description="loaded cost of bench work, money/h")
    setter_rate_per_h: Price = Field(default=0.0, description="loaded cost of a setter, money/h")
    programmer_rate_per_h: Price = Field(default=0.0, description="loaded cost of programming, money/h")
    operator_rate_per_h: Price = Field(default=0.0, description="loaded cost of an operator, money/h")
    regrind_cost: Price = Field(default=0.0, description="one regrind, money")
    rework_cost_per_part: Price = Field(
        default=0.0,
        description="what a reworked part costs besides the hours of people, as abrasives or a new coat, money/part",
    )  # fmt: skip


class DemandYear(Section):
    """Demand from a year on, as a factor of the book."""

    from_year: int = Field(ge=1, le=40, description="first year")
    factor: Multiple = Field(description="demand as a factor of the book")
    signed: bool = Field(default=True, description="signed; unsigned demand is never counted in the headline")


class BudgetLine(Section):
    """A budget that falls or rises: which amounts move it, its name in the books, who answers for it."""

    line: str = Field(description="line of the cash-flow table, as overtime, subcontract, energy")
    account: str = Field(description="name of the budget in the plant's own books")
    owner: str = Field(default="", description="who answers for the budget")
    falls_from: OurDay | None = Field(default=None, description="date from which it is planned lower; none: not yet")


class Finance(Section):
    """Settings of the cash-flow table. A planning aid: no tax or investment advice."""

    value_rules: tuple[Literal["overtime", "subcontract", "sales", "posts", "hours_only"], ...] = Field(
        default=("overtime", "subcontract", "sales", "posts"), description="which values of freed hours are counted"
    )
    discount_rate: float = Field(default=0.09, gt=-1, lt=1, description="fraction per year, as rate_basis says")
    rate_basis: PriceBasis = Field(default="nominal", description="whether the discount rate contains inflation")
    growth_basis: PriceBasis = Field(
        default="nominal", description="whether wage and price growth contain inflation; must equal rate_basis"
    )
    inflation: GrowthRate = Field(
        default=0.0,
        description="general inflation, fraction per year; read with real rates alone: depreciation is nominal",
    )  # fmt: skip
    horizon_years: int = Field(default=8, ge=1, le=40, description="years looked at")
    timing: Literal["end_year", "mid_year", "monthly"] = Field(
        default="end_year", description="when a year's flows fall; monthly: twelve equal parts at the ends of months"
    )
    start_after_years: int = Field(
        default=0, ge=0, le=20, description="years from the as-of date to the first payment: the cost of waiting"
    )
    wage_growth: GrowthRate = Field(default=0.03, description="fraction per year")
    price_growth: GrowthRate = Field(default=0.025, description="fraction per year")
    growth_of_lines: dict[str, GrowthRate] = Field(
        default={}, description="growth of single lines of the cash-flow table, fraction per year; wins over the others"
    )
    tax_rate: float = Field(default=0.22, ge=0, lt=1, description="fraction of profit")
    losses: LossRule = Field(
        default="used_at_once",
        description="taxable losses: relief at once against profit elsewhere, against later profit, or none",
    )
    depreciation: Literal["straight_line", "declining_balance", "sum_of_years", "table"] = Field(
        default="straight_line", description="declining balance changes to straight line when that is more"
    )
    depreciation_years: int = Field(default=8, ge=1, le=50, description="years written off; a table has its own")
    depreciation_factor: float = Field(default=2.0, gt=0, le=4, description="declining balance: factor over the life")
    depreciation_table: str = Field(default="", description="name of a published table, as macrs_7")
    depreciation_percent: Annotated[
        tuple[Annotated[float, Field(ge=0, le=100)], ...], AfterValidator(_percent_of_the_cost)
    ] = Field(default=(), description="own table: percent of the cost by year of use; wins over the others")
    residual_share: Share = Field(
        default=0.1, description="share of the price last paid for the option itself that is left at the horizon"
    )
    residual_rule: Literal["share", "remaining_life"] = Field(
        default="share",
        description="share: residual_share of the last purchase; remaining_life: its price times the part of its life "
        "that is left at the horizon",
    )
    ramp_start: Share = Field(default=0.6, description="share of the benefit at acceptance")
    ramp_months: float = Field(default=6.0, ge=0, le=120, description="months until the full benefit")
    production_weeks: float = Field(default=47.0, gt=0, le=53, description="production weeks a year")
    season: tuple[tuple[Annotated[float, Field(gt=0, le=53)], Annotated[float, Field(ge=0, le=10)]], ...] = Field(
        default=(),
        description="production weeks a year at a factor of the year's demand, [weeks, factor]; the weeks sum to "
        "production_weeks, the mean factor is 1; none: all weeks alike",
    )
    payments: tuple[tuple[str, Share], ...] = Field(
        default=(("order", 0.6), ("delivery", 0.3), ("acceptance", 0.1)), description="stages and shares, sum 1"
    )
    payments_at: tuple[Annotated[float, Field(ge=0, le=10)], ...] = Field(
        default=(),
        description="when each stage is paid, as a share of the lead time: 0 order, 1 start of use; none: all at the "
        "first payment (cautious)",
    )
    training: Amount = Field(default=0.0, description="one-time training per bought set, money")
    stop_bundle_share: Share = Field(default=0.3, description="share of shorter installation stops added")
    demand: tuple[DemandYear, ...] = Field(default=(DemandYear(from_year=1, factor=1.0),), description="demand path")
    capital_budgets: tuple[Amount, ...] = Field(
        default=(), description="capital that may be spent in year 0, 1, ...; what is left is kept; none: no limit"
    )
    budget_lines: tuple[BudgetLine, ...] = Field(default=(), description="budgets that the amounts move, by name")


class Financing(Section):
    """Ways of paying, judged apart from the investment. No tax or investment advice."""

    borrowing_rate: float = Field(
        default=0.06, ge=0, lt=1, description="what the firm pays its bank before tax, fraction per year, nominal"
    )
    loan_share: Share = Field(
        default=0.0, description="share of the capital, less its grant, on loan; 0: no loan looked at"
    )
    loan_rate: float = Field(default=0.06, ge=0, lt=1, description="rate of the loan offered, fraction per year")
    loan_years: int = Field(default=5, ge=1, le=40, description="years of the loan, level payments")
    lease_rent_share: Share = Field(
        default=0.0, description="yearly rent as a share of the capital, less its grant; 0: no lease looked at"
    )
    lease_years: int = Field(default=5, ge=1, le=40, description="years of the lease")
    lease_end_share: Share = Field(
        default=0.0, description="price of keeping the device after the lease, as a share of the capital"
    )
    lease_in_advance: bool = Field(default=True, description="rents at the start of each year")
    lease_then: Literal["kept", "returned"] = Field(
        default="kept", description="after the lease: kept for lease_end_share, or returned with its residual value"
    )
