"""Size classes of a turret: whether they stand apart, and how far a program goes beyond its stations.

Tools that share all their stations are one class. Where every class has stations of its own, where nothing
bars a station and nothing must turn, each class is a tool-switching problem by itself, and its loads add up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from simkit.tooling.desk import LOADS
from simkit.tooling.exchange import apply_exchanges, plan_exchange
from simkit.tooling.places import overlapping
from simkit.tooling.room import NO_CLEARANCE, Need, ToolRoom
from simkit.tooling.turret import Turret, empty_turret


@dataclass(frozen=True)
class ClassCount:
    """Tools of a program in one size class (mm), counted in places: a tool for two positions counts twice.

    ``places`` take tools of the class, ``held`` of them hold standard tools of other programs. ``too_many``
    tools are exchanged in the middle, or find no place at all.
    """

    size_mm: float
    needed: int
    places: int
    held: int
    too_many: int


@dataclass(frozen=True)
class Overflow:
    """How far a program goes beyond the stations: size classes, exchanges within each sheet, tools without a place.

    ``exchanges`` are those of one sheet, there and back where sheets ``returns``. ``without`` are needs that
    no station can take beside the others.
    """

    classes: tuple[ClassCount, ...]
    exchanges: int
    returns: bool
    without: tuple[Need, ...]

    def note(self, program_id: str) -> str:
        """Return one sentence on a program that does not fit; nothing on one that does."""
        if not (self.exchanges or self.without):
            return ""
        short = [_class_text(one) for one in self.classes if one.too_many]
        text = f"{program_id} needs {' and '.join(short)}" if short else f"{program_id} turns its only copy of a tool"
        if self.exchanges:
            way = "there and back, on" if self.returns else "in the middle of"
            text += f": {self.exchanges} exchange{'s' * (self.exchanges > 1)} {way} each sheet"
        if self.without:
            text += f"; {len(self.without)} of its tools find no station at all"
        return text


def classes_apart(room: ToolRoom) -> bool:
    """Tell whether every tool fits one size class only, takes one position, bars nothing and need not turn."""
    return not _reasons(room)


def exactness(room: ToolRoom) -> str:
    """Return one sentence on how good it is to keep the tool needed soonest in this tool room."""
    reasons = _reasons(room)
    if not reasons:
        return (
            "Each tool fits one size class only, so for a given sequence known in advance keeping the tool needed "
            "soonest takes the fewest loads, class by class (Tang and Denardo 1988)."
        )
    return (
        f"Keeping the tool needed soonest is a heuristic here, because {' and '.join(reasons)}: the fewest loads are "
        "then a hard problem even for a given sequence (Crama, Moonen, Spieksma and Talloen 2007)."
    )


def program_fits(room: ToolRoom, needs: Sequence[Need], sheets: int = 2) -> Overflow:
    """Return how far a program goes beyond the stations, beside the standard tools; ``sheets`` of an order of it."""
    start = _standard_turret(room)
    plan = plan_exchange(room, start, needs, (), sheets=sheets)
    first = apply_exchanges(start, plan.exchanges, 0)
    second = apply_exchanges(first, plan.mid_program, 0)
    there = {placed.tool for turret in (first, second) for placed in turret.stations if placed}
    there |= {exchange.placed.tool for exchange in plan.mid_program}
    without = tuple(need for need in needs if need.tool not in there)
    extra = Counter(exchange.placed.tool for exchange in plan.mid_program if exchange.kind in LOADS)
    extra.update(need.tool for need in without)
    return Overflow(
        classes=_classes(room, start, needs, extra),
        exchanges=len(plan.mid_program) + (len(plan.mid_back) if plan.returns else 0),
        returns=plan.returns,
        without=without,
    )


def _class_text(one: ClassCount) -> str:
    text = f"{one.needed} tools of the {one.size_mm:g} mm stations, there are {one.places}"
    if one.held:
        text += f", {one.held} with standard tools"
    if one.needed <= one.places - one.held:
        text += ", some of which stay empty beside others"
    return text


def _reasons(room: ToolRoom) -> list[str]:
    """Why classes do not stand apart, in words."""
    placed = [tool for tool, fits in enumerate(room.fits) if fits]
    barring = [tool for tool in placed if any(room.bars[tool][s] for s in room.fits[tool])]
    wide = {tool for tool in barring if room.positions[tool] > 1}
    turning = [tool for tool in placed if room.needs_turning[tool]]
    plain = [room.fits[tool] for tool in placed if tool not in wide and tool not in turning]
    found = (
        (overlapping(plain), "stations take tools of more than one size class"),
        (bool(wide), "some tools take two positions"),
        (len(barring) > len(wide), "tall forms bar the stations beside them"),
        (bool(turning), "some tools must turn"),
    )
    return [text for is_so, text in found if is_so]


def _standard_turret(room: ToolRoom) -> Turret:
    """Return the turret with the standard tools in it and nothing else."""
    needs = {Need(tool, clearance, 0.0) for tool, clearance in room.pinned}
    needs |= {Need(tool, (room.clearances[tool] or (NO_CLEARANCE,))[0], 0.0) for tool in room.pinned_tools}
    turret = empty_turret(room)
    return apply_exchanges(turret, plan_exchange(room, turret, sorted(needs), ()).exchanges, 0)


def _classes(room: ToolRoom, start: Turret, needs: Sequence[Need], extra: Counter[int]) -> tuple[ClassCount, ...]:
    """Count the needs by the size of the stations they stand in as they are."""
    tools = {need.tool for need in needs}
    by_size: dict[float, list[Need]] = {}
    for need in needs:
        if room.fits[need.tool]:
            by_size.setdefault(room.sizes[room.fits[need.tool][0]], []).append(need)
    counts = []
    for size, of_size in sorted(by_size.items()):
        places = {s for need in of_size for s in room.fits[need.tool]}
        held = sum((placed := start.stations[s]) is not None and placed.tool not in tools for s in places)
        rows = Counter(need.tool for need in of_size)
        needed = sum(min(count, room.copies[tool]) * room.positions[tool] for tool, count in rows.items())
        counts.append(ClassCount(size, needed, len(places), held, sum(extra[tool] for tool in rows)))
    return tuple(counts)
