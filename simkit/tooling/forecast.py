"""Forecast of regrinds for the coming weeks: how many, which tool when, which tool ends, hours of grinding.

From the counted hits of released and expected orders, week by week, and the wear at the start. Hits between
changes are what :mod:`simkit.tooling.lives` and the limit of a tool say:

- A tracked tool whose life cannot end before its limit is counted order by order, by the cell's own rule: it is
  swapped before the order, and in an order longer than its limit before the sheet, that would take it past.
- Any other tool follows its life law, given what it has lasted so far: mean numbers and chances
  (:mod:`simkit.tooling.renewal`). If it is tracked too, it runs to its limit exactly, which is up to one order's
  hits later than the cell lets it.

All hits of a tool are laid on one copy, the first of ``start.csv`` (new, if none stands there), and the sheets
lost at failures are not made again: a forecast for the tool room, no replacement for a run of the cell. For
several machines give each its own work and start. A tool that has reached its last regrind is replaced; a
replaced tool is bought (punch, die and stripper) and not ground. Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np

from simkit.base.arrays import Floats
from simkit.base.units import hours
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Tool
from simkit.tooling.lives import life_of
from simkit.tooling.renewal import chance_of_changes, expected_changes
from simkit.tooling.wear import after_regrind

DUE_CHANCE = 0.5
"""A tool that follows a life law is due in the week by whose end it was changed with this chance."""
_NEGLIGIBLE = 1e-9


@dataclass(frozen=True)
class ProgramWeek:
    """Sheets of a program in a week, counted from 0; a fraction is a mean over what may be ordered."""

    week: int
    program_id: str
    sheets: float


class OrderUse(NamedTuple):
    """What an order takes from one tool: week, sheets, counted hits on a sheet."""

    week: int
    sheets: float
    hits_per_sheet: float


@dataclass(frozen=True)
class WornTool:
    """A tool as it stands: counted hits since its last regrind, and regrinds so far."""

    tool: Tool
    hits: float = 0.0
    grinds: int = 0


@dataclass(frozen=True)
class ToolForecast:
    """What a tool needs, by week (exact counts or means, see the module), and when it comes due.

    ``planned`` and ``failed`` are changes at the limit and in the middle of a sheet, ``replaced`` those at which a new
    tool is bought, ``off_line_h`` hours of grinding and shimming. ``due_week`` counts from 0, None: not within the
    weeks looked at.
    """

    tool: Tool
    planned: Floats
    failed: Floats
    replaced: Floats
    off_line_h: Floats
    due_week: int | None


def forecast_regrinds(
    plant: PlantInputs, work: Sequence[ProgramWeek], weeks: int, regrind_s: float
) -> tuple[ToolForecast, ...]:
    """Forecast ``weeks`` weeks from ``work``, in the order in which it is done: every tool that wears and is used.

    ``regrind_s`` are the seconds of one regrind away from the machine, grinding and shimming together.
    """
    uses = uses_of(plant, work)
    return tuple(
        forecast_tool(worn, uses[worn.tool.tool_id], weeks, regrind_s)
        for worn in worn_tools(plant)
        if worn.tool.tool_id in uses and _wears(worn.tool)
    )


def uses_of(plant: PlantInputs, work: Iterable[ProgramWeek]) -> dict[str, list[OrderUse]]:
    """Return what the work takes from each tool, in its order; counted hits are hits times the wear factor."""
    found: dict[str, list[OrderUse]] = {}
    for item in work:
        factor = plant.material_by_id[plant.program_by_id[item.program_id].material_id].wear_factor
        hits: dict[str, float] = {}
        for row in plant.tools_of.get(item.program_id, ()):
            hits[row.tool_id] = hits.get(row.tool_id, 0.0) + row.hits_per_sheet * factor
        for tool_id, per_sheet in hits.items():
            if per_sheet > 0:
                found.setdefault(tool_id, []).append(OrderUse(item.week, item.sheets, per_sheet))
    return found


def worn_tools(plant: PlantInputs) -> tuple[WornTool, ...]:
    """Return every tool as ``start.csv`` has it, the first of its copies; new where none stands."""
    standing = {row.item: row for row in reversed(plant.start) if row.what == "turret"}
    return tuple(
        WornTool(tool, standing[tool.tool_id].hits, standing[tool.tool_id].grinds)
        if tool.tool_id in standing
        else WornTool(tool)
        for tool in plant.tools
    )


def forecast_tool(worn: WornTool, uses: Sequence[OrderUse], weeks: int, regrind_s: float) -> ToolForecast:
    """Return the weeks of one tool that wears; arguments as in :func:`forecast_regrinds`."""
    way = _counted(worn, uses, weeks) if _is_counted(worn.tool) else _by_law(worn, uses, weeks)
    off_line_h = hours((way.planned + way.failed - way.replaced) * regrind_s)
    return ToolForecast(worn.tool, way.planned, way.failed, way.replaced, off_line_h, _first(way.chance_changed))


class _Way(NamedTuple):
    """By week: mean changes in it, and the chance of one from the start to its end."""

    planned: Floats
    failed: Floats
    replaced: Floats
    chance_changed: Floats


def _limit(tool: Tool) -> float:
    return tool.regrind_limit_hits if tool.tracked and tool.regrind_limit_hits is not None else math.inf


def _wears(tool: Tool) -> bool:
    return tool.life_hits is not None or math.isfinite(_limit(tool))


def _is_counted(tool: Tool) -> bool:
    """Whether the limit alone decides: no life, or one that never varies and is not shorter."""
    life = life_of(tool)
    return life is None or (life.kind == "constant" and life.mean >= _limit(tool))


def _counted(worn: WornTool, uses: Sequence[OrderUse], weeks: int) -> _Way:
    """Changes at the limit, order by order."""
    limit, hits, grinds = _limit(worn.tool), worn.hits, worn.grinds
    planned, replaced, none = np.zeros(weeks), np.zeros(weeks), np.zeros(weeks)
    for use in uses:
        swaps, hits = _order(use, hits, limit)
        for _ in range(swaps):
            grinds, bought = after_regrind(grinds, worn.tool.grind_life)
            planned[use.week] += 1
            replaced[use.week] += bought
    return _Way(planned, none, replaced, (np.cumsum(planned) > 0).astype(float))


def _order(use: OrderUse, hits: float, limit: float) -> tuple[int, float]:
    """Swaps before and within an order, and hits since the last one at its end.

    A fresh tool does at least one sheet, however many hits that has.
    """
    swaps, total = 0, use.sheets * use.hits_per_sheet
    if hits > 0 and hits + total > limit and total > 0:
        swaps, hits = 1, 0.0
    if hits + total <= limit:
        return swaps, hits + total
    on_one = max(math.floor(limit / use.hits_per_sheet + 1e-9), 1)
    more = max(math.ceil(use.sheets / on_one - 1e-9) - 1, 0)
    return swaps + more, (use.sheets - more * on_one) * use.hits_per_sheet


def _by_law(worn: WornTool, uses: Iterable[OrderUse], weeks: int) -> _Way:
    """Changes by the life law, given the hits done by the end of each week."""
    tool, life = worn.tool, life_of(worn.tool)
    assert life is not None
    hits = np.zeros(weeks)
    for use in uses:
        hits[use.week] += use.sheets * use.hits_per_sheet
    done = np.cumsum(hits)
    at_least = partial(chance_of_changes, life, done, worn_hits=worn.hits, limit_hits=_limit(tool))
    used = done > 0
    changes = expected_changes(life, done, worn.hits, _limit(tool))
    until_new, every = max(tool.grind_life - worn.grinds, 0) + 1, tool.grind_life + 1
    chances = [at_least(count=until_new) * used]
    while chances[-1].max() > _NEGLIGIBLE:
        chances.append(at_least(count=until_new + every * len(chances)) * used)
    return _Way(
        np.diff(changes.planned * used, prepend=0.0), np.diff(changes.failed * used, prepend=0.0),
        np.diff(np.sum(chances, axis=0), prepend=0.0), at_least(count=1) * used,
    )  # fmt: skip


def _first(chances: Floats) -> int | None:
    """The first week by whose end :data:`DUE_CHANCE` is reached."""
    reached = np.flatnonzero(chances >= DUE_CHANCE)
    return int(reached[0]) if len(reached) else None
