"""The answer of a study in sentences, as data and as text: what differs, how surely, and what it is worth."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

import pandas as pd

from simkit.base.messages import BadInput, Finding, nearest
from simkit.desk.money_choices import HOURS_COUNT_AS
from simkit.desk.notebook_display import SIGN, noun_html
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import NEVER_DIFFERS, TELLS, Estimate
from simkit.finance.benefits import own_cost_per_h
from simkit.finance.guards import not_valued
from simkit.finance.inputs import WeeklyAmounts
from simkit.finance.timeline import demand_path
from simkit.report import cautions, sentences_money, sentences_nights
from simkit.report import sentences_cell as say
from simkit.report.words import capitalised, number, plural, plus_minus, scaled, weeks_of, years
from simkit.report.words import money as amount

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.plants import Scenario
    from simkit.desk.study import Study

ASKED = {NEEDED: ("machine hours", "h", 1.0), UNATTENDED: ("unattended hours", "h", 1.0),
         "late_share": ("late orders", "percentage points", 100.0)}  # fmt: skip
"""Measures that an answer names: in words, in which unit, and by which factor."""
BOUGHT = ("overtime_h", "subcontract_h", "unmet_h")
"""What is done about work that is short of time."""


@dataclass(frozen=True)
class Sentence:
    """A sentence with what it rests on: scenario, subject, mean and half-width in ``unit``, and whether it is sure."""

    scenario: str
    subject: str
    mean: float
    half_width: float
    unit: str
    sign: str
    text: str


def said(scenario: str, subject: str, known: Estimate | None, text: str) -> Sentence:
    """A sentence of an answer with the estimate it rests on, or with none."""
    if known is None:
        return Sentence(scenario, subject, math.nan, math.nan, "", "", text)
    return Sentence(scenario, subject, known.mean, known.half_width, known.unit, SIGN[known.verdict], text)


@dataclass(frozen=True, repr=False)
class Answer:
    """Sentences about every scenario but the first, and what must be read with them."""

    head: str
    sentences: tuple[Sentence, ...]
    marks: tuple[str, ...]

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """The head, then the sentences of each scenario."""
        names = dict.fromkeys(sentence.scenario for sentence in self.sentences)
        return (self.head, *(" ".join(s.text for s in self.sentences if s.scenario == name) for name in names))

    @property
    def text(self) -> str:
        """All sentences, those of a scenario in one paragraph, and the marks."""
        return "\n\n".join([*self.paragraphs, *self.marks])

    def table(self) -> pd.DataFrame:
        """The sentences as rows: scenario, subject, mean, half_width, unit, sign, text."""
        return pd.DataFrame([vars(sentence) for sentence in self.sentences])

    def __str__(self) -> str:
        """Return the text."""
        return self.text

    def __repr__(self) -> str:
        """Return the answer in one line."""
        sure = sum(sentence.sign == "sure" for sentence in self.sentences)
        return f"<Answer: {len(self.sentences)} sentences, {sure} of them sure>"

    def _repr_html_(self) -> str:
        frame = pd.DataFrame({"scenario": [s.scenario for s in self.sentences], "": [s.text for s in self.sentences]})
        return noun_html(self.head, frame) + "".join(f"<p>{mark}</p>" for mark in self.marks)


def answer(
    study: Study, money: CashFlow | None = None, against: str | Scenario | None = None, about: str = ""
) -> Answer:
    """Say what a scenario needs, by default the first, and what each other changes: hours, nights, late orders, value.

    ``against`` names another one to compare with; the first is then left out, and values are those on top of it. What
    the replications cannot tell is said so. Nothing is recommended here. ``about`` asks another question: 'book'
    whether the first scenario makes the order book and where its hours go, 'nights' whether it does so with
    the nights of the second one, 'times' where a sheet's seconds come from.
    """
    if about:
        return _about(study, about)
    base = study.base if against is None else study.scenario(against).name
    numbers = study.numbers
    needed, attended = (study.per_week(base, name) for name in (NEEDED, "attended_h"))
    head = (
        f"{base} needs {plus_minus(needed)} machine hours a week, with {plus_minus(attended)} attended, at demand "
        f"{numbers.level:g}, from {plural(numbers.replications, 'run')} of {weeks_of(numbers.weeks)}."
    )
    if money:
        head = " ".join(filter(None, (head, _short_of_time(study, base), not_valued(money.plant))))
    names = [name for name in study.names if name not in (study.base, base)]
    head += " Against it, under the same orders and chance events:" if names else ""
    sentences = [s for s in (*_of_hours(study, base), *_of_money(money, base)) if s.scenario in names]
    sentences.sort(key=lambda sentence: names.index(sentence.scenario))
    marks = (*study.plant.marks, cautions.STANDING, *([cautions.MONEY] if money else []))
    return Answer(head, tuple(sentences), marks)


def answer_of(sentences: Iterator[Sentence], *marks: str) -> Answer:
    """An answer whose head is the first of its sentences."""
    first, *others = sentences
    return Answer(first.text, tuple(others), marks)


def _about(study: Study, question: str) -> Answer:
    if question not in QUESTIONS:
        raise BadInput([Finding("answer", "there is no such question", nearest(question, QUESTIONS), value=question)])
    return answer_of(QUESTIONS[question](study))


def _short_of_time(study: Study, base: str) -> str:
    """Say so where nothing is bought or refused, so that freed hours have nothing to save."""
    level = study.numbers.level
    if any(study.results.raw(base, name, level).any() for name in BOUGHT if name in study.results.measures):
        return ""
    return f"{base} is not short of time: freed hours save no overtime and no subcontracting, and no order is refused."


def _of_hours(study: Study, base: str) -> Iterator[Sentence]:
    for measure, (words, unit, factor) in ASKED.items():
        gaps = study.gaps((), base, measure) if measure in study.results.measures else {}
        for name, own in gaps.items():
            gap = dataclasses.replace(scaled(own, factor), unit=unit)
            if measure != UNATTENDED or gap.verdict != NEVER_DIFFERS:
                yield said(name, words, gap, _compared(capitalised(name), measure, words, gap))


def _compared(name: str, measure: str, words: str, gap: Estimate) -> str:
    if gap.verdict == TELLS:
        verb = "needs" if measure == NEEDED else "has"
        more = "more" if gap.mean > 0 else "fewer"
        size = Estimate(abs(gap.mean), gap.half_width, gap.n, gap.unit)
        of = f"{words} a week" if gap.unit == "h" else f"{gap.unit} of {words}"
        return f"{name} {verb} {plus_minus(size)} {more} {of}."
    if gap.verdict == NEVER_DIFFERS:
        return f"{name}: {words} are the same in every replication."
    span = " a week" if gap.unit == "h" else ""
    return f"{name}: whether {words} differ cannot be told ({plus_minus(gap, difference=True)} {gap.unit}{span})."


def _of_money(cash: CashFlow | None, base: str) -> Iterator[Sentence]:
    if cash is None:
        return
    finance, beyond = cash.flow.finance, base != cash.flow.today
    terms = f"in {finance.horizon_years} years at {number(100 * finance.discount_rate, 1)} %"
    for row in (cash.differences(base) if beyond else cash.measures()).to_dict("records"):
        value = Estimate(row["npv"], row["half_width"], cash.study.numbers.replications, cash.currency)
        known = (row["scenario"], "value", value.mean, value.half_width, cash.currency, row["sign"])
        it = f"On top of {base} it" if beyond else "It"
        if row["sign"] == "the same" and value.mean == 0:
            yield Sentence(*known, f"{it} changes nothing in money {terms}.")
            continue
        worth = f"worth {plus_minus(value, difference=True)} {cash.currency} {terms}"
        worth += "" if row["sign"] == "sure" else ", which cannot be told from nothing"
        costs = f"costs {amount(row['capital'], cash.currency)}" if row["capital"] else "costs nothing to buy"
        paid = "" if beyond else f"; payback: {years(row['payback_years'])}"
        yield Sentence(*known, f"{it} {costs} and is {worth}{paid}.")


# ---- the answer for a controller: what each case costs and is worth, how sure that is, and where it turns ----


def cash_answer(cash: CashFlow) -> Answer:
    """What each case costs, is worth and may become, and where it turns, as sentences; nothing is recommended."""
    finance, risk = cash.flow.finance, cash.risk()
    rules = [HOURS_COUNT_AS[rule] for rule in finance.value_rules]
    terms = sentences_money.terms_in_short(len(cash.results), cash.flow.today, rules, finance)
    head = [terms, not_valued(cash.plant), _refusing(cash), f"Ranges hold {risk.attrs['condition']}."]
    values = cash.measures().set_index("scenario").to_dict("index")
    first = next(iter(cash.results))
    of_cases = (
        _of_case(cash, values[row["scenario"]], row, whole=row["scenario"] == first) for row in risk.to_dict("records")
    )
    marks = (*cash.study.plant.marks, cautions.STANDING, cautions.MONEY)
    return Answer(" ".join(filter(None, head)), tuple(chain.from_iterable(of_cases)), marks)


def _of_case(cash: CashFlow, value: dict[Any, Any], risk: dict[Any, Any], *, whole: bool) -> Iterator[Sentence]:
    """Value, spread and turning point of a case; unless ``whole``, of the last two only what may turn the answer."""
    name = risk["scenario"]
    npv = Estimate(value["npv"], value["half_width"], cash.study.numbers.replications, cash.currency)
    known = (npv.mean, npv.half_width, cash.currency, value["sign"])
    share = cash.results[name].avoided_share if whole else None
    text = sentences_money.worth(name, value["capital"], npv, value["sign"] == "sure", value["payback_years"], share)
    yield Sentence(name, "value", *known, text)
    if whole or 0 < risk["chance_of_loss"] < 1:
        spread = f"{sentences_money.spread(risk['p10'], risk['p90'], risk['chance_of_loss'], cash.currency)}."
        half = (risk["p90"] - risk["p10"]) / 2
        yield Sentence(name, "spread", risk["mean"], half, cash.currency, value["sign"], spread)
    nearest = cash.flips(name).iloc[0]
    if whole or nearest["within_range"]:
        at, now, within = float(nearest["flip"]), float(nearest["typical"]), bool(nearest["within_range"])
        turn = sentences_money.turns_in_short(nearest["title"], nearest["unit"], at, now, within)
        yield Sentence(name, "turns", at, 0.0, nearest["unit"], value["sign"], turn)
    if not cash.verdicts[name].ok:
        yield Sentence(name, "service", 0.0, 0.0, "", "sure", f"It is {cash.verdicts[name].text}.")


def _refusing(cash: CashFlow) -> str:
    """A sentence where an hour refused loses less than one given out costs beyond making it; empty elsewhere."""
    today, prices, path = cash.totals[cash.flow.today], cash.flow.prices, demand_path(cash.flow.finance)
    if not any(today.per_week("subcontract_h", factor) for factor in path):
        return ""
    more = prices.money.subcontract_per_h - float(own_cost_per_h(WeeklyAmounts(today, path[0]), prices))
    margin = prices.money.margin_per_h
    return sentences_money.refusing_instead(more, margin, cash.currency) if margin < more else ""


# ---- answers of the pages about the cell, its nights and its times ----


def of_book(study: Study) -> Iterator[Sentence]:
    """Whether the cell makes the book, what is done about the rest, and where the hours go."""
    base = study.base
    needed, attended, waiting = (
        study.per_week(base, name) for name in (NEEDED, "attended_h", "state_waiting_person_h")
    )
    late = study.per_week(base, "late_share")
    yield said(base, "book", late, f"{study.demands().attrs['title']}.")
    yield said(base, "machine hours", needed, say.needed(base, needed, attended))
    yield said(base, "late orders", late, f"{study.given_out().attrs['title']}.")
    split = study.time_split()
    hours = split[split["scenario"] == base].set_index("state")["hours_per_week"]
    yield said(base, "machine hours by state", None, f"{say.split(hours, base)}.")
    yield said(base, "set-up", study.per_week(base, "state_changeover_h"), f"{study.set_up().attrs['title']}.")
    yield said(base, "waiting", waiting, say.waiting(waiting))
    for name in study.names[1:]:
        level = study.per_week(name, NEEDED)
        yield said(name, "machine hours", level, say.with_package(level))


def of_times(study: Study) -> Iterator[Sentence]:
    """Where a sheet's seconds come from, how well the times are known, and which limits raise a question."""
    base, plant = study.base, study.scenarios[0]
    needed = study.per_week(base, NEEDED)
    yield said(base, "one sheet", None, f"{plant.program().attrs['title']}.")
    yield said(base, "run times", None, f"{plant.run_times().attrs['title']}.")
    yield said(base, "elements", None, f"{plant.elements().attrs['title']}.")
    inputs = study.inputs(most=len(plant.elements()))
    inputs = inputs[inputs["at_low"].isin(study.names) & inputs["at_high"].isin(study.names)]
    if len(inputs):
        yield said(base, "machine hours", needed, f"{study.effects(inputs).attrs['title']}.")
    yield said(base, "limits", None, f"{plant.limits().attrs['title']}.")


