"""The cash-flow table: the only place where years are built. Every measure of money reads it.

Amounts are differences from today, in money of their year, positive when received. Year 0 is the first
payment; years 1 to the horizon follow. No tax or investment advice.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.base.messages import BadInput, Finding, nearest
from simkit.finance.cases import Number, below, least, most, ratio
from simkit.finance.consumption import GainsByDemand
from simkit.finance.conventions import conventions
from simkit.finance.costs import (
    capital_rows,
    cost_row,
    owners,
    renewal_rows,
    running_rows,
    single_row,
    start_rows,
    stock_rows,
)
from simkit.finance.guards import require_counted_once
from simkit.finance.inputs import OneTime, Prices, ScenarioTotals, check_totals, prices_of
from simkit.finance.lines import (
    COST_AVOIDED,
    LINES,
    NOT_MONETISED,
    SALES_CLASSES,
    CashRow,
    Factor,
    basis_text,
    class_of,
    price_level,
)
from simkit.finance.pairs import Gain, Pair
from simkit.finance.posts import added_rows, posts_rows
from simkit.finance.register import register_of
from simkit.finance.tax import DepreciationRow, depreciation, tax_rows
from simkit.finance.timeline import (
    DemandPath,
    Schedule,
    Season,
    YearDemand,
    YearOfUse,
    deflator,
    demand_path,
    first_year_of_use,
    require_first_payment,
    require_one_basis,
    schedule_of,
    seasons_of,
)
from simkit.plant.options import Option, PriceCase
from simkit.plant.plant import Plant
from simkit.plant.scenarios import TODAY
from simkit.plant.settings_money import Finance


@dataclass(frozen=True)
class HoursRow:
    """Hours of a scenario in a year: ``kind`` freed, a value line, or not_money; per year of full use."""

    scenario: str
    year: int
    kind: str
    hours: float


@dataclass(frozen=True)
class CashFlow:
    """All amounts of all scenarios, with the settings they were built with.

    ``start`` gives each scenario's start of use, years after the first payment. ``demand`` says which
    demand the years read. ``notes`` say what was assumed where an input was missing.
    """

    rows: tuple[CashRow, ...]
    hours_rows: tuple[HoursRow, ...]
    depreciation_rows: tuple[DepreciationRow, ...]
    finance: Finance
    currency: str
    demand: DemandPath
    start: dict[str, float]
    today: str = TODAY
    notes: tuple[str, ...] = field(default=())

    @property
    def scenarios(self) -> tuple[str, ...]:
        """Names of the scenarios, in the order they were given."""
        return tuple(self.start)

    @cached_property
    def frame(self) -> pd.DataFrame:
        """Tidy table: scenario, year, line, benefit_class, amount, basis, owner, item."""
        return pd.DataFrame([vars(row) for row in self.rows], columns=list(CashRow.__dataclass_fields__))

    @cached_property
    def hours(self) -> pd.DataFrame:
        """Tidy table of hours: scenario, year, kind, hours (per year of full use)."""
        return pd.DataFrame([vars(row) for row in self.hours_rows], columns=list(HoursRow.__dataclass_fields__))

    @cached_property
    def depreciation(self) -> pd.DataFrame:
        """Tidy table of depreciation (not cash): scenario, year, amount, basis."""
        names = list(DepreciationRow.__dataclass_fields__)
        return pd.DataFrame([vars(row) for row in self.depreciation_rows], columns=names)

    @property
    def conventions(self) -> tuple[str, ...]:
        """What every figure of this table rests on, in words: timing, basis, payments, losses, depreciation, season."""
        return conventions(self.finance)

    def rows_of(self, scenario: str) -> tuple[CashRow, ...]:
        """Rows of one scenario; raises ``KeyError`` with the nearest known name."""
        if scenario not in self.start:
            raise KeyError(f"no scenario '{scenario}' in the cash flow: {nearest(scenario, self.start)}")
        return self._by_scenario.get(scenario, ())

    @cached_property
    def _by_scenario(self) -> dict[str, tuple[CashRow, ...]]:
        found: dict[str, list[CashRow]] = {}
        for row in self.rows:
            found.setdefault(row.scenario, []).append(row)
        return {name: tuple(rows) for name, rows in found.items()}

    def flows(
        self, scenario: str, classes: Iterable[str] = SALES_CLASSES, lines: Iterable[str] | None = None,
        without: Iterable[str] = (),
    ) -> NDArray[np.float64]:  # fmt: skip
        """Cash of a scenario by year, year 0 first, over the given classes and lines (default: all lines)."""
        return np.array(self.amounts(scenario, classes, lines, without), dtype=np.float64)

    def amounts(
        self, scenario: str, classes: Iterable[str] = SALES_CLASSES, lines: Iterable[str] | None = None,
        without: Iterable[str] = (),
    ) -> list[Number]:  # fmt: skip
        """As :meth:`flows`, a list whose entries hold one amount per case if the table was built for many."""
        series: list[Number] = [0.0] * (self.finance.horizon_years + 1)
        if scenario == self.today:
            return series
        wanted, named, left_out = set(classes), set(lines or LINES), set(without)
        for row in self.rows_of(scenario):
            if row.benefit_class in wanted and row.line in named and row.line not in left_out:
                series[row.year] += row.amount
        return series

    def register(self) -> pd.DataFrame:
        """Benefits register, see :func:`simkit.finance.register.register_of`."""
        return register_of(self.frame, self.finance.budget_lines)


@dataclass(frozen=True)
class _Case:
    """One scenario and everything its rows need; a pair for each season."""

    pair: Pair
    seasons: tuple[tuple[Season, GainsByDemand, GainsByDemand | None], ...]
    options: tuple[Option, ...]
    finance: Finance
    schedule: Schedule
    path: tuple[YearDemand, ...]
    kept: float
    owner: str

    @property
    def name(self) -> str:
        return self.pair.option.name


def build_cashflow(
    plant: Plant, today: ScenarioTotals, scenarios: Sequence[ScenarioTotals], *,
    finance: Finance | None = None, demand: DemandPath = "signed", case: PriceCase = "quoted",
    one_time: Sequence[OneTime] = (),
) -> CashFlow:  # fmt: skip
    """Build the cash-flow table of scenarios against today.

    ``plant`` gives prices, options and finance settings (``finance`` replaces the latter), ``today`` and
    ``scenarios`` the simulated totals per demand level. ``demand`` "signed" lets every year read the latest
    signed demand, "all" hoped demand too. ``case`` picks low, quoted or high capital and persistence.

    Real settings are built in nominal money, for depreciation and stock are nominal, and then deflated.

    Raises BadInput for unknown options, demand outside the simulated levels, a mix of real and nominal or an amount
    that would count twice, KeyError for a missing measure, DoubleCount if an hour would count twice.
    """
    settings, prices = finance or plant.settings.finance, prices_of(plant)
    require_one_basis(settings)
    require_first_payment(settings)
    require_counted_once(plant, settings, {name for totals in scenarios for name in totals.option_ids})
    path, notes = demand_path(settings, demand), [] if demand == "signed" else ["years read hoped demand as well"]
    rows: list[CashRow] = []
    hours: list[HoursRow] = []
    written: list[DepreciationRow] = []
    start = {}
    for totals in (today, *scenarios):
        check_totals(totals)
    for totals in scenarios:
        built = _case(totals, today, scenarios, prices, settings, path, case, notes)
        start[totals.name] = built.schedule.start
        own, own_hours = _scenario_rows(built, prices, case, one_time)
        own_written = depreciation(own, settings, totals.name, first_year_of_use(built.schedule.start))
        rows += [*own, *tax_rows(own, own_written, settings, totals.name)]
        hours += own_hours
        written += own_written
    if settings.rate_basis == "real":
        rows = [_deflated(row, settings) for row in rows]
    return CashFlow(
        tuple(rows), tuple(hours), tuple(written), settings, prices.currency, demand, start, today.name, tuple(notes)
    )


def _deflated(row: CashRow, finance: Finance) -> CashRow:
    """A row in money of year 0, with that factor in its basis."""
    factor = deflator(finance, row.year)
    head, mark, note = row.basis.partition(";")
    basis = f"{head} x {factor:.12g} in money of year 0{mark}{note}"
    return dataclasses.replace(row, amount=row.amount * factor, basis=basis)


def _case(
    totals: ScenarioTotals, today: ScenarioTotals, scenarios: Sequence[ScenarioTotals], prices: Prices,
    finance: Finance, path: tuple[YearDemand, ...], case: PriceCase, notes: list[str],
) -> _Case:  # fmt: skip
    options = tuple(_option(prices, option_id) for option_id in totals.option_ids)
    schedule = schedule_of(finance, max((option.lead_weeks for option in options), default=0.0))
    book = 1.0 if today.covers(1.0) else path[0].factor
    parts = [(s, dataclasses.replace(s, factor=s.factor * book)) for s in seasons_of(finance)]

    def pairs(option: ScenarioTotals) -> list[GainsByDemand]:
        return [GainsByDemand(Pair(today, option, prices, part.weeks, scaled.factor)) for part, scaled in parts]

    fading = [option for option in options if getattr(option.persistence, case) < 1.0]
    kept = least(1.0, *(getattr(option.persistence, case) for option in fading))
    persisting: list[GainsByDemand] | list[None] = [None] * len(parts)
    if fading and len(fading) < len(options):
        wanted = {option.id for option in fading}
        alone = next((s for s in scenarios if set(s.option_ids) == wanted), None)
        if alone is None:
            named = "+".join(sorted(wanted))
            notes.append(f"{totals.name}: {named} alone was not simulated, so the whole gain fades (cautious)")
        else:
            persisting = pairs(alone)
    seasons = tuple(zip((season for season, _ in parts), pairs(totals), persisting, strict=True))
    pair = Pair(today, totals, prices, finance.production_weeks, book)
    return _Case(pair, seasons, options, finance, schedule, path, kept, owners(options))


def _option(prices: Prices, option_id: str) -> Option:
    if option_id in prices.options:
        return prices.options[option_id]
    raise BadInput([Finding("options.toml", f"no option '{option_id}'", nearest(option_id, prices.options))])


def _scenario_rows(
    case: _Case, prices: Prices, price_case: PriceCase, one_time: Sequence[OneTime]
) -> tuple[list[CashRow], list[HoursRow]]:
    name, finance, options = case.name, case.finance, case.options
    today = case.pair.today
    rows = capital_rows(name, options, prices, finance, price_case)
    rows += renewal_rows(name, options, prices, finance, price_case)
    rows += running_rows(name, options, prices, finance, price_case)
    rows += stock_rows(name, options, prices, finance)
    rows += start_rows(name, options, today.roster, prices, finance, case.schedule.start)
    rows += added_rows(case.pair.option, today, prices, finance, case.schedule, case.owner)
    if counts(finance, "posts"):
        rows += posts_rows(case.pair.option, today, prices, finance, case.schedule, case.owner)
    rows += [_one_time_row(name, item, finance) for item in one_time if item.option_id in case.pair.option.option_ids]
    hours: list[HoursRow] = []
    for year in case.path:
        parts = []
        for season, gains, alone in case.seasons:
            demand = year.at(season.factor)
            found, consumed = gains.of(demand)
            rows += _gain_rows(case, demand, (*found, *consumed), alone)
            parts.append(_hours(case, gains.pair, demand, found))
        own_hours = _summed(parts)
        hours += own_hours
        rows.append(_hours_only_row(case, own_hours[-1]))
    return rows, hours


def _summed(parts: Sequence[list[HoursRow]]) -> list[HoursRow]:
    """Hours of a year over its seasons, kind by kind."""
    return [dataclasses.replace(rows[0], hours=sum(row.hours for row in rows)) for rows in zip(*parts, strict=True)]


def counts(finance: Finance, rule: str) -> bool:
    """Whether a value-of-hours rule is switched on; ``hours_only`` switches all of them off."""
    return rule in finance.value_rules and "hours_only" not in finance.value_rules


def _one_time_row(name: str, item: OneTime, finance: Finance) -> CashRow:
    """A single amount in its year; before the first payment there is none, so that it falls with it."""
    year, amount = max(item.year, finance.start_after_years), (item.amount, f"once: {item.text}")
    return single_row(name, year, "one_time", amount, item.owner, item.option_id, finance.horizon_years)


def _gain_rows(
    case: _Case, demand: YearDemand, found: Sequence[Gain], persisting: GainsByDemand | None
) -> list[CashRow]:
    """Rows of a year's gains, fading and ramped, and losses, in full while in use; a rule switches gains off alone."""
    alone: dict[tuple[str, str], float] = {}
    if persisting is not None:
        for gain in chain(*persisting.of(demand)):
            alone[gain.line, gain.item] = gain.full
    rows: list[CashRow] = []
    counted_in = case.schedule.of_year(demand.year)
    for gain in found:
        rule = LINES[gain.line].rule
        counted = not rule or counts(case.finance, rule)
        fading = _fading_share(case, gain, alone if persisting is not None else None)
        grown = (price_level(case.finance, gain.line, demand.year), f"{LINES[gain.line].growth[:-1]} growth")
        for loses, share in _shares_of_use(case, counted_in, gain, fading):
            for kind, part in _classes(gain) if loses or counted else ():
                factors = (*gain.factors, *part, grown, *share)
                rows.append(cost_row(case.name, demand.year, gain.line, factors, case.owner, kind=kind,
                                     item=gain.item, note=gain.note))  # fmt: skip
    return rows


