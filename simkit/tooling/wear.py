"""Tool wear: hits since regrind, swaps at the limit, sheets until a life ends.

Wear is a flat list of hits since regrind, one number per copy, owned by the cell: copy ``copy`` of tool
``tool`` stands at ``room.offsets[tool] + copy - 1``. Hits are counted hits: times the material's wear factor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from simkit.tooling.room import ToolRoom

CopyHits = tuple[int, int, float]
"""A tool, its copy, and counted hits on it."""

Use = tuple[int, int, int, float]
"""A tool, its copy, the place of that among all copies, and counted hits on it."""


def due_for_regrind(
    room: ToolRoom, wear: Sequence[float], needs_hits: Iterable[CopyHits], limits: Sequence[float | None]
) -> tuple[tuple[int, int], ...]:
    """Return the copies to be reground before an order, because its hits would take them past their limit.

    ``needs_hits`` are the copies an order uses with its counted hits, ``limits`` the regrind limit of each
    tool (None: not tracked). A freshly ground copy is never due, even if the order is longer than its limit.
    """
    offsets = room.offsets
    due = []
    for tool, copy, hits in needs_hits:
        limit = limits[tool]
        worn = wear[offsets[tool] + copy - 1]
        if limit is not None and worn > 0 and worn + hits > limit:
            due.append((tool, copy))
    return tuple(due)


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
