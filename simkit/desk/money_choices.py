"""The same cases under other terms: what an hour counts as, rates, prices, optimism, waiting, order of buying."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.base.arrays import Floats
from simkit.desk.notebook_display import titled
from simkit.experiment.best import named_best
from simkit.finance.buying import BuyingPath, buying_paths, offers_of, started_later
from simkit.finance.cashflow import build_cashflow
from simkit.finance.evaluate import MoneyResult, evaluate, incremental_chain
from simkit.finance.financing import ways_for
from simkit.finance.ratios import Supplementary, supplementary
from simkit.finance.riskinputs import paid_first
from simkit.finance.riskoptimism import EQUIPMENT, SOURCE, past_ratios
from simkit.finance.timeline import present_value
from simkit.plant.options import PriceCase
from simkit.plant.settings_money import Finance
from simkit.report import sentences_money as say
from simkit.report.words import percent, plural

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.plants import Scenario

HOURS_COUNT_AS = {
    "overtime": "overtime avoided",
    "subcontract": "subcontracting avoided",
    "sales": "extra sales of signed demand",
    "posts": "whole posts only",
    "hours_only": "nothing: hours stay hours",
}
"""The value-of-hours rules in words."""
BUYING_YEARS = 3
"""Years over which purchases are spread where no budgets are given: common practice, no source."""
MOST_PATHS = 8


def best(cash: CashFlow) -> str:
    """Name of the case with the highest value; of those that cannot be told apart, the cheapest.

    Only cases that can be recommended compete; empty where there is none.
    """
    samples = {name: cash.samples[name] for name in recommended(cash)}
    cost = {name: (cash.results[name].capital, len(cash.totals[name].option_ids)) for name in samples}
    return named_best(samples, cost, largest=True, fitted=cash.model.fitted) if samples else ""


def recommended(cash: CashFlow) -> list[str]:
    """Cases that can be recommended."""
    return [name for name in cash.results if cash.verdicts[name].ok]


def leading(cash: CashFlow) -> str:
    """The case that a title names: the best, else the first."""
    return best(cash) or next(iter(cash.results))


def _under(cash: CashFlow, rule: str) -> dict[str, float]:
    found = _again(cash, value_rules=(rule,))
    return {name: one.npv_with_signed_sales if rule == "sales" else one.npv for name, one in found.items()}


def _again(cash: CashFlow, case: PriceCase = "quoted", **changes: Any) -> Mapping[str, MoneyResult]:
    """Measures with finance settings changed, or at other prices of the options."""
    settings = Finance.model_validate({**cash.flow.finance.model_dump(), **changes})
    today, *others = cash.totals.values()
    return evaluate(build_cashflow(cash.plant, today, others, finance=settings, case=case))


def other_terms(cash: CashFlow) -> pd.DataFrame:
    """Value of every case under other terms, a column a case: what an hour counts as, rates, prices, experience.

    Each value-of-hours rule stands alone; the last row is a start one year later, in money of today.
    """
    quoted = {name: one.npv for name, one in cash.results.items()}
    hours = {f"a freed hour counts as {words}": _under(cash, rule) for rule, words in HOURS_COUNT_AS.items()}
    rows = {"as quoted, all rules of the plant": quoted, **hours, **_other_rates(cash), **_other_prices(cash)}
    today, *others = cash.totals.values()
    rows["started a year later, in money of today"] = started_later(cash.plant, today, others, list(cash.results))
    frame = pd.DataFrame([[one[name] for name in cash.results] for one in rows.values()], columns=list(cash.results))
    frame.insert(0, "terms", list(rows))
    case = leading(cash)
    worth = [one[case] for one in (quoted, *hours.values())]
    above = int((frame[case] > 0).sum())
    return titled(frame, *say.terms(case, worth, above, len(frame), cash.currency, SOURCE), folded=True)


def _other_rates(cash: CashFlow) -> dict[str, dict[str, float]]:
    """Values at other discount rates."""
    rate, found = cash.flow.finance.discount_rate, {}
    for other in sorted({0.0, rate / 2, rate * 1.5} - {rate}):
        finance = cash.flow.finance.model_copy(update={"discount_rate": other})
        worth = {name: present_value(finance, one.flows) for name, one in cash.results.items()}
        found[f"{percent(other, 1)} a year instead of {percent(rate, 1)}"] = worth
    return found


def _other_prices(cash: CashFlow) -> dict[str, dict[str, float]]:
    """Values at the low and high prices of all options, and with what experience adds to capital."""
    cases: tuple[PriceCase, ...] = ("low", "high")
    found = {}
    for case in cases:
        found[f"every option at its {case} price"] = {name: one.npv for name, one in _again(cash, case).items()}
    return found | {words: _uplifted(cash, *factors) for words, factors in _experience(cash)}


def _experience(cash: CashFlow) -> Iterator[tuple[str, tuple[float, float]]]:
    """Factors on the capital and on all other cash: published ones, and those of the plant's own past projects."""
    for bound, more in (("lower", EQUIPMENT.capital_lower), ("upper", EQUIPMENT.capital_upper)):
        yield f"published experience, {EQUIPMENT.kind}, {bound}: capital +{percent(more)}", (1.0 + more, 1.0)
    past = past_ratios(cash.plant.settings.risk.past_projects)
    if past is not None:
        benefit = 1.0 if past.benefit is None else past.benefit
        text = f"as the plant's last {plural(past.projects, 'project')}: capital × {past.capital:.2f}"
        yield f"{text}, benefit × {benefit:.2f}", (past.capital, benefit)


