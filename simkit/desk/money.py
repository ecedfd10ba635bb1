"""The cash flow of a study: every amount, what it is worth, how sure that is, and what would turn it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simkit.analysis.responses import MOST_TIMES, Response
from simkit.analysis.service import Verdict, recommendable
from simkit.base.messages import BadInput, Finding
from simkit.desk import money_answer, money_choices, money_risk, money_tables
from simkit.desk.money_choices import number_of
from simkit.desk.money_files import write_files
from simkit.desk.plants import Changes, Scenario, where_they_reach
from simkit.desk.runs import finance_at, require_projection
from simkit.desk.shown import SIGN, noun_html, titled
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.kept import Keep, runs_folder
from simkit.finance import cashflow as table
from simkit.finance.arrays import Array
from simkit.finance.conventions import printed_rules
from simkit.finance.evaluate import MoneyResult, evaluate
from simkit.finance.inputs import ScenarioTotals, totals_from
from simkit.finance.riskmodel import RiskModel, companions
from simkit.finance.risksummary import Sampled, sample
from simkit.plant import plant as tables
from simkit.plant.settings import Settings
from simkit.report import sentences_money as say

if TYPE_CHECKING:
    from simkit.desk.study import Study

SHARED = ("money", "finance", "financing", "scrap", "risk")
"""Sections of the settings that hold for all scenarios of a cash flow: those of the first one."""


@dataclass(frozen=True, eq=False, repr=False)
class CashFlow:
    """Cash of every scenario of a study against its first one, by year, line and class of benefit.

    Amounts are in the plant's currency, positive when received; year 0 is the first payment. ``plant`` holds the prices
    and terms in force, ``times`` are the elements whose times are in the ranges, see :meth:`with_times`; ``among``
    counts the values whose ranges hold together, where these are a part of more. A planning aid: no tax or investment
    advice.
    """

    study: Study
    plant: tables.Plant
    totals: Mapping[str, ScenarioTotals]
    flow: table.CashFlow
    results: Mapping[str, MoneyResult]
    among: int = 1
    times: tuple[Response, ...] = ()

    @property
    def currency(self) -> str:
        """Unit of all amounts."""
        return self.flow.currency

    @property
    def lines(self) -> pd.DataFrame:
        """The one table: scenario, year, line, benefit_class, amount, basis, owner, item."""
        title = "Every amount with its basis and owner"
        note = f"{self.currency} of the year; the product of a basis is its amount."
        return titled(self.flow.frame.copy(), title, note, folded=True)

    def by_year(self) -> pd.DataFrame:
        """Headline cash of each case by year: scenario, year, cash, cumulative, and the band of the cumulative cash.

        ``cumulative_p10`` and ``cumulative_p90`` hold 8 in 10 samples of the ranges of all inputs.
        """
        rows = []
        for name, one in self.results.items():
            band = self.cumulative_band(name)
            rows += [
                (name, year, *found) for year, found in enumerate(zip(one.flows, one.cumulative, *band, strict=True))
            ]
        columns = ["scenario", "year", "cash", "cumulative", "cumulative_p10", "cumulative_p90"]
        title = say.paid_back_title([(name, number_of(one.payback.years)) for name, one in self.results.items()])
        return titled(pd.DataFrame(rows, columns=columns), title, f"{self.currency}, before interest.")

    def yearly(self, scenario: str | Scenario) -> pd.DataFrame:
        """Cash of a case by line and year: line, benefit_class, year_0 and on, present_value; the headline is last."""
        return money_tables.yearly(self, self.case(scenario))

    def steps(self, scenario: str | Scenario, against: str | Scenario | None = None) -> pd.DataFrame:
        """What carries the value: step, amount (present value), is_sum, from nothing to the three figures.

        Small lines stand together. The sums are headline, with avoided cost and with signed sales; ``against`` asks for
        what they are beyond another scenario.
        """
        return money_tables.steps(self, self.case(scenario), "" if against is None else self._name_of(against))

    def trace(self, scenario: str | Scenario) -> pd.DataFrame:
        """Follow the largest benefit from the simulated hours to the value of the case: what, value, unit, where.

        It is empty where no amount comes from one simulated measure.
        """
        return money_tables.trace(self, self.case(scenario))

    def owners(self, scenario: str | Scenario) -> pd.DataFrame:
        """Whose budget falls and who gave each price: what, benefit_class, amount, budget, evidence, date, owner."""
        return money_tables.owners(self, self.case(scenario))

    def rules(self) -> pd.DataFrame:
        """Every rule between simulated amounts and cash, with the plant's values in force: about, rule."""
        found = printed_rules(self.flow.finance, self.flow.prices)
        frame = pd.DataFrame(found, columns=["about", "rule"])
        return titled(frame, f"The method in {len(found)} rules, enough to build the cash by year anew", folded=True)

    def measures(self, beyond: str | Scenario | None = None) -> pd.DataFrame:
        """One row per case: capital, net present value with its 95 % half-width, payback, internal rate.

        ``half_width`` comes from the replications, prices as quoted; all of them hold together. ``sign`` says whether
        the value's sign is 'sure'. ``payback_years`` is empty where it never pays back; ``payback`` and ``irr`` say
        why, in words. ``npv_with_avoided`` and ``npv_with_signed_sales`` stand beside the headline, not in it.
        ``worth_at_most`` is the capital at which it breaks even, empty where it loses even without any. ``recommended``
        says whether it keeps due dates, work and posts as today does, and the first reason why not. With ``beyond``,
        ``extra`` is the value beyond that scenario, from the same replications.
        """
        rows = []
        for name, one in self.results.items():
            known, verdict = self._known(self.samples[name]), self.verdicts[name]
            rows.append({
                "scenario": name, "capital": one.capital, "npv": one.npv, "half_width": known.half_width,
                "sign": SIGN[known.verdict], "npv_with_avoided": one.npv_with_avoided,
                "npv_with_signed_sales": one.npv_with_signed_sales, "payback_years": number_of(one.payback.years),
                "payback": one.payback.text, "discounted_payback_years": number_of(one.discounted_payback.years),
                "irr": one.irr.text, "worth_at_most": number_of(one.break_even_capital),
                "recommended": "yes" if verdict.ok else f"no: {verdict.reasons[0]}", "unit": self.currency,
            })  # fmt: skip
        frame, named, finance = pd.DataFrame(rows), "", self.flow.finance
        if beyond is not None:
            named = self.study.scenario(beyond).name
            gaps = self.differences(named).set_index("scenario")[["npv", "half_width"]]
            frame[["extra", "extra_half_width"]] = gaps.reindex(frame["scenario"]).to_numpy()
        above = frame["npv"] > 0
        sure = int((above & (frame["sign"] == "sure")).sum())
        return titled(frame, *say.cases(int(above.sum()), sure, len(frame), self.currency, finance, named))

    answer = money_answer.answer
    best = money_choices.best
    other_terms = money_choices.other_terms
    more_measures = money_choices.more_measures
    buying = money_choices.buying
    risk = money_risk.risk
    over_demand = money_risk.over_demand
    turns = money_risk.turns
    model_of = money_risk.model_of

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
        gap, flows, capital = self.samples[scenario], np.asarray(own.flows), own.capital
        if base is not None:
            gap, flows, capital = gap - self.samples[against], flows - np.asarray(base.flows), capital - base.capital
        return self._known(gap), capital, flows

    def increments(self, against: str | Scenario | None = None) -> pd.DataFrame:
        """In order of capital, what each case that can be recommended adds to the best so far.

        ``against`` names the case that comes first, as a low-capital package; without it that is the first scenario.
        """
        return money_choices.increments(self, "" if against is None else self._name_of(against))

    def with_times(
        self, most: int = MOST_TIMES, *, workers: int | None = None, keep: Keep = None, progress: bool = True
    ) -> CashFlow:
        """Return the same cash flow, its ranges, swings and flips with the times of elements that matter ``most``.

        Their response is simulated: every scenario with each time 20 % below and above, at most 4 replications of 4
        weeks with the same luck. ``workers``, ``keep`` and ``progress`` are those of :func:`simkit.simulate`.
        """
        run = {"workers": workers, "cache_dir": runs_folder(keep), "progress": progress}
        return dataclasses.replace(self, times=money_risk.responses(self, most, **run))

    def swings(self, scenario: str | Scenario) -> pd.DataFrame:
        """What each input does to the value of a case, alone, at its low and its high; the largest first.

        ``variance_share`` is the share of the variance (Sobol total effect) of those with the largest swings.
        """
        return money_risk.swings_of(self, self.case(scenario))

    def flips(self, scenario: str | Scenario | None = None, against: str | Scenario | None = None) -> pd.DataFrame:
        """At which value of an input, all others typical, the net present value is zero: one row per input.

        Of one case or of all, the nearest first, or of its value beyond ``against``, as of an option on top of a
        package. ``flip`` is empty where there is none between ``looked_from`` and ``looked_to``; ``within_range`` says
        whether the input's own range from ``low`` to ``high`` reaches it.
        """
        names = list(self.results) if scenario is None else [self.case(scenario)]
        return money_risk.flips(self, names, "" if against is None else self._name_of(against))

    def promises(self, *, workers: int | None = None, keep: Keep = None, progress: bool = True) -> pd.DataFrame:
        """What suppliers must keep to for a value of zero: seconds an exchange, failed picks, stops at night.

        Columns as in :meth:`flips`, with the value if the promise is kept perfectly and the hours of a night. Each is
        simulated at half and at one and a half times, in the first case that has it, as in :meth:`with_times`.
        """
        return money_risk.promises(self, workers=workers, cache_dir=runs_folder(keep), progress=progress)

    def _name_of(self, scenario: str | Scenario) -> str:
        name = self.study.scenario(scenario).name
        return "" if name == self.flow.today else name

    def write(self, folder: str | Path, *, replace: bool = False) -> tuple[Path, Path]:
        """Write ``workbook.xlsx`` (change an amount and all measures follow) and ``money.csv`` (every amount).

        Into a folder, which is made; return where they are. Raises BadInput where another file of that name
        stands, unless they may ``replace`` it.
        """
        return write_files(self, folder, replace)

    def case(self, named: str | Scenario) -> str:
        """Name of a scenario that has a value; raises BadInput for the first, which has none, and for unknown names."""
        name = self.study.scenario(named).name
        if name == self.flow.today:
            why = "is what the others are compared with: it has no value of its own"
            raise BadInput([Finding("money", why, "Name another scenario", value=name)])
        return name

    @cached_property
    def verdicts(self) -> Mapping[str, Verdict]:
        """Whether each case can be recommended, judged against the first scenario at every simulated demand."""
        made = {scenario.name: scenario.made for scenario in self.study.scenarios}
        today, numbers = made[self.flow.today], self.study.numbers
        return {name: recommendable(self.study.results, today, made[name], numbers.levels) for name in self.results}

    def cumulative_band(self, name: str) -> Array:
        """10th and 90th percentile of the cumulative cash by year, shape (2, years)."""
        return np.quantile(np.cumsum(self.sampled.outcome.flows[name], axis=1), [0.1, 0.9], axis=0)

    def demand_of(self, names: Sequence[str]) -> tuple[float, float]:
        """Lowest and highest demand at which these scenarios, and all that their values read, were simulated."""
        read = companions(self.plant, self.totals, names, self.flow.today).values()
        return max(one.factors[0] for one in read), min(one.factors[-1] for one in read)

    @cached_property
    def model(self) -> RiskModel:
        """The value of all cases as a function of their uncertain inputs."""
        return self.model_of(self.results)

    @property
    def fitted(self) -> int:
        """Degrees of freedom that the adjustment of the totals costs an interval of a value."""
        return self.model.fitted

    @cached_property
    def sampled(self) -> Sampled:
        """Samples of all inputs and what they lead to."""
        return sample(self.model, list(self.results), self.plant.settings.risk)

    @cached_property
    def samples(self) -> Mapping[str, Array]:
        """One value per replication of each case, prices as quoted: their mean is its value."""
        return self.model.samples({name: one.npv for name, one in self.results.items()})

    def _known(self, values: Array) -> Estimate:
        return t_interval(values, self.currency, intervals=max(len(self.results), self.among), fitted=self.fitted)

    def __repr__(self) -> str:
        """Return the cash flow in one line."""
        years = self.flow.finance.horizon_years
        return f"<CashFlow of {', '.join(self.results) or 'nothing'} against {self.flow.today}: {years} years>"

    def _repr_html_(self) -> str:
        return noun_html(repr(self)[1:-1], self.measures())


def cash_flow(study: Study, changes: Changes, among: int = 1) -> CashFlow:
    """Build the cash flow of a study, with changes of prices and terms; see :meth:`simkit.desk.study.Study.money`."""
    base = study.scenarios[0]
    require_projection(base.made.plant)
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
    plant = dataclasses.replace(made[0].plant, settings=settings)
    totals = totals_from(study.results, made)
    flow = table.build_cashflow(plant, totals[base.name], [totals[name] for name in study.names[1:]])
    return CashFlow(study, plant, totals, flow, evaluate(flow), among)


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
