"""Sections about money: every figure is read from the one cash-flow table. No tax or investment advice."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import pandas as pd

from simkit.experiment.intervals import CANNOT_TELL, Estimate
from simkit.finance.evaluate import MoneyResult, incremental_chain
from simkit.finance.figures import lost
from simkit.finance.lines import LINES, NOT_MONETISED, CashRow
from simkit.finance.measures import IncrementalStep
from simkit.finance.tax import depreciation_text
from simkit.finance.timeline import demand_path, present_value
from simkit.finance.unvalued import not_valued
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import cumulative_cash
from simkit.report.moneystudy import MoneyStudy
from simkit.report.sections.answers import answer, open_sign
from simkit.report.sections.money_method import RECOMMENDED, refusing_instead
from simkit.report.sections.risk import risk_sentences
from simkit.report.words import listing, money, number, percent, plural, plus_minus, shortened, years

RULE_WORDS = {
    "overtime": "overtime avoided",
    "subcontract": "subcontract avoided",
    "sales": "extra sales of signed demand",
    "posts": "whole posts only",
    "hours_only": "nothing: hours stay hours",
}
CLASS_WORDS = {
    "cash_releasing": "cash released",
    "one_time": "single amounts",
    "cost": "paid",
    "cost_avoided": "cost avoided",
    "capacity": "sales",
    "not_monetised": "not money",
}
LOST_WORDS = {"cost_avoided": "Spending above today's budget", "capacity": "Sales lost"}
"""Classes beside the headline, and what it is that reduces it where they are negative."""


def answer_payback(cash: MoneyStudy) -> Block:
    """Answer what is worth its money, the low-capital package first."""
    sentences = [*filter(None, [not_valued(cash.study.plant)]), _rules_sentence(cash)]
    if cash.package is not None:
        sentences.append(_worth(cash, cash.package, "The low-capital package"))
        sentences += _alone(cash, cash.package)
    best = cash.best_bought
    if best is None:
        bought = any(name in cash.results for name in cash.study.bought)
        none = "No bought set can be recommended." if bought else "No bought set was simulated."
        return answer(cash.study, [*sentences, none, *_not_counted(cash, None), *refusing_instead(cash)])
    values = [cash.results[name].npv for name in cash.study.bought if name in cash.results]
    sentences.append(_how_many(values, cash.package))
    sentences.append(_worth(cash, best, _best_words(cash)))
    sentences += _not_counted(cash, best)
    if cash.package is not None:
        extra = difference_words(cash, best.scenario, cash.package.scenario)
        sentences.append(f"Its value is {extra} against that of the low-capital package.")
    return answer(cash.study, [*sentences, *refusing_instead(cash), *risk_sentences(cash.risk)])


def _not_counted(cash: MoneyStudy, best: MoneyResult | None) -> list[str]:
    """The bought set of a higher value that cannot be recommended, and why not."""
    known = [cash.results[name] for name in cash.study.bought if name in cash.results]
    higher = [r for r in known if (best is None or r.npv > best.npv) and not cash.study.verdict(r.scenario).ok]
    if not higher:
        return []
    top = max(higher, key=lambda r: r.npv)
    worth = "" if best is None else f", would be worth {money(top.npv, top.currency)} and"
    return [f"{cash.study.named(top.scenario)}{worth} is {cash.study.verdict(top.scenario).text}."]


def _best_words(cash: MoneyStudy) -> str:
    """How the best bought set is introduced: as the best, or as the cheapest of those that may be."""
    best = cash.best(cash.study.bought)
    if best is None or len(best.ties) == 1:
        return "The one with the highest value"
    return f"The cheapest of the {len(best.ties)} that cannot be told apart in having the highest value"


def difference_words(cash: MoneyStudy, name: str, base: str) -> str:
    """A difference of two values with its paired interval and, where its sign is open, what would decide it."""
    gap = cash.gap(name, base)
    text = f"{plus_minus(gap, 0, difference=True)} {cash.study.currency}"
    return text if gap.tells else f"{text} ({open_sign(gap, cash.replications_to_tell(name, base))})"


def _how_many(values: Sequence[float], package: MoneyResult | None) -> str:
    good = sum(value > 0 for value in values)
    verb = "have" if good > 1 else "has"
    text = f"Of {plural(len(values), 'bought set')}, {good or 'none'} {verb} a value above zero against today"
    better = sum(value > package.npv for value in values) if package else 0
    return f"{text}, and {better or 'none'} a higher one than the low-capital package." if package else f"{text}."


def _alone(cash: MoneyStudy, package: MoneyResult) -> list[str]:
    """The low-capital case that is worth more in these runs than the package, which was chosen in others."""
    found = cash.best([*cash.study.low_capital, package.scenario])
    if found is None or package.scenario in found.ties:
        return []
    best = cash.results[found.name]
    return [
        f"The package was chosen in runs of its own; in these {cash.study.described(best.scenario)} has the higher "
        f"value, {money(best.npv, best.currency)}. With signed sales the package has "
        f"{money(package.npv_with_signed_sales, best.currency)}, {cash.study.named(best.scenario)} "
        f"{money(best.npv_with_signed_sales, best.currency)}."
    ]


def _rules_sentence(cash: MoneyStudy) -> str:
    finance = cash.cashflow.finance
    rules = listing(RULE_WORDS[rule] for rule in finance.value_rules)
    return f"Freed hours count as {rules}; {percent(finance.discount_rate)} a year, {finance.horizon_years} years."


def _worth(cash: MoneyStudy, result: MoneyResult, head: str) -> str:
    avoided = result.avoided_share
    name = "" if result.scenario == cash.study.package else f" ({cash.study.named(result.scenario)})"
    share = "" if avoided is None else f"; {percent(avoided)} of its benefit is avoided cost, not released cash"
    return (
        f"{head}{name} has, as quoted, a net present value of {_value(result, cash.intervals.get(result.scenario))} "
        f"{result.currency}, payback "
        f"{years(result.payback.years)}, discounted {years(result.discounted_payback.years)}{share}."
    )


def money_table(cash: MoneyStudy) -> Block:
    """Every scenario in order of capital: released cash, three net present values, both paybacks."""
    ordered = sorted(cash.results.values(), key=lambda r: (r.capital, r.scenario))
    rows = [_money_row(cash, result) for result in ordered]
    currency = cash.study.currency
    columns = [
        "case", f"capital, {currency}", f"released cash a year, {currency}", f"net present value, {currency}",
        "… with avoided cost", "… with signed sales", "payback", "discounted payback", "keeps service",
    ]  # fmt: skip
    gain = sum(result.npv > 0 for result in ordered)
    sure = sum(cash.intervals[result.scenario].low > 0 for result in ordered)
    title = (
        f"{gain} of {plural(len(ordered), 'case')} have a net present value above zero, {sure or 'none'} of them "
        "surely; today as reference"
    )
    finance = cash.cashflow.finance
    return table(title, columns, rows, words=[7], note=(
        "Headline: cash released and single amounts less all costs and less sales lost, "
        f"{percent(finance.discount_rate, 1)} {finance.rate_basis}, {finance.horizon_years} years, after tax at "
        f"{percent(finance.tax_rate)}; ± from the replications, with prices as quoted, for all cases together at 95 %. "
        "The two other values stand beside it, never instead. Released cash: year "
        f"{_full_year(cash)}, before tax. Payback from the first payment says nothing about profitability; the net "
        f"present value does. {RECOMMENDED} {cash.study.package_note}"))  # fmt: skip


def _full_year(cash: MoneyStudy) -> int:
    return min(3, cash.cashflow.finance.horizon_years)


def _money_row(cash: MoneyStudy, result: MoneyResult) -> Row:
    year = _full_year(cash)
    released = cash.cashflow.flows(result.scenario, ("cash_releasing",), without=("tax",))[year]
    cells = (
        number(result.capital, 0),
        number(float(released), 0),
        _value(result, cash.intervals.get(result.scenario)),
        number(result.npv_with_avoided, 0),
        number(result.npv_with_signed_sales, 0),
        years(result.payback.years),
        years(result.discounted_payback.years),
        "yes" if (verdict := cash.study.verdict(result.scenario)).ok else f"no: {'; '.join(verdict.reasons)}",
    )
    look = "total" if result.scenario == cash.study.package else "lost" if result.npv < 0 else ""
    return Row(cash.study.named(result.scenario), cells, look)


def _value(result: MoneyResult, known: Estimate | None) -> str:
    text = number(result.npv, 0)
    return f"{text} ± {number(known.half_width, 0)}" if known and math.isfinite(known.half_width) else text


def more_measures(cash: MoneyStudy) -> Block:
    """Payback from acceptance, internal and modified rate, equivalent annual value, break-even capital and benefit."""
    ordered = sorted(cash.results.values(), key=lambda r: (r.capital, r.scenario))
    rows = [_measures_row(cash, result) for result in ordered]
    unit = cash.study.currency
    columns = ["case", "payback from acceptance", "internal rate, % a year", "modified rate, % a year",
               f"equivalent annual value, {unit}", f"most that may be paid, {unit}",
               "benefit it needs, % of its own"]  # fmt: skip
    worthless = sum(r.break_even_capital.capital is None for r in ordered)
    title = f"{worthless} of {plural(len(ordered), 'case')} would lose even as a gift"
    return table(title, columns, rows, note=(
        "All measures are those of the headline. An internal rate is one number only if it is unique; otherwise all "
        "are listed, or none exists, and the net present value decides. The benefit it needs: the share of the cash "
        "released, hours in proportion, at which the value after tax is zero, all else as it is."))  # fmt: skip


def _measures_row(cash: MoneyStudy, result: MoneyResult) -> Row:
    most, least = result.break_even_capital.capital, result.break_even_benefit.share
    cells = (
        years(result.payback_from_acceptance.years),
        "; ".join(number(100 * root, 1) for root in result.irr.roots) or "none",
        "none" if result.mirr.value is None else number(100 * result.mirr.value, 1),
        number(result.equivalent_annual_value, 0),
        "nothing" if most is None else number(most, 0),
        "no share is enough" if least is None else number(100 * least, 0),
    )
    return Row(cash.study.named(result.scenario), cells)


def increments(cash: MoneyStudy) -> Block:
    """In order of capital: what each case on top of the package that can be recommended adds to the best so far."""
    judged = [n for n in (*cash.study.bought, *cash.study.calendar) if n in cash.results]
    known = cash.study.recommendable(judged)
    others = [cash.results[n] for n in [n for n in known if cash.study.holds_package(n)] or known]
    steps = incremental_chain(others, cash.package)
    if not steps:
        return paragraph("There is no case to compare with the low-capital package.")
    rows = [_step_row(cash, step) for step in steps]
    taken = sum(step.accepted for step in steps)
    title = f"In order of capital, {taken} of {plural(len(steps), 'step')} are worth their extra over the best so far"
    columns = ["case", "against", f"extra capital, {cash.study.currency}", f"extra value, {cash.study.currency}",
               "payback of the extra", "verdict"]  # fmt: skip
    note = "± of paired differences: the same replications in both cases; all cases together at 95 %."
    return table(title, columns, rows, note=note, words=[0, 4])


def _step_row(cash: MoneyStudy, step: IncrementalStep) -> Row:
    known = cash.gap(step.name, step.against) if step.against in cash.results else cash.intervals[step.name]
    doubt = "" if known.tells else f", {CANNOT_TELL}"
    cells = (
        cash.study.named(step.against),
        number(step.incremental_capital, 0),
        plus_minus(known, 0, difference=True),
        years(step.incremental_payback.years),
        ("worth its extra" if step.accepted else "not worth its extra") + doubt,
    )
    return Row(cash.study.named(step.name), cells, "total" if step.accepted else "lost")


def cash_curve(cash: MoneyStudy, scenario: str = "") -> Exhibit | Block:
    """Cumulative cash of a scenario (default: the bought set with the highest value), simple and discounted."""
    result = cash.results[scenario] if scenario else (cash.best_bought or cash.package)
    if result is None:
        return paragraph("There is no scenario with cash to draw.")
    frame = pd.DataFrame(
        {"year": range(len(result.cumulative)), "simple": result.cumulative, "discounted": result.cumulative_discounted}
    )
    return cumulative_cash(
        frame, name=cash.study.named(result.scenario), currency=result.currency,
        simple_payback_years=result.payback.years, discounted_payback_years=result.discounted_payback.years,
    )  # fmt: skip


def cash_table(cash: MoneyStudy, scenario: str = "") -> Block:
    """The cash-flow table of a scenario, line by line and year by year."""
    result = cash.results[scenario] if scenario else (cash.best_bought or cash.package)
    if result is None:
        return paragraph("There is no scenario with cash to list.")
    own = cash.cashflow.frame[cash.cashflow.frame["scenario"] == result.scenario]
    counted = own[own["benefit_class"] != NOT_MONETISED]
    horizon = range(cash.cashflow.finance.horizon_years + 1)
    rows: list[Row] = []
    for (kind, line), part in counted.groupby(["benefit_class", "line"], sort=False):
        by_year = part.groupby("year")["amount"].sum()
        if not by_year.any():
            continue
        cells = tuple(number(float(by_year[y]), 0) if by_year.get(y) else "–" for y in horizon)
        rows.append(Row(f"{LINES[str(line)].title}: {CLASS_WORDS[str(kind)]}", cells))
    for kind, words in LOST_WORDS.items():
        years = lost(cash.cashflow, result.scenario, kind)[:, 0].tolist()
        if any(years):
            cells = tuple(number(v, 0) if v else "–" for v in years)
            rows.append(Row(f"{words.lower()}, which reduces the headline", cells))
    rows.append(Row("headline", tuple(number(v, 0) for v in result.flows), "total"))
    total = money(sum(result.flows), result.currency)
    title = f"{cash.study.named(result.scenario)}: cash by line and year; the headline sums to {total}"
    columns = [f"line, {result.currency} of the year", *(f"year {y}" for y in horizon)]
    return table(
        title, columns, rows, note="Positive: received. Differences from today. Year 0: payments before the first year."
    )


def basis_table(cash: MoneyStudy, scenario: str = "") -> Block:
    """How each amount of a scenario in its first full year came about, and who answers for it."""
    result = cash.results[scenario] if scenario else (cash.best_bought or cash.package)
    if result is None:
        return paragraph("There is no scenario with cash to trace.")
    year = _full_year(cash)
    rows = [_basis_row(row) for row in cash.cashflow.rows_of(result.scenario) if row.year in (0, year) and row.amount]
    title = f"{cash.study.named(result.scenario)}: {plural(len(rows), 'amount')} of years 0 and {year} with their basis"
    return table(
        title, ["line", "about", "class", f"amount, {result.currency}", "basis", "owner"], rows, words=[0, 1, 3, 4]
    )


def _basis_row(row: CashRow) -> Row:
    kind = CLASS_WORDS[row.benefit_class]
    basis = shortened(row.basis)
    return Row(LINES[row.line].title, (row.item or "–", kind, number(row.amount, 0), basis, row.owner or "–"))


def benefits_register(cash: MoneyStudy) -> Block:
    """Which budget line falls, by how much over the horizon, on what evidence, whose."""
    result = cash.best_bought or cash.package
    if result is None:
        return paragraph("There is no benefit to register.")
    frame = cash.cashflow.register()
    own = frame[(frame["scenario"] == result.scenario) & (frame["benefit_class"] != NOT_MONETISED)]
    own = own[own["amount"] != 0]
    rows = [_register_row(row) for row in own.to_dict("records")]
    name = cash.study.named(result.scenario)
    title = f"Benefits register of {name}: {plural(len(rows), 'line')}, whose budget and on what evidence"
    columns = ["line", "class", f"over all years, {result.currency}", "budget line", "in the plant's books",
               "planned lower from", "evidence to ask for", "owner"]  # fmt: skip
    return table(title, columns, rows, words=[0, 2, 3, 4, 5, 6], note=(
        "A benefit without a named budget, owner and date is not released yet: name it in finance.budget_lines."
    ))  # fmt: skip


def _register_row(row: Mapping[Hashable, Any]) -> Row:
    kind, amount = CLASS_WORDS[row["benefit_class"]], number(float(row["amount"]), 0)
    named = (row["account"] or "not named", row["falls_from"] or "no date")
    owner = row["budget_owner"] or row["owner"] or "not named"
    return Row(row["title"], (kind, amount, row["budget_line"], *named, row["evidence"], owner))


def value_switch(cash: MoneyStudy) -> Block:
    """Net present value of the main cases under each value-of-hours rule alone, and under all of the plant's."""
    cases = _main_results(cash)
    choices: list[tuple[str, Sequence[str]]] = [(RULE_WORDS[r], (r,)) for r in RULE_WORDS]
    rows = []
    for words, rules in choices:
        found = cash.with_finance(cases, value_rules=tuple(rules))
        rows.append(Row(words, tuple(_switch_cell(found[name], rules) for name in cases)))
    rows.append(Row("the plant's rules together", tuple(number(cash.results[n].npv, 0) for n in cases), "total"))
    columns = ["freed hours count as", *(f"{cash.study.named(n)}, {cash.study.currency}" for n in cases)]
    title = f"What an hour is worth is a choice: {plural(len(choices), 'rule')} for {plural(len(cases), 'case')}"
    return table(title, columns, rows, note=(
        "Net present value with each rule alone. The rule on sales shows the value with signed sales, which is not in "
        "the headline. The full-cost rate of a machine hour is never a saving."))  # fmt: skip


