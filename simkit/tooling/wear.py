"""Tool wear: hits since regrind, swaps at the limit, sheets until a life ends.

Wear is a flat list of hits since regrind, one number per copy, owned by the cell: copy ``copy`` of tool
``tool`` stands at ``room.offsets[tool] + copy - 1``. Hits are counted hits: times the material's wear factor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

Use = tuple[int, int, int, float]
"""A tool, its copy, the place of that among all copies, and counted hits on it."""


def due_for_regrind(
    worn: Sequence[float], limits: Sequence[float | None], uses: Iterable[Use], sheets: float
) -> tuple[tuple[int, int], ...]:
    """Return the copies to be reground before so many sheets, because these would take them past their limit.

    ``worn`` are counted hits since regrind of all copies, ``limits`` the regrind limit of each tool (None: not
    tracked), ``uses`` the copies that a sheet wears. A freshly ground copy is never due, however many the sheets.
    """
    return tuple(
        (use[0], use[1]) for use in uses if worn[use[2]] > 0 and sheets > sheets_to_limit(worn, limits, (use,))
    )


def sheets_to_limit(worn: Sequence[float], limits: Sequence[float | None], uses: Iterable[Use]) -> float:
    """Return how many sheets, fractional, take the first copy to its limit; endless if none has one."""
    left = ((limit - worn[at]) / hits for tool, _, at, hits in uses if (limit := limits[tool]) is not None)
    return min(left, default=math.inf)


def first_failure(worn: Sequence[float], lives: Sequence[float], uses: Iterable[Use]) -> tuple[float, int]:
    """Return how many sheets are done before the first life is reached, and whose it is: its place in ``uses``.

    ``worn`` are counted hits since regrind of all copies, ``lives`` the drawn lives in hits (endless for a tool without
    one), ``uses`` the copies that a sheet wears. The sheets are fractional, endless (and the place -1) where nothing
    fails. A result of 2.25 says: two more sheets, and it fails when a quarter of the hits of the third are done. A
    whole number ends with a sheet, and the hit after it finds the tool blunt; a copy whose planned swap falls there is
    swapped first. 0: its life is over. Linear arithmetic on counted hits (linear accumulation of wear over materials:
    common practice, no source).
    """
    soonest, first = math.inf, -1
    for place, (_, _, at, hits) in enumerate(uses):
        left = lives[at] - worn[at]
        sheets = math.inf if hits <= 0 else left / hits if left > 0 else 0.0
        if sheets < soonest:
            soonest, first = sheets, place
    return soonest, first


def after_regrind(grinds: int, grind_life: int) -> tuple[int, bool]:
    """Return regrinds so far after one more, and whether the tool was replaced instead of reground."""
    return (0, True) if grinds >= grind_life else (grinds + 1, False)
