"""How numbers are written in the report: one place for rounding, signs and intervals."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import replace

from simkit.experiment.intervals import Estimate

NO_BREAK = "\u00a0"
MINUS = "\u2212"
UNKNOWN = "not computed"


def number(value: float, digits: int | None = None) -> str:
    """Write a number with thousands separators; by default three significant places, two where it is below 0.1.

    Never with fewer than all whole digits.
    """
    if not math.isfinite(value):
        return UNKNOWN
    places = _places(value) if digits is None else digits
    text = f"{abs(value):,.{places}f}"
    is_zero = not text.strip("0.,")
    return text if value >= 0 or is_zero else MINUS + text


def figures(value: float, count: int | None = 3) -> float:
    """Round a number to so many leading digits, as a plan knows it: 98,412 is 98,400; None: to none."""
    known = count is not None and value and math.isfinite(value)
    return float(f"{value:.{count}g}") if known else value


_LEAST = 1e-6
"""A smaller number is written as zero."""


def _places(value: float) -> int:
    size = abs(value)
    if not _LEAST <= size < 0.1:
        return 0 if size >= 100 or size < _LEAST else 1 if size >= 10 else 2
    return len(f"{float(f'{size:.2g}'):.7f}".rstrip("0")) - 2


def signed(value: float, digits: int | None = None) -> str:
    """Write a difference, always with its sign."""
    text = number(value, digits)
    return f"+{text}" if value > 0 and text.strip("0.,") else text


def with_unit(value: float, unit: str, digits: int | None = None) -> str:
    """Write a number and its unit, which never part at a line's end."""
    return f"{number(value, digits)}{NO_BREAK}{unit}".strip(NO_BREAK)


def percent(share: float, digits: int = 0) -> str:
    """Write a share (0..1) as a percentage."""
    return with_unit(100 * share, "%", digits)


def plus_minus(estimate: Estimate, digits: int | None = None, *, difference: bool = False) -> str:
    """Write ``mean ± half-width``, by default with the digits that the interval allows: 16 ± 5, not 16.24 ± 4.6.

    With one replication the interval is unknown and says so.
    """
    sure = estimate.n > 1 and math.isfinite(estimate.half_width)
    places = digits if digits is not None else _places_of(estimate) if sure else _places(estimate.mean)
    mean = (signed if difference else number)(_rounded(estimate.mean, places), max(places, 0))
    if not sure:
        return f"{mean} (no interval from {estimate.n} run)"
    return f"{mean} ± {number(_rounded(estimate.half_width, places), max(places, 0))}"


_SAME = 1e-12
"""Runs that differ by less than this share of their mean differ in the last digits of a double only."""


def _places_of(estimate: Estimate) -> int:
    """Digits that an interval allows: its first, and the second where the first is 1 or 2 or where it is above 100.

    What never varies is no more certain than its inputs: three significant digits.
    """
    if estimate.half_width <= max(abs(estimate.mean) * _SAME, _LEAST):
        return min(_places(estimate.mean), 2 - math.floor(math.log10(abs(estimate.mean) or 1.0)))
    leading = math.floor(math.log10(estimate.half_width))
    first = math.floor(round(estimate.half_width / 10.0**leading, 9))
    return min((1 if first < 3 or leading > 1 else 0) - leading, 6)


def _rounded(value: float, places: int) -> float:
    return round(value, places) if math.isfinite(value) else value


def scaled(estimate: Estimate, factor: float) -> Estimate:
    """Return an estimate in another unit: both numbers times a factor."""
    return replace(estimate, mean=estimate.mean * factor, half_width=estimate.half_width * factor)


def money(value: float, currency: str) -> str:
    """Write an amount of money rounded to whole units."""
    return with_unit(value, currency, 0)


LEAST_YEARS = 0.1
"""The shortest payback that is told as a number."""


def years(value: float | None) -> str:
    """Write a payback time; one that is never reached is the word ``never``."""
    if value is None or not math.isfinite(value):
        return "never"
    if 0 < value < LEAST_YEARS:
        return f"less than {with_unit(LEAST_YEARS, 'years', 1)}"
    return with_unit(value, "years", 1) if value > 0 else "at once"


def listing(items: Iterable[str]) -> str:
    """Join words as in ``a, b and c``."""
    words = list(items)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else "none"


def shortened(text: str) -> str:
    """Write the long decimal numbers of a text with six digits; the table that is kept has all of them."""
    return re.sub(r"(?<![\w.-])-?\d+\.\d{4,}(e-?\d+)?", lambda found: f"{float(found[0]):.6g}", text)


def capitalised(text: str) -> str:
    """Write the beginning of a sentence: the first letter large, all others as they are."""
    return text[:1].upper() + text[1:]


def plural(count: int, noun: str) -> str:
    """Write a count and its noun."""
    return f"{number(count, 0)} {noun}{'' if count == 1 else 's'}"


def weeks_of(count: float) -> str:
    """Write a number of weeks, whole or not: 1 week, 2.5 weeks."""
    return f"{count:g} week{'' if count == 1 else 's'}"
