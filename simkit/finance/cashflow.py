"""The cash-flow table: the only place where years are built. Every measure of money reads it.

Amounts are differences from today, positive when received, by scenario, line, class, year and case: one case, or
thousands at once where prices, terms or simulated totals hold one value per case. Year 0 is the first payment; years 1
to the horizon follow. No tax or investment advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, reduce
from typing import Literal

import numpy as np
import pandas as pd

from simkit.base.arrays import Floats
from simkit.base.messages import BadInput, Finding, nearest
from simkit.finance.benefits import today_at
from simkit.finance.casearrays import PerCase, over_years
from simkit.finance.costs import add_costs
from simkit.finance.guards import require_counted_once, require_sound_terms
from simkit.finance.inputs import Prices, ScenarioTotals, check_totals, prices_of
from simkit.finance.labour import added_posts, posts_saved
from simkit.finance.ledger import CashRow, Entry, Ledger
from simkit.finance.lines import (
    AVOIDED_CLASSES,
    CAPITAL_LINES,
    COST,
    HEADLINE_CLASSES,
    LINES,
    SALES_CLASSES,
    counts,
)  # fmt: skip
from simkit.finance.tax import add_tax, depreciation
from simkit.finance.timeline import (
    deflator,
    demand_path,
    schedule_of,
    seasons_of,
)
from simkit.finance.use import Fading, SeasonGains, add_use
from simkit.plant.options import TODAY, Option, PriceCase
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_money import Finance

Figure = Literal["headline", "with_avoided", "with_signed_sales"]
"""The three figures; each adds a class of benefit to the one before."""

FIGURE_CLASSES: dict[Figure, tuple[str, ...]] = {
    "headline": HEADLINE_CLASSES,
    "with_avoided": AVOIDED_CLASSES,
    "with_signed_sales": SALES_CLASSES,
}
"""Classes that each figure counts, losses of the others apart."""


@dataclass(frozen=True, eq=False)
class Statement:
    """Amounts of one scenario by line and class, in money of their year.

    ``written`` is its depreciation by year and case (not cash), ``hours`` those of a year of full use by kind: freed, a
    value line, not_money. ``start`` is the start of use, years after the first payment.
    """

    entries: Sequence[Entry]
    written: Floats
    hours: Mapping[str, Floats]
    start: PerCase


@dataclass(frozen=True, eq=False)
class CashFlowTable:
    """All amounts of all scenarios, with the settings they were built with.

    ``notes`` say what was assumed where an input was missing.
    """

    statements: Mapping[str, Statement]
    finance: Finance
    prices: Prices
    today: str = TODAY
    notes: tuple[str, ...] = field(default=())

    @property
    def currency(self) -> str:
        """The plant's currency."""
        return self.prices.currency

    @property
    def scenarios(self) -> tuple[str, ...]:
        """Names of the scenarios, in the order they were given."""
        return tuple(self.statements)

    def of(self, scenario: str) -> Statement:
        """What one scenario brings and costs; raises ``KeyError`` with the nearest known name."""
        if scenario not in self.statements:
            raise KeyError(f"no scenario '{scenario}' in the cash flow: {nearest(scenario, self.statements)}")
        return self.statements[scenario]

    @cached_property
    def rows(self) -> tuple[CashRow, ...]:
        """All amounts of the first case, one a row."""
        return tuple(row for name in self.statements for row in self.rows_of(name))

    @cached_property
    def frame(self) -> pd.DataFrame:
        """Tidy table: scenario, year, line, benefit_class, amount, basis, owner, item."""
        return pd.DataFrame([vars(row) for row in self.rows], columns=list(CashRow.__dataclass_fields__))

    def rows_of(self, scenario: str) -> tuple[CashRow, ...]:
        """Rows of one scenario; raises ``KeyError`` with the nearest known name."""
        return tuple(row for entry in self.of(scenario).entries for row in entry.rows(scenario, self.finance))

    def amounts(
        self, scenario: str, classes: Iterable[str] = SALES_CLASSES, lines: Iterable[str] | None = None,
        without: Iterable[str] = (),
    ) -> Floats:  # fmt: skip
        """Cash of a scenario, shape (years, cases), over the given classes and lines (default: all lines)."""
        years = np.arange(self.finance.horizon_years + 1)[:, None]
        wanted, named, left_out = set(classes), set(lines or LINES), set(without)
        own = () if scenario == self.today else self.of(scenario).entries
        picked = (entry.amounts for entry in own if entry.benefit_class in wanted and entry.line in named - left_out)
        return np.asarray(sum(picked, np.zeros(years.shape)) * deflator(self.finance, years))

    def flows(
        self, scenario: str, classes: Iterable[str] = SALES_CLASSES, lines: Iterable[str] | None = None,
        without: Iterable[str] = (),
    ) -> Floats:  # fmt: skip
        """As :meth:`amounts`, of the first case: year 0 first."""
        return self.amounts(scenario, classes, lines, without)[:, 0]

    def capital(self, scenario: str) -> float:
        """What is paid first for a scenario, money: the one sum of its capital."""
        return -float(self.flows(scenario, lines=CAPITAL_LINES).sum())

    def register(self) -> pd.DataFrame:
        """Per scenario, line and class of benefit the sum over years, budget line, evidence and owner.

        ``account``, ``budget_owner`` and ``falls_from`` are the plant's own budget of the line, empty where none is
        named; ``first_year`` is the first year with an amount, 0 if there is none.
        """
        keys = ["scenario", "line", "benefit_class", "owner"]
        benefits = self.frame[self.frame["benefit_class"] != COST]
        table = benefits.groupby(keys, sort=False, as_index=False).agg({"amount": "sum"})
        lines = [LINES[line] for line in table["line"]]
        table["title"] = [line.title for line in lines]
        table["budget_line"] = [line.budget for line in lines]
        table["evidence"] = [line.evidence for line in lines]
        named = {entry.line: entry for entry in self.finance.budget_lines}
        found = [named.get(line) for line in table["line"]]
        table["account"] = [entry.account if entry else "" for entry in found]
        table["budget_owner"] = [entry.owner if entry else "" for entry in found]
        table["falls_from"] = [str(entry.falls_from or "") if entry else "" for entry in found]
        first = benefits[benefits["amount"] != 0].groupby(keys)["year"].min()
        table["first_year"] = [int(first.get(key, 0)) for key in table[keys].itertuples(index=False, name=None)]
        return table


