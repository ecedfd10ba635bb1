"""Practical capacity: the most work at which the simulated cell still delivers as the plant demands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simkit.analysis.service import late_or_refused
from simkit.experiment.results import Results

BACKLOG_LIMIT = 0.5
"""The backlog counts as growing when it does so in this share of the replications or more."""

BETWEEN_LEVELS = "between the last demand level that fits and the first that does not"
EVERY_LEVEL_FITS = "every demand level fits: practical capacity is at least this"
NO_LEVEL_FITS = "no demand level fits: practical capacity is below this"


@dataclass(frozen=True)
class Level:
    """What a scenario did at one demand level; means over replications. ``late_share``: orders late or refused."""

    demand_factor: float
    hours_needed: float
    late_share: float
    backlog_share: float

    def fits(self, late_share_limit: float) -> bool:
        """Orders late or refused within the plant's limit of late ones, and backlog not growing."""
        return self.late_share <= late_share_limit and self.backlog_share < BACKLOG_LIMIT


@dataclass(frozen=True)
class Capacity:
    """Practical capacity of a scenario in hours needed over the simulated weeks, and as demand factor.

    ``state`` is one of the three texts of this module: the number is exact only between two levels.
    """

    scenario: str
    hours: float
    demand_factor: float
    state: str
    levels: tuple[Level, ...]

    @property
    def bracketed(self) -> bool:
        """Whether the sweep holds a level that fits and one above it that does not."""
        return self.state == BETWEEN_LEVELS


def practical_capacity(results: Results, scenario: str, late_share_limit: float) -> Capacity:
    """Hours needed at the highest demand that still fits, from a sweep of demand levels.

    Straight line between the last level that fits and the first that does not, to where late share
    or backlog passes its limit. Levels above the first that does not fit are not looked at.
    """
    levels = tuple(_level(results, scenario, factor) for factor in results.demand_factors)
    fitting = _leading([level.fits(late_share_limit) for level in levels])
    if fitting == 0:
        return Capacity(scenario, levels[0].hours_needed, levels[0].demand_factor, NO_LEVEL_FITS, levels)
    last = levels[fitting - 1]
    if fitting == len(levels):
        return Capacity(scenario, last.hours_needed, last.demand_factor, EVERY_LEVEL_FITS, levels)
    first_over = levels[fitting]
    share = _share_of_the_way(last, first_over, late_share_limit)
    hours = last.hours_needed + share * (first_over.hours_needed - last.hours_needed)
    demand = last.demand_factor + share * (first_over.demand_factor - last.demand_factor)
    return Capacity(scenario, hours, demand, BETWEEN_LEVELS, levels)


def practical_capacities(results: Results, late_share_limit: float) -> dict[str, Capacity]:
    """Practical capacity of every scenario of a sweep."""
    return {name: practical_capacity(results, name, late_share_limit) for name in results.scenarios}


def _level(results: Results, scenario: str, factor: float) -> Level:
    hours, backlog = (results.estimate(scenario, name, factor).mean for name in ("hours_needed", "backlog_grows"))
    return Level(factor, hours, float(late_or_refused(results, scenario, factor).mean()), backlog)


def _leading(flags: Sequence[bool]) -> int:
    return next((count for count, flag in enumerate(flags) if not flag), len(flags))


def _share_of_the_way(fits: Level, over: Level, late_share_limit: float) -> float:
    """Where, from 0 at the level that fits to 1 at the other, the first limit is passed."""
    shares = [1.0]
    if over.late_share > late_share_limit:
        shares.append((late_share_limit - fits.late_share) / (over.late_share - fits.late_share))
    if over.backlog_share >= BACKLOG_LIMIT:
        shares.append((BACKLOG_LIMIT - fits.backlog_share) / (over.backlog_share - fits.backlog_share))
    return min(shares)
