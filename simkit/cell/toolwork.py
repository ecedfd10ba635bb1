"""Tools at one machine: the turret, what is exchanged when, what is hidden, and wear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from simkit.base.laws import Law
from simkit.base.units import on_grid_s
from simkit.base.vocabulary import CHANGEOVER, OUTSIDE
from simkit.cell.orders import Job
from simkit.process.workload import GRIPPER_EXCHANGES, Workload
from simkit.tooling.desk import LOADS, Exchange
from simkit.tooling.exchange import ExchangePlan, apply_exchanges, in_use, mark_used, plan_exchange
from simkit.tooling.lookahead import fit_lookahead
from simkit.tooling.room import Need, ToolRoom, make_tool_room, needs_of
from simkit.tooling.turret import Placed, Turret, empty_turret, start_turret
from simkit.tooling.wear import copy_offsets, due_for_regrind, failure_points

_LIFE_CHUNK = 32


@dataclass(frozen=True)
class ToolBook:
    """Tools and needs of a scenario, the same for all machines and replications.

    ``hits`` gives, per program, the counted hits of a sheet by need: a tool at two angles has two.
    """

    room: ToolRoom
    needs: list[tuple[Need, ...]]
    need_row: list[dict[int, int]]
    hits: list[tuple[tuple[Need, float], ...]]
    start: Turret
    limits: list[float | None]
    swap_s: float
    outside_s: dict[str, float]


def make_tool_book(workload: Workload) -> ToolBook:
    """Work out needs per program, the tool room with its magazine, and the turret at the start."""
    plant, tables = workload.plant, workload.tables
    index = {tool.tool_id: row for row, tool in enumerate(plant.tools)}
    materials = [plant.material_by_id[program.material_id] for program in tables.programs]
    uses = [plant.tools_of.get(program.program_id, ()) for program in tables.programs]
    needs = [needs_of(use, material, plant.tools, index) for use, material in zip(uses, materials, strict=True)]
    weight = np.zeros(len(tables.programs))
    for order in plant.orders:
        weight[tables.index[order.program_id]] += 1
    weighed = [(need, float(weight[row])) for row, program in enumerate(needs) for need in program]
    room = make_tool_room(plant.settings, plant.tools, weighed)
    has_start = any(row.what == "turret" for row in plant.start)
    swap, outside = _regrind_s(workload)
    return ToolBook(
        room, needs,
        need_row=[{index[use.tool_id]: row for row, use in enumerate(rows)} for rows in uses],
        hits=[
            tuple(
                (needs_of((use,), material, plant.tools, index)[0], use.hits_per_sheet * material.wear_factor)
                for use in rows
                if use.hits_per_sheet * material.wear_factor > 0
            )
            for rows, material in zip(uses, materials, strict=True)
        ],
        start=start_turret(room, plant.start, index) if has_start else empty_turret(room),
        limits=[tool.regrind_limit_hits if tool.tracked else None for tool in plant.tools],
        swap_s=swap, outside_s=outside,
    )  # fmt: skip


def _regrind_s(workload: Workload) -> tuple[float, dict[str, float]]:
    """Mean seconds of one regrind at the machine (shim, refit) and away from it, by who does it."""
    machine = 0.0
    outside: dict[str, float] = {}
    for use in workload.tables.uses:
        if use.timed.driver != "regrind":
            continue
        if use.timed.state == CHANGEOVER:
            machine += use.timed.law.mean
        elif use.timed.state == OUTSIDE:
            outside[use.timed.task_of] = outside.get(use.timed.task_of, 0.0) + use.timed.law.mean
    return on_grid_s(machine), {task: on_grid_s(seconds) for task, seconds in outside.items()}


@dataclass
class ToolCounts:
    """What happened to tools at one machine."""

    kinds: dict[str, int] = field(default_factory=dict)
    hidden_s: float = 0.0
    visible_s: float = 0.0
    misses: int = 0
    reground: int = 0
    broken: int = 0
    missing_clearance: int = 0


@dataclass(frozen=True)
class Change:
    """What one changeover needs for tools: seconds by hand and by gripper, seconds of moved work by task."""

    hand_s: float
    gripper_s: float
    mid_hand_s: float
    mid_gripper_s: float
    loads: int
    outside_s: dict[str, float]


class ToolWork:
    """The turret of one machine and its wear."""

    def __init__(self, workload: Workload, book: ToolBook, machine: int) -> None:
        self.book, self.turret = book, book.start
        self.counts = ToolCounts()
        self.first = workload.needs.first.tolist()
        self.seconds = {kind: values.tolist() for kind, values in workload.needs.seconds.items()}
        self.outside = {task: values.tolist() for task, values in workload.needs.outside_s.items()}
        self.lookahead = workload.plant.settings.magazine.lookahead and book.room.has_magazine
        self.lookahead_sheets = workload.plant.settings.rules.lookahead_sheets
        self.counter = 0
        self.middle: tuple[Exchange, ...] = ()
        self._wear = _Wear(workload, book, machine)

    @property
    def tools_in_turret(self) -> frozenset[int]:
        """Rows of the tools that stand in the turret."""
        return frozenset(placed.tool for placed in self.turret.stations if placed is not None)

    def change_to(self, job: Job, known_queue: list[tuple[Need, ...]]) -> Change:
        """Exchange what the order needs and does not find; say what it costs."""
        book, needs = self.book, self.book.needs[job.program]
        plan = plan_exchange(book.room, self.turret, needs, known_queue, self.counter)
        self.turret = apply_exchanges(self.turret, plan.exchanges, self.counter)
        self.turret = mark_used(self.turret, needs, self.counter)
        self.counter += 1
        self.middle = plan.mid_program
        self.counts.missing_clearance += len(plan.missing)
        due = self._wear.before(job, self.turret, self.counts)
        return self._cost(job, plan, _swaps(self.turret, due, plan), len(due))

    def look_ahead(self, running: Job, coming: Job, known_queue: list[tuple[Need, ...]], budget_s: float) -> None:
        """Do whole exchanges for the coming order while they fit into the time the laser leaves."""
        book = self.book
        locked, copies = in_use(self.turret, book.needs[running.program])
        locked |= {station for exchange in self.middle for station in (exchange.station, *exchange.removed)}
        copies |= {exchange.placed[:2] for exchange in self.middle}
        plan = plan_exchange(
            book.room, self.turret, book.needs[coming.program], known_queue, self.counter, locked, copies
        )
        done, used_s = fit_lookahead(plan.exchanges, lambda exchange: self._seconds(coming, exchange), budget_s)
        if done:
            coming.loads += sum(exchange.kind in LOADS for exchange in done)
            self.turret = apply_exchanges(self.turret, done, self.counter)
            self._count(done)
            self.counts.hidden_s += used_s

    def _cost(self, job: Job, plan: ExchangePlan, swaps: tuple[Exchange, ...], regrinds: int) -> Change:
        exchanges = (*plan.exchanges, *swaps)
        hand_s, gripper_s = self._split(job, exchanges)
        mid_hand_s, mid_gripper_s = self._split(job, plan.mid_program)
        self._count(exchanges)
        for _ in job.sheets:
            self._count(plan.mid_program)
        by_hand = [exchange for exchange in exchanges if exchange.kind not in GRIPPER_EXCHANGES]
        hand_s += regrinds * self.book.swap_s
        self.counts.visible_s += hand_s + gripper_s + (mid_hand_s + mid_gripper_s) * len(job.sheets)
        outside = {
            task: sum(values[self._need(job, exchange)] for exchange in by_hand if exchange.kind == "tool_load")
            for task, values in self.outside.items()
        }
        for task, seconds in self.book.outside_s.items():
            outside[task] = outside.get(task, 0.0) + regrinds * seconds
        if self.book.room.has_magazine:
            self.counts.misses += len(by_hand)
        loads = sum(exchange.kind in LOADS for exchange in exchanges)
        return Change(hand_s, gripper_s, mid_hand_s, mid_gripper_s, loads, outside)

    def _split(self, job: Job, exchanges: tuple[Exchange, ...]) -> tuple[float, float]:
        hand_s = gripper_s = 0.0
        for exchange in exchanges:
            seconds = self._seconds(job, exchange)
            if exchange.kind in GRIPPER_EXCHANGES:
                gripper_s += seconds
            else:
                hand_s += seconds
        return hand_s, gripper_s

    def _seconds(self, job: Job, exchange: Exchange) -> float:
        return float(self.seconds[exchange.kind][self._need(job, exchange)])

    def _need(self, job: Job, exchange: Exchange) -> int:
        """Number of the tool need behind an exchange; a tool that comes back mid-program counts as the first."""
        return int(self.first[job.members[0]]) + self.book.need_row[job.program].get(exchange.placed.tool, 0)

    def _count(self, exchanges: tuple[Exchange, ...]) -> None:
        kinds = self.counts.kinds
        for exchange in exchanges:
            kinds[exchange.kind] = kinds.get(exchange.kind, 0) + 1


def _swaps(turret: Turret, due: tuple[tuple[int, int], ...], plan: ExchangePlan) -> tuple[Exchange, ...]:
    """A standing tool that was due is taken out and fitted again by hand, unless it is being fitted anyway."""
    fitted = {exchange.placed[:2] for exchange in plan.exchanges if exchange.kind == "tool_load"}
    return tuple(
        Exchange("tool_load", station, placed)
        for station, placed in enumerate(turret.stations)
        if placed is not None and placed[:2] in due and placed[:2] not in fitted
    )


class _Wear:
    """Hits since regrind of every copy, on one machine."""

    def __init__(self, workload: Workload, book: ToolBook, machine: int) -> None:
        self.book, self.machine = book, machine
        self.tools, self.draws = workload.plant.tools, workload.draws
        self.offsets = copy_offsets(book.room)
        self.hits = [0.0] * self.offsets[-1]
        self.lives: dict[int, Iterator[float]] = {}
        placed: dict[int, int] = {}
        self.life: dict[int, float] = {}
        index = {tool.tool_id: row for row, tool in enumerate(self.tools)}
        in_turret = [row for row in workload.plant.start if row.what == "turret"]
        for row in sorted(in_turret, key=lambda row: row.station == 0):  # copies are numbered so, see start_turret
            tool = index[row.item]
            self.hits[self.offsets[tool] + placed.get(tool, 0)] = row.hits
            placed[tool] = placed.get(tool, 0) + 1

    def before(self, job: Job, turret: Turret, counts: ToolCounts) -> tuple[tuple[int, int], ...]:
        """Regrind what is due before an order and note where uncounted tools will fail; return what was reground."""
        used = self._used(job, turret)
        sheets = len(job.sheets)
        due = due_for_regrind(
            self.book.room, self.hits, [(t, c, hits * sheets) for t, c, hits in used], self.book.limits
        )
        for tool, copy in due:
            self.hits[self.offsets[tool] + copy - 1] = 0.0
        counts.reground += len(due)
        job.worn_at = sorted(point for tool, copy, hits in used for point in self._wear_out(tool, copy, hits, sheets))
        counts.reground += len(job.worn_at)
        return due

    def _used(self, job: Job, turret: Turret) -> list[tuple[int, int, float]]:
        """Copies that the order wears with the hits of a sheet; of twins the one at the right clearance and angle."""
        standing: dict[int, list[Placed]] = {}
        for placed in turret.stations:
            if placed is not None:
                standing.setdefault(placed.tool, []).append(placed)
        worn: dict[tuple[int, int], float] = {}
        for need, amount in self.book.hits[job.program]:
            twins = standing.get(need.tool, ())
            copy = min(twins, key=lambda at: (at[2] != need[1], at[3] != need[2])).copy if twins else 1
            worn[need.tool, copy] = worn.get((need.tool, copy), 0.0) + amount
        return [(tool, copy, amount) for (tool, copy), amount in worn.items()]

    def _wear_out(self, tool: int, copy: int, hits: float, sheets: int) -> list[tuple[int, float]]:
        at = self.offsets[tool] + copy - 1
        if self.book.limits[tool] is not None or self.tools[tool].life_hits is None:
            self.hits[at] += hits * sheets
            return []
        life = self.life.get(at)
        if life is None:
            life = self.life[at] = next(self._lives(tool, at))
        if self.hits[at] + hits * sheets < life:
            self.hits[at] += hits * sheets
            return []
        taken = [life]
        points, self.hits[at] = failure_points(self.hits[at], hits, sheets, self._noted(taken, tool, at))
        self.life[at] = taken[-1]
        return [(point.sheet, point.fraction) for point in points]

    def _noted(self, taken: list[float], tool: int, at: int) -> Iterator[float]:
        """The present life, then as many more as are asked for, each noted as it is taken."""
        yield taken[0]
        for life in self._lives(tool, at):
            taken.append(life)
            yield life

    def _lives(self, tool: int, at: int) -> Iterator[float]:
        if at not in self.lives:
            self.lives[at] = self._life_stream(tool, at)
        return self.lives[at]

    def _life_stream(self, tool: int, at: int) -> Iterator[float]:
        row = self.tools[tool]
        law = Law(row.life_law, row.life_hits or 1.0, row.life_cv)
        purpose, number = f"life:{self.machine}:{at}", 0
        while True:
            uniforms = self.draws.uniform(purpose, number + _LIFE_CHUNK)[number:]
            yield from (max(float(value), 1.0) for value in law.draw(uniforms))
            number += _LIFE_CHUNK
