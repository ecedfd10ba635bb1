"""Guards against counting an amount twice: findings about a plant's money, all of them errors.

An hour or a mass that counts twice in the simulated totals is refused by :func:`simkit.finance.inputs.check_totals`;
a ramp that is simulated and paid for again by the check of stops. What is refused here stands in the inputs alone.
What has no price stands in no amount, and is said instead of a figure.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding, nearest, note
from simkit.finance.inputs import prices_of
from simkit.finance.lines import LINES, counts
from simkit.finance.riskinputs import pairs_of, range_findings
from simkit.finance.roster import roster_of
from simkit.finance.tax import shares_of
from simkit.finance.timeline import (
    WEEKS_PER_YEAR,
    demand_path,
    payment_years,
    schedule_of,
    single_year,
)
from simkit.plant.left_out_costs import TOPICS, contradicted
from simkit.plant.options import CapitalLine, Option, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_money import Finance, Financing
from simkit.plant.toml_files import both_readings

OPTIONS = "options.toml"
_NOT_CASH = {
    r"\bdepreciation|\bwrite-off|\bwritten off": "depreciation is not cash: the capital is paid already and the tax "
    "relief of its depreciation has a line of its own",
    r"\binterest|\bfinancing|\bloan|\blease": "the discount rate bears the cost of money already; ways of paying are "
    "judged apart, in the section financing",
    r"\boverhead|\ballocat": "allocated overhead is paid with and without the option",
    r"\bstudy\b": "what the study cost is paid already, whatever is decided",
}
"""What a line of cost must not be, by words of its text."""

_STOCK_COST = r"\bstock|\bcarrying|\binventory"
_SERVICE = r"\bservice contract|\bmaintenance contract|\bservice agreement"


def require_counted_once(plant: PlantInputs, finance: Finance, option_ids: Collection[str]) -> None:
    """Refuse options in which an amount would count twice. Raises :class:`BadInput` with all of them."""
    _refuse([
        *line_names(finance),
        *(finding for name in option_ids if name in plant.option_by_id
          for finding in double_counts(plant, plant.option_by_id[name])),
    ])  # fmt: skip


def require_sound_terms(finance: Finance) -> None:
    """Refuse a real rate on nominal flows, and a first payment that leaves no year. Raises :class:`BadInput`."""
    _refuse([*_one_basis(finance), *_first_payment(finance)])


def require_sound_money(plant: PlantInputs) -> None:
    """Refuse a plant whose money would be wrong, before anything is simulated. Raises :class:`BadInput`."""
    _refuse(money_findings(plant))


def _refuse(findings: Collection[Finding]) -> None:
    if findings:
        raise BadInput(findings)


def money_findings(plant: PlantInputs) -> tuple[Finding, ...]:
    """What is wrong about a plant's money: amounts counted twice or nowhere, unknown lines, mixed rates, bad stages."""
    finance = plant.settings.finance
    found: list[Finding] = [*line_names(finance), *range_findings(plant)]
    found += [*_one_basis(finance), *_first_payment(finance), *whole_seasons(finance)]
    found += [*_raised(payment_years, finance, 1.0), *_raised(shares_of, finance), *_raised(demand_path, finance)]
    found += [*_twice_in_a_year(finance), *_budgets(finance), *_lease(plant.settings.financing)]
    found += _raised(pairs_of, plant)
    for option in plant.options:
        found += [*double_counts(plant, option), *beyond_horizon(option, finance)]
    return tuple(found)


def _raised(check: Callable[..., object], *about: object) -> tuple[Finding, ...]:
    """What a rule that reads these inputs refuses them for."""
    try:
        check(*about)
    except BadInput as error:
        return error.findings
    return ()


def _one_basis(finance: Finance) -> Iterator[Finding]:
    """A real rate on nominal flows or the other way round."""
    if finance.rate_basis != finance.growth_basis:
        why = (
            f"the rate is {finance.rate_basis} and growth is {finance.growth_basis}: inflation would be counted in one "
            "and not in the other"
        )
        mend = "Give both with inflation (nominal) or both without (real)"
        yield Finding("plant.toml", why, mend, column="finance.rate_basis, finance.growth_basis")


def _first_payment(finance: Finance) -> Iterator[Finding]:
    """A first payment that is not before the horizon: no year would be left."""
    if finance.start_after_years >= finance.horizon_years:
        why = f"the first payment is {finance.start_after_years} years away, the horizon {finance.horizon_years} years"
        yield Finding("plant.toml", why, "Pay earlier or look further", column="finance.start_after_years")


