"""A study with its cash-flow table: built once from the results and the plant, read by every section about money."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, get_args

from simkit.base.files import no_formula
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.finance.cashflow import CashFlow, build_cashflow
from simkit.finance.evaluate import MoneyResult, evaluate, jackknife
from simkit.finance.inputs import ScenarioTotals, totals_from
from simkit.finance.riskmodel import RiskModel, left_out
from simkit.finance.timeline import demand_path
from simkit.plant.options import PriceCase
from simkit.plant.plant import Scenario
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings_money import Finance
from simkit.report.riskstudy import RiskStudy
from simkit.report.study import Study
from simkit.report.studydata import TODAY


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
    def intervals(self) -> Mapping[str, Estimate]:
        """How well each headline value is known from the replications, prices as quoted (jackknife)."""
        model = RiskModel(self.study.plant, self.totals, (), TODAY, replications=self.study.results)
        left = left_out(model, list(self.results))
        return {n: jackknife(left[n], result.npv, result.currency) for n, result in self.results.items()}

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
        """Of the bought sets that can be recommended, the one with the highest headline net present value."""
        names = self.study.recommendable(name for name in self.study.bought if name in self.results)
        return max((self.results[name] for name in names), key=lambda r: r.npv, default=None)

    def with_finance(self, names: Sequence[str], **changes: Any) -> Mapping[str, MoneyResult]:
        """Measures of some scenarios with finance settings changed; the cell is not run again."""
        settings = Finance.model_validate({**self.cashflow.finance.model_dump(), **changes})
        return evaluate(build_cashflow(self.study.plant, self.today, self.with_companions(names), finance=settings))

    def in_case(self, case: PriceCase, names: Sequence[str]) -> Mapping[str, MoneyResult]:
        """Measures of some scenarios with low, quoted or high capital and persistence."""
        if case == "quoted":
            return {name: self.results[name] for name in names}
        return evaluate(build_cashflow(self.study.plant, self.today, self.with_companions(names), case=case))

    def with_companions(self, names: Sequence[str]) -> list[ScenarioTotals]:
        """Totals of some scenarios, and of the low-capital ones from which the table reads what fades of them."""
        known = self.study.plant.option_by_id
        fading = [
            {option for option in self.totals[name].option_ids if getattr(known[option].persistence, case) < 1.0}
            for name in names
            for case in get_args(PriceCase)
        ]
        low_capital = {name for name in self.study.low_capital if name in self.totals}
        read = {name for name in low_capital if set(self.totals[name].option_ids) in fading}
        return [totals for totals in self.others if totals.name in {*names, *read}]


def money_of(study: Study) -> MoneyStudy:
    """Build the cash-flow table from the results and the plant, for scenarios simulated over all demand it reads."""
    names = _covering_demand(study)
    scenarios = [make_scenario(study.plant, study.run.scenarios[n], study.run.overrides, n) for n in names]
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
