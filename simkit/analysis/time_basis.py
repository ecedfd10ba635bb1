"""What the plant's time elements rest on: how many cycles to time, allowances, and learning after an installation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.base.laws import Law
from simkit.plant.plant import Plant
from simkit.plant.settings_money import Finance
from simkit.plant.tables import Element
from simkit.process.elements import timed
from simkit.process.timestandards import (
    CUMULATIVE_AVERAGE,
    UNIT,
    job_standard_s,
    observations_needed,
    unit_time_s,
    weekly_ramp,
    workday_standard_s,
)

ACCURACY = 0.05
"""Half-width of the interval as a share of the mean that a standard is to have."""
WEEKS_PER_MONTH = 52 / 12


@dataclass(frozen=True)
class Timing:
    """A time element, its coefficient of variation, the cycles to time, and how many are behind it so far."""

    row: Element
    cv: float
    needed: int

    @property
    def missing(self) -> int:
        """Cycles still to be timed."""
        return max(self.needed - self.row.n, 0)


def timings(plant: Plant, accuracy: float = ACCURACY) -> tuple[Timing, ...]:
    """Cycles to time each element that takes time until its mean is known to ``accuracy`` with 95 % confidence."""
    found = []
    for row in plant.elements:
        law = timed(row, plant.sequences).law
        if law.mean > 0:
            cv = law_cv(law)
            found.append(Timing(row, cv, int(observations_needed(law.mean, cv * law.mean, accuracy))))
    return tuple(found)


def law_cv(law: Law) -> float:
    """Coefficient of variation of a law; that of a file of values is the values' own."""
    if law.kind in ("empirical", "sequence"):
        values = np.array(law.values, float)
        return float(values.std(ddof=1) / values.mean()) if len(values) > 1 and values.mean() > 0 else 0.0
    return 1.0 if law.kind == "exponential" else 0.0 if law.is_constant else law.cv


@dataclass(frozen=True)
class Standard:
    """A time element of a person in its own unit, and its standard time by the two conventions of allowances."""

    row: Element
    by_job: float
    by_workday: float


def standards(plant: Plant, allowance: float) -> tuple[Standard, ...]:
    """Standard times of what people do, at normal pace; ValueError for an allowance outside 0 to below 1."""
    rows = [row for row in plant.elements if row.task_of != "machine" and row.typical > 0]
    return tuple(
        Standard(row, float(job_standard_s(row.typical, allowance)), float(workday_standard_s(row.typical, allowance)))
        for row in rows
    )


@dataclass(frozen=True)
class RampWeek:
    """A week after acceptance: output as a share of the standard's by both learning models, and finance's ramp."""

    week: int
    by_unit: float
    by_average: float
    in_force: float


def ramp_weeks(finance: Finance, units_per_week: float, rate: float) -> tuple[RampWeek, ...]:
    """Weeks of the ramp in force beside a learning curve that reaches the standard with the ramp's last unit.

    ``units_per_week`` counts what is learnt on, at least one a week; ``rate`` is the learning rate. Both models start
    from the same first unit, which in the unit model leads to the standard; read as a cumulative average the same
    numbers promise more. Empty where the plant's finance has no ramp.
    """
    weeks = round(finance.ramp_months * WEEKS_PER_MONTH)
    if weeks < 1:
        return ()
    units = np.full(weeks, max(round(units_per_week), 1))
    first = 1.0 / float(unit_time_s(1.0, int(units.sum()), rate, model=UNIT))
    unit, average = (weekly_ramp(units, first, 1.0, rate, model=model).share for model in (UNIT, CUMULATIVE_AVERAGE))
    line = finance.ramp_start + (1 - finance.ramp_start) * (np.arange(weeks) + 0.5) / weeks
    return tuple(
        RampWeek(week + 1, float(unit[week]), float(average[week]), float(line[week])) for week in range(weeks)
    )
