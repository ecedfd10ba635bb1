"""A study with its cash-flow table: built once from the results and the plant, read by every section about money."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from simkit.base.files import no_formula
from simkit.experiment.best import Named, named_best
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate, replications_to_tell, t_interval
from simkit.finance.arrays import Array
from simkit.finance.cashflow import CashFlow, build_cashflow
from simkit.finance.evaluate import MoneyResult, evaluate
from simkit.finance.inputs import ScenarioTotals, totals_from
from simkit.finance.riskmodel import RiskModel
from simkit.finance.timeline import demand_path
from simkit.plant.plant import Scenario
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings_money import Finance
from simkit.report.riskstudy import RiskStudy
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.workbook import Content


@dataclass(frozen=True, eq=False)
class MoneyStudy:
    """A study with its cash-flow table and the measures of every scenario."""

    study: Study
    scenarios: tuple[Scenario, ...]
    totals: Mapping[str, ScenarioTotals]
    cashflow: CashFlow
    results: Mapping[str, MoneyResult]

    @property
    def today(self) -> ScenarioTotals:
        """Simulated totals of today."""
        return self.totals[TODAY]

    @property
    def others(self) -> list[ScenarioTotals]:
        """Simulated totals of every scenario but today."""
        return [totals for name, totals in self.totals.items() if name != TODAY]

    @property
    def package(self) -> MoneyResult | None:
        """Measures of the best low-capital package."""
        return self.results.get(self.study.package)

    @cached_property
    def _error_model(self) -> RiskModel:
        return RiskModel(self.study.plant, self.totals, (), TODAY, replications=self.study.results)

    @cached_property
    def samples(self) -> Mapping[str, Array]:
        """One value per replication of each scenario, prices as quoted: their mean is its headline value."""
        return self._error_model.samples({name: one.npv for name, one in self.results.items()})

    @cached_property
    def intervals(self) -> Mapping[str, Estimate]:
        """How well each headline value is known from the replications, prices as quoted; all hold together at 95 %."""
        return {name: self._known(values) for name, values in self.samples.items()}

    def gap(self, name: str, base: str) -> Estimate:
        """Value of a scenario less that of another, from the same replications; one of as many as there are cases."""
        return self._known(self.samples[name] - self.samples[base])

    def beyond_the_sum(self, both: str, first: str, second: str) -> Estimate:
        """What a set of two is worth beyond the sum of each alone; zero if their values add up."""
        return self._known(self.samples[both] - self.samples[first] - self.samples[second])

    def _known(self, values: Array) -> Estimate:
        return t_interval(values, self.study.currency, intervals=len(self.results), fitted=self._error_model.fitted)

    def replications_to_tell(self, name: str, base: str) -> int | None:
        """How many replications would give that difference a sure sign, if it is what it seems."""
        gap = self.samples[name] - self.samples[base]
        return replications_to_tell(gap, intervals=len(self.results), fitted=self._error_model.fitted)

    def best(self, names: Iterable[str]) -> Named | None:
        """The scenario to name as the one with the highest value: of those that may be it, the cheapest.

        Only scenarios that can be recommended compete; None where none of them can.
        """
        known = self.study.recommendable(name for name in names if name in self.results)
        samples = {name: self.samples[name] for name in known}
        cost = {name: (self.results[name].capital, len(self.totals[name].option_ids)) for name in samples}
        return named_best(samples, cost, largest=True, fitted=self._error_model.fitted) if samples else None

    @property
    def content(self) -> Content:
        """What the workbook holds."""
        run = f"{self.study.run.inputs_sha256[:16] or 'inputs not recorded'}, seed {self.study.run.seed}"
        facts = {"runs": f"{self.study.run.replications}", "weeks of a run": f"{self.study.run.weeks:g}"}
        return Content(
            self.study.plant, self.totals, self.cashflow, self.results, run, facts, self.study.marks
        )  # fmt: skip

    @cached_property
    def risk(self) -> RiskStudy:
        """Risk of the cases that matter."""
        return RiskStudy(self)

    @property
    def recommendable(self) -> list[MoneyResult]:
        """Measures of the scenarios that can be recommended."""
        return [self.results[name] for name in self.study.recommendable(self.results)]

    @cached_property
    def best_bought(self) -> MoneyResult | None:
        """Of the bought sets that can be recommended, the one to name as having the highest headline value."""
        best = self.best(self.study.bought)
        return self.results[best.name] if best else None

    def with_finance(self, names: Sequence[str], **changes: Any) -> Mapping[str, MoneyResult]:
        """Measures of some scenarios with finance settings changed; the cell is not run again."""
        settings = Finance.model_validate({**self.cashflow.finance.model_dump(), **changes})
        wanted = [self.totals[name] for name in names]
        return evaluate(build_cashflow(self.study.plant, self.today, wanted, finance=settings, beside=self.others))


def money_of(study: Study) -> MoneyStudy:
    """Build the cash-flow table from the results and the plant, for scenarios simulated over all demand it reads."""
    names = _covering_demand(study)
    scenarios = [make_scenario(study.plant, study.run.scenarios[n], name=n) for n in names]
    totals = totals_from(study.results, scenarios)
    others = [totals[name] for name in names if name != TODAY]
    cashflow = build_cashflow(study.plant, totals[TODAY], others)
    return MoneyStudy(study, tuple(scenarios), totals, cashflow, evaluate(cashflow))


def _covering_demand(study: Study) -> list[str]:
    """The scenarios simulated over all demand that the years read; nothing is extrapolated."""
    factors = study.results.demand_factors
    read = [year.factor for year in demand_path(study.plant.settings.finance)]

    def covers(name: str) -> bool:
        levels = [factor for factor in factors if study.results.has(name, NEEDED, factor)]
        return all(min(levels) <= factor <= max(levels) for factor in read)

    return [name for name in study.scenarios if covers(name)]


def write_money(cash: MoneyStudy, path: Path) -> None:
    """Write the cash-flow table of all scenarios, no text of it a formula: the same table gives the same bytes."""
    frame = cash.cashflow.frame
    texts = {name: frame[name].map(no_formula) for name in ("scenario", "basis", "owner", "item")}
    frame.assign(**texts).to_csv(path, index=False, lineterminator="\n", encoding="utf-8")
