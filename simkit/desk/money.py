"""The cash flow of a study: every amount, what it is worth, how sure that is, and what would turn it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from simkit.analysis.responses import Response
from simkit.analysis.service import ServiceCheck, recommendable
from simkit.base.arrays import Floats
from simkit.base.files import no_formula, write_whole
from simkit.base.messages import BadInput, Finding
from simkit.base.temporary import own_folder
from simkit.desk import money_choices, money_risk, money_tables
from simkit.desk.answers import cash_answer
from simkit.desk.money_choices import number_of
from simkit.desk.notebook_display import SIGN, noun_html, titled
from simkit.desk.plants import Changes, Scenario, where_they_reach
from simkit.desk.runs import finance_at, require_projection
from simkit.desk.simulated import Simulated
from simkit.experiment.intervals import Estimate, t_interval
from simkit.finance import cashflow as table
from simkit.finance.conventions import printed_rules
from simkit.finance.evaluate import MoneyResult, evaluate
from simkit.finance.inputs import ScenarioTotals, totals_from
from simkit.finance.riskmodel import RiskModel, companions
from simkit.finance.risksummary import Samples, sample
from simkit.plant import plant as tables
from simkit.plant.settings import Settings
from simkit.report import sentences_money as say
from simkit.report.workbook import write_workbook
from simkit.report.workbook.pages import WorkbookContent

SHARED = ("money", "finance", "financing", "scrap", "risk")
"""Sections of the settings that hold for all scenarios of a cash flow: those of the first one."""
WORKBOOK, TABLE = "workbook.xlsx", "money.csv"
RUN_DIGITS = 16
AS_COMPARISON = "no: read all amounts as a comparison"


# ---- files for a controller: the workbook with one live case, and every amount as a table ----


def write_files(cash: CashFlow, folder: str | Path, *, replace: bool = False) -> tuple[Path, Path]:
    """Write ``workbook.xlsx`` (change an amount and all measures follow) and ``money.csv`` (every amount).

    Into a folder, which is made; return where they are. Raises BadInput where another file of that name
    stands, unless they may ``replace`` it.
    """
    if not cash.flow.prices.options:
        why = "the plant has no option, so that there is no price to change"
        raise BadInput([Finding("money.write", why, "Add one to options.toml; cash.lines holds all amounts")])
    paths = Path(folder) / WORKBOOK, Path(folder) / TABLE
    with own_folder() as aside:
        write_workbook(content_of(cash), aside / WORKBOOK)
        made = (aside / WORKBOOK).read_bytes(), as_csv(cash).encode()
    other = [path for path, own in zip(paths, made, strict=True) if path.exists() and path.read_bytes() != own]
    if other and not replace:
        why = "holds something else, and nothing is written over"
        raise BadInput(Finding(str(path), why, "Move it away, or name another folder") for path in other)
    for path, own in zip(paths, made, strict=True):
        write_whole(path, own)
    return paths


def as_csv(cash: CashFlow) -> str:
    """Every amount of all scenarios as a table in text, nothing in it a formula."""
    frame = cash.lines
    texts = {name: frame[name].map(no_formula) for name in ("scenario", "basis", "owner", "item")}
    return frame.assign(**texts).to_csv(index=False, lineterminator="\n")


def content_of(cash: CashFlow) -> WorkbookContent:
    """What the workbook holds: prices in force, totals, amounts, measures, and how the run was made."""
    numbers = cash.study.numbers
    facts = {
        "runs": f"{numbers.replications}", "weeks of a run": f"{numbers.weeks:g}",
        "demand levels": ", ".join(f"{level:g}" for level in cash.study.results.demand_factors),
        "calibrated on observed weeks": "yes" if cash.study.plant.calibrated else AS_COMPARISON,
        **{f"changed in {one.name}": "; ".join(one.changes) for one in cash.study.scenarios if one.changes},
    }  # fmt: skip
    run_id = f"{cash.study.stamp[:RUN_DIGITS]}, seed {numbers.seed}"
    return WorkbookContent(cash.plant, cash.totals, cash.flow, cash.results, run_id, facts, cash.study.plant.marks)


# ---- the cash flow ----


@dataclass(frozen=True, eq=False, repr=False)
class CashFlow:
    """Cash of every scenario of a study against its first one, by year, line and class of benefit.

    Amounts are in the plant's currency, positive when received; year 0 is the first payment. ``plant`` holds the prices
    and terms in force, ``times`` are the elements whose times are in the ranges, see :meth:`with_times`; ``among``
    counts the values whose ranges hold together, where these are a part of more. A planning aid: no tax or investment
    advice.
    """

    study: Simulated
    plant: tables.PlantInputs
    totals: Mapping[str, ScenarioTotals]
    flow: table.CashFlowTable
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
            band = np.quantile(np.cumsum(self.sampled.outcome.flows[name], axis=1), [0.1, 0.9], axis=0)
            rows += [
                (name, year, *found) for year, found in enumerate(zip(one.flows, one.cumulative, *band, strict=True))
            ]
        columns = ["scenario", "year", "cash", "cumulative", "cumulative_p10", "cumulative_p90"]
        title = say.paid_back_title([(name, number_of(one.payback.years)) for name, one in self.results.items()])
        return titled(pd.DataFrame(rows, columns=columns), title, f"{self.currency}, before interest.")

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

    answer = cash_answer
    yearly = money_tables.yearly
    steps = money_tables.steps
    trace = money_tables.trace
    owners = money_tables.owners
    best = money_choices.best
    other_terms = money_choices.other_terms
    more_measures = money_choices.more_measures
    buying = money_choices.buying
    increments = money_choices.increments
    risk = money_risk.risk
    with_times = money_risk.with_times
    swings = money_risk.swings_of
    turns = money_risk.turns
    flips = money_risk.flips
    promises = money_risk.promises
    over_demand = money_risk.over_demand
    model_of = money_risk.model_of
    write = write_files

    def differences(self, against: str | Scenario) -> pd.DataFrame:
        """What the other scenarios cost and are worth beyond this one, from the same replications; one row each."""
        base = self.study.scenario(against).name
        rows = []
        for name in self.results:
            if name != base:
                gap, capital, _ = self.beyond(name, base)
                rows.append((name, base, capital, gap.mean, gap.half_width, SIGN[gap.verdict]))
        return pd.DataFrame(rows, columns=["scenario", "against", "capital", "npv", "half_width", "sign"])

    def beyond(self, scenario: str, against: str) -> tuple[Estimate, float, Floats]:
        """Value, capital and headline cash by year of a scenario beyond another one, today's being nothing."""
        own, base = (self.results.get(name) for name in (scenario, against))
        if own is None:
            raise KeyError(scenario)
        gap, flows, capital = self.samples[scenario], np.asarray(own.flows), own.capital
        if base is not None:
            gap, flows, capital = gap - self.samples[against], flows - np.asarray(base.flows), capital - base.capital
        return self._known(gap), capital, flows

    def base_of(self, scenario: str | Scenario | None) -> str:
        """Name of what a case is held against; empty for the first scenario, which has no value of its own."""
        name = "" if scenario is None else self.study.scenario(scenario).name
        return "" if name == self.flow.today else name

    def case(self, named: str | Scenario) -> str:
        """Name of a scenario that has a value; raises BadInput for the first, which has none, and for unknown names."""
        name = self.study.scenario(named).name
        if name == self.flow.today:
            why = "is what the others are compared with: it has no value of its own"
            raise BadInput([Finding("money", why, "Name another scenario", value=name)])
        return name

    @cached_property
    def verdicts(self) -> Mapping[str, ServiceCheck]:
        """Whether each case can be recommended, judged against the first scenario at every simulated demand."""
        made = {scenario.name: scenario.made for scenario in self.study.scenarios}
        today, numbers = made[self.flow.today], self.study.numbers
        return {name: recommendable(self.study.results, today, made[name], numbers.levels) for name in self.results}

    def demand_of(self, names: Sequence[str]) -> tuple[float, float]:
        """Lowest and highest demand at which these scenarios, and all that their values read, were simulated."""
        read = companions(self.plant, self.totals, names, self.flow.today).values()
        return max(one.factors[0] for one in read), min(one.factors[-1] for one in read)

    @cached_property
    def model(self) -> RiskModel:
        """The value of all cases as a function of their uncertain inputs."""
        return self.model_of(self.results)

    @cached_property
    def sampled(self) -> Samples:
        """Samples of all inputs and what they lead to."""
        return sample(self.model, list(self.results), self.plant.settings.risk)

    @cached_property
    def samples(self) -> Mapping[str, Floats]:
        """One value per replication of each case, prices as quoted: their mean is its value."""
        return self.model.samples({name: one.npv for name, one in self.results.items()})

    def _known(self, values: Floats) -> Estimate:
        return t_interval(values, self.currency, intervals=max(len(self.results), self.among), fitted=self.model.fitted)

    def __repr__(self) -> str:
        """Return the cash flow in one line."""
        years = self.flow.finance.horizon_years
        return f"<CashFlow of {', '.join(self.results) or 'nothing'} against {self.flow.today}: {years} years>"

    def _repr_html_(self) -> str:
        return noun_html(repr(self)[1:-1], self.measures())


