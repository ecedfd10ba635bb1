"""What every figure of a cash-flow table rests on, in words: printed wherever the figures are.

:func:`conventions` is the short form, :func:`printed_rules` the whole method: with it, the inputs and the simulated
weekly amounts an outsider can build the cash by year anew.
"""

from __future__ import annotations

from typing import Any

from simkit.finance.costs import CATCH_UP_WEEKS
from simkit.finance.inputs import Prices
from simkit.finance.lines import LINES, UNTAXED, growth_rate
from simkit.finance.tax import LOSSES, depreciation_text
from simkit.finance.timeline import WEEKS_PER_YEAR
from simkit.plant.settings_money import Finance

StatedRule = tuple[str, str]
"""What a rule is about, and the rule."""

METHOD = {
    "Conventions": "{conventions}",
    "Amounts": "All amounts are differences from today at the same demand, positive when received. A weekly amount is "
    "the mean over replications of a total, over the weeks released; between simulated demand levels it is linear. A "
    "year reads its signed demand; a season reads it times the season's factor and has the season's weeks: {seasons}.",
    "Years": "Year 0 holds the first payment{waiting}; year y are the twelve months up to y years after the as-of "
    "date, to year {finance.horizon_years}. An option is in use from its lead time ({weeks_per_year:g} weeks a year) "
    "after the first payment: its yearly cost, labour, replacement and stock start then. Gains, losses, posts, "
    "training and installation stop of a set start with the longest lead time in it.",
    "Shares of a year": "In use: the part of the year after the start. Losses, cost and added posts count in full for "
    "it. Ramp: a gain counts {ramp_percent:g} % at the start, rising in a straight line to 100 % after "
    "{finance.ramp_months:g} months; a year takes the mean over its months. Posts and agency hours given up count for "
    "the part of the year after the ramp, and do not fade.",
    "Fading": "From one year after the start a gain loses (1 - persistence) of itself, for the part of the year that "
    "lies after it. Persistence: the least of the options in the set that fade. All of a gain fades if all options of "
    "the set do; else, line by line and item by item, the share that the fading options alone gain of it in their own "
    "simulation, from 0 to 1, or all of it if they were not simulated alone. Losses do not fade.",
    "Growth": "Prices hold in year 1; year y takes (1 + growth) to the power of y - 1. A purchase, the first or again, "
    "takes the growth of replacement once for each full year passed since the as-of date. {growths}.",
    "overtime": "overtime_h x rate of those who come x premium x weeks, spent by today less spent by the option, each "
    "at its own roster. Who comes: the people named for overtime, else all of the overtime shift and of those always "
    "there who have no duties elsewhere; their loaded rates are added up (the operator's, "
    "{money.operator_rate_per_h:g} {per_h}, if there is nobody). Premium: x {premium:g}.",
    "overrun": "person_overrun_h less x {money.operator_rate_per_h:g} {per_h} of the operator x {premium:g} x weeks.",
    "subcontract": "subcontract_h less x (invoice price {money.subcontract_per_h:g} {per_h} less energy and gas of an "
    "hour in house today) x weeks. That hour: (energy_kwh and gas_m3 at their prices) / (inhouse_h x sheets_in_span / "
    "sheets), of today at the demand of the year.",
    "Budget": "What today's cell spends on overtime, overrun or subcontract at the demand of today's book (factor 1, "
    "times the season; its own price there) is the budget B of that line and season. Of a change from S today to T "
    "with the option min(S, B) - min(T, B) is released cash, the rest avoided cost. Other lines are released whole.",
    "sales": "unmet_h less, at signed demand, x margin of {money.margin_per_h:g} {per_h} x weeks, in the class of "
    "capacity. No year reads demand that is only hoped for.",
    "Rules in force": "Counted are {value_rules}: of the lines of overtime, subcontract, sales and posts the gains of "
    "a rule that is not named do not count; losses always do.",
    "posts, posts_added, agency": "A scenario pays its own roster: weekly paid hours without breaks, duties elsewhere "
    "and calls to other cells, x loaded rate, hours between 22 and 6 x {night:g}, x production weeks. Released: people "
    "of today whom the option lacks, if the post is whole. Added, negative: new people; more hours of today's people "
    "at rate x {premium:g}. Agency: hours less or more at the cost of its hour. Parts of an own post are hours, not "
    "money.",
    "labour_overtime, labour_posts": "People of one shift and the same skills are a group (those on call are none). "
    "Paid hours: as above, less absence. Load: busy_h of its people in a mean week. Beyond: load less "
    "{limit_percent:g} % of paid hours, if above 0. The first {rules.overtime_cap_h_per_week:g} h a week cost the "
    "group's mean rate by paid hours x {premium:g}; the rest costs whole posts, rounded up, each of the group's mean "
    "weekly cost and carrying {limit_percent:g} % of its mean paid hours. Today's cost less the option's, x weeks.",
    "labour_by_others": "Less x rate x weeks of: preparation_h at {money.setter_rate_per_h:g} {per_h} and "
    "programming_h at {money.programmer_rate_per_h:g} {per_h}, in a roster without that skill; care_by_others_h at "
    "{money.operator_rate_per_h:g} {per_h}; on_call_h at {on_call:g} {per_h}.",
    "Scaling of consumption": "(today's amount x ratio - the option's) x price x weeks, so that equal work is "
    "compared. Ratio, option over today: of energy_kwh and gas_m3 the sheets_in_span; of material and scrap of a metal "
    "its parts (material_kg less scrap_kg); of all else parts_kg; 1 where it is not measured.",
    "energy, gas, regrinds, rework": "energy_kwh at {money.energy_per_kwh:g}, gas_m3 at {money.gas_per_m3:g}, "
    "tools_reground at {money.regrind_cost:g}, parts_reworked at {money.rework_cost_per_part:g} {unit}.",
    "tools": "tool_lives at {prices.tool_life_price:.12g} {unit}, the mean over tools of price / (regrinds it bears + "
    "1); tools_broken_expected at the mean price of a tool, {prices.tool_price:.12g} {unit}: probability times "
    "exposure, and the count of causes that are priced as counted.",
    "material, scrap": "Per metal lost_expected_kg, by the same rule (material_kg and scrap_kg where it is not "
    "measured): material at the sheet price, mean over today's kilograms at that demand; scrap at minus its credit, "
    "mean over thicknesses, as it is mixed today.",
    "parts_scrapped": "parts_scrapped x parts_kg / parts of today x the mean sheet price of all metals.",
    "Own prices": "Where an option changes a price of sheets, scrap or tools, all that the option uses x (today's "
    "price - its own) x weeks stands beside it.",
    "capital": "Price of each option: {stages}, {when}. Capital lines at the first payment, a line per bundle once at "
    "its dearest; the adjustment for combining if two or more are bought. A grant is a share of each stage of the "
    "price.",
    "replacement, residual": "An option with a life is bought again at its grown price, each life after its start "
    "while that lies before the horizon. Of the price last paid for it {left} is received at the horizon. Both without "
    "capital lines and grant. Without a life: neither.",
    "yearly_cost, named_labour": "Yearly lines, grown, for the part of the year in use; named hours at the setter's "
    "{setter:g} {per_h}, or the operator's if a setter has none.",
    "training, installation_stop": "In the year in which use starts: training of {finance.training:g} {unit} once per "
    "bought set, at the prices of the first payment; the longest stop and {others_percent:g} % of the others, in days "
    "of today's attended hours. They are made good by overtime of the crew with premium {catch_up}, the rest "
    "subcontracted at the invoice price, both at prices of that year.",
    "working_capital, stock, one_time": "Working capital is bound in the year of the start and comes back at the "
    "horizon; single amounts fall in the year of use that they name, 0 being the first payment.",
    "tax": "{tax_percent:g} % of the sum of each class in each year, without {untaxed}; of residual values on a line "
    "of its own; {losses}.",
    "depreciation": "Capital with its lines and adjustment, less grants, is written off from the year in which the "
    "set's use starts, a replacement from the year after it: {depreciation}. The tax rate of it is received.",
    "Figures": "Headline: released cash, single amounts and costs, each after tax; in a year in which avoided cost "
    "after tax, or the class of capacity after tax, is negative, that too. With avoided cost: that class whole, once. "
    "With signed sales: the class of capacity whole, once.",
}
"""Every rule of the table by what it is about; :func:`printed_rules` puts in the plant's values."""


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


