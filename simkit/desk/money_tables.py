"""What the amounts of a case are made of: lines by year, what carries the value, one amount followed, who answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from simkit.base.arrays import Floats
from simkit.desk.notebook_display import titled
from simkit.experiment.glossary import describe
from simkit.experiment.intervals import t_interval
from simkit.finance.cashflow import lost
from simkit.finance.ledger import CashRow
from simkit.finance.lines import (
    CAPACITY,
    COST,
    COST_AVOIDED,
    HEADLINE_CLASSES,
    LINES,
    NOT_MONETISED,
    TAX_LINES,
)
from simkit.finance.timeline import demand_path, present_value
from simkit.plant.options import Option, capital_of
from simkit.report import sentences_money as say
from simkit.report.columns import COUNTS_AS
from simkit.report.words import capitalised, plural, weeks_of

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.plants import Scenario

LOST = {COST_AVOIDED: "Spending above today's budget", CAPACITY: "Sales lost"}
"""Classes beside the headline, and what it is that reduces it where they are negative."""
TRACED = {
    "overtime": ("overtime_h", "rate_per_h of people.csv, people.overtime_premium"),
    "overrun": ("person_overrun_h", "money.operator_rate_per_h, people.overtime_premium"),
    "subcontract": ("subcontract_h", "money.subcontract_per_h"),
    "sales": ("unmet_h", "money.margin_per_h"),
    "energy": ("energy_kwh", "money.energy_per_kwh"),
    "gas": ("gas_m3", "money.gas_per_m3"),
    "regrinds": ("tools_reground", "money.regrind_cost"),
    "parts_scrapped": ("parts_scrapped", "price_per_kg of materials.csv"),
}  # fmt: skip
"""The simulated measure behind a line of the cash flow, where there is one alone, and the field of its price."""
TITLES = tuple(line.title for name, line in LINES.items() if name not in TAX_LINES)
SMALLEST_SHARE = 0.02
"""Lines of less than this share of the largest are drawn together."""


def yearly(cash: CashFlow, scenario: str | Scenario) -> pd.DataFrame:
    """Cash of a case by line and year: line, benefit_class, year_0 and on, present_value; the headline is last."""
    scenario = cash.case(scenario)
    finance, result, lines = cash.flow.finance, cash.results[scenario], cash.lines
    own = lines[(lines["scenario"] == scenario) & (lines["benefit_class"] != NOT_MONETISED)]
    rows: list[tuple[str, str, Sequence[float] | Floats]] = [
        (LINES[str(line)].title, str(kind), cash.flow.flows(scenario, (str(kind),), lines=(str(line),)))
        for (kind, line), _ in own.groupby(["benefit_class", "line"], sort=False)
    ]
    rows += [(f"{words}, which reduces the headline", "", lost(cash.flow, scenario, kind)[:, 0])
             for kind, words in LOST.items()]  # fmt: skip
    rows.append(("Headline", "", result.flows))
    found = [(line, kind, *flows, present_value(finance, flows)) for line, kind, flows in rows if any(flows)]
    years = [f"year_{year}" for year in range(finance.horizon_years + 1)]
    frame = pd.DataFrame(found, columns=["line", "benefit_class", *years, "present_value"])
    notes = " ".join(cash.flow.notes)
    return titled(frame, say.yearly_title(scenario, sum(result.flows), cash.currency), (
        f"{cash.currency}, differences from {cash.flow.today}; positive: received. Year 0: paid before the first year. "
        f"{notes}"), folded=True)  # fmt: skip


def steps(cash: CashFlow, scenario: str | Scenario, against: str | Scenario | None = None) -> pd.DataFrame:
    """What carries the value: step, amount (present value), is_sum, from nothing to the three figures.

    Small lines stand together. The sums are headline, with avoided cost and with signed sales; ``against`` asks for
    what they are beyond another scenario.
    """
    own = _Worth(cash, cash.case(scenario), cash.base_of(against))
    taken = {kind: own.taken(kind) for kind in LOST}
    rows = [*_lines(own, HEADLINE_CLASSES), *((LOST[kind], value, False) for kind, value in taken.items() if value),
            ("Headline", own.figure("npv"), True)]  # fmt: skip
    for kind, head, figure in (
        (COST_AVOIDED, "With avoided cost", "npv_with_avoided"),
        (CAPACITY, "With signed sales", "npv_with_signed_sales"),
    ):
        more = _lines(own, (kind,))
        more += [(f"{LOST[kind]}, counted above", -taken[kind], False)] if taken[kind] else []
        rows += [*more, (head, own.figure(figure), True)] if more else []
    frame = pd.DataFrame(rows, columns=["step", "amount", "is_sum"])
    name = f"{own.scenario} beyond {own.against}" if own.against else own.scenario
    title = say.carried_title(name, own.figure("npv"), cash.currency, *_most(own))
    return titled(frame, title, f"Present value in {cash.currency}, prices as quoted.")


@dataclass(frozen=True)
class _Worth:
    """Present values of a case, less those of another one if it is named."""

    cash: CashFlow
    scenario: str
    against: str

    def of(self, flows: Callable[[str], Floats]) -> float:
        """Present value of what ``flows`` finds for the case, less that of the other one."""
        found = flows(self.scenario) - (flows(self.against) if self.against else 0.0)
        return present_value(self.cash.flow.finance, found)

    def line(self, name: str, classes: Sequence[str]) -> float:
        """Present value of a line in some classes."""
        return self.of(lambda one: self.cash.flow.flows(one, classes, lines=(name,)))

    def taken(self, kind: str) -> float:
        """Present value of what a class beside the headline takes from it."""
        return self.of(lambda one: lost(self.cash.flow, one, kind)[:, 0])

    def figure(self, name: str) -> float:
        """One of the three values."""
        results = self.cash.results
        less = getattr(results[self.against], name) if self.against else 0.0
        return float(getattr(results[self.scenario], name) - less)


def _most(own: _Worth) -> tuple[str, str]:
    """The lines of the headline that bring and that cost most, taxes apart; empty where there is none."""
    lines = [row for row in _lines(own, HEADLINE_CLASSES) if row[0] in TITLES]
    gains, losses = ([row for row in lines if row[1] * sign > 0] for sign in (1, -1))
    return gains[0][0] if gains else "", losses[0][0] if losses else ""


def _lines(own: _Worth, classes: Sequence[str]) -> list[tuple[str, float, bool]]:
    """Present value of each line, gains first, the largest first; small ones together."""
    worth = {line.title: own.line(name, classes) for name, line in LINES.items()}
    worth = {title: value for title, value in worth.items() if value}
    least = SMALLEST_SHARE * max(map(abs, worth.values()), default=0.0)
    small = {title: value for title, value in worth.items() if abs(value) < least}
    if len(small) > 1:
        worth = {title: value for title, value in worth.items() if title not in small}
        worth[f"{plural(len(small), 'small line')} together"] = sum(small.values())
    ranked = sorted(worth.items(), key=lambda pair: (pair[1] < 0, -abs(pair[1])))
    return [(title, value, False) for title, value in ranked]


class _Step(NamedTuple):
    """A step from hours to cash; a half-width that is not a number: the value is exact."""

    what: str
    value: float
    value_half_width: float
    unit: str
    where: str


def trace(cash: CashFlow, scenario: str | Scenario) -> pd.DataFrame:
    """Follow the largest benefit from the simulated hours to the value of the case: what, value, unit, where.

    It is empty where no amount comes from one simulated measure.
    """
    scenario = cash.case(scenario)
    row = _largest_benefit(cash, scenario)
    found = [] if row is None else [*_simulated(cash, row), *_factors(row), *_reached(cash, row)]
    frame = pd.DataFrame(found, columns=list(_Step._fields))
    about = ("", 0, 0.0) if row is None else (LINES[row.line].title, row.year, row.amount)
    return titled(frame, say.traced_title(scenario, *about, cash.currency), (
        "The product of the steps marked × is the amount. Every other amount goes the same way: its basis stands in "
        "money.csv, its hours in the table of the runs."), folded=False)  # fmt: skip


def _largest_benefit(cash: CashFlow, scenario: str) -> CashRow | None:
    """The largest amount that one simulated measure stands behind: of the headline if there is one."""
    rows = [
        row for row in cash.flow.rows_of(scenario)
        if row.line in TRACED and row.benefit_class != COST and row.amount and TRACED[row.line][0] in _known(cash)
    ]  # fmt: skip
    return max(rows, key=lambda row: (row.benefit_class in HEADLINE_CLASSES, row.amount), default=None)


def _known(cash: CashFlow) -> frozenset[str]:
    return frozenset.intersection(*(totals.measures for totals in cash.totals.values()))


def _simulated(cash: CashFlow, row: CashRow) -> Iterator[_Step]:
    """What was simulated today and with the case, and the difference, at the level next to the year's demand."""
    study, measure, numbers = cash.study, TRACED[row.line][0], cash.study.numbers
    wanted = demand_path(cash.flow.finance)[row.year - 1]
    level = min(numbers.levels, key=lambda one: (abs(one - wanted), one))
    before, after = (study.weekly_values(name, measure, level=level) for name in (cash.flow.today, row.scenario))
    fitted = study.results.fitted(cash.flow.today, level, measure)
    where = f"{plural(numbers.replications, 'run')} of {weeks_of(numbers.weeks)} at demand {level:g}"
    if level != wanted:
        where += f"; year {row.year} reads {wanted:g}, in a straight line between levels"
    unit = f"{describe(measure).unit}/week"
    what = capitalised(describe(measure).meaning.split(";")[0].split(",")[0])
    for words, values in (
        (f"{what}: {cash.flow.today}", before), (f"{what}: {row.scenario}", after), ("Less of it", before - after),
    ):  # fmt: skip
        known = t_interval(values, unit, fitted=fitted)
        yield _Step(words, known.mean, known.half_width, unit, where)