def cash_flow(study: Simulated, changes: Changes | None = None, *, among: int = 1) -> CashFlow:
    """Return the cash flow of all scenarios against the first one; changes of prices and terms run no cell.

    Ranges of values hold together for all cases; ``among`` says of how many more these are a part, so that a value
    that is one of a larger comparison has the same range there and here.

    Raises BadInput for a path that leads nowhere, for a change of something that the cell reads, and where the
    first scenario holds options, whose price would count as nothing.
    """
    base = study.scenarios[0]
    require_projection(base.made.plant)
    if base.options:
        why = f"'{base.name}' holds options ({', '.join(base.options)}), whose price would count as nothing"
        mend = "Put a scenario without options first, and read differences(against=) from the cash flow"
        raise BadInput([Finding("study.money", why, mend)])
    if len(study.scenarios) == 1:
        why = f"there is nothing to compare '{base.name}' with"
        raise BadInput([Finding("study.money", why, "Simulate it together with at least one other scenario")])
    made = [scenario.made for scenario in _changed(study.scenarios, changes or {})]
    findings = list(_own_terms(study.scenarios, made))
    if findings:
        raise BadInput(findings)
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
        why, mend = (
            "changes what the cell does, not only money",
            "Give it to plant.scenario(..., changes=...) and simulate",
        )
        alone = {path: where_they_reach(scenarios, {path: value}) for path, value in changes.items()}
        raise BadInput(
            Finding("study.money", why, mend, column=path)
            for path, made in alone.items()
            if [one.made.physics_hash for one in made] != physics
        )
    return found


def _own_terms(scenarios: Sequence[Scenario], made: Sequence[tables.ScenarioInputs]) -> Iterator[Finding]:
    """Refuse a scenario that was made with prices or terms of its own: the cash flow would not read them."""
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