def printed_rules(finance: Finance, prices: Prices) -> tuple[StatedRule, ...]:
    """Every rule between the simulated weekly amounts and the cash of a year, with the plant's values in force."""
    money, people, unit = prices.money, prices.people, prices.currency
    night = 1.0 + people.night_premium
    values: dict[str, Any] = {
        "finance": finance, "prices": prices, "money": money, "rules": prices.rules, "unit": unit, "per_h": f"{unit}/h",
        "premium": 1.0 + people.overtime_premium, "night": night, "on_call": money.operator_rate_per_h * night,
        "setter": money.setter_rate_per_h or money.operator_rate_per_h, "weeks_per_year": WEEKS_PER_YEAR,
        "ramp_percent": 100 * finance.ramp_start, "limit_percent": 100 * people.utilisation_limit,
        "others_percent": 100 * finance.stop_bundle_share, "tax_percent": 100 * finance.tax_rate,
        "conventions": "; ".join(conventions(finance)), "seasons": _seasons(finance), "growths": _growths(finance),
        "value_rules": ", ".join(finance.value_rules), "untaxed": ", ".join(UNTAXED), "losses": LOSSES[finance.losses],
        "depreciation": depreciation_text(finance), "catch_up": _catch_up(prices), **_payment(finance),
    }  # fmt: skip
    return tuple((about, rule.format_map(values)) for about, rule in METHOD.items())


def _payment(finance: Finance) -> dict[str, str]:
    """When the price of an option is paid, and what is left of it."""
    wait, dated, share = finance.start_after_years, finance.payments_at, finance.residual_share
    return {
        "waiting": f", but it is paid in year {wait}" if wait else "",
        "stages": ", ".join(f"{name} {100 * share:g} %" for name, share in finance.payments),
        "when": f"at {dated} of the lead time, in that year" if dated else "at the first payment",
        "left": f"{100 * share:g} % of it" if finance.residual_rule == "share" else "the part of its life that is left",
    }


def _seasons(finance: Finance) -> str:
    if not finance.season:
        return f"one of {finance.production_weeks:g} weeks at factor 1"
    return ", ".join(f"{weeks:g} weeks at {factor:g}" for weeks, factor in finance.season)


def _growths(finance: Finance) -> str:
    """Rates of growth with the lines that take them."""
    rates: dict[float, list[str]] = {}
    for name, line in LINES.items():
        if line.growth != "none" or name in finance.growth_of_lines:
            rates.setdefault(growth_rate(finance, name), []).append(name)
    return "; ".join(
        f"{100 * rate:g} % a year: {', '.join(names)}" for rate, names in sorted(rates.items(), reverse=True)
    )


def _catch_up(prices: Prices) -> str:
    if not prices.money.subcontract_per_h:
        return "whole"
    room = prices.rules.overtime_cap_h_per_week * CATCH_UP_WEEKS if prices.overtime_allowed else 0.0
    return f"up to {room:g} h (its weekly cap for {CATCH_UP_WEEKS:g} weeks, where overtime is allowed)"