def _factors(row: CashRow) -> Iterator[_Step]:
    """The factors of the amount, as its basis lists them."""
    places = {
        "budget": "what today's book spends, at the demand of its budgets",
        "weeks": "finance.production_weeks",
        "growth": "growth of wages and prices in the section finance",
        "of the year": "lead time, ramp and share kept of the options",
    }
    for piece in row.basis.split("; ")[0].split(" x "):
        value, _, text = piece.partition(" ")
        unit, _, words = text.partition(" ")
        unit, words = (unit, words) if "/" in unit else ("", text)
        where = next((place for mark, place in places.items() if mark in text), "")
        if not where:
            where = TRACED[row.line][1] if not unit.endswith("/week") else "the mean of the runs at the year's demand"
        yield _Step(f"× {words or 'price'}", float(value), float("nan"), unit, where)


def _reached(cash: CashFlow, row: CashRow) -> Iterator[_Step]:
    """The amount, and the sums that it goes into."""
    line, result, finance = LINES[row.line], cash.results[row.scenario], cash.flow.finance
    flows = cash.flow.flows(row.scenario, (row.benefit_class,), lines=(row.line,))
    where = f"{COUNTS_AS[row.benefit_class]}; budget: {line.budget}; proof: {line.evidence}; owner: {row.owner or '–'}"
    for words, value, place in (
        (f"= {line.title}, year {row.year}", row.amount, where),
        (f"{line.title}, all years, present value", present_value(finance, flows), "before tax"),
        (f"Headline of year {row.year}", result.flows[row.year], "all lines, after tax"),
        ("Value of the case", result.npv, "the headline of all years, discounted"),
    ):  # fmt: skip
        yield _Step(words, value, float("nan"), cash.currency, place)