def whole_seasons(finance: Finance) -> Iterator[Finding]:
    """Seasons that are not a year: weeks that do not sum to the production weeks, a mean factor that is not 1."""
    if not finance.season:
        return
    weeks = sum(part for part, _ in finance.season)
    mean = sum(part * factor for part, factor in finance.season) / weeks if weeks > 0 else 0.0
    problems = []
    if abs(weeks - finance.production_weeks) > 1e-6:
        problems.append(f"its weeks sum to {weeks:g}, production_weeks is {finance.production_weeks:g}")
    if abs(mean - 1.0) > 0.005:
        problems.append(f"its mean factor is {mean:.3f}, so that the year's demand would not be the book's")
    yield from (Finding("plant.toml finance.season", why, "Correct weeks or factors") for why in problems)


def beyond_horizon(option: Option, finance: Finance) -> Iterator[Finding]:
    """What of an option falls after the horizon, where no year is left for it.

    A table that is built all the same, as for a start some years later, pays it at the horizon and counts no income.
    """
    where, horizon = f"option {option.id}", finance.horizon_years
    start = schedule_of(finance, option.lead_weeks).start
    mend = "Look further ahead (finance.horizon_years), or begin earlier"
    if start >= horizon:
        why = f"is in use after {start:.1f} years, the horizon is {horizon} years: nothing that it brings would count"
        yield Finding(OPTIONS, why, mend, column=where)
        return
    last = finance.start_after_years + max(finance.payments_at, default=0.0) * option.lead_weeks / WEEKS_PER_YEAR
    if option.capital.high and last > horizon:
        why = f"its last stage is paid after {last:.1f} years, the horizon is {horizon} years"
        yield Finding(OPTIONS, why, mend, column=where)
    for line in option.once:
        year = single_year(line.year, start, finance)
        if year > horizon:
            why = f"falls in year {year}, the horizon is {horizon} years: it would count nowhere"
            yield Finding(OPTIONS, why, mend, column=f"{where} once", value=line.line)


def _twice_in_a_year(finance: Finance) -> Iterator[Finding]:
    """Two entries of demand of one kind for one year: only one of them would be read."""
    entries = [(entry.from_year, entry.signed) for entry in finance.demand]
    for year, signed in dict.fromkeys(entry for entry in entries if entries.count(entry) > 1):
        why = f"two entries of {'signed' if signed else 'hoped'} demand begin in the same year"
        yield Finding("plant.toml", why, "Keep one of them", column="finance.demand", value=f"from_year {year}")


def _budgets(finance: Finance) -> Iterator[Finding]:
    """Budgets of years in which nothing is bought any more."""
    if len(finance.capital_budgets) > finance.horizon_years:
        why = f"holds {len(finance.capital_budgets)} years, the horizon {finance.horizon_years}: the rest buys nothing"
        yield Finding("plant.toml", why, "Shorten the list or look further", column="finance.capital_budgets")


def _lease(financing: Financing) -> Iterator[Finding]:
    """A lease after which the device is kept, and that brings the lessor back less than its price."""
    total = financing.lease_rent_share * financing.lease_years + financing.lease_end_share
    if financing.lease_rent_share and financing.lease_then == "kept" and total < 1.0 - 1e-6:
        why = f"rents and end price of the lease sum to {100 * total:.1f} % of the price of what is kept after it"
        mend = f"Correct them; {both_readings(financing.lease_rent_share, 'share per year')}"
        yield Finding("plant.toml", why, mend, column="financing.lease_rent_share")


def line_names(finance: Finance) -> Iterator[Finding]:
    """Lines that the settings name and the cash-flow table has not, and growth of lines that do not grow."""
    named = [("growth_of_lines", line) for line in finance.growth_of_lines]
    named += [("budget_lines", entry.line) for entry in finance.budget_lines]
    for key, line in named:
        if line not in LINES:
            yield Finding(
                "plant.toml", "no such line of the cash-flow table", nearest(line, LINES), 0, f"finance.{key}", line
            )
        elif key == "growth_of_lines" and LINES[line].growth == "none":
            why = f"{LINES[line].title} is paid as quoted and does not grow, so that this does nothing"
            yield Finding("plant.toml", why, "Remove it", 0, f"finance.{key}", line)


