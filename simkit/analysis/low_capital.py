"""The best low-capital package: what a plant can do for little money before it buys anything.

Options marked ``low_capital`` are added one at a time, each time the one that leaves the fewest late
orders and then needs the fewest hours, until none helps for sure. The package is fixed per demand level.
Selecting and reporting on the same luck would flatter it, so it is confirmed on fresh replications,
and an option without which nothing gets worse is dropped again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from typing import Any

from simkit.base.messages import BadInput
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.options import Option
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario

LATE = "late_share"

SAME_LATE_SHARE = 0.005
"""Late shares nearer than this count as equal (half a late order in a hundred)."""

LEAST_GAIN_SHARE = 0.005
"""An option that saves less than this share of today's hours is not worth an owner (common practice, no source)."""

SELECT_ON = 4
CONFIRM_ON = 6
"""Replications for the selection, and fresh ones for the confirmation."""

Options = tuple[str, ...]


@dataclass(frozen=True)
class Change:
    """What an option changes: paired differences in late share and in hours needed."""

    late: Estimate
    hours: Estimate

    def helps(self, limits: Limits) -> bool:
        """Fewer late orders for sure, or no more of them and fewer hours for sure."""
        if self.late.tells and self.late.mean < -limits.same_late_share:
            return True
        return self.late.mean <= limits.same_late_share and self.hours.tells and self.hours.mean < -limits.least_gain_h


@dataclass(frozen=True)
class Limits:
    """What counts as the same late share, and the fewest hours over the simulated weeks that count as a gain."""

    same_late_share: float = SAME_LATE_SHARE
    least_gain_h: float = 0.0


@dataclass(frozen=True)
class Trial:
    """An option tried on top of a package: what it changes, or why it was not legal."""

    option_id: str
    change: Change | None = None
    refused: str = ""


@dataclass(frozen=True)
class Step:
    """A step of the selection: the package so far, what was tried on it, what was taken (empty: nothing helps)."""

    package: Options
    tried: tuple[Trial, ...]
    taken: str = ""


@dataclass(frozen=True)
class Gain:
    """On fresh replications: what an option adds to those before it, and what it is worth to the whole.

    ``to_the_rest`` is missing where the package is not legal without the option.
    """

    option_id: str
    to_those_before: Change
    to_the_rest: Change | None


@dataclass(frozen=True)
class Package:
    """The best low-capital package at one demand level.

    ``options`` carry each option's own capital, labour, owner and persistence. ``change`` is the whole
    package's difference from today. ``dropped`` were selected but not confirmed.
    """

    demand_factor: float
    options: tuple[Option, ...]
    trail: tuple[Step, ...]
    gains: tuple[Gain, ...]
    dropped: Options
    change: Change
    confirmed_on: Results = field(repr=False)

    @property
    def option_ids(self) -> Options:
        """Ids of its options in the order of selection; empty if nothing helps."""
        return tuple(option.id for option in self.options)


def best_low_capital(
    plant: Plant,
    demand_factor: float = 1.0,
    *,
    candidates: Sequence[str] | None = None,
    overrides: Sequence[str] = (),
    select_on: int = SELECT_ON,
    confirm_on: int = CONFIRM_ON,
    same_late_share: float = SAME_LATE_SHARE,
    least_gain_share: float = LEAST_GAIN_SHARE,
    **run: Any,
) -> Package:
    """Select among ``candidates`` (default: all low-capital options) and confirm on fresh replications.

    An option must save at least ``least_gain_share`` of today's hours or lessen late orders. ``run``
    goes to :func:`simkit.experiment.runner.run_experiment`: seed, weeks, workers and the like.
    """
    names = low_capital_options(plant) if candidates is None else tuple(candidates)
    simulate = partial(
        run_experiment, plant, demand_factors=[demand_factor], overrides=overrides, **{"progress": False} | run
    )
    selection = _Runs(simulate, demand_factor, 0, select_on)
    fresh = _Runs(simulate, demand_factor, select_on, confirm_on)
    legal = partial(why_illegal, plant, overrides=overrides)
    limits = Limits(same_late_share, least_gain_share * selection.hours(()))
    trail = _select(selection, names, legal, limits)
    selected = tuple(step.taken for step in trail if step.taken)
    package, gains = _confirm(fresh, selected, legal, limits)
    return Package(
        demand_factor=demand_factor,
        options=tuple(plant.option_by_id[name] for name in package),
        trail=trail,
        gains=gains,
        dropped=tuple(name for name in selected if name not in package),
        change=fresh.change(package, ()),
        confirmed_on=fresh.results,
    )


def low_capital_options(plant: Plant) -> Options:
    """Ids of the options marked low_capital, in the order of the file."""
    return tuple(option.id for option in plant.options if option.kind == "low_capital")


