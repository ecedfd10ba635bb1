"""What options cost: capital, replacement, residual, training, installation stop, yearly cost."""

from __future__ import annotations

from collections.abc import Iterable

from simkit.finance.cases import least, most
from simkit.finance.inputs import Prices
from simkit.finance.lines import (
    COST,
    NOT_MONETISED,
    ONE_TIME,
    CashRow,
    Factor,
    basis_text,
    price_level,
    product,
    purchase_level,
)
from simkit.finance.roster import Roster
from simkit.finance.timeline import (
    payment_years,
    replacement_times,
    schedule_of,
    single_year,
    year_of,
)
from simkit.plant.options import Option, PriceCase, outlays, price_in
from simkit.plant.settings_money import Finance

CATCH_UP_WEEKS = 4.0
"""Weeks in which overtime makes good the hours lost to an installation (common practice, no source)."""


def cost_row(
    scenario: str, year: int, line: str, factors: tuple[Factor, ...], owner: str, *,
    kind: str = COST, item: str = "", note: str = "",
) -> CashRow:  # fmt: skip
    """A row whose amount is the product of its factors; their numbers and units are its basis."""
    return CashRow(scenario, year, line, kind, product(factors), basis_text(factors, note), owner, item)


def capital_rows(scenario: str, options: tuple[Option, ...], prices: Prices, finance: Finance, case: PriceCase
                 ) -> list[CashRow]:  # fmt: skip
    """Capital by stage of payment: all at the first payment (cautious), or where the settings date the stages.

    A grant comes stage by stage with what it is for. A purchase that waits costs the grown price; capital lines fall
    with the first payment.
    """
    unit, first, waited = prices.currency, finance.start_after_years, _waited(finance)
    rows = []
    for outlay in outlays(options, case):
        option, price = outlay.option, outlay.amount
        if outlay.line == "capital" and price:
            rows += _staged(scenario, option, price, f"{unit} {case}", finance)
        elif outlay.line == "capital_line" or price:
            item = "bundle" if outlay.shared else option.id
            paid = ((-price, f"{unit} {outlay.text}"), *waited)
            rows.append(cost_row(scenario, first, outlay.line, paid, option.owner, item=item))
    return rows


def _staged(scenario: str, option: Option, price: float, unit: str, finance: Finance) -> list[CashRow]:
    """Purchase price of one option by stage, and the part of each stage that a grant bears."""
    rows = []
    for stage, share, year in payment_years(finance, option.lead_weeks):
        at_stage = ((share, f"at {stage}"), *_waited(finance))
        paid = ((-price, unit), *at_stage)
        rows.append(cost_row(scenario, year, "capital", paid, option.owner, item=option.id, note=option.price_source))
        if option.grant_share:
            given = ((price, unit), *at_stage, (option.grant_share, "share granted"))
            rows.append(cost_row(scenario, year, "grant", given, option.owner, kind=ONE_TIME, item=option.id))
    return rows


def _waited(finance: Finance) -> tuple[Factor, ...]:
    """Price growth of a purchase that waits for years; nothing if it is made at once."""
    years = finance.start_after_years
    return ((purchase_level(finance, years, years), f"price growth in {years} years of waiting"),) if years else ()


def renewal_rows(scenario: str, options: tuple[Option, ...], prices: Prices, finance: Finance, case: PriceCase
                 ) -> list[CashRow]:  # fmt: skip
    """Replacement at the end of a life shorter than the horizon, and the residual value of what has a life.

    Both are of the price of the option itself, without its capital lines and its grant; the residual value is a share
    of the price last paid.
    """
    rows = []
    horizon, unit = finance.horizon_years, prices.currency
    for option in options:
        capital = price_in(option.capital, case)
        if option.life_years is None or not capital:
            continue
        since = schedule_of(finance, option.lead_weeks).start
        bought = purchase_level(finance, finance.start_after_years, finance.start_after_years)
        for time in replacement_times(since, option.life_years, horizon):
            year, since = year_of(time), time
            bought = purchase_level(finance, time, year)
            factors = ((-capital, f"{unit} {case}"), (bought, "price growth"))
            note = f"bought again after {option.life_years:g} years of use"
            rows.append(cost_row(scenario, year, "replacement", factors, option.owner, item=option.id, note=note))
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
    rows, unit, end = [], prices.currency, finance.horizon_years
    for option in options:
        moment = schedule_of(finance, option.lead_weeks).start
        start = min(year_of(moment) if moment > 0 else 0, end)
        if option.working_capital:
            for year, sign, text in ((start, -1.0, "bound with the start of use"), (end, 1.0, "undone at the horizon")):
                amount = ((sign * option.working_capital, f"{unit} of stock {text}"),)
                kind = ONE_TIME if sign * option.working_capital >= 0 else COST
                rows.append(
                    cost_row(scenario, year, "working_capital", amount, option.owner, kind=kind, item=option.id)
                )
        for line in option.once:
            year = single_year(line.year, moment, finance)
            name, owner = "stock" if line.what == "stock" else "one_time", line.owner or option.owner
            rows.append(single_row(scenario, year, name, (line.amount, f"once: {line.line}"), owner, option.id, end))
    return rows


def single_row(
    scenario: str, year: int, line: str, amount: Factor, owner: str, item: str, horizon: int
) -> CashRow:  # fmt: skip
    """An amount of a single year. After the horizon what is paid counts at the horizon, what is received does not.

    A table that counted such an income early would flatter, one that dropped such a payment too; the row that does not
    count stays in the table and says so.
    """
    kind = ONE_TIME if amount[0] >= 0 else COST
    if year <= horizon:
        return cost_row(scenario, year, line, (amount,), owner, kind=kind, item=item)
    note = f"falls in year {year}, after the horizon"
    if kind == COST:
        return cost_row(scenario, horizon, line, (amount,), owner, kind=kind, item=item, note=note)
    factors = (amount, (0.0, "counted"))
    return cost_row(scenario, horizon, line, factors, owner, kind=NOT_MONETISED, item=item, note=note)


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
            yearly += [(line.budget, price_in(line, case), f" {line.line}") for line in option.yearly_lines]
            for name, amount, text in yearly:
                grown = (price_level(finance, name, year), "price growth")
                factors = ((-amount, f"{unit}/year{text}"), grown, in_use)
                rows.append(cost_row(scenario, year, name, factors, option.owner, item=option.id))
            if option.yearly_labour_h:
                named = ((-option.yearly_labour_h, "h/year"), (rate, f"{unit}/h setter"),
                         (price_level(finance, "named_labour", year), "wage growth"), in_use)  # fmt: skip
                rows.append(cost_row(scenario, year, "named_labour", named, option.owner, item=option.id))
    return rows


def start_rows(
    scenario: str, options: tuple[Option, ...], today: Roster, prices: Prices, finance: Finance, start: float
) -> list[CashRow]:
    """Training once for a bought set, and the hours lost during installation, in the year use starts."""
    year, unit = min(year_of(start), finance.horizon_years), prices.currency
    owner = owners(options)
    rows = []
    if finance.training and any(option.kind == "bought" for option in options):
        rows.append(
            cost_row(scenario, year, "training", ((-finance.training, f"{unit} once"), *_waited(finance)), owner)
        )
    hours, text = stop_hours([option.stop_days for option in options], finance.stop_bundle_share, today)
    if hours > 0:
        for share_h, rate, how in _recovery(hours, today, prices):
            grown = (price_level(finance, "installation_stop", year), "price growth")
            factors = ((-share_h, f"h {text}"), (rate, f"{unit}/h {how}"), grown)
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