def _fading_share(case: _Case, gain: Gain, alone: dict[tuple[str, str], float] | None) -> float:
    """Share of a gain that fades after a year: all of it, or what the fading options alone bring."""
    if case.kept == 1.0 or below(gain.full, 0.0) is True:
        return 0.0
    if alone is None:
        return 1.0
    share = ratio(alone.get((gain.line, gain.item), 0.0), gain.full)
    return least(1.0, most(0.0, share))  # type: ignore[no-any-return]


def _classes(gain: Gain) -> list[tuple[str, tuple[Factor, ...]]]:
    """A gain or loss by class: released within today's budget, avoided above it."""
    kind = class_of(gain.line)
    within, above = below(gain.released, 1.0), below(0.0, gain.released)
    if within is False:
        return [(kind, ())]
    outside = (1.0 - gain.released, f"share above today's budget of {gain.budget:.6g} a year")
    if above is False:
        return [(COST_AVOIDED, ())]
    inside = (gain.released, f"share within today's budget of {gain.budget:.6g} a year")
    return [(kind, (inside,)), (COST_AVOIDED, (outside,))]


def _shares_of_use(case: _Case, use: YearOfUse, gain: Gain, fading: float) -> list[tuple[bool, tuple[Factor, ...]]]:
    """What of a year counts, for a loss (first) or a gain: losses in full while in use, gains ramped and fading."""
    in_full = (use.in_use, "of the year in use")
    lost = (1.0 - case.kept) * fading * use.after_first_year
    ramped = (use.ramped - lost, f"of the year in use, ramped, {lost:.4g} faded")
    loses = below(gain.full, 0.0)
    if loses is True or loses is False:
        return [(True, (in_full,)) if loses else (False, (ramped,))]
    return [(True, ((loses, "where it loses"), in_full)), (False, ((1.0 - loses, "where it gains"), ramped))]


def _hours(case: _Case, pair: Pair, demand: YearDemand, found: Sequence[Gain]) -> list[HoursRow]:
    """Hours per year of full use: freed, by value line, and (last) those that no rule turns into money."""
    weeks = pair.weeks
    freed = pair.freed_h(demand.factor)
    by_line = {}
    for name in ("overtime_h", "subcontract_h"):
        by_line[name[:-2]] = pair.today.per_week(name, demand.factor) - pair.option.per_week(name, demand.factor)
    by_line |= {gain.line: gain.factors[0][0] for gain in found if gain.line in ("sales", "sales_unsigned")}
    money = sum(most(h, 0.0) for line, h in by_line.items() if counts(case.finance, LINES[line].rule))
    rows = [("freed", freed), *by_line.items(), ("not_money", most(freed - money, 0.0))]
    return [HoursRow(case.name, demand.year, kind, h * weeks) for kind, h in rows]


def _hours_only_row(case: _Case, hours: HoursRow) -> CashRow:
    factors = ((hours.hours, "h freed in a full year"), (0.0, "money: no rule turns them into money"))
    return CashRow(
        case.name, hours.year, "hours_only", NOT_MONETISED, 0.0, basis_text(factors), case.owner, "not_money"
    )