def why_illegal(plant: Plant, options: Sequence[str], overrides: Sequence[str] = ()) -> str:
    """Why these options cannot go together, or an empty text."""
    try:
        make_scenario(plant, options, overrides)
    except BadInput as error:
        return error.whys
    return ""


class _Runs:
    """Results of combinations on one set of replications; each is simulated once."""

    def __init__(self, simulate: Any, demand_factor: float, first: int, count: int) -> None:
        self._simulate = partial(simulate, first_replication=first, replications=count)
        self._demand_factor = demand_factor
        self._names: dict[Options, str] = {}
        self.results: Results = self._simulate([()])
        self._names[()] = self.results.scenarios[0]

    def add(self, combinations: Iterable[Options]) -> None:
        """Simulate what is not known yet."""
        new = [options for options in dict.fromkeys(combinations) if options not in self._names]
        if new:
            made = self._simulate(new)
            self._names |= dict(zip(new, made.scenarios, strict=True))
            self.results = self.results.joined(made)

    def hours(self, options: Options) -> float:
        return self.results.estimate(self._names[options], NEEDED, self._demand_factor).mean

    def change(self, options: Options, against: Options) -> Change:
        self.add([options, against])
        first, second = self._names[options], self._names[against]
        late, hours = (self.results.paired(first, second, name, self._demand_factor) for name in (LATE, NEEDED))
        return Change(late, hours)


def _select(runs: _Runs, names: Options, legal: Any, limits: Limits) -> tuple[Step, ...]:
    """Forward selection; the last step is the one in which everything left was tried and nothing helped."""
    package: Options = ()
    trail: list[Step] = []
    last: dict[str, Change] = {}
    while True:
        left = tuple(name for name in names if name not in package)
        step = _step(runs, package, left, legal, limits, last)
        trail.append(step)
        if not step.taken:
            return tuple(trail)
        package = (*package, step.taken)
        last |= {trial.option_id: trial.change for trial in step.tried if trial.change}


def _step(runs: _Runs, package: Options, left: Options, legal: Any, limits: Limits, last: Mapping[str, Change]) -> Step:
    """Try what was never tried, then by last change the rest, as long as one of them might beat the best so far.

    Gains mostly shrink as a package grows, so an option whose last gain is below the best so far can wait.
    """
    refused = {name: reason for name in left if (reason := legal((*package, name)))}
    waiting = sorted((name for name in left if name not in refused and name in last), key=lambda n: _rank(last[n]))
    tried: dict[str, Change] = {}

    def attempt(batch: Sequence[str]) -> None:
        runs.add((*package, name) for name in batch)
        tried.update({name: runs.change((*package, name), package) for name in batch})

    attempt([name for name in left if name not in refused and name not in last])
    best = _best(tried, limits)
    while waiting and (not best or any(_better(last[name], tried[best], limits) for name in waiting)):
        attempt([waiting.pop(0)])
        best = _best(tried, limits)
    trials = [Trial(name, change=tried.get(name), refused=refused.get(name, "")) for name in left]
    return Step(package, tuple(trial for trial in trials if trial.change or trial.refused), best)


def _best(tried: Mapping[str, Change], limits: Limits) -> str:
    """Of those that help, the one with the fewest late orders, then the fewest hours; empty if none helps."""
    helpful = {name: change for name, change in tried.items() if change.helps(limits)}
    if not helpful:
        return ""
    fewest = min(change.late.mean for change in helpful.values())
    equal = [name for name, change in helpful.items() if change.late.mean <= fewest + limits.same_late_share]
    return min(equal, key=lambda name: helpful[name].hours.mean)


def _better(change: Change, than: Change, limits: Limits) -> bool:
    if abs(change.late.mean - than.late.mean) > limits.same_late_share:
        return change.late.mean < than.late.mean
    return change.hours.mean < than.hours.mean


def _rank(change: Change) -> tuple[float, float]:
    return change.late.mean, change.hours.mean


def _confirm(runs: _Runs, selected: Options, legal: Any, limits: Limits) -> tuple[Options, tuple[Gain, ...]]:
    """Drop what is not worth its place, one option at a time, the least useful first."""
    package = selected
    while True:
        without = {name: tuple(other for other in package if other != name) for name in package}
        rest = {name: others for name, others in without.items() if not legal(others)}
        runs.add([package, *rest.values()])
        worth = {name: runs.change(package, others) for name, others in rest.items()}
        useless = [name for name, change in worth.items() if not change.helps(limits)]
        if not useless:
            return package, _gains(runs, package, worth, legal)
        package = without[max(useless, key=lambda name: worth[name].hours.mean)]


def _gains(runs: _Runs, package: Options, worth: dict[str, Change], legal: Any) -> tuple[Gain, ...]:
    steps = [package[:end] for end in range(len(package) + 1)]
    known = [step for step in steps if not legal(step)]
    runs.add(known)
    return tuple(Gain(after[-1], runs.change(after, before), worth.get(after[-1])) for before, after in pairwise(known))
