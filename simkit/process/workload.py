"""Workload: a scenario's view of the draws, every sheet's times, mass and parts as plain arrays.

All durations are seconds on the time grid. Sheets are numbered 0, 1, ... through the orders of the
drawn book in order of release; the luck of each is keyed by its number in the draws, so the same sheet
meets the same luck in every scenario.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, on_grid
from simkit.base.vocabulary import (
    BENCH,
    CHANGEOVER,
    CUTTING,
    FIRST_PIECE,
    FORMING,
    LOADING,
    OUTSIDE,
    PUNCHING,
    UNLOADING,
)
from simkit.plant.plant import Plant, Scenario
from simkit.plant.tables import MachineRow
from simkit.process.absences import with_absences
from simkit.process.draws import Draws
from simkit.process.elements import Timed
from simkit.process.faults import Struck, risky_exchanges, struck_faults
from simkit.process.picking import sheet_time_s
from simkit.process.pickluck import PickLuck
from simkit.process.planner import planner_hours
from simkit.process.programs import SHEET_DRIVERS, ElementUse, ProgramTables, program_tables, run_scale
from simkit.process.sheetcount import identity, numbers_drawn, sheets_needed
from simkit.process.shifts import ShiftPlan, plan_shifts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HAND_EXCHANGES = ("tool_load", "die_change", "angle_change")
GRIPPER_EXCHANGES = ("magazine_exchange", "magazine_die_change")
EXCHANGES = (*HAND_EXCHANGES, *GRIPPER_EXCHANGES)
CHANGE_DRIVERS = ("material_change", "nozzle_change", "clamp_change", "gas_change", "pack_change")


@dataclass(frozen=True)
class SheetTimes:
    """Per sheet: program, identity in the draws, and seconds by stage.

    ``tail_s`` is the time after the process during which the sheet stays for its picks;
    ``run_s`` is punching, forming, cutting and tail together. ``bench_s`` is the work by hand that each sheet brings,
    ``rework_s`` what marked parts bring beside it; somebody does both in one go (``hand_s``).
    """

    program: Ints
    uid: Ints
    load_s: Floats
    punch_s: Floats
    form_s: Floats
    cut_s: Floats
    tail_s: Floats
    run_s: Floats
    unload_s: Floats
    bench_s: Floats
    rework_s: Floats

    @property
    def hand_s(self) -> Floats:
        """Seconds of somebody at the bench, rework included."""
        return self.bench_s + self.rework_s


@dataclass(frozen=True)
class OrderTimes:
    """Per order: seconds of what happens once an order, by person and without one."""

    fixed_s: Floats
    fixed_machine_s: Floats
    first_piece_s: Floats
    entry_s: Floats
    change_s: dict[str, Floats]
    store_exchange_s: Floats
    stack_exchange_s: Floats
    skeleton_exchange_s: Floats
    engagement_s: Floats
    outside_s: dict[str, Floats]
    staged_s: dict[str, Floats]
    restock_s: dict[str, Floats]


@dataclass(frozen=True)
class NeedTimes:
    """Per order and tool need: seconds of each kind of exchange, and of moved work with it by kind and task.

    ``struck`` holds, by kind of exchange and need, the fault that strikes if that exchange is done, ``risky`` the rows
    of load_faults.csv by which it may go wrong; both are empty where none can.
    """

    first: Ints
    seconds: dict[str, Floats]
    outside_s: dict[str, dict[str, Floats]]
    struck: dict[str, dict[int, Struck]]
    risky: dict[str, tuple[tuple[int, ...], ...]]


@dataclass(frozen=True)
class Workload:
    """Everything the cell needs to know of one replication of one scenario."""

    scenario: Scenario
    draws: Draws
    tables: ProgramTables
    plan: ShiftPlan
    sheets: SheetTimes
    first_sheet: Ints
    orders: OrderTimes
    needs: NeedTimes
    program: Ints
    planned_h: Floats
    invoice_h: Floats
    groups: tuple[tuple[int, ...], ...]
    who: dict[str, str]

    @property
    def plant(self) -> Plant:
        """The scenario's plant."""
        return self.scenario.plant

    @cached_property
    def by_machine(self) -> tuple[Workload, ...]:
        """This workload as each machine sees it: with its own overrides of machines.csv, the same draws and orders."""
        if not self.scenario.machine_plants:
            return (self,) * len(self.plant.machines)
        pairs = zip(self.plant.machines, self.scenario.machine_plants, strict=True)
        return tuple(_of_machine(self, row, own) if row.overrides else self for row, own in pairs)

    @cached_property
    def pick_luck(self) -> PickLuck | None:
        """Luck of every pick; None where no device picks or none of its picks fails by itself."""
        flows = self.tables.flows
        if not any(flow.picked for flow in flows):
            return None
        found = PickLuck(self.plant, self.draws, self.sheets.program, self.sheets.uid,
                         tuple(flow.filled for flow in flows))  # fmt: skip
        return found if found.causes else None

    @cached_property
    def span_s(self) -> float:
        """End of the measured span: the horizon, or the end of the release weeks."""
        horizon = self.plant.settings.run.horizon_s
        if horizon is not None:
            return horizon
        return self.plan.day_start[min(7 * int(np.ceil(self.draws.weeks)), len(self.plan.day_start) - 1)]