def double_counts(plant: PlantInputs, option: Option) -> Iterator[Finding]:
    """Amounts of an option that another line, setting or edit holds already."""
    where = f"option {option.id}"
    yield from _not_cash(option, where)
    for name in contradicted(option):
        why = f"nothing_for says that {TOPICS[name].meaning} costs nothing, and a line gives it an amount"
        yield Finding(OPTIONS, why, "Keep one of them", column=where, value=name)
    yearly = [line for line in option.yearly_lines if line.quoted > 0]
    texts = [line.line.lower() for line in yearly]
    stock_moves = option.working_capital != 0 or any(line.what == "stock" for line in option.once)
    if stock_moves and any(re.search(_STOCK_COST, text) for text in texts):
        why = "the stock is counted as an amount and again as a yearly cost of carrying it"
        yield Finding(OPTIONS, why, "Keep one: the discount rate bears the cost of bound money", column=where)
    if option.working_capital != 0 and any(line.what == "stock" for line in option.once):
        why = "stock is counted in working_capital and again in once"
        yield Finding(OPTIONS, why, "Keep working_capital if it comes back at the horizon, once if not", column=where)
    has_service = option.yearly_cost > 0 or any(line.budget == "service" for line in yearly)
    for capital in option.capital_lines:
        if has_service and capital.quoted > 0 and re.search(_SERVICE, capital.line.lower()):
            why = "a service contract stands in the capital and in the yearly cost"
            yield Finding(OPTIONS, why, "Keep one of them", column=f"{where} capital line", value=capital.line)
    finance = plant.settings.finance
    if option.kind == "bought" and finance.training > 0:
        for capital in option.capital_lines:
            if capital.quoted > 0 and re.search(r"\btraining", capital.line.lower()):
                why = "training stands in the capital line and in finance.training, which is paid once per bought set"
                yield Finding(OPTIONS, why, "Keep one of them", column=f"{where} capital line", value=capital.line)
    if option.stop_days > 0 and any("closed" in f"{edit.path} {edit.value}" for edit in option.edits):
        why = "the installation stop is in stop_days and again as closed days of the simulated calendar"
        yield Finding(OPTIONS, why, "Keep stop_days, or close the days", column=where)


def _not_cash(option: Option, where: str) -> Iterator[Finding]:
    lines: tuple[CapitalLine | YearlyLine, ...] = (*option.capital_lines, *option.yearly_lines)
    for line in lines:
        for words, why in _NOT_CASH.items():
            if line.quoted > 0 and re.search(words, line.line.lower()):
                yield Finding(OPTIONS, why, "Take the line out", column=f"{where} line", value=line.line)


# --- what has no price ---


class UnvaluedEffect(NamedTuple):
    """An effect that is counted in no amount: what it is, what is missing, and the field to fill in."""

    effect: str
    missing: str
    field: str

    def __str__(self) -> str:
        """Return ``subcontracted hours: no price of an hour bought outside (money.subcontract_per_h)``."""
        return f"{self.effect}: {self.missing} ({self.field})"


def unvalued(plant: PlantInputs) -> tuple[UnvaluedEffect, ...]:
    """Effects of the plant's own overflow rules that have no price: none was entered, or 0."""
    return tuple(_unvalued(plant))


def not_valued(plant: PlantInputs) -> str:
    """A sentence that names what is in no amount for want of a price; empty where nothing is."""
    gaps = "; ".join(map(str, unvalued(plant)))
    return f"Not valued, and in no amount: {gaps}." if gaps else ""


def _unvalued(plant: PlantInputs) -> Iterator[UnvaluedEffect]:
    money, overflow, finance = plant.settings.money, plant.settings.overflow, plant.settings.finance
    paid = roster_of(plant).crew_rate_per_h or money.operator_rate_per_h
    if counts(finance, "overtime") and prices_of(plant).overtime_allowed and not paid:
        yield UnvaluedEffect("overtime", "nobody who comes has an hourly cost", "rate_per_h of people.csv")
    if counts(finance, "subcontract") and overflow.subcontract and not money.subcontract_per_h:
        yield UnvaluedEffect("subcontracted hours", "no price of an hour bought outside", "money.subcontract_per_h")
    if counts(finance, "sales") and overflow.refuse and not money.margin_per_h:
        yield UnvaluedEffect("orders refused", "no margin of an hour sold", "money.margin_per_h")


def idle_rates(plant: PlantInputs) -> Iterator[Finding]:
    """Notes of prices that value nothing, because nothing in this plant ever sets them off, and of the opposite."""
    settings = plant.settings
    money, overflow = settings.money, settings.overflow
    for gap in unvalued(plant):
        why = f"{gap.effect}: {gap.missing}, so that no amount holds it"
        yield note("plant.toml", why, "Fill it in", column=gap.field)
    for rule, field, price in (
        ("subcontract", "subcontract_per_h", money.subcontract_per_h), ("refuse", "margin_per_h", money.margin_per_h),
    ):  # fmt: skip
        if price and not getattr(overflow, rule):
            why = f"is a price of what never happens here, overflow.{rule} is false: freed hours save none of it"
            mend = f"Set overflow.{rule}, if the plant does so"
            yield note("plant.toml", why, mend, column=f"money.{field}", value=f"{price:g}")
    if overflow.overtime and not settings.calendar.overtime:
        why = "there is no window in which it could be worked (calendar.overtime)"
        yield note("plant.toml", why, "Add one, or set it to false", column="overflow.overtime", value="true")
