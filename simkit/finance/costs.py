"""What options cost: capital, replacement, residual, training, installation stop, yearly cost."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from simkit.finance.cases import least, most
from simkit.finance.inputs import Prices
from simkit.finance.lines import COST, ONE_TIME, CashRow, Factor, basis_text, growth_rate, product
from simkit.finance.roster import Roster
from simkit.finance.timeline import (
    first_year_of_use,
    growth,
    payment_years,
    replacement_times,
    schedule_of,
    year_of,
)
from simkit.plant.options import CapitalLine, Option, Range, YearlyLine
from simkit.plant.settings_money import Finance

PriceCase = Literal["low", "quoted", "high"]

CATCH_UP_WEEKS = 4.0
"""Weeks in which overtime makes good the hours lost to an installation (common practice, no source)."""


def cost_row(
    scenario: str, year: int, line: str, factors: tuple[Factor, ...], owner: str, *,
    kind: str = COST, item: str = "", note: str = "",
) -> CashRow:  # fmt: skip
    """A row whose amount is the product of its factors; their numbers and units are its basis."""
    return CashRow(scenario, year, line, kind, product(factors), basis_text(factors, note), owner, item)


def _price(of: Range | CapitalLine | YearlyLine, case: PriceCase) -> float:
    if case == "high" and not isinstance(of, Range):
        return most(of.quoted, of.high)  # type: ignore[no-any-return]
    return getattr(of, case)  # type: ignore[no-any-return]


def capital_rows(scenario: str, options: tuple[Option, ...], prices: Prices, finance: Finance, case: PriceCase
                 ) -> list[CashRow]:  # fmt: skip
    """Capital by stage of payment: all at the first payment (cautious), or where the settings date the stages.

    A purchase that waits costs the grown price; capital lines fall with the first payment.
    """
    unit, first = prices.currency, finance.start_after_years
    waited = _waited(finance)
    rows = []
    for option in options:
        price = _price(option.capital, case)
        for stage, share, year in payment_years(finance, option.lead_weeks) if price else ():
            paid = ((-price, f"{unit} {case}"), (share, f"at {stage}"), *waited)
            rows.append(
                cost_row(scenario, year, "capital", paid, option.owner, item=option.id, note=option.price_source)
            )
        if option.grant_share and price:
            given = ((price, f"{unit} {case}"), (option.grant_share, "share granted"), *waited)
            rows.append(cost_row(scenario, first, "grant", given, option.owner, kind=ONE_TIME, item=option.id))
    for name, amount, owner, item in _lines(options, case):
        paid = ((-amount, f"{unit} {name}"), *waited)
        rows.append(cost_row(scenario, first, "capital_line", paid, owner, item=item))
    bought = [option for option in options if option.kind == "bought"]
    for option in bought if len(bought) > 1 else ():
        if option.bundle_adjustment:
            extra = ((-option.bundle_adjustment, f"{unit} when combined with another bought option"), *waited)
            rows.append(cost_row(scenario, first, "bundle_adjustment", extra, option.owner, item=option.id))
    return rows


def _waited(finance: Finance) -> tuple[Factor, ...]:
    """Price growth of a purchase that waits for years; nothing if it is made at once."""
    years = finance.start_after_years
    rate = growth_rate(finance, "replacement")
    return (((1.0 + rate) ** years, f"price growth in {years} years of waiting"),) if years else ()


def _lines(options: tuple[Option, ...], case: PriceCase) -> list[tuple[str, float, str, str]]:
    """Capital lines as (name, amount, owner, item); a bundle line once, at the dearest of its prices."""
    single: list[tuple[str, float, str, str]] = []
    bundle: dict[str, tuple[str, float, str, str]] = {}
    for option in options:
        for line in option.capital_lines:
            amount = _price(line, case)
            if line.per == "option":
                single.append((line.line, amount, option.owner, option.id))
            elif line.line not in bundle or amount > bundle[line.line][1]:
                bundle[line.line] = (line.line, amount, option.owner, "bundle")
    return [*single, *bundle.values()]


def renewal_rows(scenario: str, options: tuple[Option, ...], prices: Prices, finance: Finance, case: PriceCase
                 ) -> list[CashRow]:  # fmt: skip
    """Replacement at the end of a life shorter than the horizon, and the residual value of what has a life."""
    rows = []
    horizon, unit = finance.horizon_years, prices.currency
    for option in options:
        capital = _price(option.capital, case)
        if option.life_years is None or not capital:
            continue
        last, since = 0, schedule_of(finance, option.lead_weeks).start
        for time in replacement_times(since, option.life_years, horizon):
            last, since = year_of(time), time
            grown = growth(growth_rate(finance, "replacement"), last)
            factors = ((-capital, f"{unit} {case}"), (grown, "price growth"))
            note = f"bought again after {option.life_years:g} years of use"
            rows.append(cost_row(scenario, last, "replacement", factors, option.owner, item=option.id, note=note))
        bought = growth(growth_rate(finance, "replacement"), last or finance.start_after_years + 1)
        left = ((capital, f"{unit} {case}"), (bought, "price growth at purchase"),
                _residual_factor(finance, horizon - since, option.life_years))  # fmt: skip
        rows.append(cost_row(scenario, horizon, "residual", left, option.owner, kind=ONE_TIME, item=option.id))
    return rows


def _residual_factor(finance: Finance, age_years: float, life_years: float) -> Factor:
    """Share of the last purchase that is left at the horizon, by the rule of the settings."""
    if finance.residual_rule == "share":
        return finance.residual_share, "residual share"
    return most(0.0, 1.0 - most(age_years, 0.0) / life_years), f"of a life of {life_years:g} years left"


def stock_rows(scenario: str, options: tuple[Option, ...], prices: Prices, finance: Finance) -> list[CashRow]:
    """Stock bound (or freed) while in use and undone at the horizon, and amounts of a single year of use.

    Working capital comes back as the amount it was, without inflation; it sums to zero and is not taxed.
    """
    rows, unit = [], prices.currency
    for option in options:
        moment = schedule_of(finance, option.lead_weeks).start
        start = year_of(moment) if moment > 0 else 0
        if option.working_capital and start <= finance.horizon_years:
            end = finance.horizon_years
            for year, sign, text in ((start, -1.0, "bound with the start of use"), (end, 1.0, "undone at the horizon")):
                amount = ((sign * option.working_capital, f"{unit} of stock {text}"),)
                kind = ONE_TIME if sign * option.working_capital >= 0 else COST
                rows.append(
                    cost_row(scenario, year, "working_capital", amount, option.owner, kind=kind, item=option.id)
                )
        for line in option.once:
            in_use = first_year_of_use(moment) + line.year - 1
            year = finance.start_after_years if line.year == 0 else in_use
            if year > finance.horizon_years:
                continue
            name = "stock" if line.what == "stock" else "one_time"
            kind = ONE_TIME if line.amount >= 0 else COST
            amount = ((line.amount, f"once: {line.line}"),)
            rows.append(cost_row(scenario, year, name, amount, line.owner or option.owner, kind=kind, item=option.id))
    return rows


def running_rows(
    scenario: str, options: tuple[Option, ...], prices: Prices, finance: Finance, case: PriceCase
) -> list[CashRow]:
    """Yearly cost and named labour of each option from its own start of use."""
    rows = []
    rate = prices.money.setter_rate_per_h or prices.money.operator_rate_per_h
    unit = prices.currency
    for option in options:
        use = schedule_of(finance, option.lead_weeks)
        for year in range(1, finance.horizon_years + 1):
            in_use = (use.in_use(year), "of the year in use")
            yearly = [("yearly_cost", option.yearly_cost, "")] if option.yearly_cost else []
            yearly += [(line.budget, _price(line, case), f" {line.line}") for line in option.yearly_lines]
            for name, amount, text in yearly:
                grown = (growth(growth_rate(finance, name), year), "price growth")
                factors = ((-amount, f"{unit}/year{text}"), grown, in_use)
                rows.append(cost_row(scenario, year, name, factors, option.owner, item=option.id))
            if option.yearly_labour_h:
                named = ((-option.yearly_labour_h, "h/year"), (rate, f"{unit}/h setter"),
                         (growth(growth_rate(finance, "named_labour"), year), "wage growth"), in_use)  # fmt: skip
                rows.append(cost_row(scenario, year, "named_labour", named, option.owner, item=option.id))
    return rows


def start_rows(
    scenario: str, options: tuple[Option, ...], today: Roster, prices: Prices, finance: Finance, start: float
) -> list[CashRow]:
    """Training once for a bought set, and the hours lost during installation, in the year use starts."""
    year, unit = year_of(start), prices.currency
    owner = owners(options)
    rows = []
    if finance.training and any(option.kind == "bought" for option in options):
        rows.append(cost_row(scenario, year, "training", ((-finance.training, f"{unit} once"),), owner))
    hours, text = stop_hours([option.stop_days for option in options], finance.stop_bundle_share, today)
    if hours > 0:
        for share_h, rate, how in _recovery(hours, today, prices):
            factors = ((-share_h, f"h {text}"), (rate, f"{unit}/h {how}"))
            rows.append(cost_row(scenario, year, "installation_stop", factors, owner, item=how.split()[0]))
    return rows


def stop_hours(stop_days: Iterable[float], bundle_share: float, today: Roster) -> tuple[float, str]:
    """Attended hours lost: the longest stop plus a share of the others, at today's hours of a working day."""
    days = sorted(stop_days)
    lost = days[-1] + bundle_share * sum(days[:-1]) if days else 0.0
    text = f"lost in {lost:.3g} working days of {today.attended_h_per_day:.4g} h (all of them, idle or not)"
    return lost * today.attended_h_per_day, text


def _recovery(hours: float, today: Roster, prices: Prices) -> list[tuple[float, float, str]]:
    """How lost hours are made good: overtime up to its cap for some weeks, the rest given out."""
    crew = (today.crew_rate_per_h or prices.money.operator_rate_per_h) * (1.0 + prices.people.overtime_premium)
    outside = prices.money.subcontract_per_h
    room = prices.rules.overtime_cap_h_per_week * CATCH_UP_WEEKS if prices.overtime_allowed else 0.0
    by_overtime = least(hours, room) if outside > 0 else hours
    shares = [(by_overtime, crew, "overtime of the crew"), (hours - by_overtime, outside, "given out")]
    return [share for share in shares if share[0] > 0]


def owners(options: tuple[Option, ...]) -> str:
    """Owners of options, each once."""
    return "; ".join(dict.fromkeys(option.owner for option in options if option.owner))