_tables_cache: dict[str, ProgramTables] = {}


def tables_of(scenario: Scenario) -> ProgramTables:
    """Program tables of a scenario, kept for its other replications (by physics hash)."""
    key = scenario.physics_hash
    if not key:
        return program_tables(scenario.plant)
    if key not in _tables_cache:
        if len(_tables_cache) > 256:
            _tables_cache.clear()
        _tables_cache[key] = program_tables(scenario.plant)
    return _tables_cache[key]


def make_workload(scenario: Scenario, draws: Draws, today: ProgramTables | None = None) -> Workload:
    """Turn the draws into this scenario's times.

    ``today`` are the tables of the plant as it is; hours bought outside are counted in its standard hours, which the
    draws hold where they were made with the plant as it is (its magazine decides what a tool counts, too).
    """
    plant, tables, book = scenario.plant, tables_of(scenario), draws.book
    program_of_row = np.array([tables.index[order.program_id] for order in plant.orders], np.int64)
    program = program_of_row[book.row]
    needed = sheets_needed(tables, draws, program)
    first = np.concatenate([[0], np.cumsum(needed)]).astype(np.int64)
    order_of = np.repeat(np.arange(len(book)), needed)
    uid = identity(draws, order_of, np.arange(first[-1]) - first[order_of])
    planned = planner_hours(plant, tables, program, book.sheets)
    standard = planned if today is None else planner_hours(plant, today, program, book.sheets)
    return Workload(
        scenario=scenario, draws=draws, tables=tables,
        plan=with_absences(plan_shifts(plant, draws.days), plant, draws),
        sheets=_sheet_times(plant, tables, draws, program[order_of], uid), first_sheet=first,
        orders=_order_times(plant, tables, draws, program, needed), needs=_need_times(plant, tables, draws, program),
        program=program, planned_h=planned, invoice_h=standard if draws.order_h is None else draws.order_h,
        groups=_merge(plant, draws, program), who=_who(tables),
    )  # fmt: skip


def _of_machine(workload: Workload, row: MachineRow, plant: Plant) -> Workload:
    """The workload with one machine's overrides; its tables are kept apart from those of the scenario."""
    scenario = workload.scenario
    name = f"{scenario.physics_hash}:{row.machine_id}" if scenario.physics_hash else ""
    own = dataclasses.replace(scenario, plant=plant, machine_plants=(), physics_hash=name)
    return make_workload(own, workload.draws)


def _factor(law_use: Timed, draws: Draws, uid: Ints, total: int) -> Any:
    """Seconds of one occurrence per entity: the mean where nothing varies, else the drawn value."""
    if law_use.law.is_constant:
        return law_use.law.mean
    return law_use.law.draw(draws.uniform(f"element:{law_use.name}", total)[uid])


def _sheet_times(plant: Plant, tables: ProgramTables, draws: Draws, program: Ints, uid: Ints) -> SheetTimes:
    total = numbers_drawn(draws, uid)
    stage = {state: np.zeros(len(uid)) for state in (PUNCHING, FORMING, LOADING, UNLOADING, BENCH)}
    stage[CUTTING] = tables.cut_base_s[program]
    ratio: Floats | float = 1.0
    picks, blocking = np.zeros(len(uid)), np.zeros(len(uid))
    for use in tables.uses:
        driver = use.timed.driver
        if driver == "process":
            found = use.count[program] > 0
            ratio = np.where(found, _factor(use.timed, draws, uid, total), ratio)
        elif driver in ("pick", "pick_blocking") and use.timed.state == UNLOADING:
            share = use.count[program] * _factor(use.timed, draws, uid, total)
            picks, blocking = (picks + share, blocking) if driver == "pick" else (picks, blocking + share)
        elif driver in SHEET_DRIVERS and use.timed.state in stage:
            stage[use.timed.state] = stage[use.timed.state] + use.count[program] * _factor(use.timed, draws, uid, total)
    _skeleton_only(tables, draws, program, uid, stage)
    return _on_grid(plant, tables, program, uid, stage, ratio, picks, blocking)