def of_nights(study: Study) -> Iterator[Sentence]:
    """Whether the second scenario, which has nights, makes the book with them; hours, ends, morning and fixes."""
    name = study.names[min(1, len(study.names) - 1)]
    night = study.scenario(name).made.plant.settings.calendar.night
    yield said(name, "assessment", None, f"{sentences_nights.assessed(night.assessed_by, night.assessed_on)}.")
    yield said(name, "book", None, f"{study.demands(name).attrs['title']}.")
    table = study.night_hours()
    if table.empty:
        yield said(name, "nights", None, f"{table.attrs['title']}.")
        return
    first = table.iloc[0]
    half, runs = first["worked_h_half_width"], study.numbers.replications
    worked = Estimate(first["worked_h"], half if half == half else math.inf, runs, "h")
    ends = first["one_in_ten_below_h"], first["one_in_ten_above_h"]
    yield said(name, "hours a night", worked, f"{sentences_nights.hours(worked, first['allowed_h'], *ends)}.")
    yield said(name, "nights", None, f"{sentences_nights.half(first['below_half_share'])}.")
    yield said(name, "ends", None, f"{study.night_ends(name).attrs['title']}.")
    yield said(name, "morning", None, f"{study.mornings(name).attrs['title']}.")
    if len(table) > 1:
        yield said(name, "fixes", None, f"{table.attrs['title']}.")
    yield said(name, "caution", None, sentences_nights.CAUTION)


QUESTIONS = {"book": of_book, "nights": of_nights, "times": of_times}
"""What an answer can be about, beside what differs between scenarios."""
