"""What the sections of the study of times read: a study, its programs' times, notes of physics, lifts, indicators."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from simkit.analysis.exposure import Exposure, exposures
from simkit.analysis.indicators import Indicator, indicators
from simkit.analysis.sheet_times import FamilyTime, ProgramTime, family_times, furthest_apart, has_motion, program_times
from simkit.base.messages import BadInput, Finding, nearest
from simkit.process.findings import physics_notes
from simkit.process.physicsnote import PhysicsNote
from simkit.process.runningcost import HourCost, hour_costs
from simkit.report.study import Study
from simkit.report.studydata import TODAY


@dataclass(frozen=True, eq=False)
class TimeStudy:
    """A study seen from the times of its programs."""

    study: Study

    @property
    def has_motion(self) -> bool:
        """Whether the motion of the machine is given, so that there is an estimate beside the plant's rows."""
        return has_motion(self.study.plant)

    @cached_property
    def times(self) -> tuple[ProgramTime, ...]:
        """Every program with its estimate."""
        return program_times(self.study.plant)

    @cached_property
    def apart(self) -> tuple[ProgramTime, ...]:
        """Programs whose estimate differs from the plant's time, what to look at first first; none without motion."""
        return furthest_apart(self.times, len(self.times)) if self.has_motion else ()

    @cached_property
    def families(self) -> tuple[FamilyTime, ...]:
        """Families of programs with sheets in the book, most hours first."""
        return family_times(self.times)

    @property
    def measured(self) -> int:
        """Programs with a measured run time."""
        return sum(row.estimate.measured_s is not None for row in self.times)

    @property
    def book_h(self) -> float:
        """Run hours of the order book as the runs count them."""
        return sum(row.hours for row in self.times)

    @property
    def gap_h(self) -> float:
        """Hours of the book by which the estimate exceeds what the runs use."""
        return sum(row.gap_h for row in self.times)

    @cached_property
    def notes(self) -> tuple[PhysicsNote, ...]:
        """Notes of physics, what matters most first."""
        return physics_notes(self.study.plant)

    @cached_property
    def notes_by_topic(self) -> Counter[str]:
        """How many notes each topic has."""
        return Counter(note.topic for note in self.notes)

    @cached_property
    def hour_costs(self) -> tuple[HourCost, ...]:
        """Gas and power of an hour by material of the book."""
        return hour_costs(self.study.plant)

    @cached_property
    def main_cases(self) -> tuple[str, ...]:
        """Today, the low-capital package, and of the bought sets on it to be recommended the one of fewest hours."""
        study = self.study
        bought = [name for name in study.bought if study.holds_package(name)] or list(study.bought)
        good = study.recommendable(bought)
        best = study.fewest_hours(good).name if good else TODAY
        return tuple(dict.fromkeys([TODAY, study.package, best]))

    @cached_property
    def single_cases(self) -> tuple[str, ...]:
        """Today, each option alone, and the main cases."""
        alone = [name for name in self.study.scenarios if len(self.study.run.scenarios[name]) == 1]
        return tuple(dict.fromkeys([TODAY, *alone, *self.main_cases]))

    @cached_property
    def exposures(self) -> dict[str, Exposure]:
        """Lifts and kilograms of a shift for today, each option alone, and the main cases."""
        cases = {name: self.study.run.scenarios[name] for name in self.single_cases}
        return exposures(self.study.plant, cases, TODAY, self.study.weekly, self.study.demand_factor)

    @cached_property
    def indicators(self) -> tuple[Indicator, ...]:
        """Indicators of the main cases."""
        return indicators(self.study.plant, self.main_cases, self.study.weekly, self.study.demand_factor)

    def named(self, names: Iterable[str]) -> tuple[ProgramTime, ...]:
        """The programs of these names. Raises BadInput with the nearest known name for every unknown one."""
        known = {row.program.program_id: row for row in self.times}
        wanted = list(dict.fromkeys(names))
        unknown = [name for name in wanted if name not in known]
        if unknown:
            raise BadInput(Finding("programs", "there is no such program", nearest(n, known), value=n) for n in unknown)
        return tuple(known[name] for name in wanted)


def times_of(study: Study) -> TimeStudy:
    """See a study from the times of its programs."""
    return TimeStudy(study)


def read_by_times(study: Study) -> list[str]:
    """What the study of times reads, as text: physics of its cases, prices of gas and power, and the ramp."""
    view = TimeStudy(study)
    money, finance = study.plant.settings.money, study.plant.settings.finance
    prices = [f"{value!r}" for value in (money.gas_per_m3, money.energy_per_kwh)]
    return [*study.physics(view.single_cases), *prices, f"{finance.ramp_start!r} {finance.ramp_months!r}"]
