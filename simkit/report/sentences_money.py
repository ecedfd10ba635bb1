"""Sentences about money: titles and notes of tables and figures, written from numbers in one place."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.base.vocabulary import NO_SOURCE
from simkit.experiment.intervals import Estimate
from simkit.plant.settings_money import Finance
from simkit.report.sentences import amount
from simkit.report.words import capitalised, listing, money, number, percent, plural, plus_minus, years


def cases(above: int, sure: int, of: int, currency: str, finance: Finance, beyond: str) -> tuple[str, str]:
    """How many cases are worth more than nothing, and what the value of a case counts."""
    title = f"None of {plural(of, 'case')} is worth its money in released cash"
    if of == 1:
        title = f"The case is worth {'more than nothing' if above else 'no more than nothing'} in released cash"
    elif above:
        clearly = f"{sure or 'none'} of them clearly"
        title = f"{above} of {plural(of, 'case')} {'is' if above == 1 else 'are'} worth more than nothing, {clearly}"
    more = "" if not beyond else f" The extra over {beyond} is from the same replications."
    return title, (
        f"{currency}. Value: cash released and single amounts, less all costs, avoided cost that is lost and sales "
        f"lost; {percent(finance.discount_rate, 1)} {finance.rate_basis}, {finance.horizon_years} years, after tax at "
        f"{percent(finance.tax_rate)}, prices as quoted; ± from the replications, for all cases together at 95 %. The "
        "two other values stand beside it, never instead. Payback is from the first payment and says nothing about "
        f"profit. Worth at most: the capital that breaks even.{more}"
    )


def carried_title(case: str, npv: float, currency: str, brings: str, costs: str) -> str:
    """What carries the value of a case: the line that brings most, and the one that costs most."""
    named = ((brings, "most comes from"), (costs, "most goes to"))
    parts = [f"{verb} {name[:1].lower()}{name[1:]}" for name, verb in named if name]
    return "; ".join([f"{case} is worth {amount(npv, currency)}", *parts])


def yearly_title(case: str, total: float, currency: str) -> str:
    """What a case brings over all years."""
    return f"{case}: cash by line and year; the headline adds up to {money(total, currency)} before interest"


def traced_title(case: str, line: str, year: int, value: float, currency: str) -> str:
    """Which amount is followed."""
    if not line:
        return f"{case}: no amount comes from a single simulated measure that could be followed"
    return f"{line} of {case} in year {year}, {money(value, currency)}, followed from the simulated hours"


def owners_title(case: str, unnamed: int, of: int) -> str:
    """How many benefits have no budget of the plant's own."""
    if not unnamed:
        return f"{case}: each of {plural(of, 'benefit')} has a named budget of the plant"
    verb = "has" if unnamed == 1 else "have"
    return f"{case}: {unnamed} of {plural(of, 'benefit')} {verb} no budget of the plant that falls"


def terms(case: str, worth: Sequence[float], above: int, of: int, currency: str, source: str) -> tuple[str, str]:
    """How far the value of a case hangs on what an hour counts as, and how each other set of terms is meant."""
    low, high = min(worth), max(worth)
    range_ = (
        f"{amount(low, currency)}, whatever" if low == high else f"{amount(low)} to {amount(high, currency)}, by what"
    )
    title = f"{case} is worth {range_} a freed hour counts as; above zero under {above or 'none'} of {of} sets of terms"
    return title, (
        f"Value in {currency}, all else as quoted. The rule on sales shows the value with signed sales, which is not "
        "in the headline. The full-cost rate of a machine hour is never a saving. Published experience is no default: "
        f"{source}; its upper bound is for development, a machine from a catalogue lies near the lower one. A later "
        "start has as many years of use."
    )


def increments(taken: int, of: int, currency: str) -> tuple[str, str]:
    """How many cases are worth what they cost beyond the best so far, and how steps are compared."""
    are = "is worth its" if taken == 1 else "are worth their"
    title = f"In order of capital, {taken or 'none'} of {plural(of, 'step')} {are} extra over the best so far"
    note = "Extra capital and extra value of each case over the best so far, from the same replications."
    return title if of else "No case can be recommended, so that none is compared", f"{currency}. {note}"


def buying(first: str, value: float, budgets: Sequence[float], currency: str) -> tuple[str, str]:
    """What to buy first, and under which limits that order is the best."""
    best = f"First {first}: the best order of buying is worth {amount(value, currency)}"
    yearly = ", ".join(f"{number(budget, 0)} in year {year}" for year, budget in enumerate(budgets))
    limit = f"with {yearly}" if budgets else "without a limit of the budget"
    return best if first else "Nothing is worth buying at any of these dates; to buy nothing is the best order", (
        f"{currency}, {limit}. Each case is valued as first paid in its year, to the same end. Only simulated cases "
        "that can be recommended count; values are never added up. What is bought stays: regret says what is missed."
    )


def spread(p10: float, p90: float, loss: float, currency: str) -> str:
    """In which range a value lies."""
    return f"8 in 10 values lie between {amount(p10)} and {amount(p90, currency)}, {percent(loss)} below zero"