def owners(cash: CashFlow, scenario: str | Scenario) -> pd.DataFrame:
    """Whose budget falls and who gave each price: what, benefit_class, amount, budget, evidence, date, owner."""
    scenario = cash.case(scenario)
    table = cash.flow.register()
    own = table[(table["scenario"] == scenario) & (table["benefit_class"] != NOT_MONETISED) & (table["amount"] != 0)]
    benefits = [
        (row["title"], row["benefit_class"], row["amount"], row["account"] or f"{row['budget_line']}: not named",
         row["evidence"], row["falls_from"] or "no date", row["budget_owner"] or row["owner"] or "not named")
        for row in own.to_dict("records")
    ]  # fmt: skip
    as_of = cash.plant.settings.as_of
    options = [cash.flow.prices.options[name] for name in cash.totals[scenario].option_ids]
    prices = [
        (f"Price of {option.called}", COST, -capital_of([option]), "investment", option.price_source or "no source",
         price_state(option, as_of), option.owner or "not named")
        for option in options
    ]  # fmt: skip
    columns = ["what", "benefit_class", "amount", "budget", "evidence", "falls_from_or_valid", "owner"]
    frame = pd.DataFrame([*benefits, *prices], columns=columns)
    unnamed = int((own["account"] == "").sum())
    return titled(frame, say.owners_title(scenario, unnamed, len(own)), (
        f"{cash.currency} over all years. A benefit without a budget, an owner and a date is not released yet: name "
        "them in finance.budget_lines. A price without a source or past its date is a guess."
    ), folded=True)  # fmt: skip


def price_state(option: Option, as_of: dt.date) -> str:
    """Whether a price holds on the date of the study, in words."""
    try:
        until = dt.date.fromisoformat(option.valid_until)
    except ValueError:
        return "not dated"
    return f"valid until {until}" if until >= as_of else f"expired on {until}"
