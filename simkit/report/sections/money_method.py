"""What the money rests on in words: the method, what can be recommended, and whether refusing would be cheaper."""

from __future__ import annotations

from simkit.finance.benefits import own_cost_per_h
from simkit.finance.conventions import printed_rules
from simkit.finance.inputs import Weekly, prices_of
from simkit.finance.timeline import demand_path
from simkit.report.exhibits import Block, Row, table
from simkit.report.moneystudy import MoneyStudy
from simkit.report.words import number, plural

RECOMMENDED = (
    "Recommended can be what has, at every signed demand and paired with today, not surely more orders late or "
    "refused, refused hours or unconfirmed hours given out, and keeps attendance and skills. Orders that today "
    "refuses may be late with it, up to the plant's limit of late orders. This changes no amount."
)


def method(cash: MoneyStudy) -> Block:
    """Every rule between simulated amounts and cash: enough to build the cash by year anew."""
    rules = printed_rules(cash.cashflow.finance, prices_of(cash.study.plant))
    rows = [Row(title, (text,)) for title, text in rules]
    title = f"The method in {plural(len(rows), 'rule')}, enough to build the cash by year anew"
    inner = table(title, ["line or subject", "rule"], rows, words=True)
    return Block("folded", {"summary": title, "parts": [inner]}, inner.text)


def refusing_instead(cash: MoneyStudy) -> list[str]:
    """Say so where an hour refused loses less than an hour given out costs beyond making it in house."""
    prices = prices_of(cash.study.plant)
    path = demand_path(cash.cashflow.finance)
    if not any(cash.today.per_week("subcontract_h", year.factor) for year in path):
        return []
    more = prices.money.subcontract_per_h - float(own_cost_per_h(Weekly(cash.today, path[0].factor), prices))
    margin, unit = prices.money.margin_per_h, f"{cash.study.currency}/h"
    if margin >= more:
        return []
    return [
        f"Giving out an hour costs {number(more)} {unit} more than making it, refusing it loses a margin of "
        f"{number(margin)} {unit}: at these prices refusing would be cheaper than giving out, customers apart."
    ]
