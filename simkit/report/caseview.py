"""What the studies of tools, parts and nights have in common: a study seen from cases of its own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from simkit.analysis.cases import Case
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate
from simkit.report.study import WHOLE_RUN, Study


@dataclass(frozen=True, eq=False)
class CaseView:
    """A study with the cases that only one of its pages lists; amounts are those of a mean week."""

    study: Study
    page: ClassVar[str]

    @property
    def own_cases(self) -> Mapping[str, Case]:
        """The cases of this page by name, as the run card holds them."""
        return self.study.run.cases.get(self.page, {})

    @property
    def at_counted_demand(self) -> bool:
        """Whether the answers stand at the demand at which cases were counted one by one."""
        return self.study.run.tool_demand == self.study.demand_factor

    def cases(self, *groups: str) -> list[Case]:
        """Cases of these groups (none named: all) that were simulated at the demand of the answers, in their order."""
        known = [case for case in self.own_cases.values() if self.study.has(case.name, WHOLE_RUN)]
        return [case for case in known if not groups or case.group in groups]

    def weekly_values(self, name: str, *measures: str) -> NDArray[np.float64]:
        """Sum of measures per week (a share as it is), one value a replication."""
        return self.study.weekly_values(name, *measures)

    def per_week(self, name: str, *measures: str) -> Estimate:
        """The same as a mean with its 95 % interval."""
        return self.study.known(self.weekly_values(name, *measures), describe(measures[0]).unit)

    def change(self, name: str, base: str, measure: str = NEEDED) -> Estimate:
        """Paired difference per week of one scenario from another."""
        return self.study.weekly.paired(name, base, measure, self.study.demand_factor)

    def changes(self, names: Iterable[str], base: str, measure: str = NEEDED) -> dict[str, Estimate]:
        """Paired differences per week from ``base``; the intervals hold together at 95 %."""
        others = [name for name in dict.fromkeys(names) if name != base]
        return self.study.differences(self.study.weekly, base, measure, others)

    @property
    def read_cases(self) -> list[str]:
        """The cases as text, each with the hash of what was simulated; what the page reads changes with it."""
        return [f"{case.name} {case.physics_hash}" for case in self.own_cases.values()]
