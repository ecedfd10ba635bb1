"""Years: which demand each year has, from when an option is used, how it ramps up and what is kept.

Year 0 is the as-of date, the day of the first payment unless that waits; year y is the twelve months that end y
years later. Prices of the as-of date hold in year 1 and grow from year 2 on, see :func:`growth`; under a real basis
they are money of year 0, see :func:`simkit.finance.lines.price_level`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.base.messages import BadInput, Finding
from simkit.finance.casearrays import PerCase, ratio
from simkit.finance.measures import Flows, npv
from simkit.plant.settings_money import Finance

WEEKS_PER_YEAR = 52.0
MONTHS_PER_YEAR = 12.0
SAME_TIME = 1e-9
"""Moments as close as this are one, years."""


def demand_path(finance: Finance) -> tuple[PerCase, ...]:
    """Signed demand of the years 1 to the horizon, a factor of the book; each entry holds until the next one starts.

    Raises :class:`BadInput` if no entry covers year 1.
    """
    entries = sorted((entry for entry in finance.demand if entry.signed), key=lambda entry: entry.from_year)
    if not entries or entries[0].from_year != 1:
        raise BadInput(
            [Finding("plant.toml finance.demand", "no signed demand in year 1", "give an entry with from_year = 1")]
        )
    years = range(1, finance.horizon_years + 1)
    return tuple([entry.factor for entry in entries if entry.from_year <= year][-1] for year in years)


@dataclass(frozen=True)
class Schedule:
    """When a set of options is used: from ``start`` (years after the first payment), with a ramp.

    Every method returns the share of year ``year`` that counts, 0 to 1 (year-fractions, exact integrals).
    """

    start: PerCase
    ramp_start: PerCase = 1.0
    ramp_years: PerCase = 0.0

    def in_use(self, year: PerCase) -> PerCase:
        """Share of the year in which the options are in use; costs of use run in full from the start."""
        return self._after(year, 0.0)

    def ramped(self, year: PerCase) -> PerCase:
        """Share of a full year's benefit: rises in a straight line from ``ramp_start`` to 1 over the ramp."""
        return self._benefit(year - self.start) - self._benefit(year - 1 - self.start)

    def mean_share(self, from_years: float, to_years: float) -> float:
        """Mean share of the full benefit between two moments of use, years after its start."""
        return float((self._benefit(to_years) - self._benefit(from_years)) / (to_years - from_years))

    def after_first_year(self, year: PerCase) -> PerCase:
        """Share of the year that lies more than a year after the start of use."""
        return self._after(year, 1.0)

    def settled(self, year: PerCase) -> PerCase:
        """Share of the year after the end of the ramp: a post is only given up then."""
        return self._after(year, self.ramp_years)

    def _after(self, year: PerCase, delay: PerCase) -> PerCase:
        return np.clip(year - self.start - delay, 0.0, 1.0)

    def _benefit(self, use_years: PerCase) -> PerCase:
        settled = np.maximum(use_years - self.ramp_years, 0.0)
        rising = np.minimum(np.maximum(use_years, 0.0), self.ramp_years)
        slope = ratio(1.0 - self.ramp_start, self.ramp_years)
        return settled + self.ramp_start * rising + 0.5 * slope * rising**2


def schedule_of(finance: Finance, lead_weeks: PerCase) -> Schedule:
    """Schedule of options that are in use ``lead_weeks`` weeks after the first payment, which may wait for years."""
    start = finance.start_after_years + lead_weeks / WEEKS_PER_YEAR
    return Schedule(start, finance.ramp_start, finance.ramp_months / MONTHS_PER_YEAR)