def _skeleton_only(tables: ProgramTables, draws: Draws, program: Ints, uid: Ints, stage: dict[str, Floats]) -> None:
    """A sheet whose parts all left by device or chute leaves only its skeleton: nothing is pulled to the bench."""
    skeleton = np.array([float(flow.leaves_skeleton) for flow in tables.flows])[program]
    device = np.zeros(len(program))
    for use in tables.uses:
        if use.timed.driver == "skeleton" and use.timed.state == UNLOADING:
            device = device + use.count[program] * _factor(use.timed, draws, uid, numbers_drawn(draws, uid))
    stage[UNLOADING] = np.where(skeleton > 0, device, stage[UNLOADING])


def _rework_s(plant: Plant, tables: ProgramTables) -> Floats:
    """Expected rework seconds per sheet at the bench (share of parts times minutes, for those not scrapped)."""
    seconds = np.zeros(len(tables.programs))
    for cause, parts in zip(plant.quality, tables.at_risk, strict=True):
        seconds += cause.rate * (1 - cause.scrap_share) * parts * cause.rework_min * SECONDS_PER_MINUTE
    return seconds


def _on_grid(
    plant: Plant, tables: ProgramTables, program: Ints, uid: Ints, stage: dict[str, Floats],
    ratio: Floats | float, picks: Floats, blocking: Floats,
) -> SheetTimes:  # fmt: skip
    """Round each stage once; the run is the exact sum of its rounded stages."""
    measured = tables.measured_run_s[program]
    unshared = (stage[PUNCHING] + stage[FORMING] + stage[CUTTING] == 0) & ~np.isnan(measured)
    stage[CUTTING] = np.where(unshared, measured, stage[CUTTING])
    scale = run_scale(stage[PUNCHING] + stage[FORMING] + stage[CUTTING], measured, ratio, tables.other_losses)
    punch, form, cut = (on_grid(stage[state] * scale) for state in (PUNCHING, FORMING, CUTTING))
    process = punch + form + cut
    picked = np.array([flow.places_picked for flow in tables.flows], np.int64)[program]
    reclamps = np.array([row.repositions for row in tables.programs], np.int64)[program]
    stands = sheet_time_s(process, picks, blocking, picked, reclamps, plant.settings.removal)
    tail = on_grid(np.maximum(stands - process, 0.0))
    return SheetTimes(
        program=program, uid=uid, load_s=on_grid(stage[LOADING]), punch_s=punch, form_s=form, cut_s=cut,
        tail_s=tail, run_s=process + tail, unload_s=on_grid(stage[UNLOADING]), bench_s=on_grid(stage[BENCH]),
        rework_s=on_grid(_rework_s(plant, tables)[program]),
    )  # fmt: skip


def _per_order(use: ElementUse, draws: Draws, program: Ints) -> Floats:
    """Seconds of one occurrence per order, zero for orders whose program the row is not for."""
    positions = draws.book.position
    total = int(positions.max()) + 1 if len(positions) else 0
    return np.asarray((use.count[program] > 0) * _factor(use.timed, draws, positions, total), float)


def _order_times(plant: Plant, tables: ProgramTables, draws: Draws, program: Ints, sheets: Ints) -> OrderTimes:
    size = len(program)
    zero = {
        name: np.zeros(size) for name in ("fixed", "machine", "first", "entry", "store", "stack", "skeleton", "engage")
    }
    change = {driver: np.zeros(size) for driver in CHANGE_DRIVERS}
    outside: dict[str, Floats] = {}
    aside: dict[str, dict[str, Floats]] = {"material_change": {}, "store_load": {}}
    unproven = np.array([not program.proven for program in tables.programs])[program]
    for use in tables.uses:
        driver, state, task = use.timed.driver, use.timed.state, use.timed.task_of
        if (driver in SHEET_DRIVERS and state != OUTSIDE) or driver in EXCHANGES or driver in NOT_BY_ORDER:
            continue
        seconds = _per_order(use, draws, program)
        if state == OUTSIDE and driver in aside:
            by_task = aside[driver]
            by_task[task] = by_task.get(task, np.zeros(size)) + seconds
        elif state == OUTSIDE and driver not in PALLET_DRIVERS:
            count = _outside_count(use, sheets, program, unproven)
            outside[task] = outside.get(task, np.zeros(size)) + seconds * count
        elif driver in change:
            change[driver] = change[driver] + seconds
        elif slot := _order_slot(driver, state, use.timed.by_person):
            zero[slot] = zero[slot] + seconds * (unproven if driver == "new_program" else 1.0)
    grid = {name: on_grid(value) for name, value in zero.items()}
    return OrderTimes(
        grid["fixed"], grid["machine"], grid["first"], grid["entry"],
        {name: on_grid(value) for name, value in change.items()}, grid["store"], grid["stack"],
        grid["skeleton"], grid["engage"],
        {name: on_grid(value) for name, value in outside.items()},
        *({name: on_grid(value) for name, value in by_task.items()} for by_task in aside.values()),
    )  # fmt: skip