def spread_note(condition: str, samples: int, times: Sequence[str]) -> str:
    """Under which conditions a range of values holds."""
    held = f"times in the ranges: {', '.join(times)}" if times else "no time of an element is in the ranges"
    return (
        f"{number(samples, 0)} samples of all ranges together. All this {condition}; {held}. The expected value "
        "differs from that as quoted where ranges reach further to one side, or where a cap cuts one side."
    )


def turns(case: str, inside: int, of: int, reach: float, growth: float) -> tuple[str, str]:
    """How many inputs can turn the result within their own range, and how a turning value was looked for."""
    return f"{inside or 'None'} of {plural(of, 'input')} can turn the result of {case} within its own range", (
        "Value zero at: with this input changed alone. Empty: nowhere between 0 and "
        f"{reach:g} times the typical value, for growth up to {100 * growth:g} points from it ({NO_SOURCE}); demand as "
        "far as it was simulated."
    )


def promised(reached: int, of: int) -> tuple[str, str]:
    """How many promises can bring their case to a value of zero, and how a promise is told and proved."""
    title = f"{reached or 'None'} of {plural(of, 'promise')} can bring a case to a value of zero"
    return title if of else "No option that was simulated rests on a supplier's promise", (
        "Zero at: what must be kept to for a value of zero; empty: no keeping brings it there. Perfect: kept to 0. "
        "Proof at acceptance: the plant's own programs, counted by the machine's log. Slopes are from at "
        "most 4 replications of 4 weeks: small changes may be chance. A promise of hours at night "
        "needs the unattended running assessed by the plant first; nothing here declares it safe."
    )


def moved_title(case: str, title: str, low: float, high: float, currency: str) -> str:
    """Which input moves the value of a case most."""
    return f"{capitalised(title)} moves {case} most: from {amount(low)} to {amount(high, currency)}"


def paid_back_title(paid: Sequence[tuple[str, float]]) -> str:
    """Which cases are paid back, the quickest first."""
    back = [(time, name) for name, time in paid if time == time]
    if not back:
        return "No case pays back within the years looked at"
    time, name = min(back)
    rest = len(paid) - len(back)
    more = f"; {rest} of {plural(len(paid), 'case')} never" if rest else ""
    return f"{name} is paid back after {years(time)}{more}" if time else f"{name} has nothing to pay back{more}"


def demand_title(pays: Sequence[tuple[str, float]], low: float, high: float) -> str:
    """From which demand cases pay; not a number: nowhere between the simulated ends."""
    if low == high:
        return f"The cases were simulated at demand {low:g} alone"
    known = [(name, at) for name, at in pays if at == at]
    if not known:
        return f"Between demand {low:g} and {high:g} no case passes zero"
    name, at = known[0]
    more = f", {len(known) - 1} more" if len(known) > 1 else ""
    return f"{name} breaks even at demand {at:.3g}{more} between {low:g} and {high:g}"


def refusing_instead(more: float, margin: float, currency: str) -> str:
    """Say that an hour refused would lose less than one given out costs beyond making it in house."""
    return (
        f"Subcontracting an hour costs {number(more)} {currency}/h more than making it, refusing it loses a margin of "
        f"{number(margin)} {currency}/h: refusing loses less. What a customer lost costs is not counted."
    )


def terms_in_short(of: int, today: str, rules: Sequence[str], finance: Finance) -> str:
    """On which terms an answer rests."""
    return (
        f"{plural(of, 'case')} against {today}, {percent(finance.discount_rate)} a year over {finance.horizon_years} "
        f"years, after tax. Freed hours count as {listing(rules)}."
    )


def worth(case: str, capital: float, npv: Estimate, sure: bool, payback: float, avoided: float | None) -> str:
    """What a case costs and is worth; ``avoided`` is the share of avoided cost in its benefit."""
    costs = f"costs {money(capital, npv.unit)}" if capital else "costs nothing to buy"
    doubt = "" if sure else ", which cannot be told from nothing"
    share = (
        "" if not avoided or avoided > 1 else f" {percent(avoided)} of its benefit is avoided cost, not released cash."
    )
    return (
        f"{capitalised(case)} {costs} and is worth {plus_minus(npv, difference=True)} {npv.unit}{doubt}; paid back: "
        f"{years(payback)}.{share}"
    )


def turns_in_short(title: str, unit: str, flip: float, typical: float, within: bool) -> str:
    """Which input turns a result first; ``flip`` is not a number where none does, ``within`` its own range or not."""
    if flip != flip:
        return "No single input turns it."
    if within:
        return f"It turns if the {title} passes {_short(flip)} ({unit}; now {_short(typical)}), which its range allows."
    return (
        f"No single input turns it within its range; the {title} would have to pass {_short(flip)} "
        f"({unit}; now {_short(typical)})."
    )


def _short(value: float) -> str:
    """A value of an input with three significant places."""
    return amount(value) if abs(value) >= 100 else number(value)
