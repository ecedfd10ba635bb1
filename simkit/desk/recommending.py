"""What should be done next: every choice of the plant, what it is worth on top of the cheap ones, and a verdict."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from simkit.analysis.option_sets import Options, bought_sets, low_capital_options, why_illegal
from simkit.analysis.package import best_package, fading_part
from simkit.analysis.service import recommendable
from simkit.analysis.verdicts import Choice, turning, verdict, worth_at_most
from simkit.desk.answer_cache import Question
from simkit.desk.money import CashFlow
from simkit.desk.plants import Changes, Plant, Scenario, as_overrides
from simkit.desk.runs import numbers_of, require_projection
from simkit.desk.study import Study, simulate_at
from simkit.experiment.runsfolder import Keep, runs_folder
from simkit.finance.measures import payback
from simkit.finance.riskmodel import companions
from simkit.finance.use import spent_today
from simkit.plant.changes import changed_plant, one_demand
from simkit.plant.scenarios import make_scenario, parse_combination
from simkit.report import sentences
from simkit.report.words import listing

TODAY, PACKAGE = "Today", "Package"
TRUST, FITTED = sentences.MEASURED, sentences.FITTED
"""The line of :meth:`Decision.how_sure` that leads to the page of assumptions."""
MOST_CHOICES, MOST_BOUGHT = 12, 7
"""Rows of the decision, and how many of them may be purchases or other shifts: cheap choices would crowd them out."""


@dataclass(frozen=True)
class SimulatedChoices:
    """What a recommendation found: the package, every scenario with its options, all choices, and the names of the
    scenarios that were simulated at a demand above the signed ones."""

    package: Options
    scenarios: tuple[tuple[str, Options], ...]
    choices: tuple[Choice, ...]
    further: tuple[str, ...]


@dataclass(frozen=True, eq=False, repr=False)
class Decision:
    """What should be done next. ``study`` and ``cash`` hold all that was simulated for it, ``package`` the ids of the
    low-capital options that are worth most together."""

    plant: Plant
    package: Options
    study: Study
    cash: CashFlow
    choices: tuple[Choice, ...]
    asked: tuple[Options, ...] = ()

    @property
    def package_names(self) -> tuple[str, ...]:
        """The package in words."""
        return tuple(self.plant.called(name) for name in self.package)

    def table(self, pages: Mapping[str, str] | None = None) -> pd.DataFrame:
        """One row a choice, best first, with doing nothing as the last: what it costs, brings, is worth, and a verdict.

        Values are those on top of the package, or of the rest of it; that of the package is against today. ``pages``
        are addresses of choices by name, which a rendered table links to.
        """
        shown = set(map(id, self.on_the_first_page()))
        rows = [_row(choice) for choice in self.best if id(choice) in shown]
        frame = pd.DataFrame([*rows, self._nothing()]).drop(columns="npv_with_signed_sales")
        frame.attrs |= sentences.decision_table(len(self.choices), len(rows), self.package_names, self.cash.currency)
        frame.attrs |= {"links": dict(pages or {}), "folded": False}
        return frame

    @cached_property
    def best(self) -> list[Choice]:
        """The choices, that with the highest value first."""
        return sorted(self.choices, key=lambda choice: -choice.value.mean)

    def on_the_first_page(self) -> list[Choice]:
        """The package, what was asked about, the best that are bought or change shifts, then the best cheap ones."""
        members = {(name,) for name in self.package} if len(self.package) > 1 else set()
        first = [one for one in self.best if one.options == self.package or one.options in self.asked]
        others = [one for one in self.best if one not in first and one.options not in members]
        bought = [one for one in others if one.kind != "low_capital"][:MOST_BOUGHT]
        cheap = [one for one in others if one.kind == "low_capital"]
        return [*first, *bought, *cheap][: max(MOST_CHOICES, len(first))]

    def how_sure(self, pages: Mapping[str, str] | None = None) -> pd.DataFrame:
        """What the answer rests on, in lines: fitted to the plant or not, runs, and assumptions that are defaults.

        ``pages`` as in :meth:`table`.
        """
        frame = pd.DataFrame(
            sentences.how_sure(
                self.study.numbers, self.plant.basis(), self.plant.inputs.settings, calibrated=self.plant.calibrated
            )
        )
        frame.attrs |= {"links": dict(pages or {}), "listed": True}
        return frame

    def all_choices(self) -> pd.DataFrame:
        """Every choice as :meth:`table` shows the best, with the reason of its verdict."""
        frame = pd.DataFrame([{**_row(one), "why": one.word.why} for one in self.best])
        frame.attrs |= sentences.all_choices(self.study.numbers.levels, self.study.results.demand_factors)
        return frame

    def causes(self, most: int = 3) -> pd.DataFrame:
        """Hours a week of today beside cutting by state of the machine, and of the choices with the highest value."""
        best = [one.scenario for one in self.best if one.against != TODAY or one.options == self.package]
        names = list(dict.fromkeys([TODAY, *best]))
        split = self.study.time_split()
        at_work = {"closed", "no_work", "punching", "forming", "cutting"}
        kept = split[split["scenario"].isin(names[: most + 1]) & ~split["state"].isin(at_work)]
        order = {name: place for place, name in enumerate(names)}
        return kept.sort_values("scenario", key=lambda column: column.map(order), kind="stable").reset_index(drop=True)

    def _nothing(self) -> dict[str, object]:
        flow = self.cash.flow
        bought = spent_today(self.cash.totals[flow.today], flow.prices, flow.finance, self.study.numbers.level)
        return {"choice": "Do nothing", "capital": 0.0, "cash_a_year": -sum(bought.values()),
                "turns": sentences.doing_nothing(bought, flow.currency), "verdict": ""}  # fmt: skip

    @cached_property
    def answer(self) -> sentences.Paragraphs:
        """The decision in three or four sentences."""
        return sentences.decision(
            self.choices, self.package_names, self.cash.currency, self.study.numbers, calibrated=self.plant.calibrated
        )

    def __repr__(self) -> str:
        """Return the decision in one line."""
        return f"<Decision for {self.plant.name}: {len(self.choices)} choices, package {listing(self.package_names)}>"


def _row(choice: Choice) -> dict[str, object]:
    most = choice.worth_at_most
    priced = sentences.worth_at_most(most)
    return {
        "choice": choice.name, "capital": choice.capital, "freed_h_per_week": -choice.hours_a_week.mean,
        "freed_h_per_week_half_width": choice.hours_a_week.half_width, "cash_a_year": choice.cash_a_year,
        "payback_years": choice.payback_years if choice.payback_years is not None else np.inf,
        "npv": choice.value.mean, "npv_half_width": choice.value.half_width, "npv_with_signed_sales": choice.with_sales,
        "worth_at_most": priced,
        "turns": choice.turn, "verdict": choice.word.verdict,
    }  # fmt: skip


def recommend(
    plant: Plant,
    options: Sequence[str | Sequence[str]] = (),
    *,
    changes: Changes | None = None,
    replications: int | None = None,
    weeks: float | None = None,
    demand: float | None = None,
    seed: int | None = None,
    workers: int | None = None,
    keep: Keep = None,
    progress: bool = True,
) -> Decision:
    """Find the low-capital package that is worth most, value every choice on top of it, and say what to do next.

    ``options`` are sets that are asked about beside the plant's own choices, as in ``["A1+A5b"]``; ``changes`` hold for
    the whole plant. The package is chosen on replications of its own. All choices are simulated at the plant's signed
    demands. Those of the first page, and those that lose whatever else moves, are simulated at the highest of
    ``plant.run.demand_levels`` too, so that it can be said from which demand one pays.

    Raises BadInput.
    """
    texts = as_overrides(changes or {})
    changed = plant
    if texts:
        changed = dataclasses.replace(plant, inputs=changed_plant(plant.inputs, texts), changes=texts)
    require_projection(changed.inputs)
    numbers = numbers_of(changed.inputs, replications, weeks, demand, seed)
    asked = tuple(parse_combination(one) if isinstance(one, str) else tuple(one) for one in options)
    at_demand = changed_plant(changed.inputs, one_demand(demand))  # one that is given holds in every year of the money
    run: dict[str, Any] = {"workers": workers, "keep": keep, "progress": progress}
    today = make_scenario(changed.inputs, ())
    about = (today.physics_hash, today.money_hash, changed.calibrated, numbers, asked)
    question = Question(about, SimulatedChoices, runs_folder(keep))
    if known := question.known():
        scenarios = [changed.scenario(name, held) for name, held in known.scenarios]
        study = _at_high_demand(simulate_at(scenarios, numbers, **run), known.further, run)
        return Decision(changed, known.package, study, study.money(), known.choices, asked)
    package = best_package(
        at_demand, numbers.levels, seed=numbers.seed, weeks=numbers.weeks, workers=workers, cache_dir=runs_folder(keep)
    )
    planned = list(_planned(changed, package, asked))
    study = simulate_at(_scenarios(changed, package, planned), numbers, **run)
    cash = study.money()
    choices = tuple(_choice(changed, cash, plan, turned=False) for plan in planned)
    decision, further = _with_turns(Decision(changed, package, study, cash, choices, asked), planned, run)
    question.keep(
        SimulatedChoices(package, tuple((one.name, one.options) for one in study.scenarios), decision.choices, further)
    )
    return decision


Planned = tuple[str, Options, Options, Options]
"""A choice to value: its name, its options, all options of its scenario, and those of what it is compared with."""


def _with_turns(
    decision: Decision, planned: Sequence[Planned], run: Mapping[str, Any]
) -> tuple[Decision, tuple[str, ...]]:
    """The decision with where each choice turns, and the scenarios simulated at a demand above the signed ones for it.

    These are those of the choices whose answer that demand can change: of the first page, which says where they turn,
    and of those that surely lose and that no other input turns. Values are those of signed demand and stay.
    """
    plant, cash = decision.plant, decision.cash
    shown, valued = set(map(id, decision.on_the_first_page())), dict(zip(planned, decision.choices, strict=True))
    settled = {plan: _choice(plant, cash, plan) for plan, one in valued.items() if id(one) not in shown}
    settled = {plan: one for plan, one in settled.items() if not one.word.turned_by_nothing}
    asked = [one for plan, one in valued.items() if plan not in settled]
    names = dict.fromkeys(name for one in asked for name in (one.scenario, one.against))
    read = tuple(companions(cash.plant, cash.totals, list(names), cash.flow.today))
    study = _at_high_demand(decision.study, read, run)
    cash = cash if study is decision.study else study.money()
    choices = tuple(settled.get(plan) or _choice(plant, cash, plan) for plan in planned)
    return dataclasses.replace(decision, study=study, cash=cash, choices=choices), read


def _at_high_demand(study: Study, names: Sequence[str], run: Mapping[str, Any]) -> Study:
    """The study with these scenarios at the highest demand that the plant wants looked at, where that is above all
    others and no demand was given."""
    numbers = study.numbers
    high = float(max(study.plant.inputs.settings.run.demand_levels, default=numbers.level))
    if numbers.given is not None or high <= numbers.levels[-1] or not names:
        return study
    chosen = [one for one in study.scenarios if one.name in names]
    beside = simulate_at(chosen, dataclasses.replace(numbers, levels=(high,)), **run)
    return dataclasses.replace(study, results=study.results.joined(beside.results))


def _planned(plant: Plant, package: Options, asked: Sequence[Options]) -> Iterator[Planned]:
    """The package, its members beside the rest of it, then all other choices on top of it."""
    inputs = plant.inputs
    if package:
        yield PACKAGE, package, package, ()
    for member in package if len(package) > 1 else ():
        rest = tuple(name for name in package if name != member)
        if not why_illegal(inputs, rest):
            yield plant.called(member), (member,), package, rest
    for option in low_capital_options(inputs):
        if option not in package:
            yield _on_top(plant, (option,), package)
    for options in bought_sets(inputs, asked):
        yield _on_top(plant, options, package)


def _on_top(plant: Plant, options: Options, package: Options) -> Planned:
    name = " + ".join(map(plant.called, options))
    together = (*package, *(option for option in options if option not in package))
    refused = why_illegal(plant.inputs, together)
    return (name, options, options, ()) if refused else (name, options, together, package)


def _scenarios(plant: Plant, package: Options, planned: Sequence[Planned]) -> list[Scenario]:
    """Every set that is needed, each once, today first; those that tell what of a gain fades among them."""
    wanted = [(), *([package] if package else [])]
    for _, _, together, rest in planned:
        wanted += [rest, together, *(fading_part(plant.inputs, one) for one in (rest, together) if one)]
    sets = {frozenset(one): one for one in reversed(wanted)}
    order = dict.fromkeys(frozenset(one) for one in wanted)
    return [plant.scenario(_scenario_name(plant, sets[one], package), sets[one]) for one in order]


def _scenario_name(plant: Plant, options: Options, package: Options) -> str:
    """A set in words: Package + Sheet loader, Package without Setup cart, or its options."""
    if not options:
        return TODAY
    if package and set(package) <= set(options):
        return " + ".join([PACKAGE, *(plant.called(name) for name in options if name not in package)])
    if package and set(options) < set(package) and len(options) > 1:
        return f"{PACKAGE} without {listing(plant.called(name) for name in package if name not in options)}"
    return " + ".join(map(plant.called, options))


def _choice(plant: Plant, cash: CashFlow, plan: Planned, *, turned: bool = True) -> Choice:
    """A choice valued, and ``turned``: with where it turns and what it may cost at most, which take longest."""
    name, options, together, rest = plan
    study, numbers = cash.study, cash.study.numbers
    by_options = {frozenset(one.options): one for one in study.scenarios}
    own, base = by_options[frozenset(together)], by_options[frozenset(rest)]
    value, capital, flows = cash.beyond(own.name, base.name)
    beyond = base.name if rest else ""
    turn = turning(cash.turns(own.name, beyond)) if turned else None
    most = worth_at_most(cash.model_of([own.name]), own.name, beyond, options) if turned else None
    why_not = "; ".join(recommendable(study.results, by_options[frozenset()].made, own.made, numbers.levels).reasons)
    kind = "+".join(sorted({plant.inputs.option_by_id[one].kind for one in options}))
    with_sales = cash.results[own.name].npv_with_signed_sales
    with_sales -= cash.results[base.name].npv_with_signed_sales if rest else 0.0
    word = verdict(value, kind, why_not, turn, calibrated=plant.calibrated, with_sales=with_sales)
    finance = cash.plant.settings.finance
    return Choice(
        name, options, own.name, base.name, kind, capital,
        study.gaps([own.name], base.name)[own.name],
        (float(flows.sum()) + capital) / finance.horizon_years,
        payback(flows[finance.start_after_years :]).years, value, most,
        sentences.where_it_turns(turn, value, with_sales), word, with_sales,
    )  # fmt: skip