def payment_years(finance: Finance, lead_weeks: PerCase) -> tuple[tuple[str, float, PerCase], ...]:
    """Stages of payment as (stage, share, year): all at the first payment unless the settings date them.

    What would be paid after the horizon is paid at the horizon: nothing that is paid falls out of the table. Raises
    :class:`BadInput` where stages and dates do not fit or the shares do not sum to one.
    """
    first = finance.start_after_years
    if abs(sum(share for _, share in finance.payments) - 1.0) > 1e-6:
        shares = ", ".join(f"{share:g}" for _, share in finance.payments)
        raise BadInput([Finding("plant.toml finance.payments", "shares do not sum to 1", "Correct them", value=shares)])
    if not finance.payments_at:
        return tuple((stage, share, first) for stage, share in finance.payments)
    if len(finance.payments_at) != len(finance.payments):
        why = f"{len(finance.payments)} stages have {len(finance.payments_at)} dates"
        raise BadInput([Finding("plant.toml finance.payments_at", why, "Give each stage of payments its date")])
    lead = lead_weeks / WEEKS_PER_YEAR
    dated = zip(finance.payments, finance.payments_at, strict=True)
    return tuple(
        (stage, share, np.minimum(first + np.where(at * lead > 0, year_of(at * lead), 0), finance.horizon_years))
        for (stage, share), at in dated
    )


@dataclass(frozen=True)
class Season:
    """A part of every production year: its weeks, and its demand as a factor of the year's."""

    weeks: float
    factor: float = 1.0


def seasons_of(finance: Finance) -> tuple[Season, ...]:
    """Parts of a production year, scaled to its weeks; without seasons one part with all weeks."""
    if not finance.season:
        return (Season(finance.production_weeks),)
    total = sum(weeks for weeks, _ in finance.season)
    return tuple(Season(weeks / total * finance.production_weeks, factor) for weeks, factor in finance.season)


def levels_read(finance: Finance, reference: float) -> tuple[float, ...]:
    """Demand at which every set is simulated: the reference, the signed years, and the ends of their seasons."""
    signed = set(demand_path(finance))
    peaks = [factor * season.factor for factor in {reference, *signed} for season in seasons_of(finance)]
    return tuple(sorted({reference, *signed, min(peaks), max(peaks)}))


def deflator(finance: Finance, year: PerCase) -> PerCase:
    """Value of money of a year in money of year 0; 1 where amounts are nominal.

    A table of real settings is built in nominal money, since depreciation, tax losses, stock and what a contract fixes
    are nominal; it is then deflated as a whole.
    """
    return (1.0 + finance.inflation) ** (-1.0 * year) if finance.rate_basis == "real" else 1.0


def present_value(finance: Finance, flows: Flows) -> float:
    """Value of flows by year at the rate and the timing of the settings; the first payment stays at its moment."""
    return npv(finance.discount_rate, flows, finance.timing, finance.start_after_years)


def year_of(time_years: PerCase) -> PerCase:
    """The year (1 or later) in whose twelve months a moment lies; its end belongs to it."""
    return np.maximum(1, np.ceil(np.asarray(time_years) - SAME_TIME).astype(int))


def first_year_of_use(start: PerCase) -> PerCase:
    """The year in which use begins: 1 for a start at the first payment, the next one for a start at a year's end."""
    return np.floor(np.asarray(start) + SAME_TIME).astype(int) + 1


def single_year(year_of_use: int, start: PerCase, finance: Finance) -> PerCase:
    """The year of an amount of a single year of use; year of use 0 is that of the first payment."""
    return first_year_of_use(start) + year_of_use - 1 if year_of_use else finance.start_after_years


def replacement_times(start: PerCase, life_years: float | None, horizon_years: int) -> tuple[PerCase, ...]:
    """Moments at which something with this life, in use from ``start``, is bought again before the horizon, years.

    Of many cases, those that begin first are bought again most often: later moments of the others lie behind it.
    """
    if life_years is None:
        return ()
    count = int(np.max(np.ceil((horizon_years - start) / life_years - SAME_TIME)))
    return tuple(start + i * life_years for i in range(1, count))


def growth(rate: PerCase, year: PerCase) -> PerCase:
    """Factor on a price of the as-of date in ``year``: 1 in year 1, then (1 + rate) more each year."""
    return (1.0 + rate) ** np.maximum(year - 1, 0)


def growth_until(rate: PerCase, moment: PerCase) -> PerCase:
    """Factor on a purchase at a moment, years after the as-of date: its price grows with each year that has passed."""
    return (1.0 + rate) ** np.floor(moment + SAME_TIME)
