"""The best low-capital package: what a plant can do for little money before it buys anything.

Options marked ``low_capital`` are added one at a time, each time the one that leaves the fewest late
orders and then needs the fewest hours, until none helps for sure. The package is fixed per demand level.
Selecting and reporting on the same luck would flatter it, so it is confirmed on fresh replications,
and an option without which nothing gets worse is dropped again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from typing import Any

from simkit.base.messages import BadInput
from simkit.experiment.intervals import Estimate
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.options import Option
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario

LATE = "late_share"
HOURS = "hours_needed"

SAME_LATE_SHARE = 0.005
"""Late shares nearer than this count as equal (half a late order in a hundred)."""

LEAST_GAIN_SHARE = 0.005
"""An option that saves less than this share of today's hours is not worth an owner (common practice, no source)."""

SELECT_ON = 4
CONFIRM_ON = 10
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
    """A step of the selection: the package so far, all that was tried, what was taken (empty: nothing helps)."""

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
        return "; ".join(finding.why for finding in error.findings)
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

    def late(self, options: Options) -> float:
        return self.results.estimate(self._names[options], LATE, self._demand_factor).mean

    def hours(self, options: Options) -> float:
        return self.results.estimate(self._names[options], HOURS, self._demand_factor).mean

    def change(self, options: Options, against: Options) -> Change:
        self.add([options, against])
        first, second = self._names[options], self._names[against]
        late, hours = (self.results.paired(first, second, name, self._demand_factor) for name in (LATE, HOURS))
        return Change(late, hours)


def _select(runs: _Runs, names: Options, legal: Any, limits: Limits) -> tuple[Step, ...]:
    """Forward selection; the last step is the one in which nothing helped."""
    package: Options = ()
    trail: list[Step] = []
    while True:
        step = _step(runs, package, tuple(name for name in names if name not in package), legal, limits)
        trail.append(step)
        if not step.taken:
            return tuple(trail)
        package = (*package, step.taken)


def _step(runs: _Runs, package: Options, names: Options, legal: Any, limits: Limits) -> Step:
    refused = {name: legal((*package, name)) for name in names}
    runs.add((*package, name) for name in names if not refused[name])
    tried = tuple(
        Trial(name, refused=refused[name])
        if refused[name]
        else Trial(name, change=runs.change((*package, name), package))
        for name in names
    )
    helpful = [(*package, trial.option_id) for trial in tried if trial.change and trial.change.helps(limits)]
    return Step(package, tried, _fewest_late_then_hours(runs, helpful, limits)[-1] if helpful else "")


def _fewest_late_then_hours(runs: _Runs, packages: Sequence[Options], limits: Limits) -> Options:
    fewest = min(runs.late(package) for package in packages)
    equal = [package for package in packages if runs.late(package) <= fewest + limits.same_late_share]
    return min(equal, key=runs.hours)


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
