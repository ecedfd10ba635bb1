"""The cash flow of a study: every amount, what it is worth, how sure that is, and what would turn it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simkit.analysis.flips import Flip, flip_values
from simkit.base.messages import BadInput, Finding
from simkit.desk.money_files import write_files
from simkit.desk.plants import Changes, Scenario, where_they_reach
from simkit.desk.runs import finance_at
from simkit.desk.shown import SIGN, frame_html
from simkit.experiment.intervals import Estimate, t_interval
from simkit.finance import cashflow as table
from simkit.finance.arrays import Array
from simkit.finance.evaluate import MoneyResult, evaluate
from simkit.finance.inputs import ScenarioTotals, totals_from
from simkit.finance.riskinputs import register
from simkit.finance.riskmodel import RiskModel
from simkit.finance.risksummary import Sampled, sample, summary
from simkit.plant import plant as tables
from simkit.plant.settings import Settings

if TYPE_CHECKING:
    from simkit.desk.study import Study

SHARED = ("money", "finance", "financing", "scrap", "risk")
"""Sections of the settings that hold for all scenarios of a cash flow: those of the first one."""


@dataclass(frozen=True, eq=False, repr=False)
class CashFlow:
    """Cash of every scenario of a study against its first one, by year, line and class of benefit.

    Amounts are in the plant's currency, positive when received; year 0 is the first payment. A planning aid: no tax or
    investment advice.
    """

    study: Study
    prices: tables.Plant
    totals: Mapping[str, ScenarioTotals]
    flow: table.CashFlow
    results: Mapping[str, MoneyResult]

    @property
    def currency(self) -> str:
        """Unit of all amounts."""
        return self.flow.currency

    @property
    def lines(self) -> pd.DataFrame:
        """The one table: scenario, year, line, benefit_class, amount, basis, owner, item."""
        return self.flow.frame.copy()

    def by_year(self) -> pd.DataFrame:
        """Headline cash of each scenario by year, and cumulative: scenario, year, cash, cumulative."""
        rows = [
            (name, year, cash, total)
            for name, one in self.results.items()
            for year, (cash, total) in enumerate(zip(one.flows, one.cumulative, strict=True))
        ]
        return pd.DataFrame(rows, columns=["scenario", "year", "cash", "cumulative"])

    def measures(self) -> pd.DataFrame:
        """One row per scenario: capital, net present value with its 95 % half-width, payback, internal rate.

        ``half_width`` comes from the replications, prices as quoted; all of them hold together. ``sign`` says whether
        the value's sign is 'sure'. ``payback_years`` is empty where it never pays back; ``payback`` and ``irr`` say
        why, in words. ``npv_with_avoided`` and ``npv_with_signed_sales`` stand beside the headline, not in it.
        """
        rows = []
        for name, one in self.results.items():
            known = self._known(self._samples[name])
            rows.append({
                "scenario": name, "capital": one.capital, "npv": one.npv, "half_width": known.half_width,
                "sign": SIGN[known.verdict], "npv_with_avoided": one.npv_with_avoided,
                "npv_with_signed_sales": one.npv_with_signed_sales, "payback_years": _number(one.payback.years),
                "payback": one.payback.text, "irr": one.irr.text, "unit": self.currency,
            })  # fmt: skip
        return pd.DataFrame(rows)

    def differences(self, against: str | Scenario) -> pd.DataFrame:
        """What the other scenarios cost and are worth beyond this one, from the same replications; one row each."""
        base = self.study.scenario(against).name
        rows = []
        for name in self.results:
            if name != base:
                gap, capital, _ = self.beyond(name, base)
                rows.append((name, base, capital, gap.mean, gap.half_width, SIGN[gap.verdict]))
        return pd.DataFrame(rows, columns=["scenario", "against", "capital", "npv", "half_width", "sign"])

    def beyond(self, scenario: str, against: str) -> tuple[Estimate, float, Array]:
        """Value, capital and headline cash by year of a scenario beyond another one, today's being nothing."""
        own, base = (self.results.get(name) for name in (scenario, against))
        if own is None:
            raise KeyError(scenario)
        gap, flows, capital = self._samples[scenario], np.asarray(own.flows), own.capital
        if base is not None:
            gap, flows, capital = gap - self._samples[against], flows - np.asarray(base.flows), capital - base.capital
        return self._known(gap), capital, flows

    def risk(self) -> pd.DataFrame:
        """One row per scenario: percentiles and mean of its value over the ranges of the inputs, and chances.

        ``shortfall`` is the mean loss of the cases that lose. As far as the ranges of prices, terms and demand and the
        error of the simulation go: times of elements, and how well an uncalibrated baseline fits the plant, are not in
        it.
        """
        rows = []
        for name in self.results:
            found = summary(self._sampled, name, self.prices.settings.risk.payback_limit_years)
            rows.append({
                "scenario": name, "p10": found.npv.p10, "p50": found.npv.p50, "p90": found.npv.p90, "mean": found.mean,
                "chance_of_loss": found.chance_of_loss, "shortfall": found.shortfall,
                "payback_p50_years": _number(found.payback.p50),
                "chance_of_payback_within_limit": _number(found.chance_of_payback), "samples": found.samples,
                "unit": self.currency,
            })  # fmt: skip
        return pd.DataFrame(rows)

    def flips(self, scenario: str | Scenario | None = None, against: str | Scenario | None = None) -> pd.DataFrame:
        """At which value of an input, all others typical, the net present value is zero: one row per input.

        ``against`` asks for the value beyond another scenario, as of an option on top of a package.

        Of one scenario or of all; ``flip`` is empty where there is none between ``looked_from`` and ``looked_to``;
        ``within_range`` says whether the input's own range from ``low`` to ``high`` reaches it.
        """
        names = list(self.results) if scenario is None else [self.study.scenario(scenario).name]
        if self.flow.today in names:
            why = "is what the others are compared with: it has no value of its own"
            raise BadInput([Finding("flips", why, "Name another scenario", value=self.flow.today)])
        beyond = "" if against is None else self._name_of(against)
        rows = [
            {
                "scenario": name, "input": flip.input.name, "title": flip.input.title, "unit": flip.input.unit,
                "low": flip.input.low, "typical": flip.input.typical, "high": flip.input.high, "flip": flip.value,
                "within_range": flip.within_range, "looked_from": flip.low, "looked_to": flip.high,
                "basis": flip.input.basis,
            }
            for name in names
            for flip in self.turns(name, beyond)
        ]  # fmt: skip
        return pd.DataFrame(rows)

    def turns(self, name: str, against: str = "") -> tuple[Flip, ...]:
        """The flips of a scenario as the analysis gives them, of its gain beyond ``against`` if one is named."""
        return flip_values(self.model_of([name]), name, self._demand, against)

    def _name_of(self, scenario: str | Scenario) -> str:
        name = self.study.scenario(scenario).name
        return "" if name == self.flow.today else name

    def write(self, folder: str | Path) -> tuple[Path, Path]:
        """Write ``workbook.xlsx`` (change an amount and all measures follow) and ``money.csv`` (every amount).

        Into a folder, which is made; return where they are. Raises BadInput where another file of that name stands.
        """
        return write_files(self, folder)

    @cached_property
    def _demand(self) -> tuple[float, float]:
        """Lowest and highest demand at which all scenarios were simulated."""
        return self.study.numbers.levels[0], self.study.numbers.levels[-1]

    def model_of(self, names: Iterable[str]) -> RiskModel:
        """The value of all scenarios as a function of the inputs that these scenarios have."""
        options = [option for name in names for option in self.totals[name].option_ids]
        inputs = register(self.prices, options, self._demand)
        return RiskModel(self.prices, self.totals, inputs, self.flow.today, self.study.results)

    @cached_property
    def _model(self) -> RiskModel:
        return self.model_of(self.results)

    @cached_property
    def _sampled(self) -> Sampled:
        return sample(self._model, list(self.results), self.prices.settings.risk)

    @cached_property
    def _samples(self) -> Mapping[str, Array]:
        return self._model.samples({name: one.npv for name, one in self.results.items()})

    def _known(self, values: Array) -> Estimate:
        return t_interval(values, self.currency, intervals=max(len(self.results), 1), fitted=self._model.fitted)

    def __repr__(self) -> str:
        """Return the cash flow in one line."""
        years = self.flow.finance.horizon_years
        return f"<CashFlow of {', '.join(self.results) or 'nothing'} against {self.flow.today}: {years} years>"

    def _repr_html_(self) -> str:
        return frame_html(repr(self)[1:-1], self.measures())


