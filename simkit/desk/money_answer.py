"""The answer for a controller in sentences: what each case costs and is worth, how sure that is, and where it turns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from simkit.desk.answers import Answer, Sentence
from simkit.desk.money_choices import HOURS_COUNT_AS
from simkit.experiment.intervals import Estimate
from simkit.finance.benefits import own_cost_per_h
from simkit.finance.guards import not_valued
from simkit.finance.inputs import Weekly
from simkit.finance.timeline import demand_path
from simkit.report import cautions
from simkit.report import sentences_money as say

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow


def answer(cash: CashFlow) -> Answer:
    """What each case costs, is worth and may become, and where it turns, as sentences; nothing is recommended."""
    finance, risk = cash.flow.finance, cash.risk()
    rules = [HOURS_COUNT_AS[rule] for rule in finance.value_rules]
    terms = say.terms_in_short(len(cash.results), cash.flow.today, rules, finance)
    head = [terms, not_valued(cash.plant), _refusing(cash), f"Ranges hold {risk.attrs['condition']}."]
    values = cash.measures().set_index("scenario").to_dict("index")
    first = next(iter(cash.results))
    said = [
        sentence
        for row in risk.to_dict("records")
        for sentence in _of_case(cash, values[row["scenario"]], row, whole=row["scenario"] == first)
    ]
    marks = (*cash.study.plant.marks, cautions.STANDING, cautions.MONEY)
    return Answer(" ".join(filter(None, head)), tuple(said), marks)


def _of_case(cash: CashFlow, value: dict[Any, Any], risk: dict[Any, Any], *, whole: bool) -> Iterator[Sentence]:
    """Value, spread and turning point of a case; unless ``whole``, of the last two only what may turn the answer."""
    name = risk["scenario"]
    npv = Estimate(value["npv"], value["half_width"], cash.study.numbers.replications, cash.currency)
    known = (npv.mean, npv.half_width, cash.currency, value["sign"])
    share = cash.results[name].avoided_share if whole else None
    text = say.worth(name, value["capital"], npv, value["sign"] == "sure", value["payback_years"], share)
    yield Sentence(name, "value", *known, text)
    if whole or 0 < risk["chance_of_loss"] < 1:
        spread = f"{say.spread(risk['p10'], risk['p90'], risk['chance_of_loss'], cash.currency)}."
        half = (risk["p90"] - risk["p10"]) / 2
        yield Sentence(name, "spread", risk["mean"], half, cash.currency, value["sign"], spread)
    nearest = cash.flips(name).iloc[0]
    if whole or nearest["within_range"]:
        at, now = float(nearest["flip"]), float(nearest["typical"])
        turn = say.turns_in_short(nearest["title"], nearest["unit"], at, now, bool(nearest["within_range"]))
        yield Sentence(name, "turns", at, 0.0, nearest["unit"], value["sign"], turn)
    if not cash.verdicts[name].ok:
        yield Sentence(name, "service", 0.0, 0.0, "", "sure", f"It is {cash.verdicts[name].text}.")


def _refusing(cash: CashFlow) -> str:
    """A sentence where an hour refused loses less than one given out costs beyond making it; empty elsewhere."""
    today, prices, path = cash.totals[cash.flow.today], cash.flow.prices, demand_path(cash.flow.finance)
    if not any(today.per_week("subcontract_h", factor) for factor in path):
        return ""
    more = prices.money.subcontract_per_h - float(own_cost_per_h(Weekly(today, path[0]), prices))
    margin = prices.money.margin_per_h
    return say.refusing_instead(more, margin, cash.currency) if margin < more else ""
