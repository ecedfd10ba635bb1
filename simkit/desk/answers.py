"""The answer of a study in sentences, as data and as text: what differs, how surely, and what it is worth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from simkit.desk.money import CashFlow
from simkit.desk.shown import frame_html
from simkit.desk.study import Study
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.finance.unvalued import not_valued
from simkit.report import cautions
from simkit.report.words import capitalised, number, plural, plus_minus, scaled, years
from simkit.report.words import money as amount

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


@dataclass(frozen=True, repr=False)
class Answer:
    """Sentences about every scenario but the first, and what must be read with them."""

    head: str
    sentences: tuple[Sentence, ...]
    marks: tuple[str, ...]

    @property
    def text(self) -> str:
        """All sentences, those of a scenario in one paragraph."""
        names = dict.fromkeys(sentence.scenario for sentence in self.sentences)
        said = [" ".join(s.text for s in self.sentences if s.scenario == name) for name in names]
        return "\n\n".join([self.head, *said, *self.marks])

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
        return frame_html(self.head, frame) + "".join(f"<p>{mark}</p>" for mark in self.marks)


def answer(study: Study, money: CashFlow | None = None) -> Answer:
    """Say what the first scenario needs, and what each other one changes: hours, nights, late orders, and its value.

    What the replications cannot tell is said so. Nothing is recommended here.
    """
    numbers = study.numbers
    needed, attended = (study.results.estimate(study.base, name, numbers.level) for name in (NEEDED, "attended_h"))
    head = (
        f"{study.base} needs {plus_minus(needed)} machine hours, with {plus_minus(attended)} attended, in "
        f"{numbers.weeks:g} week{'' if numbers.weeks == 1 else 's'} at demand {numbers.level:g}, from "
        f"{plural(numbers.replications, 'replication')}."
    )
    if money:
        head = " ".join(filter(None, (head, _short_of_time(study), not_valued(money.prices))))
    head += " Against it, under the same orders and luck:" if len(study.names) > 1 else ""
    sentences = [*_of_hours(study), *(_of_money(study, money) if money else ())]
    order = {name: place for place, name in enumerate(study.names)}
    sentences.sort(key=lambda sentence: order[sentence.scenario])
    marks = (cautions.UNCALIBRATED, cautions.STANDING, *([cautions.MONEY] if money else []))
    return Answer(head, tuple(sentences), marks)


def _short_of_time(study: Study) -> str:
    """Say so where nothing is bought or refused, so that freed hours have nothing to save."""
    level = study.numbers.level
    if any(study.results.raw(study.base, name, level).any() for name in BOUGHT if name in study.results.measures):
        return ""
    return f"{study.base} is not short of time: freed hours save no overtime, nothing given out and no order refused."


def _of_hours(study: Study) -> Iterator[Sentence]:
    found = study.differences(measures=[name for name in ASKED if name in study.results.measures])
    for row in found.to_dict("records"):
        words, unit, factor = ASKED[row["measure"]]
        if row["measure"] == UNATTENDED and row["sign"] == "the same":
            continue
        gap = scaled(Estimate(row["mean"], row["half_width"], row["replications"], unit), factor)
        yield Sentence(row["scenario"], words, gap.mean, gap.half_width, unit, row["sign"], _compared(row, words, gap))


def _compared(row: Mapping[Any, Any], words: str, gap: Estimate) -> str:
    name = capitalised(str(row["scenario"]))
    if row["sign"] == "sure":
        more = "more" if gap.mean > 0 else "fewer"
        size = Estimate(abs(gap.mean), gap.half_width, gap.n, gap.unit)
        of = words if gap.unit == "h" else f"{gap.unit} of {words}"
        return f"{name}: {plus_minus(size)} {more} {of}."
    if row["sign"] == "the same":
        return f"{name}: {words} are the same in every replication."
    return f"{name}: whether {words} differ cannot be told ({plus_minus(gap, difference=True)} {gap.unit})."


def _of_money(study: Study, cash: CashFlow) -> Iterator[Sentence]:
    finance = cash.flow.finance
    terms = f"in {finance.horizon_years} years at {number(100 * finance.discount_rate, 1)} %"
    for row in cash.measures().to_dict("records"):
        value = Estimate(row["npv"], row["half_width"], study.numbers.replications, cash.currency)
        known = (row["scenario"], "value", value.mean, value.half_width, cash.currency, row["sign"])
        if row["sign"] == "the same" and value.mean == 0:
            yield Sentence(*known, f"In money it changes nothing {terms}.")
            continue
        worth = f"worth {plus_minus(value, 0, difference=True)} {cash.currency} {terms}"
        worth += "" if row["sign"] == "sure" else ", which cannot be told from nothing"
        costs = f"costs {amount(row['capital'], cash.currency)}" if row["capital"] else "costs nothing to buy"
        yield Sentence(*known, f"It {costs} and is {worth}; payback: {years(row['payback_years'])}.")