def cash_flow(study: Study, changes: Changes) -> CashFlow:
    """Build the cash flow of a study, with changes of prices and terms; see :meth:`simkit.desk.study.Study.money`."""
    base = study.scenarios[0]
    if base.options:
        why = f"'{base.name}' holds options ({', '.join(base.options)}), whose price would count as nothing"
        mend = "Put a scenario without options first, and read differences(against=) from the cash flow"
        raise BadInput([Finding("study.money", why, mend)])
    if len(study.scenarios) == 1:
        why = f"there is nothing to compare '{base.name}' with"
        raise BadInput([Finding("study.money", why, "Simulate it together with at least one other scenario")])
    made = [scenario.made for scenario in _changed(study.scenarios, changes)]
    _require_shared(study, made)
    finance = finance_at(made[0].plant.settings.finance, study.numbers.given)
    settings = made[0].plant.settings.model_copy(update={"finance": finance})
    prices = dataclasses.replace(made[0].plant, settings=settings)
    totals = totals_from(study.results, made)
    flow = table.build_cashflow(prices, totals[base.name], [totals[name] for name in study.names[1:]])
    return CashFlow(study, prices, totals, flow, evaluate(flow))


def _changed(scenarios: Sequence[Scenario], changes: Changes) -> tuple[Scenario, ...]:
    """The scenarios with the changes that reach them. Raises BadInput for those that reach none, or the cell."""
    found = where_they_reach(scenarios, changes)
    physics = [scenario.made.physics_hash for scenario in scenarios]
    if [scenario.made.physics_hash for scenario in found] != physics:
        alone = {path: where_they_reach(scenarios, {path: value}) for path, value in changes.items()}
        raise BadInput(
            _of_the_cell(path) for path, made in alone.items() if [one.made.physics_hash for one in made] != physics
        )
    return found


