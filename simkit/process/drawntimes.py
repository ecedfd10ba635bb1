"""Times of sheets, of orders and of what orders need at the turret, drawn in bulk: seconds on the time grid.

The luck of each is keyed by its number in the draws, so the same sheet meets the same luck in every scenario.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_MINUTE, on_grid
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
from simkit.plant.plant import Plant
from simkit.process.draws import Draws
from simkit.process.elements import Timed
from simkit.process.faults import Struck, risky_exchanges, struck_faults
from simkit.process.picking import sheet_time_s
from simkit.process.programs import SHEET_DRIVERS, ElementUse, ProgramTables, run_scale

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
    def handling_s(self) -> Floats:
        """Seconds before and after the run: loading and pulling out."""
        return self.load_s + self.unload_s

    @property
    def hand_s(self) -> Floats:
        """Seconds of somebody at the bench, rework included."""
        return self.bench_s + self.rework_s


@dataclass(frozen=True)
class OrderTimes:
    """Per order: seconds of what happens once an order, by person and without one; ``helped``: by a second one."""

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
    fixed_helped_s: Floats
    change_helped_s: dict[str, Floats]


@dataclass(frozen=True)
class NeedTimes:
    """Per order and tool need: seconds of each kind of exchange, and of moved work with it by kind and task.

    ``helped`` are, by kind of exchange by hand, what a second person takes over of these seconds.
    ``struck`` holds, by kind of exchange and need, the fault that strikes if that exchange is done, ``risky`` the rows
    of load_faults.csv by which it may go wrong; both are empty where none can.
    """

    first: Ints
    seconds: dict[str, Floats]
    outside_s: dict[str, dict[str, Floats]]
    struck: dict[str, dict[int, Struck]]
    risky: dict[str, tuple[tuple[int, ...], ...]]
    helped: dict[str, Floats]


def _factor(law_use: Timed, draws: Draws, uid: Ints, total: int) -> Any:
    """Seconds of one occurrence per entity: the mean where nothing varies, else the drawn value."""
    if law_use.law.is_constant:
        return law_use.law.mean
    return draws.drawn(f"element:{law_use.name}", total, law_use.law)[uid]


def sheet_times(plant: Plant, tables: ProgramTables, draws: Draws, program: Ints, uid: Ints) -> SheetTimes:
    """Times of every sheet."""
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


def order_times(plant: Plant, tables: ProgramTables, draws: Draws, program: Ints, sheets: Ints) -> OrderTimes:
    """Times of every order."""
    size = len(program)
    zero = {
        name: np.zeros(size)
        for name in ("fixed", "machine", "first", "entry", "store", "stack", "skeleton", "engage", "fixed_helped")
    }
    change, helped = ({driver: np.zeros(size) for driver in CHANGE_DRIVERS} for _ in range(2))
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
            helped[driver] = helped[driver] + seconds * use.timed.helped
        elif slot := _order_slot(driver, state, use.timed.by_person):
            seconds = seconds * (unproven if driver == "new_program" else 1.0)
            zero[slot] = zero[slot] + seconds
            if slot == "fixed":
                zero["fixed_helped"] = zero["fixed_helped"] + seconds * use.timed.helped
    grid = {name: on_grid(value) for name, value in zero.items()}
    return OrderTimes(
        grid["fixed"], grid["machine"], grid["first"], grid["entry"],
        {name: on_grid(value) for name, value in change.items()}, grid["store"], grid["stack"],
        grid["skeleton"], grid["engage"],
        {name: on_grid(value) for name, value in outside.items()},
        staged_s={name: on_grid(value) for name, value in aside["material_change"].items()},
        restock_s={name: on_grid(value) for name, value in aside["store_load"].items()},
        fixed_helped_s=grid["fixed_helped"], change_helped_s={name: on_grid(value) for name, value in helped.items()},
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


def need_times(plant: Plant, tables: ProgramTables, draws: Draws, program: Ints) -> NeedTimes:
    """Times of every exchange that an order may need, and what may go wrong at it."""
    counts = np.diff(tables.first_need)[program]
    first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    order_of = np.repeat(np.arange(len(program)), counts)
    place = np.arange(first[-1]) - first[order_of]
    uid = (draws.book.first_need[order_of] + place).astype(np.int64)
    row = tables.first_need[program[order_of]] + place
    seconds, helped = ({kind: np.zeros(len(uid)) for kind in EXCHANGES} for _ in range(2))
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
            helped[use.timed.driver] = helped[use.timed.driver] + value * use.timed.helped
    return NeedTimes(
        first, {kind: on_grid(value) for kind, value in seconds.items()},
        {kind: {task: on_grid(value) for task, value in by_task.items()} for kind, by_task in outside.items()},
        struck_faults(plant, tables, draws, row, uid) if plant.load_faults else {}, risky_exchanges(plant, tables, row),
        {kind: on_grid(helped[kind]) for kind in HAND_EXCHANGES},
    )  # fmt: skip


ROUNDING = 1e-9
"""Part of a sheet that is taken for rounding."""


def sheets_needed(tables: ProgramTables, draws: Draws, program: Ints) -> Ints:
    """Sheets of each order: those ordered, and the more where room for a removal device leaves fewer parts on each.

    A fraction of a sheet is a whole one with that chance, by the luck of the order, so that the mean is right and a
    greater loss never takes fewer sheets.
    """
    book = draws.book
    needed = book.sheets / tables.filled[program]
    whole = np.floor(needed + ROUNDING).astype(np.int64)
    if (needed == book.sheets).all():
        return book.sheets
    luck = draws.uniform("yield", int(book.position.max()) + 1)[book.position]
    return whole + (luck < needed - whole - ROUNDING)


def identity(draws: Draws, order_of: Ints, number: Ints) -> Ints:
    """A sheet's number in the draws: its place among those ordered; those beyond have numbers after all of these.

    ``order_of`` is the order of each sheet, ``number`` its number in it.
    """
    ordered, first = draws.book.sheets[order_of], draws.book.first_sheet[order_of]
    round_of = number // np.maximum(ordered, 1)
    return np.asarray(round_of * draws.sheet_count + first + number - round_of * ordered, np.int64)


def numbers_drawn(draws: Draws, uid: Ints) -> int:
    """Numbers to draw for sheets of these identities."""
    return max(draws.sheet_count, int(uid.max()) + 1 if len(uid) else 0)
