"""What options cost: capital, replacement, residual, training, installation stop, yearly cost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from simkit.finance.casearrays import PerCase, or_else
from simkit.finance.ledger import Ledger
from simkit.finance.lines import COST, NOT_MONETISED, ONE_TIME, price_level, purchase_level
from simkit.finance.roster import Roster
from simkit.finance.timeline import (
    SAME_TIME,
    payment_years,
    replacement_times,
    schedule_of,
    single_year,
    year_of,
)
from simkit.plant.options import Option, Outlay, outlays, price_in

CATCH_UP_WEEKS = 4.0
"""Weeks in which overtime makes good the hours lost to an installation (common practice, no source)."""


def add_costs(ledger: Ledger, today: Roster, start: PerCase) -> None:
    """Write all that the options of a set cost; ``start`` is the use of the whole set, years."""
    for outlay in outlays(ledger.options, ledger.case):
        _capital(ledger, outlay)
    for option in ledger.options:
        _renewal(ledger, option)
        _running(ledger, option)
        _stock(ledger, option)
    _start(ledger, today, start)


def _capital(ledger: Ledger, outlay: Outlay) -> None:
    """Capital by stage of payment: all at the first payment (cautious), or where the settings date the stages.

    A grant comes stage by stage with what it is for. A purchase that waits costs the grown price; capital lines fall
    with the first payment, those of a zero price too.
    """
    finance, option, price = ledger.finance, outlay.option, outlay.amount
    if outlay.line != "capital":
        if outlay.line == "capital_line" or np.any(price):
            paid = ((-price, f"{ledger.unit} {outlay.text}"), *_waited(ledger))
            item = "bundle" if outlay.shared else option.id
            ledger.single(outlay.line, finance.start_after_years, paid, owner=option.owner, item=item)
        return
    for stage, share, year in payment_years(finance, option.lead_weeks) if np.any(price) else ():
        at_stage, about = ((share, f"at {stage}"), *_waited(ledger)), {"owner": option.owner, "item": option.id}
        words = f"{ledger.unit} {ledger.case}"
        ledger.single("capital", year, ((-price, words), *at_stage), note=option.price_source, **about)
        if option.grant_share:
            given = ((price, words), *at_stage, (option.grant_share, "share granted"))
            ledger.single("grant", year, given, kind=ONE_TIME, **about)


def _waited(ledger: Ledger) -> tuple[tuple[PerCase, str], ...]:
    """Price growth of a purchase that waits for years; nothing if it is made at once."""
    years = ledger.finance.start_after_years
    grown = purchase_level(ledger.finance, years, years)
    return ((grown, f"price growth in {years} years of waiting"),) if years else ()


def _renewal(ledger: Ledger, option: Option) -> None:
    """Replacement at the end of a life shorter than the horizon, and the residual value of what has a life.

    Both are of the price of the option itself, without its capital lines and its grant; the residual value is a share
    of the price last paid.
    """
    finance, capital, life = ledger.finance, price_in(option.capital, ledger.case), option.life_years
    if life is None or not np.any(capital):
        return
    first, horizon, words = finance.start_after_years, finance.horizon_years, f"{ledger.unit} {ledger.case}"
    since, bought = schedule_of(finance, option.lead_weeks).start, purchase_level(finance, first, first)
    for time in replacement_times(since, life, horizon):
        again = time < horizon - SAME_TIME * life
        level = purchase_level(finance, time, year_of(time))
        ledger.add("replacement", ((-capital, words), (level, "price growth")), (ledger.years == year_of(time)) & again,
                   owner=option.owner, item=option.id, note=f"bought again after {life:g} years of use")  # fmt: skip
        since, bought = np.where(again, time, since), np.where(again, level, bought)
    left = (finance.residual_share, "residual share")
    if finance.residual_rule == "remaining_life":
        age = np.maximum(horizon - since, 0.0)
        left = (np.maximum(0.0, 1.0 - age / life), f"of a life of {life:g} years left")
    factors = ((capital, words), (bought, "price growth at purchase"), left)
    ledger.single("residual", horizon, factors, kind=ONE_TIME, owner=option.owner, item=option.id)


def _running(ledger: Ledger, option: Option) -> None:
    """Yearly cost and named labour of an option from its own start of use."""
    in_use = (schedule_of(ledger.finance, option.lead_weeks).in_use(ledger.years), "of the year in use")
    about = {"owner": option.owner, "item": option.id}
    yearly = [("yearly_cost", option.yearly_cost, "")] if np.any(option.yearly_cost) else []
    yearly += [(line.budget, price_in(line, ledger.case), f" {line.line}") for line in option.yearly_lines]
    for name, amount, text in yearly:
        grown = (ledger.level(name), "price growth")
        ledger.yearly(name, ((-amount, f"{ledger.unit}/year{text}"), grown, in_use), **about)
    if option.yearly_labour_h:
        money = ledger.prices.money
        rate = or_else(money.setter_rate_per_h, money.operator_rate_per_h)
        grown = (ledger.level("named_labour"), "wage growth")
        named = ((-option.yearly_labour_h, "h/year"), (rate, f"{ledger.unit}/h setter"), grown, in_use)
        ledger.yearly("named_labour", named, **about)


def _stock(ledger: Ledger, option: Option) -> None:
    """Stock bound (or freed) while in use and undone at the horizon, and amounts of a single year of use.

    Working capital comes back as the amount it was, without inflation; it sums to zero and is not taxed.
    """
    moment, end = schedule_of(ledger.finance, option.lead_weeks).start, ledger.finance.horizon_years
    start = np.minimum(np.where(moment > 0, year_of(moment), 0), end)
    if option.working_capital:
        for year, sign, text in ((start, -1.0, "bound with the start of use"), (end, 1.0, "undone at the horizon")):
            amount = sign * option.working_capital
            ledger.single("working_capital", year, ((amount, f"{ledger.unit} of stock {text}"),),
                          kind=ONE_TIME if amount >= 0 else COST, owner=option.owner, item=option.id)  # fmt: skip
    for line in option.once:
        name = "stock" if line.what == "stock" else "one_time"
        year = single_year(line.year, moment, ledger.finance)
        _single_amount(ledger, name, year, line.amount, f"once: {line.line}", line.owner or option.owner, option.id)


def _single_amount(ledger: Ledger, line: str, year: PerCase, amount: float, text: str, owner: str, item: str) -> None:
    """An amount of a single year. After the horizon what is paid counts at the horizon, what is received does not.

    A table that counted such an income early would flatter, one that dropped such a payment too; the row that does not
    count stays in the table and says so.
    """
    horizon, late = ledger.finance.horizon_years, year > ledger.finance.horizon_years
    for beyond in (False, True):
        factors, kind, note = [(amount, text)], ONE_TIME if amount >= 0 else COST, ""
        if beyond:
            note = f"falls in year {np.max(year)}, after the horizon"
            if kind == ONE_TIME:
                factors, kind = [*factors, (0.0, "counted")], NOT_MONETISED
        when = (ledger.years == np.minimum(year, horizon)) & (late == beyond)
        ledger.add(line, factors, when, kind=kind, owner=owner, item=item, note=note)


def _start(ledger: Ledger, today: Roster, start: PerCase) -> None:
    """Training once for a bought set, and the hours lost during installation, in the year use starts."""
    finance, options = ledger.finance, ledger.options
    year = np.minimum(year_of(start), finance.horizon_years)
    if finance.training and any(option.kind == "bought" for option in options):
        ledger.single("training", year, ((-finance.training, f"{ledger.unit} once"), *_waited(ledger)))
    hours, text = stop_hours([option.stop_days for option in options], finance.stop_bundle_share, today)
    if hours > 0:
        grown = (price_level(finance, "installation_stop", year), "price growth")
        for share_h, rate, how in _recovery(hours, today, ledger):
            factors = ((-share_h, f"h {text}"), (rate, f"{ledger.unit}/h {how}"), grown)
            ledger.single("installation_stop", year, factors, item=how.split()[0])


def stop_hours(stop_days: Iterable[float], bundle_share: float, today: Roster) -> tuple[float, str]:
    """Attended hours lost: the longest stop plus a share of the others, at today's hours of a working day."""
    days = sorted(stop_days)
    lost = days[-1] + bundle_share * sum(days[:-1]) if days else 0.0
    text = f"lost in {lost:.3g} working days of {today.attended_h_per_day:.4g} h (all of them, idle or not)"
    return lost * today.attended_h_per_day, text


def _recovery(hours: float, today: Roster, ledger: Ledger) -> Iterator[tuple[PerCase, PerCase, str]]:
    """How lost hours are made good: overtime up to its cap for some weeks, the rest given out."""
    prices = ledger.prices
    crew = or_else(today.crew_rate_per_h, prices.money.operator_rate_per_h) * (1.0 + prices.people.overtime_premium)
    outside = prices.money.subcontract_per_h
    room = prices.rules.overtime_cap_h_per_week * CATCH_UP_WEEKS if prices.overtime_allowed else 0.0
    by_overtime = np.where(outside > 0, np.minimum(hours, room), hours)
    for share_h, rate, how in (
        (by_overtime, crew, "overtime of the crew"),
        (hours - by_overtime, outside, "subcontracted"),
    ):
        if np.any(share_h > 0):
            yield share_h, rate, how