NOT_BY_ORDER = ("process", "regrind", "magazine_load")
PALLET_DRIVERS = ("stack_exchange", "skeleton_exchange")
_SLOT_OF = {"cell_entry": "entry", "store_exchange": "store", "stack_exchange": "stack",
            "skeleton_exchange": "skeleton", "engagement": "engage"}  # fmt: skip


def _order_slot(driver: str, state: str, by_person: bool) -> str:
    """Where a once-an-order element goes."""
    if driver in _SLOT_OF:
        return _SLOT_OF[driver]
    if state == FIRST_PIECE:
        return "first"
    if state == CHANGEOVER:
        return "fixed" if by_person else "machine"
    return ""


def _outside_count(use: ElementUse, sheets: Ints, program: Ints, unproven: NDArray[np.bool_]) -> Floats:
    """How often an outside element occurs with an order."""
    if use.timed.driver == "new_program":
        return unproven.astype(float)
    if use.timed.driver in SHEET_DRIVERS:
        return use.count[program] * sheets
    return np.ones(len(program))


def _need_times(plant: Plant, tables: ProgramTables, draws: Draws, program: Ints) -> NeedTimes:
    counts = np.diff(tables.first_need)[program]
    first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    order_of = np.repeat(np.arange(len(program)), counts)
    place = np.arange(first[-1]) - first[order_of]
    uid = (draws.book.first_need[order_of] + place).astype(np.int64)
    row = tables.first_need[program[order_of]] + place
    seconds = {kind: np.zeros(len(uid)) for kind in EXCHANGES}
    outside: dict[str, dict[str, Floats]] = {}
    for use in tables.uses:
        if use.timed.driver not in seconds:
            continue
        value = use.per_need[row] * _factor(use.timed, draws, uid, draws.need_count)
        if use.timed.state == OUTSIDE:
            by_task = outside.setdefault(use.timed.driver, {})
            by_task[use.timed.task_of] = by_task.get(use.timed.task_of, np.zeros(len(uid))) + value
        else:
            seconds[use.timed.driver] = seconds[use.timed.driver] + value
    return NeedTimes(
        first, {kind: on_grid(value) for kind, value in seconds.items()},
        {kind: {task: on_grid(value) for task, value in by_task.items()} for kind, by_task in outside.items()},
        struck_faults(plant, tables, draws, row, uid) if plant.load_faults else {}, risky_exchanges(plant, tables, row),
    )  # fmt: skip


def _merge(plant: Plant, draws: Draws, program: Ints) -> tuple[tuple[int, ...], ...]:
    """Orders worked as one: repeats of a program released within ``rules.merge_days`` of the first of them."""
    window_s = plant.settings.rules.merge_days * 24 * SECONDS_PER_HOUR
    book, groups = draws.book, []
    open_group: dict[int, list[int]] = {}
    for order in range(len(book)):
        key = int(program[order])
        group = open_group.get(key)
        if window_s > 0 and group and book.released_s[order] - book.released_s[group[0]] <= window_s:
            group.append(order)
            continue
        open_group[key] = group = [order]
        groups.append(group)
    return tuple(tuple(group) for group in groups)


def _who(tables: ProgramTables) -> dict[str, str]:
    """Who does each stage: the skill named by its rows, or machine where every row needs nobody."""
    stages = {"load": LOADING, "unload": UNLOADING, "first_piece": FIRST_PIECE, "bench": BENCH}
    found = dict.fromkeys((*stages, *CHANGE_DRIVERS, "cell_entry", "stack_exchange"), "machine")
    for use in tables.uses:
        task, driver = use.timed.task_of, use.timed.driver
        if task == "machine" or use.timed.state == OUTSIDE:
            continue
        for stage, state in stages.items():
            if use.timed.state == state and driver not in ("skeleton", *found):
                found[stage] = task
        if driver in found:
            found[driver] = task
    return found