def _of_the_cell(path: str) -> Finding:
    why = "changes what the cell does, not only money"
    return Finding("study.money", why, "Give it to plant.scenario(..., changes=...) and simulate", column=path)


def _require_shared(study: Study, made: Sequence[tables.Scenario]) -> None:
    """Refuse a scenario that was made with prices or terms of its own: the cash flow would not read them."""
    findings = list(_own_terms(study.scenarios, made))
    if findings:
        raise BadInput(findings)


def _own_terms(scenarios: Sequence[Scenario], made: Sequence[tables.Scenario]) -> Iterator[Finding]:
    first = _terms(made[0].plant.settings)
    for scenario, own in zip(scenarios[1:], made[1:], strict=True):
        plain = scenario.plant.scenario(scenario.name, scenario.options)
        there, without = _terms(own.plant.settings), _terms(plain.made.plant.settings)
        keys = [f"plant.{key}" for key in there if there[key] != first[key] and there[key] != without[key]]
        known = made[0].plant.option_by_id
        keys += [f"options[{name}]" for name, option in own.plant.option_by_id.items() if option != known[name]]
        if keys:
            why = f"has {', '.join(keys)} of its own, which a comparison must share"
            mend = "Change it in all scenarios, or give it to study.money(changes=...)"
            yield Finding("study.money", why, mend, value=scenario.name)


def _terms(settings: Settings) -> dict[str, object]:
    content = settings.model_dump()
    people = content["people"]
    shared = {f"{section}.{key}": value for section in SHARED for key, value in content[section].items()}
    return shared | {f"people.{key}": people[key] for key in ("overtime_premium", "night_premium")}


def _number(value: float | None) -> float:
    """A number for a table; not a number where there is none."""
    return value if value is not None and math.isfinite(value) else math.nan
