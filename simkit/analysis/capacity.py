"""Practical capacity: the most work at which the simulated cell still delivers as the plant demands."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import takewhile

from simkit.analysis.service import late_or_refused
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.results import Results

BACKLOG_LIMIT = 0.5
"""The backlog counts as growing when it does so in this share of the replications or more."""

BETWEEN_LEVELS = "between the last demand level that fits and the first that does not"
EVERY_LEVEL_FITS = "every demand level fits: practical capacity is at least this"
NO_LEVEL_FITS = "no demand level fits: practical capacity is below this"
CANNOT_TELL = "the runs disagree whether the level that decides fits: practical capacity cannot be told"


@dataclass(frozen=True)
class DemandLevel:
    """What a scenario did at one demand level: share of orders late or refused, share of the runs with more backlog."""

    demand_factor: float
    hours_needed: float
    late: Estimate
    backlog: Estimate

    def fits(self, late_share_limit: float) -> bool:
        """Orders late or refused within the plant's limit of late ones, and backlog not growing, in the mean."""
        return self.late.mean <= late_share_limit and self.backlog.mean < BACKLOG_LIMIT

    def surely(self, late_share_limit: float) -> bool:
        """Whether the runs agree (95 %) that it fits, or that it does not."""
        late, backlog = self.late, self.backlog
        limits = ((late, late_share_limit), (backlog, BACKLOG_LIMIT))
        if self.fits(late_share_limit):
            return all(one.mean + one.half_width <= limit for one, limit in limits)
        return any(one.mean - one.half_width > limit for one, limit in limits) or backlog.low >= BACKLOG_LIMIT


@dataclass(frozen=True)
class Capacity:
    """Practical capacity of a scenario in hours needed over the simulated weeks, and as demand factor.

    ``state`` is one of the four texts of this module: the number is exact only between two levels. ``decisive`` is the
    level on which the runs disagree, if they do.
    """

    scenario: str
    hours: float
    demand_factor: float
    state: str
    levels: tuple[DemandLevel, ...]
    decisive: DemandLevel | None = None


def practical_capacity(results: Results, scenario: str, late_share_limit: float) -> Capacity:
    """Hours needed at the highest demand that still fits, from a sweep of demand levels.

    Straight line between the last level that fits and the first that does not, to where late share
    or backlog passes its limit. Levels above the first that does not fit are not looked at. Where the runs disagree on
    one of these two, capacity cannot be told, and the hours are those of the means.
    """
    levels = tuple(_level(results, scenario, factor) for factor in results.demand_factors)
    fitting = len(list(takewhile(lambda level: level.fits(late_share_limit), levels)))
    looked_at = levels[max(fitting - 1, 0) : fitting + 1]
    decisive = next((level for level in looked_at if not level.surely(late_share_limit)), None)
    last, hours, demand = looked_at[0], looked_at[0].hours_needed, looked_at[0].demand_factor
    state = NO_LEVEL_FITS if fitting == 0 else EVERY_LEVEL_FITS
    if 0 < fitting < len(levels):
        state, over = BETWEEN_LEVELS, levels[fitting]
        share = _share_of_the_way(last, over, late_share_limit)
        hours += share * (over.hours_needed - last.hours_needed)
        demand += share * (over.demand_factor - last.demand_factor)
    return Capacity(scenario, hours, demand, CANNOT_TELL if decisive else state, levels, decisive)


def _level(results: Results, scenario: str, factor: float) -> DemandLevel:
    late = t_interval(late_or_refused(results, scenario, factor), "1")
    grows = t_interval(results.raw(scenario, "backlog_grows", factor), "1")
    return DemandLevel(factor, results.estimate(scenario, "hours_needed", factor).mean, late, grows)


def _share_of_the_way(fits: DemandLevel, over: DemandLevel, late_share_limit: float) -> float:
    """Where, from 0 at the level that fits to 1 at the other, the first limit is passed."""
    shares = [1.0]
    if over.late.mean > late_share_limit:
        shares.append((late_share_limit - fits.late.mean) / (over.late.mean - fits.late.mean))
    if over.backlog.mean >= BACKLOG_LIMIT:
        shares.append((BACKLOG_LIMIT - fits.backlog.mean) / (over.backlog.mean - fits.backlog.mean))
    return min(shares)