def _uplifted(cash: CashFlow, capital: float, benefit: float) -> dict[str, float]:
    """Values with all capital times ``capital`` and all other cash times ``benefit``.

    Replacement, residual value and relief of tax move with the capital.
    """
    names = list(cash.results)
    dear, free = (cash.model.values(_capital(cash, factor), names).npv for factor in (capital, 0.0))
    return {name: float(dear[name][0] + (benefit - 1.0) * free[name][0]) for name in names}


def _capital(cash: CashFlow, factor: float) -> dict[str, Floats]:
    """All that is paid at first times a factor, as inputs of one case."""
    known = cash.flow.prices.options
    options = [known[one] for name in cash.results for one in cash.totals[name].option_ids]
    return {name: np.array([amount * factor]) for name, amount in paid_first(options).items()}


def buying(cash: CashFlow) -> pd.DataFrame:
    """Which case to buy first, and what then, within the plant's budgets, with the regret of each order.

    One row for each first step, the best first, of the cases that can be recommended; nothing is added up.
    """
    budgets, names = cash.flow.finance.capital_budgets, recommended(cash)
    today, *others = cash.totals.values()
    years = max(len(budgets), BUYING_YEARS)
    offers = offers_of(cash.plant, today, others, names, years, results=cash.study.results)
    paths = buying_paths(offers, budgets)[:MOST_PATHS] if offers.value else ()
    columns = ["bought_first", "then", "capital", "value_of_the_order", "regret_of_stopping", "regret"]
    frame = pd.DataFrame([_order(cash, path) for path in paths], columns=columns)
    first, worth = (frame["bought_first"][0], paths[0].value) if paths and paths[0].steps else ("", 0.0)
    return titled(frame, *say.buying(first, worth, budgets, cash.currency))


def _order(cash: CashFlow, path: BuyingPath) -> tuple[Any, ...]:
    names = cash.flow.prices.options
    at_once = bool(path.steps) and path.steps[0].year == 0
    later = [f"year {step.year}: {', '.join(names[one].called for one in step.added)}"
             for step in (path.steps[1:] if at_once else path.steps)]  # fmt: skip
    first = path.first if at_once else "nothing at first"
    stopping = path.regret_of_stopping(1 if at_once else 0)
    return first, "; ".join(later) or "nothing", path.capital, path.value, stopping, path.regret