def _switch_cell(result: MoneyResult, rules: Sequence[str]) -> str:
    return number(result.npv_with_signed_sales if "sales" in rules else result.npv, 0)


def _main_results(cash: MoneyStudy) -> list[str]:
    known = cash.study.recommendable(name for name in cash.study.bought if name in cash.results)
    on_top = [name for name in known if cash.study.holds_package(name)] or known
    names = [cash.study.package, *sorted(on_top, key=lambda n: -cash.results[n].npv)[:4]]
    return [name for name in dict.fromkeys(names) if name in cash.results]


def demand_and_terms(cash: MoneyStudy) -> Block:
    """Demand by year and the terms of the calculation."""
    finance = cash.cashflow.finance
    demand = "; ".join(f"year {y.year}: {y.factor:g}" for y in demand_path(finance))
    rows = [
        Row("demand read by the years, as a factor of the book (signed only)", (demand,)),
        Row(f"discount rate, {finance.rate_basis}", (percent(finance.discount_rate, 1),)),
        Row("growth of wages, of prices",
            (f"{percent(finance.wage_growth, 1)}, {percent(finance.price_growth, 1)} a year",)),
        Row("tax rate; depreciation", (f"{percent(finance.tax_rate)}; {depreciation_text(finance)}",)),
        Row("residual at the horizon", (f"{percent(finance.residual_share)} of capital",)),
        Row("ramp-up", (f"from {percent(finance.ramp_start)} to 100 % in {number(finance.ramp_months)} months",)),
        Row("payments", ("; ".join(f"{name} {percent(share)}" for name, share in finance.payments),)),
        Row("production weeks a year", (number(finance.production_weeks, 0),)),
        Row("the table rests on", ("; ".join(cash.cashflow.conventions),)),
        *(Row("note", (note,)) for note in cash.cashflow.notes),
    ]  # fmt: skip
    return table(
        f"Terms: {percent(finance.discount_rate, 1)} over {finance.horizon_years} years",
        ["term", "value"],
        rows,
        words=True,
    )


def rate_check(cash: MoneyStudy) -> Block:
    """Headline value of the main cases at other discount rates."""
    cases = _main_results(cash)
    base = cash.cashflow.finance.discount_rate
    rates = sorted({0.0, base / 2, base, base * 1.5})
    rows = [_rate_row(cash, cases, rate, is_own=rate == base) for rate in rates]
    title = f"The headline at {plural(len(rates), 'discount rate')}"
    return table(title, ["rate a year", *(f"{cash.study.named(n)}, {cash.study.currency}" for n in cases)], rows)


def _rate_row(cash: MoneyStudy, cases: Sequence[str], rate: float, *, is_own: bool) -> Row:
    finance = cash.cashflow.finance.model_copy(update={"discount_rate": rate})
    values = (present_value(finance, cash.results[name].flows) for name in cases)
    return Row(percent(rate, 1), tuple(number(value, 0) for value in values), "total" if is_own else "")
