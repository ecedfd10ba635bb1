"""What the sections of the study of tools read: a study, its own cases, and amounts per week or of four weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from simkit.analysis.cases import Case
from simkit.analysis.magazine_sizes import magazine_case
from simkit.analysis.record_tables import ALL, WEEKS
from simkit.analysis.tool_cases import BLIND, DISPATCH, LAYOUT, PINNED, RULE
from simkit.experiment.intervals import Estimate
from simkit.report.caseview import CaseView
from simkit.report.study import Study
from simkit.report.studydata import TODAY

HAND_KINDS = ("tool_load", "die_change", "angle_change")
GRIPPER_KINDS = ("magazine_exchange", "magazine_die_change")
PER_4_WEEKS = f"per {WEEKS} weeks"


@dataclass(frozen=True, eq=False)
class ToolStudy(CaseView):
    """A study seen from its tools."""

    page = "tools"

    @property
    def counted(self) -> bool:
        """Whether exchanges were counted by tool at the demand of the answers."""
        return not self.study.table("tools").empty and self.at_counted_demand

    @cached_property
    def magazine(self) -> str | None:
        """Scenario of the magazine alone: today where the plant has one, else the first bought option with one."""
        options = magazine_case(self.study.plant)
        name = None if options is None else self.study.run.named(frozenset(options))
        return name if name in self.study.scenarios else None

    @cached_property
    def both(self) -> str | None:
        """Scenario of the low-capital package and the magazine."""
        if self.magazine in (None, TODAY) or self.study.package == TODAY:
            return None
        name = self.study.with_package(self.magazine or TODAY)
        return name if name in self.study.scenarios else None

    @property
    def main_cases(self) -> tuple[str, ...]:
        """Today, the package, the magazine, both: as far as they were simulated."""
        found = (TODAY, self.study.package, self.magazine, self.both)
        return tuple(dict.fromkeys(name for name in found if name))

    @property
    def blind(self) -> Case | None:
        """The magazine without look-ahead."""
        return next(iter(self.cases(BLIND)), None)

    def _single(self, path: str) -> list[str]:
        """Scenarios of one low-capital option that edits a setting."""
        editing = {
            (option.id,) for option in self.study.plant.options if any(edit.path == path for edit in option.edits)
        }
        return [name for name in self.study.low_capital if self.study.run.scenarios[name] in editing]

    @cached_property
    def own_layouts(self) -> list[str]:
        """Scenarios of the plant's own low-capital options that pin tools."""
        return self._single(PINNED)

    @cached_property
    def free_cases(self) -> list[str]:
        """Cases that order work or lay out the turret and buy no tool: the plant's own rules and what was found."""
        found = [case.name for case in self.cases(LAYOUT, RULE) if not case.facts.get("twins")]
        return [*self._single(DISPATCH), *found]

    @cached_property
    def fix_cases(self) -> list[str]:
        """Every fix for tools, what costs nothing first."""
        found = [case.name for case in self.cases(LAYOUT, RULE)]
        names = [*self.free_cases, *self.own_layouts, *found, *self.main_cases]
        return [name for name in dict.fromkeys(names) if name != TODAY]

    @cached_property
    def fix_changes(self) -> dict[str, Estimate]:
        """Paired differences of all fixes from today in hours needed per week; the intervals hold together."""
        return self.changes(self.fix_cases, TODAY)

    def named(self, scenario: str) -> str:
        """Name of a scenario or of a case of tools, as readers see it."""
        return scenario if scenario in self.own_cases else self.study.named(scenario)

    def tool_rows(self, scenario: str) -> pd.DataFrame:
        """Rows of ``tools.csv`` of a scenario."""
        return self.study.table("tools", scenario)

    def minutes(self, scenario: str, kinds: Sequence[str] = (*HAND_KINDS, *GRIPPER_KINDS)) -> pd.DataFrame:
        """Visible minutes of four weeks by tool (rows, most first) and kind of exchange (columns)."""
        rows = self.tool_rows(scenario)
        wide = rows.pivot(index="tool_id", columns="exchange", values="visible_min").reindex(columns=list(kinds))
        wide = wide.fillna(0.0)
        order = wide.sum(axis="columns").sort_values(ascending=False, kind="stable").index
        return wide.loc[order]

    def of_tool(self, scenario: str, tool: str, exchange: str = ALL, column: str = "visible") -> Estimate:
        """Amount of four weeks of one tool: ``visible`` or ``hidden`` minutes, or ``times``; zero where none is."""
        rows = self.tool_rows(scenario)
        found = rows[(rows["tool_id"] == tool) & (rows["exchange"] == exchange)]
        return self._estimate(found, "times" if column == "times" else f"{column}_min")

    def of_family(self, scenario: str, family: str, quantity: str) -> Estimate:
        """Minutes of four weeks of one family (``all``: of all): ``visible``, ``hidden`` or ``fixed``."""
        rows = self.study.table("tool_families", scenario)
        return self._estimate(rows[rows["family"] == family], f"{quantity}_min")

    def faults(self, fault: str, found: str) -> Estimate:
        """How many loads of four weeks went wrong so today and were found there; zero where none did."""
        rows = self.study.table("tool_faults", TODAY)
        return self._estimate(rows[(rows["fault"] == fault) & (rows["found"] == found)], "times")

    def _estimate(self, found: pd.DataFrame, amount: str) -> Estimate:
        runs = self.study.run.replications
        if found.empty:
            return Estimate(0.0, 0.0, runs)
        row = found.iloc[0]
        return Estimate(float(row[amount]), float(row[f"{amount}_half_width"]), runs)


def tools_of(study: Study) -> ToolStudy:
    """See a study from its tools."""
    return ToolStudy(study)


def read_by_tools(study: Study) -> list[str]:
    """What the study of tools reads, as text: physics and capital of the scenarios it shows, and its own cases."""
    view = ToolStudy(study)
    names = list(dict.fromkeys([*view.main_cases, *study.low_capital]))
    shown = [f"{line} {study.capital(name)!r}" for name, line in zip(names, study.physics(names), strict=True)]
    return [*shown, *view.read_cases]