def increments(cash: CashFlow, against: str | Scenario | None = None) -> pd.DataFrame:
    """In order of capital, what each case that can be recommended adds to the best so far.

    ``against`` names the case that comes first, as a low-capital package; without it that is the first scenario.
    """
    known = [cash.results[name] for name in recommended(cash)]
    rows = []
    for step in incremental_chain(known, cash.results.get(cash.base_of(against))):
        gap, capital, _ = cash.beyond(step.name, step.against)
        rows.append((step.name, step.against, capital, gap.mean, gap.half_width,
                     number_of(step.incremental_payback.years), step.accepted))  # fmt: skip
    columns = ["scenario", "best_so_far", "capital", "npv", "half_width", "payback_years", "worth_its_extra"]
    frame = pd.DataFrame(rows, columns=columns)
    taken = int(frame["worth_its_extra"].sum())
    return titled(frame, *say.increments(taken, len(frame), cash.currency), folded=True)


def more_measures(cash: CashFlow) -> pd.DataFrame:
    """Rates, ratios, static measures, loan and lease: beside the value, never choosing; a column for each case."""
    columns = {name: _measures(cash, name) for name in cash.results}
    rows = list(dict.fromkeys(row for column in columns.values() for row in column))
    frame = pd.DataFrame({name: [column.get(row, math.nan) for row in rows] for name, column in columns.items()})
    frame.insert(0, "measure_and_unit", rows)
    title = f"{plural(len(rows), 'measure')} that stand beside the value and never choose between cases"
    return titled(frame, title, (
        "Of the headline. Savings to investment and adjusted rate: 10 CFR 436.21 and 436.22. Static measures: a mean "
        "year before tax; common practice, no source. Loan and lease are decided at the borrowing rate, apart from the "
        "investment; what may be deducted the controller says."), folded=True)  # fmt: skip


def _measures(cash: CashFlow, name: str) -> dict[str, float]:
    one, unit = cash.results[name], cash.currency
    hours = {kind: float(values[-1, 0]) for kind, values in cash.flow.of(name).hours.items()}
    return {
        "hours freed in a year of full use": hours.get("freed", 0.0),
        "... of them turned into no money": hours.get("not_money", 0.0),
        "internal rate, % a year (none or several: empty)": _percent(one.irr.roots[0] if one.irr.status == "one"
                                                                     else None),
        "modified internal rate, % a year": _percent(one.mirr),
        f"equal amount a year of the same value, {unit}": one.equivalent_annual_value,
        "value per unit of capital": number_of(one.profitability_index),
        "discounted payback, years": number_of(one.discounted_payback.years),
        "payback from acceptance, years": number_of(one.payback_from_acceptance),
        "benefit that it needs, % of its own (empty: no share is enough)": _percent(one.break_even_benefit),
        **_beside(supplementary(cash.flow, name), unit),
        **{f"{way.name}, worth beyond cash, {unit}": way.value
           for way in ways_for(cash.flow, name, cash.plant.settings.financing)},
    }  # fmt: skip


def _beside(found: Supplementary, unit: str) -> dict[str, float]:
    static = found.static
    return {
        "savings to investment, after tax": number_of(found.savings_to_investment),
        "adjusted internal rate, % a year": _percent(found.adjusted_rate),
        "benefit to cost, running cost below": number_of(found.benefit_cost),
        "benefit to cost, running cost above": number_of(found.benefit_cost_modified),
        f"static: profit of a mean year, {unit}": number_of(static.profit if static else None),
        "static: return on mean capital, % a year": _percent(static.return_on_mean_capital if static else None),
        "static: payback, years": number_of(static.payback_years if static else None),
    }


def _percent(share: float | None) -> float:
    return 100.0 * number_of(share)


def number_of(value: float | None) -> float:
    """A number for a table; not a number where there is none."""
    return value if value is not None and math.isfinite(value) else math.nan
