"""A study seen from its calendar options: each with each bought one, what it adds there, and whose posts it saves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from simkit.analysis.calendar_pairs import CalendarPair
from simkit.analysis.low_capital import Options
from simkit.analysis.service import Verdict, recommendable
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.finance.posts import agency_given_up, posts_given_up
from simkit.finance.roster import roster_of
from simkit.plant.plant import Scenario
from simkit.plant.scenarios import make_scenario
from simkit.report.study import LEFT, Study
from simkit.report.studydata import TODAY

WHOLE = (NEEDED,)
"""Hours needed, as a sum of one."""
OVER = ("overtime_h", *LEFT)
"""Hours over the ordinary week: overtime worked, orders given out and orders not made."""

EXACT = 9
"""Decimals to which differences of hours are exact: sums in another order differ in the last digits of a double."""


@dataclass(frozen=True)
class Posts:
    """What a set does to the roster: people who are no longer needed, and people added."""

    fewer: tuple[str, ...]
    more: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class CalendarStudy:
    """A study seen from its calendar options; sets stand for the scenarios that hold just these options."""

    study: Study

    @cached_property
    def pairs(self) -> tuple[CalendarPair, ...]:
        """Pairs in the order of the run, those that are not legal too; empty at another level of demand."""
        return self.study.run.calendar_pairs if self.study.run.tool_demand == self.study.demand_factor else ()

    @cached_property
    def simulated(self) -> tuple[CalendarPair, ...]:
        """Pairs that were simulated."""
        return tuple(pair for pair in self.pairs if not pair.refused)

    def pairs_of(self, on_package: bool) -> tuple[CalendarPair, ...]:
        """Pairs alone, or on the package."""
        return tuple(pair for pair in self.pairs if pair.on_package == on_package)

    def name(self, options: Options) -> str:
        """Scenario of a set."""
        return "+".join(options) or TODAY

    def has(self, options: Options) -> bool:
        """Whether a set was simulated at this demand."""
        return self.study.has(self.name(options), NEEDED)

    def weekly(self, options: Options, measures: Sequence[str]) -> NDArray[np.float64]:
        """Sum of measures per week, one value a replication, h."""
        return self.study.weekly_values(self.name(options), *measures)

    def per_week(self, options: Options, measures: Sequence[str]) -> Estimate:
        """The same as a mean with its 95 % interval, h per week."""
        return self.study.known(self.weekly(options, measures), "h")

    def late(self, options: Options) -> Estimate:
        """Share of late orders."""
        return self.study.total(self.name(options), "late_share")

    def worth(self, pair: CalendarPair, measures: Sequence[str]) -> Estimate:
        """What the calendar option changes beside the bought one, h per week.

        Paired; the intervals of a calendar option hold together at 95 %.
        """
        after, before = self.weekly(pair.options, measures), self.weekly(pair.without_calendar, measures)
        return self._known(pair, after - before)

    def worth_without(self, pair: CalendarPair, measures: Sequence[str]) -> Estimate | None:
        """The same without the bought option; None where the calendar option needs it."""
        if pair.without_bought is None:
            return None
        return self._known(pair, self.weekly(pair.without_bought, measures) - self.weekly(pair.under, measures))

    def interaction(self, pair: CalendarPair, measures: Sequence[str]) -> Estimate | None:
        """What both do together beyond the sum of either alone, h per week, intervals as for the worth."""
        if pair.without_bought is None:
            return None
        alone = self.weekly(pair.without_calendar, measures) + self.weekly(pair.without_bought, measures)
        return self._known(pair, self.weekly(pair.options, measures) - alone + self.weekly(pair.under, measures))

    def _known(self, pair: CalendarPair, values: NDArray[np.float64]) -> Estimate:
        steady = np.round(values, EXACT)
        beside = [p for p in self.simulated if (p.calendar, p.on_package) == (pair.calendar, pair.on_package)]
        return self.study.known(steady, "h", intervals=max(self.study.family, len(beside)))

    @cached_property
    def _scenarios(self) -> dict[str, Scenario]:
        sets = dict.fromkeys(o for pair in self.simulated for o in (*pair.sets, pair.under) if self.has(o))
        return {self.name(options): make_scenario(self.study.plant, options) for options in ((), *sets)}

    @cached_property
    def _verdicts(self) -> Mapping[str, Verdict]:
        today, demand = self._scenarios[TODAY], (self.study.demand_factor,)
        return {n: recommendable(self.study.results, today, one, demand) for n, one in self._scenarios.items()}

    def verdict(self, options: Options) -> Verdict:
        """Whether a set can be recommended, judged at this demand."""
        return self._verdicts[self.name(options)]

    def posts(self, options: Options) -> Posts:
        """What a set does to today's roster."""
        today, own = (roster_of(self._scenarios[name].plant) for name in (TODAY, self.name(options)))
        whole, _ = posts_given_up(today, own)
        fewer = [post.person_id for post in whole] + [post.person_id for post, _ in agency_given_up(today, own)]
        more = [post.person_id for post in own.posts if post.person_id not in today.by_person]
        return Posts(tuple(fewer), tuple(more))

    def is_plain(self, pair: CalendarPair) -> bool:
        """Whether neither of the two needs anything: they stand on nothing, or on the package alone."""
        wanted = self.study.package_options if pair.on_package else frozenset()
        return not pair.refused and not pair.needed and frozenset(pair.under) == wanted

    def leaves_more(self, pair: CalendarPair) -> bool:
        """Whether the pair surely gives out or refuses more work than the same set at today's hours."""
        more = self.worth(pair, LEFT)
        return more.mean > 0 and more.tells

    def beside(self, pair: CalendarPair) -> tuple[str, ...]:
        """What is bought beside the two because either needs it."""
        package = self.study.package_options if pair.on_package else frozenset()
        return tuple(name for name in pair.under if name not in package)


def calendar_of(study: Study) -> CalendarStudy:
    """See a study from its calendar options."""
    return CalendarStudy(study)
