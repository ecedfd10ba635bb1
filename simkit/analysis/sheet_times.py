"""Sheet times in the order book: who uses the hours, where estimate and plant differ, what must be timed.

Three times stand side by side: what the motion of the machine says (estimate), what the plant's rows say, and what was
measured. Times in s a sheet, hours over all sheets of the book; luck and run-time losses of single sheets left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Ints
from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_HOUR
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Motion
from simkit.plant.tables import Element, Program
from simkit.process.elements import timed
from simkit.process.estimate import RunEstimate, run_estimates
from simkit.process.programs import program_tables, run_shares
from simkit.process.quantities import above_zero, not_below_zero, whole

TOLERANCE = 0.05
"""Difference of estimate and plant up to which they count as alike: common practice, no source."""


@dataclass(frozen=True)
class ProgramTime:
    """A program with its estimate; ``laser_share`` is cutting as the runs count it, over the run time."""

    program: Program
    estimate: RunEstimate
    laser_share: float

    @property
    def hours(self) -> float:
        """Hours of the book as the runs count them: measured time, else rows."""
        return self.estimate.run_s * self.estimate.sheets / SECONDS_PER_HOUR

    @property
    def gap_h(self) -> float:
        """Hours of the book by which the estimate exceeds what the runs use; negative where it is faster."""
        return (self.estimate.motion_s - self.estimate.run_s) * self.estimate.sheets / SECONDS_PER_HOUR


def has_motion(plant: PlantInputs) -> bool:
    """Whether the plant says anything about the motion of its machine."""
    return plant.settings.machine.motion != Motion()


def program_times(plant: PlantInputs) -> tuple[ProgramTime, ...]:
    """Every program with its estimate, in file order."""
    punch_s, form_s, cut_s = run_shares(program_tables(plant))
    return tuple(
        ProgramTime(program, estimate, float(cut / run) if (run := punch + form + cut) > 0 else 0.0)
        for program, estimate, punch, form, cut in zip(
            plant.programs, run_estimates(plant), punch_s, form_s, cut_s, strict=True
        )
    )


def most_hours(times: Iterable[ProgramTime], n: int) -> tuple[ProgramTime, ...]:
    """The programs that use the most hours of the book; those without a sheet in it are left out."""
    used = [row for row in times if row.hours > 0]
    return tuple(sorted(used, key=lambda row: (-row.hours, row.program.program_id))[:n])


@dataclass(frozen=True)
class FamilyTime:
    """Programs of a family with their sheets and hours in the book.

    ``run_s`` is the mean time of a sheet as the runs use it, ``laser_share`` cutting as the runs count it.
    """

    family: str
    programs: int
    sheets: int
    hours: float
    run_s: float
    laser_share: float


def family_times(times: Sequence[ProgramTime]) -> tuple[FamilyTime, ...]:
    """The families with sheets in the book, most hours first."""
    groups: dict[str, list[ProgramTime]] = {}
    for row in times:
        if row.estimate.sheets:
            groups.setdefault(row.program.family, []).append(row)
    found = []
    for family, rows in groups.items():
        sheets, hours = sum(row.estimate.sheets for row in rows), sum(row.hours for row in rows)
        cutting = sum(row.laser_share * row.hours for row in rows)
        run_s = hours * SECONDS_PER_HOUR / sheets
        found.append(FamilyTime(family, len(rows), sheets, hours, run_s, cutting / hours if hours else 0.0))
    return tuple(sorted(found, key=lambda row: (-row.hours, row.family)))


# ---- what the time elements rest on ----


ACCURACY = 0.05
"""Half-width of the interval as a share of the mean that a standard is to have."""
Z_95 = 1.96
"""Standard normal quantile of a two-sided 95 % interval."""


@dataclass(frozen=True)
class CyclesToTime:
    """A time element, its coefficient of variation, the cycles to time, and how many are behind it so far."""

    row: Element
    cv: float
    needed: int

    @property
    def missing(self) -> int:
        """Cycles still to be timed."""
        return max(self.needed - self.row.n, 0)


def timings(plant: PlantInputs, accuracy: float = ACCURACY) -> tuple[CyclesToTime, ...]:
    """Cycles to time each element that takes time until its mean is known to ``accuracy`` with 95 % confidence."""
    found = []
    for row in plant.elements:
        law = timed(row, plant.sequences).law
        if law.mean > 0:
            cv = law_cv(law)
            found.append(CyclesToTime(row, cv, int(observations_needed(law.mean, cv * law.mean, accuracy))))
    return tuple(found)


def observations_needed(mean_s: ArrayLike, deviation_s: ArrayLike, accuracy: ArrayLike, z: ArrayLike = Z_95) -> Ints:
    """Cycles to time until the mean is known to within a share of itself: ``(z s / (accuracy mean))^2``, rounded up.

    ``deviation_s`` is the standard deviation of a first sample; ``z`` 1.96 stands for 95 % confidence. What lies
    outside its range is refused with a ValueError that names it. Source: work study, textbook formula, from memory.
    """
    half_width = above_zero(accuracy, "accuracy") * above_zero(mean_s, "mean_s")
    cycles = (above_zero(z, "z") * not_below_zero(deviation_s, "deviation_s") / half_width) ** 2
    return whole(np.maximum(np.ceil(cycles), 1), "cycles")


def law_cv(law: Law) -> float:
    """Coefficient of variation of a law; that of a file of values is the values' own."""
    if law.kind in ("empirical", "sequence"):
        values = np.array(law.values, float)
        return float(values.std(ddof=1) / values.mean()) if len(values) > 1 and values.mean() > 0 else 0.0
    return 1.0 if law.kind == "exponential" else 0.0 if law.is_constant else law.cv
