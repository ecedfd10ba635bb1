"""What the sections of the study of parts read: a study, its own cases, clocks of sheets, limits, nights and curves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.analysis.cases import Case
from simkit.analysis.exposure import Exposure, exposures
from simkit.analysis.hand_over import CHUTE, HandOver, Roles
from simkit.analysis.low_capital import Options
from simkit.analysis.part_breaks import BreakEven, break_even, closed_pick_s, failing_share
from simkit.analysis.part_cases import FAIL, PICK, SIZING
from simkit.analysis.part_clocks import Clocks, FamilyClocks, book_clocks, family_clocks
from simkit.analysis.part_limits import LimitGain, ReasonRow, limit_gains, reason_rows, whole_sheets
from simkit.base.units import SECONDS_PER_HOUR
from simkit.experiment.compare import interaction
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.finance.inputs import prices_of
from simkit.plant.conditions import split_unit
from simkit.plant.plant import Plant
from simkit.report.caseview import CaseView
from simkit.report.study import Study
from simkit.report.studydata import TODAY

ENTRIES = "cell_entries"
MOST_NIGHTS = 0.8
"""Share of nights or mornings for which a number of places or sheets is told."""


@dataclass(frozen=True, eq=False)
class PartStudy(CaseView):
    """A study seen from what leaves the machine."""

    page = "parts"

    # ---- which scenario is what ----

    @cached_property
    def over(self) -> HandOver:
        """How the plant can hand sheets over, with its low-capital package as listed."""
        return HandOver(self.study.plant, tuple(self.study.run.scenarios.get(self.study.package, ())))

    @property
    def roles(self) -> Roles:
        """Options that bring removal, stack, magazine, store and nights."""
        return self.over.roles

    @property
    def package(self) -> Options:
        """Options of the low-capital package, as listed."""
        return self.over.package

    def scenario_of(self, *parts: Iterable[str] | None) -> str | None:
        """The scenario or case of exactly these options, None where it was not simulated or one part does not exist."""
        if any(part is None for part in parts):
            return None
        wanted = frozenset(name for part in parts for name in part or ())
        known = self.study.run.named(wanted)
        if known in self.study.scenarios:
            return known
        own = (c.name for c in self.cases() if not c.overrides and frozenset(c.options) == wanted)
        return next(own, None)

    @cached_property
    def removal(self) -> str | None:
        """Scenario of removal alone; today where the plant has it."""
        return self.scenario_of(self.roles.removal)

    @cached_property
    def night_removal(self) -> str | None:
        """Scenario of the night in which parts are picked."""
        return self.scenario_of(self.over.night(self.roles.removal))

    @cached_property
    def night_stack(self) -> str | None:
        """Scenario of the night in which whole sheets go to a stack."""
        return self.scenario_of(self.over.night(self.roles.stack))

    @cached_property
    def night_both(self) -> str | None:
        """Scenario of the night with both: parts are picked, and sheets that are not emptied go to a stack."""
        return self.scenario_of(self.over.both_ways)

    @cached_property
    def night_person(self) -> str | None:
        """Scenario of the night with the whole-sheet stack and a second person at the bench."""
        return self.scenario_of(self.over.night(self.roles.stack), self.roles.bench_person)

    def options_of(self, name: str) -> Options:
        """Options of a scenario or case."""
        case = self.own_cases.get(name)
        return case.options if case else tuple(self.study.run.scenarios[name])

    def named(self, name: str) -> str:
        """Name of a scenario or case as readers see it: the package by that word, then what is added."""
        case = self.own_cases.get(name)
        held = set(self.package)
        options = self.options_of(name)
        rest = [option for option in options if option != CHUTE and (option not in held or not held <= set(options))]
        if not options:
            text = "Today"
        elif held and held <= set(options):
            text = "Package" if not rest else "Package + " + "+".join(rest)
        else:
            text = "+".join(rest)
        text += ", rest down the chute" if CHUTE in options else ""
        return f"{text}, {case.what}" if case and case.overrides else text

    def spoken(self, name: str) -> str:
        """What a scenario of hand-over is in words: today, removal alone, a night and its way."""
        words = {self.removal: "Removal alone", self.night_stack: "Night, whole-sheet stack",
                 self.night_removal: "Night, removal", self.night_both: "Night, removal and stack",
                 self.night_person: "Night, stack, second person"}  # fmt: skip
        return "Today" if name == TODAY else words.get(name) or self.named(name)

    @property
    def nights_note(self) -> str:
        """What the words for nights stand for."""
        names = [n for n in (self.night_stack, self.night_removal, self.night_both) if n is not None]
        held = "; ".join(f"“{self.spoken(name)}”: {self.named(name)}" for name in names)
        return f"{held}." if names else ""

    # ---- amounts ----

    def together(self, both: str, first: str, second: str, base: str, measure: str) -> Estimate:
        """What two options do a week beyond the sum of both."""
        return interaction(self.study.weekly, both, first, second, base, measure, self.study.demand_factor)

    def has(self, name: str | None, measure: str) -> bool:
        """Whether a scenario was simulated and measured this."""
        return name is not None and self.study.has(name, measure)

    def scrap_credit(self, name: str) -> Estimate:
        """What the scrap of a week brings, at the plant's scrap prices."""
        prices = prices_of(self.study.plant).scrap_per_kg
        weekly, factor = self.study.weekly, self.study.demand_factor
        metals = [metal for metal in prices if self.study.has(name, f"scrap_kg_{metal}")]
        total = np.sum([prices[metal] * weekly.values(name, f"scrap_kg_{metal}", factor) for metal in metals], axis=0)
        return (
            self.study.known(total, self.study.currency) if metals else Estimate(0.0, 0.0, self.study.run.replications)
        )

    # ---- clocks and limits ----

    @cached_property
    def removal_plant(self) -> Plant | None:
        """The plant with removal."""
        if self.roles.removal is None:
            return None
        return self.over.with_options(self.roles.removal)

    @cached_property
    def clocks(self) -> Clocks:
        """Clocks of the sheets of the book today."""
        return book_clocks(self.study.plant)

    @cached_property
    def removal_clocks(self) -> Clocks | None:
        """Clocks of the same sheets with removal."""
        return None if self.removal_plant is None else book_clocks(self.removal_plant)

    @cached_property
    def families(self) -> tuple[FamilyClocks, ...]:
        """Clocks by family, all sheets last; without removal both sides are today."""
        return family_clocks(self.clocks, self.removal_clocks or self.clocks)

    @cached_property
    def _bench_s(self) -> Mapping[str, float]:
        """Seconds of bench work a sheet today, by program of the book."""
        names = [program.program_id for program in self.study.plant.programs]
        return {names[number]: float(s) for number, s in zip(self.clocks.program, self.clocks.bench_s, strict=True)}

    @cached_property
    def reasons(self) -> tuple[ReasonRow, ...]:
        """Parts of the book by why they cannot be picked."""
        return () if self.removal_plant is None else reason_rows(self.removal_plant, self._bench_s)

    @cached_property
    def limits(self) -> tuple[LimitGain, ...]:
        """What each limit of the device holds back."""
        return () if self.removal_plant is None else limit_gains(self.removal_plant, self._bench_s)

    @cached_property
    def whole_sheets(self) -> tuple[int, int]:
        """Sheets of the book all of whose parts can be picked, and all sheets."""
        return whole_sheets(self.removal_plant or self.study.plant)

    # ---- counts by hour, night and sheet ----

    @property
    def counted(self) -> bool:
        """Whether anything was counted at the demand of the answers."""
        return not self.study.table("parts").empty and self.at_counted_demand

    def counts(self, name: str | None, quantity: str) -> pd.DataFrame:
        """Rows of ``parts.csv`` of a scenario and quantity, with ``which`` as a number where it is one, ascending."""
        frame = self.study.table("parts")
        if name is None or not self.counted:
            return frame.iloc[:0]
        own = frame[(frame["scenario"] == self._counted_name(name)) & (frame["quantity"] == quantity)]
        if own["which"].str.isdigit().all():
            own = own.assign(which=own["which"].astype(int)).sort_values("which")
        return own

    def _counted_name(self, name: str) -> str:
        """The name under which the same options were counted."""
        names = [str(other) for other in self.study.table("parts")["scenario"].unique()]
        if name in names or name in self.own_cases:
            return name
        wanted = "+".join(self.over.combined(self.options_of(name))) or TODAY
        return wanted if wanted in names else name

    def enough_for(self, name: str | None, quantity: str, share: float = MOST_NIGHTS) -> int | None:
        """The smallest number that is enough in this share of the nights or mornings, None where none was counted."""
        rows = self.counts(name, quantity)
        total = float(rows["mean"].sum())
        if not total:
            return None
        reached = rows["mean"].cumsum() >= share * total - 1e-9
        return int(rows.loc[reached, "which"].iloc[0])

    @cached_property
    def sizing(self) -> Case | None:
        """The night without stops and first pieces, with so many places that none binds."""
        return next(iter(self.cases(SIZING)), None)

    # ---- curves ----

    def curve(self, group: str, own: str | None) -> list[tuple[Case | None, str, float]]:
        """Cases of a curve in order: the case (None: as offered), its scenario, and its share of what is offered."""
        points: list[tuple[Case | None, str, float]] = [(c, c.name, c.facts["share"]) for c in self.cases(group)]
        if own is not None and points:
            points.append((None, own, 1.0))
        return sorted(points, key=lambda point: point[2])

    @cached_property
    def pick_s(self) -> float:
        """Mean seconds of a pick on offer."""
        return self.removal_clocks.mean_pick_s if self.removal_clocks else 0.0

    @cached_property
    def pick_break(self) -> BreakEven | None:
        """Seconds a pick at which removal alone gains no hours against today, through the cell."""
        points = self.curve(PICK, self.removal)
        if not points or self.removal == TODAY:
            return None
        today = self._runs(TODAY, NEEDED)
        gains = [(share * self.pick_s, today - self._runs(name, NEEDED)) for _, name, share in points]
        return break_even(gains, "s")

    def _runs(self, name: str, measure: str) -> NDArray[np.float64]:
        """A measure per week in each run, as simulated: a crossing is found run by run."""
        return self.study.weekly.raw(name, measure, self.study.demand_factor)

    @cached_property
    def closed_pick(self) -> float | None:
        """The same by the closed form of the clocks."""
        return closed_pick_s(self.clocks, self.removal_plant) if self.removal_plant else None

    @cached_property
    def fail_break(self) -> BreakEven | None:
        """Share of failing picks at which a night with removal runs no longer than one with a whole-sheet stack."""
        points = self.curve(FAIL, self.night_removal)
        rival = self.night_stack
        if not points or rival is None or not self.fail_rate:
            return None
        base = self._runs(rival, UNATTENDED)
        gains = [(share * self.fail_rate, self._runs(name, UNATTENDED) - base) for _, name, share in points]
        return break_even(gains, "1")

    @cached_property
    def fail_rate(self) -> float:
        """Share of picks that fail as offered."""
        return failing_share(self.removal_plant) if self.removal_plant else 0.0

    @cached_property
    def entry_s(self) -> float:
        """Seconds of an entry into the guarded cell."""
        rows = self.removal_plant.elements if self.removal_plant else ()
        return sum(row.typical * split_unit(row.unit)[0] for row in rows if split_unit(row.unit)[1] == "cell_entry")

    @cached_property
    def entries_h(self) -> float:
        """Hours of a week that removal alone spends on entries."""
        if self.removal is None or not self.has(self.removal, ENTRIES):
            return 0.0
        return self.per_week(self.removal, ENTRIES).mean * self.entry_s / SECONDS_PER_HOUR

    @cached_property
    def closed_with_entries(self) -> float | None:
        """The break-even pick time by the closed form when the entries are paid as well."""
        sheets = self.per_week(TODAY, "sheets").mean
        if self.removal_plant is None or not sheets:
            return None
        return closed_pick_s(self.clocks, self.removal_plant, self.entries_h * SECONDS_PER_HOUR / sheets)

    # ---- hands ----

    @cached_property
    def exposures(self) -> dict[str, Exposure]:
        """Lifts and kilograms of a shift: today, and each way to hand over, by day and at night."""
        wanted = [TODAY, self.removal, self.night_removal, self.night_stack, self.night_both]
        cases = {name: self.options_of(name) for name in wanted if name is not None}
        return exposures(self.over.wide, cases, TODAY, self.study.weekly, self.study.demand_factor)


def parts_of(study: Study) -> PartStudy:
    """See a study from what leaves the machine."""
    return PartStudy(study)


def read_by_parts(study: Study) -> list[str]:
    """What the study of parts reads, as text: physics of the scenarios it shows, scrap prices, and its own cases."""
    view = PartStudy(study)
    names = [TODAY, view.removal, view.night_removal, view.night_stack, view.night_both, study.package]
    prices = repr(sorted(prices_of(study.plant).scrap_per_kg.items()))
    return [*study.physics(names), prices, *view.read_cases]
