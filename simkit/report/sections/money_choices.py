"""Sections about choices around a purchase: what first, now or later, how paid, and measures beside the headline."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.finance.buying import BuyingPath, buying_paths, cost_of_waiting, offers_of
from simkit.finance.supplementary import supplementary, ways_for
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.moneystudy import MoneyStudy
from simkit.report.words import money, number, percent, plural, plus_minus, signed, years

BUYING_YEARS = 3
"""Years over which purchases are spread where no budgets are given (common practice, no source)."""


def main_cases(cash: MoneyStudy) -> list[str]:
    """The package, and of those to be recommended the bought set and the case with the highest value."""
    best = cash.best(cash.results)
    names = [r.scenario for r in (cash.package, cash.best_bought) if r is not None]
    return list(dict.fromkeys([*names, *([best.name] if best else [])]))


def buying_order(cash: MoneyStudy) -> Block:
    """What to buy first, and next, under the budgets of the plant: the best path for each first step."""
    budgets = cash.cashflow.finance.capital_budgets
    offers = offers_of(
        cash.study.plant, cash.today, cash.others, [r.scenario for r in cash.recommendable],
        max(len(budgets), BUYING_YEARS), results=cash.study.results,
    )  # fmt: skip
    paths = buying_paths(offers, budgets) if offers.value else ()
    if not any(path.value > 0 for path in paths):
        return paragraph("No simulated set is worth buying at any of these dates; nothing is the best order.")
    rows = [_path_row(cash, path) for path in paths[:8]]
    currency = cash.study.currency
    limit = "without a budget limit" if not budgets else "with " + ", ".join(
        f"{number(budget, 0)} in year {year}" for year, budget in enumerate(budgets)
    )  # fmt: skip
    title = f"First {cash.study.named(paths[0].first)}: the best order is worth {money(paths[0].value, currency)}"
    if not paths[0].steps:
        title = "No order of buying is surely worth more than to buy nothing: the best first, by value"
    columns = ["bought first", "then", f"capital, {currency}", f"value of the path, {currency}",
               f"regret of stopping after the first, {currency}", f"regret against no limit, {currency}"]  # fmt: skip
    return table(title, columns, rows, words=[0], note=(
        f"Headline, {limit}; what is left of a budget is kept. Each set is valued as first paid in its year, to the "
        "same end of the horizon; only simulated sets that can be recommended count, single options are never added "
        "up. What is bought stays: the last two columns say before signing what is missed. One path for each first "
        "step; the first is the cheapest of those that the replications cannot tell from the best."))  # fmt: skip


def _path_row(cash: MoneyStudy, path: BuyingPath) -> Row:
    at_once = bool(path.steps) and path.steps[0].year == 0
    first = cash.study.named(path.first) if at_once else "nothing at first"
    later = path.steps[1:] if at_once else path.steps
    then = "; ".join(f"year {step.year}: {'+'.join(step.added)}" for step in later) or "nothing"
    cells = (
        then,
        number(path.capital, 0),
        number(path.value, 0),
        number(path.regret_of_stopping(1 if at_once else 0), 0),
        number(path.regret, 0),
    )
    return Row(first, cells, "lost" if path.value < 0 else "")


def waiting(cash: MoneyStudy) -> Block:
    """What a start one year later is worth against a start now, for the main cases."""
    names = main_cases(cash)
    if not names:
        return paragraph("There is no case to wait with.")
    found = cost_of_waiting(cash.study.plant, cash.today, cash.others, names)
    rows = [
        Row(cash.study.named(name), (number(one.now, 0), number(one.later, 0), signed(one.gain, 0)),
            "lost" if one.gain < 0 else "")
        for name, one in found.items()
    ]  # fmt: skip
    head = found[names[-1]]
    currency = cash.study.currency
    columns = ["case", f"value of a start now, {currency}", f"value of a start in a year, {currency}",
               f"waiting gains, {currency}"]  # fmt: skip
    title = f"{cash.study.named(head.scenario)}: {head.text}"
    return table(title, columns, rows, note=(
        "Headline in money of today, over as many years of use, at the prices and signed demand of each date."
    ))  # fmt: skip


def ways_of_paying(cash: MoneyStudy) -> Block:
    """Loan and lease against cash, for the bought set with the highest value; apart from the investment."""
    result, financing = cash.best_bought, cash.study.plant.settings.financing
    ways = ways_for(cash.cashflow, result.scenario, financing) if result else ()
    if result is None or not ways:
        return paragraph("No loan and no lease is looked at: the section financing of plant.toml names no offer.")
    width = max(len(way.flows) for way in ways)
    rows = [
        Row(way.name, (signed(way.value, 0), *(number(v, 0) for v in way.flows), *["–"] * (width - len(way.flows))),
            "lost" if way.value < 0 else "")
        for way in ways
    ]  # fmt: skip
    after_tax = financing.borrowing_rate * (1 - cash.cashflow.finance.tax_rate)
    title = f"How {cash.study.named(result.scenario)} is paid is a decision of its own: {ways[0].text}"
    columns = [f"instead of cash, {result.currency}", "value today", *(f"year {y}" for y in range(width))]
    return table(title, columns, rows, note=(
        f"Cash of the way of paying less that of a purchase in cash, after tax, at {percent(after_tax, 2)} a year. "
        "The value of the investment is not in it. What may be deducted the controller says: no tax advice."
    ))  # fmt: skip


def beside_the_headline(cash: MoneyStudy) -> Block:
    """Ratios and static measures of the main cases, each with what it means."""
    names = main_cases(cash)
    found = [supplementary(cash.cashflow, name) for name in names]
    statics = [one.static for one in found]
    rows = [
        Row("savings to investment, after tax", _cells([one.savings_to_investment for one in found])),
        Row("adjusted internal rate, % a year", _cells([_percent(one.adjusted_rate.value) for one in found])),
        Row("benefit to cost, running cost below", _cells([one.benefit_cost for one in found])),
        Row("benefit to cost, running cost above", _cells([one.benefit_cost_modified for one in found])),
        Row("static: profit of a mean year", _cells([s.profit if s else None for s in statics], 0)),
        Row("static: return on mean capital, %",
            _cells([_percent(s.return_on_mean_capital) if s else None for s in statics])),
        Row("static: payback", tuple(years(s.payback_years) if s else "–" for s in statics)),
    ]  # fmt: skip
    title = f"{plural(len(rows), 'measure')} that stand beside the net present value and never choose"
    columns = [f"measure, {cash.study.currency} or ratio", *(cash.study.named(name) for name in names)]
    return table(title, columns, rows, note=(
        "Savings to investment and adjusted rate: 10 CFR 436.21 and 436.22. Static measures: a mean year before tax, "
        "write-off to the residual and interest on the mean capital; common practice, no source."))  # fmt: skip


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def _cells(values: Sequence[float | None], digits: int = 2) -> tuple[str, ...]:
    return tuple("–" if value is None else number(value, digits) for value in values)


def interactions(cash: MoneyStudy) -> Block:
    """Pairs of bought options: what both are worth together beyond the sum of each alone."""
    held = {frozenset(r): name for name, r in cash.study.run.scenarios.items() if name in cash.results}
    rows, less = [], 0
    for both, name in held.items():
        if len(both) == 2 and all(frozenset([one]) in held for one in both):
            first, second = (held[frozenset([one])] for one in sorted(both))
            extra = cash.beyond_the_sum(name, first, second)
            less += extra.mean < 0
            cells = tuple(number(cash.results[n].npv, 0) for n in (first, second, name))
            look = "" if extra.tells else "grey"
            rows.append(Row(f"{first} and {second}", (*cells, plus_minus(extra, 0, difference=True)), look))
    if not rows:
        return paragraph("No pair of options was simulated alone and together.")
    title = f"{less} of {plural(len(rows), 'pair')} are worth less together than the sum of both"
    unit = cash.study.currency
    columns = ["options", f"first alone, {unit}", f"second alone, {unit}", f"both, {unit}", f"beyond the sum, {unit}"]
    return table(
        title,
        columns,
        rows,
        note=("Headline. Options that save the same hours may not be added. Grey: not enough replications to tell."),
    )
