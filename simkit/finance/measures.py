"""Measures of a yearly series of cash: every one reads flows with year 0 first.

Money is in the plant's currency, rates are fractions per year, times are years. What has no number is None, and
payback and internal rate say so in words; nothing returns NaN or a silent first root.
No tax or investment advice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy_financial as npf
import scipy  # its heavy rooms load when they are first used
from numpy.typing import NDArray

Flows = Sequence[float] | NDArray[np.float64]
Timing = Literal["end_year", "mid_year", "monthly"]
"""When the flows of years 1 on fall: at their end, in their middle, or in twelve equal parts at the ends of months."""

_Value = Callable[[float], float]

RATE_LOW, RATE_HIGH = -0.99, 10.0
"""Rates searched for roots, fractions per year."""

_GRID = np.geomspace(1 + RATE_LOW, 1 + RATE_HIGH, 2001) - 1.0
_FINE = 301
"""Points by which a stretch of the grid and its neighbours are scanned once more."""

_NO_RATE = 1e-12
"""A rate this small is none: the closed form would divide by a rounding error."""

_TOUCH = 1e-13
"""A turning point of the net present value this close to zero, relative to the flows, is one (double) root."""


@dataclass(frozen=True)
class Payback:
    """Time until the cumulative cash is no longer negative; ``years`` is None when it never is."""

    years: float | None
    text: str


@dataclass(frozen=True)
class Irr:
    """All internal rates of return between -99 % and 1000 % a year, and how many there are."""

    status: Literal["none", "one", "several"]
    roots: tuple[float, ...]
    text: str


def npv(rate: float, flows: Flows, timing: Timing = "end_year", first: int = 0) -> float:
    """Net present value: sum of ``flows[t] / (1 + rate)^t`` from t = 0, which is never discounted.

    ``mid_year`` and ``monthly`` move the flows of the years after ``first`` within their year; the first payment, in
    year ``first``, stays at its moment. Source: textbook standard; checked against D01, D28 of the published register.
    """
    return float(discounted(rate, flows, timing, first).sum())


def _within_year(rate: NDArray[np.float64], timing: Timing) -> NDArray[np.float64]:
    """Value at the end of a year of one unit received during it: 1, the root of the factor, or twelve parts.

    A month has the rate (1 + rate)^(1/12) - 1, not a twelfth of the rate. Checked against D28, D29.
    """
    if timing == "end_year":
        return np.ones_like(rate)
    if timing == "mid_year":
        return np.asarray((1.0 + rate) ** 0.5, dtype=np.float64)
    months: NDArray[np.float64] = np.power.outer(1.0 + rate, np.arange(12) / 12.0)
    return np.asarray(months.mean(axis=-1), dtype=np.float64)


def discounted(
    rate: float | NDArray[np.float64], flows: Flows, timing: Timing = "end_year", first: int = 0
) -> NDArray[np.float64]:
    """Return each year's flow at its present value; they sum to :func:`npv`.

    Many series at once have their years last, and one rate for all of them or one for each.
    """
    series, rates = np.asarray(flows, dtype=np.float64), np.asarray(rate, dtype=np.float64)[..., None]
    factors = (1.0 + rates) ** -np.arange(series.shape[-1], dtype=np.float64)
    factors[..., first + 1 :] *= _within_year(rates, timing)
    return np.asarray(series * factors, dtype=np.float64)


def _values(rates: NDArray[np.float64], series: NDArray[np.float64], timing: Timing) -> NDArray[np.float64]:
    """Net present value at each of many rates."""
    value = np.asarray(np.polynomial.polynomial.polyval(1.0 / (1.0 + rates), series), dtype=np.float64)
    return value if timing == "end_year" else series[0] + (value - series[0]) * _within_year(rates, timing)


def _crossings(value: _Value, grid: NDArray[np.float64], values: NDArray[np.float64]) -> list[float]:
    found = [float(rate) for rate, at in zip(grid[1:], values[1:], strict=True) if at == 0.0]
    for i in np.flatnonzero(values[:-1] * values[1:] < 0):
        found.append(float(scipy.optimize.brentq(value, grid[i], grid[i + 1], xtol=1e-13)))
    return found


def _turning(value: _Value, grid: NDArray[np.float64], values: NDArray[np.float64], scale: float) -> list[float]:
    """Roots between two points of the grid of one sign: two that lie close, or one where the value touches zero."""
    size = np.abs(values)
    turns = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] <= size[2:]) & (values[:-2] * values[2:] > 0)) + 1
    found = []
    for i in turns:
        low, high, sign = grid[i - 1], grid[i + 1], math.copysign(1.0, values[i - 1])
        deepest = scipy.optimize.minimize_scalar(
            lambda r, s=sign: s * value(r), bounds=(low, high), method="bounded", options={"xatol": 1e-12}
        )
        turn = float(deepest.x)
        if abs(deepest.fun) < _TOUCH * scale:
            found.append(turn)
        elif deepest.fun < 0.0 < sign * values[i]:
            found += [float(scipy.optimize.brentq(value, *ends, xtol=1e-13)) for ends in ((low, turn), (turn, high))]
    return found


def irr(flows: Flows, timing: Timing = "end_year") -> Irr:
    """All rates at which the net present value is zero: scan for changes of sign and turns, then refine each.

    Searched are rates above -0.99 and up to 10 a year, with the flows of a year where ``timing`` puts them. Where the
    sign changes is scanned once more, for three rates may lie there. Checked against D02-D04, D28, D29.
    """
    series = np.asarray(flows, dtype=np.float64)
    if not np.any(series):
        return _irr_of([])

    def value(rate: float) -> float:
        return float(_values(np.asarray(rate, dtype=np.float64), series, timing))

    values, scale = _values(_GRID, series, timing), float(np.abs(series).sum())
    found = _turning(value, _GRID, values, scale) + [float(rate) for rate in _GRID[1:][values[1:] == 0.0]]
    for i in np.flatnonzero(values[:-1] * values[1:] < 0):
        fine = np.linspace(_GRID[max(int(i) - 1, 0)], _GRID[min(int(i) + 2, len(_GRID) - 1)], _FINE)
        within = _values(fine, series, timing)
        found += _crossings(value, fine, within) + _turning(value, fine, within, 0.0)
    return _irr_of(found)


def _irr_of(found: list[float]) -> Irr:
    roots: list[float] = []
    for root in sorted(found):
        if not roots or root - roots[-1] > 1e-9:
            roots.append(root)
    if not roots:
        return Irr("none", (), "no internal rate between -99 % and 1000 % a year")
    listed = ", ".join(f"{100 * root:.2f} %" for root in roots)
    if len(roots) == 1:
        return Irr("one", tuple(roots), f"{listed} a year")
    return Irr("several", tuple(roots), f"several rates ({listed}): use the net present value")


def mirr(flows: Flows, finance_rate: float, reinvest_rate: float, timing: Timing = "end_year") -> float | None:
    """Modified internal rate: inflows reinvested at one rate, outflows financed at another. Checked against D05.

    Flows fall where ``timing`` puts them, so that at its own rate a case of value zero has just that rate. None where
    all flows have one sign.
    """
    series = np.asarray(flows, dtype=np.float64)
    if not (np.any(series > 0) and np.any(series < 0)):
        return None
    periods = len(series) - 1
    received = npv(reinvest_rate, np.maximum(series, 0.0), timing) * (1.0 + reinvest_rate) ** periods
    paid = -npv(finance_rate, np.minimum(series, 0.0), timing)
    return float((received / paid) ** (1.0 / periods) - 1.0)


def payback(flows: Flows, rate: float = 0.0, timing: Timing = "end_year") -> Payback:
    """Payback: first time the cumulative flow is not negative, linear within the year of crossing.

    ``rate`` 0 gives the simple payback, otherwise the flows are discounted first. A series that ends
    below zero does not pay back, even if it was above in between. Checked against D06-D09.
    """
    steps = discounted(rate, flows, timing)
    cumulative = np.cumsum(steps)
    horizon = len(steps) - 1
    tolerance = 1e-12 * float(np.abs(steps).sum())
    below = np.flatnonzero(cumulative < -tolerance)
    if below.size == 0:
        return Payback(0.0, "nothing to pay back")
    if cumulative[-1] < -tolerance:
        return Payback(None, f"does not pay back within {horizon} years")
    year = int(below[0] + np.flatnonzero(cumulative[below[0] :] >= -tolerance)[0])
    years = year - 1 - float(cumulative[year - 1] / steps[year])
    later = " (later below zero again, then above)" if below[-1] > year else ""
    return Payback(years, f"{years:.1f} years{later}")


def equivalent_annual_value(value: float, rate: float, years: float) -> float:
    """Level amount at the end of each of ``years`` years with present value ``value``. Checked against D15-D17."""
    if abs(rate) < _NO_RATE:
        return float(value / years)
    return float(-npf.pmt(rate, years, value))


def profitability_index(
    flows: Flows, rate: float, capital: float, timing: Timing = "end_year", first: int = 0
) -> float | None:
    """Net present value per unit of capital (the other definition in use is larger by one). Checked against D14.

    ``capital`` is the present value of what is paid, since stages and waiting put it into several years; None without.
    """
    return npv(rate, flows, timing, first) / capital if capital > 0 else None


def value_of_waiting(now: float, later: float, years: float, rate: float) -> float:
    """Value today of starting ``years`` later instead of now; negative: what waiting costs. Checked against D30.

    ``later`` is the net present value at the moment of the later start, with the prices and the demand of that date.
    """
    return float(later / (1.0 + rate) ** years) - now


@dataclass(frozen=True)
class Alternative:
    """One of several options that exclude each other: its name, capital and flows (year 0 first)."""

    name: str
    capital: float
    flows: tuple[float, ...]


@dataclass(frozen=True)
class IncrementalStep:
    """What one alternative adds to the best so far, in order of capital."""

    name: str
    against: str
    incremental_npv: float
    incremental_irr: Irr
    incremental_payback: Payback
    accepted: bool


def incremental_analysis(
    alternatives: Sequence[Alternative],
    rate: float,
    *,
    base: Alternative | None = None,
    timing: Timing = "end_year",
    first: int = 0,
) -> tuple[IncrementalStep, ...]:
    """Compare alternatives in order of capital, each with the best so far.

    ``base`` is what they are compared with at first (default: doing nothing, no flows). An alternative
    that loses against ``base`` is dropped; the others replace the best so far if the difference has a
    positive net present value. All series have the same length and their first payment in year ``first``. Checked
    against D10-D13.
    """
    width = {len(a.flows) for a in (*alternatives, *([base] if base else []))}
    if len(width) > 1:
        raise ValueError(f"alternatives have different horizons ({sorted(w - 1 for w in width)} years)")
    best = start = base or Alternative("today", 0.0, (0.0,) * (width.pop() if width else 1))
    steps = []
    for candidate in sorted(alternatives, key=lambda a: (a.capital, a.name)):
        loses = npv(rate, np.subtract(candidate.flows, start.flows), timing, first) < 0
        against = start if loses else best
        change = np.subtract(candidate.flows, against.flows)
        value = npv(rate, change, timing, first)
        better = not loses and value > 0
        rates, paid_back = irr(change[first:], timing), payback(change[first:])
        steps.append(IncrementalStep(candidate.name, against.name, value, rates, paid_back, better))
        best = candidate if better else best
    return tuple(steps)
