"""How sure the value of a case is, what moves it, where it turns, and what a supplier must keep to."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.analysis.flips import GROWTH_REACH, REACH, Flip, flip_values
from simkit.analysis.responses import (
    MOST_TIMES,
    REPLICATIONS,
    WEEKS,
    Probe,
    Response,
    entry_probes,
    promise_probes,
    response,
    time_probes,
)
from simkit.analysis.tornado import TOP_INPUTS, Swing, sobol_effects, swings
from simkit.desk.money_choices import leading, number_of
from simkit.desk.notebook_display import titled
from simkit.desk.runs import run_all
from simkit.experiment.glossary import UNATTENDED
from simkit.experiment.runsfolder import Keep, runs_folder
from simkit.finance.riskinputs import RiskInput, last_signed, register
from simkit.finance.riskmodel import RiskModel
from simkit.finance.risksummary import condition, default_share, summary
from simkit.report import sentences_money as say

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.plants import Scenario

LEAST_SWING = 0.5
"""Inputs that move the value by less, in money, are left out."""
INPUT = ("input", "title", "unit", "low", "typical", "high")
"""Columns that tell which input a row is about, and its range."""
PROMISED = ("scenario", *INPUT, "flip", "within_range", "looked_from", "looked_to", "basis", "npv", "npv_if_zero",
            "night_h", "night_h_at_flip")  # fmt: skip
"""Columns of the table of promises."""
SWEEP = 25
"""Points of a curve over demand."""


def input_cells(one: RiskInput) -> dict[str, Any]:
    """An input and its range, by the columns of :data:`INPUT`."""
    return dict(zip(INPUT, (one.name, one.title, one.unit, one.low, one.typical, one.high), strict=True))


def with_times(
    cash: CashFlow, most: int = MOST_TIMES, *, workers: int | None = None, keep: Keep = None, progress: bool = True
) -> CashFlow:
    """Return the same cash flow, its ranges, swings and flips with the times of elements that matter ``most``.

    Their response is simulated: every scenario with each time 20 % below and above, at most 4 replications of 4
    weeks with the same luck. ``workers``, ``keep`` and ``progress`` are those of :func:`simkit.simulate`.
    """
    study = cash.study
    made = [scenario.made for scenario in study.scenarios]
    level = _level(cash)
    probes = (*time_probes(study.plant.inputs, study.results, study.base, level, made, most), *entry_probes(made))
    found = _measured(cash, probes, workers=workers, cache_dir=runs_folder(keep), progress=progress)
    return dataclasses.replace(cash, times=tuple(one for one in found if not one.input.fixed))


def _level(cash: CashFlow) -> float:
    """Demand of the last signed years: where slopes are measured."""
    return float(last_signed(cash.flow.finance).factor)


def _measured(cash: CashFlow, probes: Sequence[Probe], **run: Any) -> tuple[Response, ...]:
    """Simulate every probe below and above its typical value, with the luck of the study."""
    if not probes:
        return ()
    plant, numbers, level = cash.study.plant.inputs, cash.study.numbers, _level(cash)
    few = dataclasses.replace(
        numbers, replications=min(numbers.replications, REPLICATIONS), weeks=min(numbers.weeks, WEEKS), levels=(level,)
    )
    ends = [end for probe in probes for end in probe.ends(plant)]
    results = run_all(plant, ends, few, **run)
    law = cash.plant.settings.risk.law
    return tuple(response(probe, plant, results, level, law) for probe in probes)


def model_of(cash: CashFlow, names: Iterable[str], against: Sequence[str] = ()) -> RiskModel:
    """The value of all scenarios as a function of the inputs that these scenarios have.

    Demand reaches as far as they, and those that they are held ``against``, were simulated.
    """
    own = list(names)
    options = [option for name in own for option in cash.totals[name].option_ids]
    inputs = (*register(cash.plant, options, cash.demand_of([*own, *against])), *(one.input for one in cash.times))
    slopes = {one.input.name: one.slopes for one in cash.times}
    return RiskModel(cash.plant, cash.totals, inputs, cash.flow.today, cash.study.results, slopes)


def risk(cash: CashFlow) -> pd.DataFrame:
    """One row per case: value as quoted, percentiles and mean over the ranges of the inputs, and chances.

    ``shortfall`` is the mean loss of the cases that lose, ``simulation_share`` the share of the variance that is
    error of the simulation, ``default_share`` that of the swings which rests on the kit's default ranges. As far as
    the ranges of prices, terms and demand and the error of the simulation go; times of elements only with
    :meth:`with_times`. How well an uncalibrated baseline fits the plant is not in it.
    """
    rows = [_spread(cash, name) for name in cash.results]
    frame, case = pd.DataFrame(rows), leading(cash)
    own = next(row for row in rows if row["scenario"] == case)
    title = f"{case}: {say.spread(own['p10'], own['p90'], own['chance_of_loss'], cash.currency)}"
    simulated = own["simulation_share"] == own["simulation_share"]  # not a number: its error is not known
    frame.attrs["condition"] = held = condition(cash.study.plant.calibrated, own["default_share"], simulated)
    return titled(frame, title, say.spread_note(held, int(own["samples"]), [one.input.title for one in cash.times]))


def _spread(cash: CashFlow, name: str) -> dict[str, Any]:
    found = summary(cash.sampled, name, cash.plant.settings.risk.payback_limit_years)
    moved = [(one.input, one.size) for one in _swings(cash, name)]
    return {
        "scenario": name, "npv": cash.results[name].npv, "p10": found.p10, "p50": found.p50,
        "p90": found.p90, "mean": found.mean, "chance_of_loss": found.chance_of_loss,
        "shortfall": found.shortfall, "payback_p50_years": number_of(found.payback_p50),
        "chance_of_payback_within_limit": number_of(found.chance_of_payback),
        "simulation_share": number_of(found.simulation_share), "default_share": default_share(moved),
        "halves_differ_by": found.half_difference, "samples": found.samples, "unit": cash.currency,
    }  # fmt: skip


def _swings(cash: CashFlow, name: str) -> list[Swing]:
    return [one for one in swings(model_of(cash, [name]), name) if one.size >= LEAST_SWING]


def swings_of(cash: CashFlow, scenario: str | Scenario) -> pd.DataFrame:
    """What each input does to the value of a case, alone, at its low and its high; the largest first.

    ``variance_share`` is the share of the variance (Sobol total effect) of those with the largest swings.
    """
    name = cash.case(scenario)
    found = _swings(cash, name)
    top = [one.input for one in found[:TOP_INPUTS]]
    effects = sobol_effects(model_of(cash, [name]), name, top, cash.plant.settings.risk.seed)
    shares = {one.input.name: (one.total, one.total_half_width) for one in effects}
    rows = [
        (*input_cells(one.input).values(), one.input.basis, one.at_low, one.base, one.at_high,
         *shares.get(one.input.name, (np.nan, np.nan)))
        for one in found
    ]  # fmt: skip
    columns = [*INPUT, "basis", "npv_at_low", "npv", "npv_at_high", "variance_share", "variance_share_half_width"]
    frame = pd.DataFrame(rows, columns=columns)
    title = f"No input moves {name}"
    if found:
        low, high = sorted((found[0].at_low, found[0].at_high))
        title = say.moved_title(name, found[0].input.title, low, high, cash.currency)
    return titled(frame, title, (
        f"Value in {cash.currency} with one input at its low or its high, the others typical. Share of the variance: "
        f"what an input brings with all it does together with others, of the {len(top)} with the largest swings."
    ))  # fmt: skip


def turns(cash: CashFlow, name: str, against: str = "") -> tuple[Flip, ...]:
    """The flips of a case, or of its gain beyond another."""
    other = [against] if against else []
    return flip_values(model_of(cash, [name], other), name, cash.demand_of([name, *other]), against)


def flips(
    cash: CashFlow, scenario: str | Scenario | None = None, against: str | Scenario | None = None
) -> pd.DataFrame:
    """At which value of an input, all others typical, the net present value is zero: one row per input.

    Of one case or of all, the nearest first, or of its value beyond ``against``, as of an option on top of a
    package. ``flip`` is empty where there is none between ``looked_from`` and ``looked_to``; ``within_range`` says
    whether the input's own range from ``low`` to ``high`` reaches it.
    """
    names, base = list(cash.results) if scenario is None else [cash.case(scenario)], cash.base_of(against)
    found = [(name, flip) for name in names for flip in turns(cash, name, base)]
    found.sort(key=lambda pair: (names.index(pair[0]), pair[1].distance))
    frame = pd.DataFrame([_flip_row(name, flip) for name, flip in found])
    inside = sum(flip.within_range for _, flip in found)
    beyond = f" beyond {base}" if base else ""
    of = f"{names[0]}{beyond}" if len(names) == 1 else "the cases"
    return titled(frame, *say.turns(of, inside, len(found), REACH, GROWTH_REACH))


def _flip_row(name: str, flip: Flip) -> dict[str, Any]:
    return {
        "scenario": name, **input_cells(flip.input), "flip": number_of(flip.value), "within_range": flip.within_range,
        "looked_from": flip.low, "looked_to": flip.high, "basis": flip.input.basis,
    }  # fmt: skip


def promises(cash: CashFlow, *, workers: int | None = None, keep: Keep = None, progress: bool = True) -> pd.DataFrame:
    """What suppliers must keep to for a value of zero: seconds an exchange, failed picks, stops at night.

    Columns as in :meth:`CashFlow.flips`, with the value if the promise is kept perfectly and the hours of a night. Each
    is simulated at half and at one and a half times, in the first case that has it, as in :func:`with_times`.
    """
    made = [scenario.made for scenario in cash.study.scenarios[1:]]
    probes = promise_probes(made)
    found = _measured(cash, probes, workers=workers, cache_dir=runs_folder(keep), progress=progress)
    rows = [_promise(cash, probe.scenarios[0].name, one) for probe, one in zip(probes, found, strict=True)]
    reached = sum(row["flip"] == row["flip"] for row in rows)
    frame = pd.DataFrame(rows, columns=list(PROMISED))
    return titled(frame, *say.promised(reached, len(rows)))


def _promise(cash: CashFlow, name: str, one: Response) -> dict[str, Any]:
    model = RiskModel(cash.plant, cash.totals, (one.input,), cash.flow.today, slopes={one.input.name: one.slopes})
    (flip,) = flip_values(model, name, cash.demand_of([name]))
    kept = float(model.values({one.input.name: np.array([0.0])}, [name]).npv[name][0])
    npv = cash.results[name].npv
    bound = "" if flip.value is None else ", at least" if kept < npv else ", at most"
    planned, at_flip = _night_hours(cash, name, one, flip)
    return {
        **_flip_row(name, flip), "title": f"promised: {one.input.title}{bound}", "npv": npv, "npv_if_zero": kept,
        "night_h": planned, "night_h_at_flip": at_flip,
    }  # fmt: skip


def _night_hours(cash: CashFlow, name: str, one: Response, flip: Flip) -> tuple[float, float]:
    """Hours run per unattended night as simulated, and at the flip; not numbers where there are no nights."""
    totals, level = cash.totals[name], _level(cash)
    nights = totals.per_week("nights", level) if totals.has("nights") and totals.has(UNATTENDED) else 0.0
    if one.input.name != "promise night" or not nights:
        return float("nan"), float("nan")
    hours = totals.per_week(UNATTENDED, level)
    change = one.slopes[name].get(UNATTENDED, 0.0) * level
    at = float("nan") if flip.value is None else (hours + change * (flip.value - one.input.typical)) / nights
    return float(hours / nights), float(at)


def over_demand(cash: CashFlow) -> pd.DataFrame:
    """Value of every case over the latest signed demand, as far as it was simulated: scenario, demand, npv."""
    low, high = cash.demand_of(list(cash.results))
    points = np.unique([*np.linspace(low, high, SWEEP), *cash.study.numbers.levels])
    worth = cash.model.values({"demand": points}, list(cash.results)).npv
    rows = [(name, point, value) for name, own in worth.items() for point, value in zip(points, own, strict=True)]
    frame = pd.DataFrame(rows, columns=["scenario", "demand", "npv"])
    pays = [(name, _turn(points, own)) for name, own in worth.items()]
    return titled(frame, say.demand_title(pays, low, high), (
        f"Value in {cash.currency} over the demand of the latest signed years, a factor of the order book, as far as "
        "it was simulated; all else typical."))  # fmt: skip


def _turn(points: np.ndarray[Any, Any], values: np.ndarray[Any, Any]) -> float:
    """First point at which a value passes zero, in a straight line between points; not a number where it never does."""
    crossed: Iterator[int] = (i for i in range(len(points) - 1) if values[i] * values[i + 1] < 0)
    place = next(crossed, None)
    if place is None:
        return float("nan")
    share = values[place] / (values[place] - values[place + 1])
    return float(points[place] + share * (points[place + 1] - points[place]))
