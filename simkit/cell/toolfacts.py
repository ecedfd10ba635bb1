"""What never changes about tools while a scenario runs: needs per program, the tool room, the turret at the start."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from simkit.process.elements import per_tool_times
from simkit.process.programs import exchange_seconds
from simkit.process.workload import Workload
from simkit.tooling.exchange import ResolvedNeeds, resolved
from simkit.tooling.toolroom import Need, ToolRoom, make_tool_room, needs_of
from simkit.tooling.turret import Turret, empty_turret, start_turret

AtAndAway = tuple[float, dict[str, float]]
"""Seconds at the machine, and seconds away from it by who does it."""


@dataclass(frozen=True)
class ToolFacts:
    """Tools and needs of a scenario, the same for all machines and replications.

    ``resolved`` are the needs as the tool room can meet them.
    ``tools`` are the rows of the tools that each program uses, ``need_row`` tells where each stands among its needs.
    ``hits`` gives, per program, the counted hits of a sheet by need: a tool at two angles has two.
    ``limits`` are the counted hits after which a tracked tool is reground (None: not tracked). ``regrind`` holds,
    per tool, mean seconds of a regrind at the machine (shim) and away from it by who does it, ``magazine_load``
    those of putting the tool or a die of it into the magazine.
    """

    room: ToolRoom
    needs: list[tuple[Need, ...]]
    resolved: list[ResolvedNeeds]
    tools: list[frozenset[int]]
    need_row: list[dict[int, int]]
    hits: list[tuple[tuple[Need, float], ...]]
    start: Turret
    limits: list[float | None]
    regrind: tuple[AtAndAway, ...]
    magazine_load: tuple[AtAndAway, ...]


def make_tool_book(workload: Workload) -> ToolFacts:
    """Work out needs per program, the tool room with its magazine, and the turret at the start."""
    plant, tables = workload.plant, workload.tables
    index = {tool.tool_id: row for row, tool in enumerate(plant.tools)}
    materials = [plant.material_by_id[program.material_id] for program in tables.programs]
    uses = [plant.tools_of.get(program.program_id, ()) for program in tables.programs]
    needs = [needs_of(use, material, plant.tools, index) for use, material in zip(uses, materials, strict=True)]
    room = make_tool_room(plant.settings, plant.tools, _weighed(workload, needs), exchange_seconds(tables))
    has_start = any(row.what == "turret" for row in plant.start)
    return ToolFacts(
        room, needs, resolved=[resolved(room, program) for program in needs],
        tools=[frozenset(need.tool for need in program) for program in needs],
        need_row=[{index[use.tool_id]: row for row, use in enumerate(rows)} for rows in uses],
        hits=[
            tuple(
                (needs_of((use,), material, plant.tools, index)[0], use.hits_per_sheet * material.wear_factor * filled)
                for use in rows
                if use.hits_per_sheet * material.wear_factor > 0
            )
            for rows, material, filled in zip(uses, materials, tables.filled.tolist(), strict=True)
        ],
        start=start_turret(room, plant.start, index) if has_start else empty_turret(room),
        limits=[tool.regrind_limit_hits if tool.tracked else None for tool in plant.tools],
        regrind=per_tool_times(plant, "regrind"), magazine_load=per_tool_times(plant, "magazine_load"),
    )  # fmt: skip


_books: dict[str, ToolFacts] = {}


def tool_facts_of(workload: Workload) -> ToolFacts:
    """What the scenario's tools are like, kept for its other replications (by physics hash)."""
    key = workload.scenario.physics_hash
    if not key:
        return make_tool_book(workload)
    if key not in _books:
        if len(_books) > 256:
            _books.clear()
        _books[key] = make_tool_book(workload)
    return _books[key]


def _weighed(workload: Workload, needs: list[tuple[Need, ...]]) -> list[tuple[Need, float]]:
    """Each need of each program with the orders of the book that have it."""
    tables = workload.tables
    weight = np.zeros(len(tables.programs))
    for order in workload.plant.orders:
        weight[tables.index[order.program_id]] += 1
    return [(need, float(weight[row])) for row, program in enumerate(needs) for need in program]


def summed(amounts: Iterable[dict[str, float]]) -> dict[str, float]:
    """Seconds by task, added up."""
    total: dict[str, float] = {}
    for amount in amounts:
        for task, seconds in amount.items():
            total[task] = total.get(task, 0.0) + seconds
    return total
