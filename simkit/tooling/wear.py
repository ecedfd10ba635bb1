"""Tool wear: hits since regrind, swaps at the limit, sheets until a life ends.

Wear is a flat list of hits since regrind, one number per copy, owned by the cell: copy ``copy`` of tool
``tool`` stands at ``room.offsets[tool] + copy - 1``. Hits are counted hits: times the material's wear factor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from simkit.base.messages import BadInput, Finding
from simkit.tooling.room import ToolRoom

CopyHits = tuple[int, int, float]
"""A tool, its copy, and counted hits on it."""


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


def sheets_to_failure(worn_hits: float, life_hits: float, hits_per_sheet: float) -> float:
    """Return how many sheets a copy still does before its life is reached: fractional, infinite for no hits.

    ``worn_hits`` are counted hits since regrind, ``life_hits`` the drawn life (above 0), ``hits_per_sheet`` the
    counted hits of the copy on one sheet. A result of 2.25 says: two more sheets, and it fails when a quarter
    of the hits of the third are done. A whole number ends with a sheet, and the hit after it finds the tool
    blunt; a copy whose planned swap falls there is swapped first. 0: its life is over. Linear arithmetic on
    counted hits (linear accumulation of wear over materials: common practice, no source).
    Raises :class:`BadInput` for a life of 0 or less.
    """
    left = max(_positive(life_hits) - worn_hits, 0.0)
    return left / hits_per_sheet if hits_per_sheet > 0 else math.inf


def after_regrind(grinds: int, grind_life: int) -> tuple[int, bool]:
    """Return regrinds so far after one more, and whether the tool was replaced instead of reground."""
    return (0, True) if grinds >= grind_life else (grinds + 1, False)


def _positive(life: float) -> float:
    if life <= 0:
        why = "a tool life must be above 0 hits"
        raise BadInput([Finding("tools.csv", why, "Give a mean life above 0", column="life_hits", value=str(life))])
    return life
