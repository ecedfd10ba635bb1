"""Tool wear: hits since regrind, swaps at the limit, failures of tools nobody counts.

Wear is a flat list of hits since regrind, one number per copy, owned by the cell: copy ``copy`` of tool
``tool`` stands at ``copy_offsets(room)[tool] + copy - 1``. Hits are counted hits: times the material's
wear factor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import repeat
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding
from simkit.tooling.room import ToolRoom

CopyHits = tuple[int, int, float]
"""A tool, its copy, and counted hits on it."""


class FailurePoint(NamedTuple):
    """When a tool passes its life: index of the sheet from 0, and the share of its hits done by then."""

    sheet: int
    fraction: float


def copy_offsets(room: ToolRoom) -> tuple[int, ...]:
    """Return where the copies of each tool start in the list of wear; the last number is its length."""
    return room.offsets


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


def failure_points(
    wear: float, hits_per_sheet: float, sheets: int, life: float | Iterable[float]
) -> tuple[tuple[FailurePoint, ...], float]:
    """Return when an untracked tool passes its life during an order, and its wear (hits) at the end.

    The tool fails when its hits since regrind reach its life, is reground at once and goes on with the next
    life. ``life`` is the life in hits (above 0), or the lives one after the other, the present one first;
    only as many are taken as are needed. Raises :class:`BadInput` for a life of 0 or less.
    """
    lives: Iterator[float] = repeat(life) if isinstance(life, float | int) else iter(life)
    total = hits_per_sheet * sheets
    points: list[FailurePoint] = []
    done = -wear
    present = next(lives)
    while _positive(present) + done <= total and total > 0:
        done += present
        sheet = min(max(int(done / hits_per_sheet), 0), sheets - 1)
        points.append(FailurePoint(sheet, max(done / hits_per_sheet - sheet, 0.0)))
        done = max(done, 0.0)
        present = next(lives)
    return tuple(points), total - done


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