def build_cashflow(
    plant: PlantInputs, today: ScenarioTotals, scenarios: Sequence[ScenarioTotals], *,
    finance: Finance | None = None, prices: Prices | None = None, case: PriceCase = "quoted",
    beside: Sequence[ScenarioTotals] = (),
) -> CashFlowTable:  # fmt: skip
    """Build the cash-flow table of scenarios against today.

    ``plant`` gives prices with options, and finance settings (``prices`` and ``finance`` replace them), ``today`` and
    ``scenarios`` the simulated totals per demand level. Every year reads the latest signed demand. ``case`` picks low,
    quoted or high capital and persistence. ``beside`` are scenarios that are not in the table and may tell what fades
    in another.

    Prices, settings and totals may hold one value per case, see :mod:`simkit.finance.casearrays`. Real settings are
    built in nominal money, for depreciation and stock are nominal, and then deflated.

    Raises BadInput for unknown options, demand outside the simulated levels, a mix of real and nominal or an amount
    that would count twice, KeyError for a missing measure, DoubleCount if an hour would count twice.
    """
    settings, used = finance or plant.settings.finance, prices or prices_of(plant)
    require_sound_terms(settings)
    if prices is None:
        require_counted_once(plant, settings, {name for totals in scenarios for name in totals.option_ids})
    for totals in (today, *scenarios):
        check_totals(totals)
    path = demand_path(settings)
    book = 1.0 if today.covers(1.0) else path[0]
    demand = over_years([path[0], *path])  # in year 0 nothing is in use
    seasons = [SeasonGains(today_at(today, used, one.weeks, demand * one.factor, book * one.factor))
               for one in seasons_of(settings)]  # fmt: skip
    statements, notes = {}, list[str]()
    for totals in scenarios:
        ledger = Ledger(tuple(_option(used, name) for name in totals.option_ids), used, settings, case)
        fading = Fading.of(ledger, totals.name, (*scenarios, *beside), notes)
        statements[totals.name] = _statement(ledger, seasons, totals, fading)
    return CashFlowTable(statements, settings, used, today.name, tuple(notes))


def _statement(
    ledger: Ledger, seasons: Sequence[SeasonGains], totals: ScenarioTotals, fading: Fading
) -> Statement:  # fmt: skip
    """A scenario's costs and posts, what it brings in use, and the tax on all of it."""
    finance, today = ledger.finance, seasons[0].today.before.totals.roster
    lead_weeks = reduce(np.maximum, (option.lead_weeks for option in ledger.options), 0.0)
    use = schedule_of(finance, lead_weeks)
    add_costs(ledger, today, use.start)
    added_posts(ledger, today, totals.roster, use)
    if counts(finance, "posts"):
        posts_saved(ledger, today, totals.roster, use)
    hours = add_use(ledger, seasons, totals, fading, use)
    written = depreciation(ledger.entries, finance, use.start)
    add_tax(ledger, written)
    return Statement(ledger.entries, written, hours, use.start)


def _option(prices: Prices, option_id: str) -> Option:
    if option_id in prices.options:
        return prices.options[option_id]
    raise BadInput([Finding("options.toml", f"no option '{option_id}'", nearest(option_id, prices.options))])


# --- the three figures by year: the only place where classes are added up to a figure ---


def lost(cashflow: CashFlowTable, scenario: str, kind: str, without: Iterable[str] = ()) -> Floats:
    """A class in the years in which it is negative, 0 in the others, by year and case.

    After tax, unless ``without`` names the lines of tax.
    """
    return np.minimum(cashflow.amounts(scenario, (kind,), without=without), 0.0)


def lost_beside(
    cashflow: CashFlowTable, scenario: str, figure: Figure = "headline", without: Iterable[str] = ()
) -> PerCase:
    """What the classes that a figure does not count lose, by year and case; see :func:`lost`."""
    left_out = (kind for kind in SALES_CLASSES if kind not in FIGURE_CLASSES[figure])
    return sum(lost(cashflow, scenario, kind, without) for kind in left_out)


def figure_amounts(cashflow: CashFlowTable, scenario: str, figure: Figure = "headline") -> Floats:
    """Cash of a scenario by year and case in one of the three figures."""
    counted = cashflow.amounts(scenario, FIGURE_CLASSES[figure])
    return np.asarray(counted + lost_beside(cashflow, scenario, figure))


def figure_flows(cashflow: CashFlowTable, scenario: str, figure: Figure = "headline") -> Floats:
    """The same of the first case, year 0 first."""
    return figure_amounts(cashflow, scenario, figure)[:, 0]
