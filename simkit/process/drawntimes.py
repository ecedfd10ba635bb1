"""Times of sheets, of orders and of what orders need at the turret, drawn in bulk: seconds on the time grid.

The luck of each is keyed by its number in the draws, so the same sheet meets the same luck in every scenario.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.arrays import Floats, Ints
from simkit.base.units import SECONDS_PER_MINUTE, on_grid
from simkit.base.vocabulary import (
    BENCH,
    CHANGEOVER,
    CUTTING,
    EXCHANGES,
    FIRST_PIECE,
    FORMING,
    LOADING,
    OUTSIDE,
    PUNCHING,
    UNLOADING,
)
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_parts import Removal
from simkit.process.draws import Draws
from simkit.process.elements import ElementUse
from simkit.process.programs import BY_DEVICE, SHEET_DRIVERS, ProgramTables, run_stages
from simkit.process.wrongloads import WrongLoad, risky_exchanges, struck_faults

CHANGE_DRIVERS = ("material_change", "nozzle_change", "clamp_change", "gas_change", "pack_change")
PALLET_DRIVERS = ("stack_exchange", "skeleton_exchange")
ONCE = (*CHANGE_DRIVERS, *PALLET_DRIVERS, "store_exchange", "cell_entry", "engagement")
"""Drivers whose times an order has apart, one occurrence each."""
ASIDE = ("material_change", "store_load")
"""Those whose moved work is not the order's as a whole."""
NOT_BY_ORDER = (*EXCHANGES, "process", "regrind", "magazine_load")


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
class Times:
    """Seconds of what happens once to each order or to each tool need, by kind; one entry for each.

    ``seconds`` are those at the machine, ``helped`` what a second person takes over of them; ``outside_s`` is moved
    work, by kind and then by task. For kinds of orders see :func:`order_times`, of needs ``vocabulary.EXCHANGES``.
    """

    seconds: dict[str, Floats]
    helped: dict[str, Floats]
    outside_s: dict[str, dict[str, Floats]]

    def add(self, kind: str, use: ElementUse, value: Floats, *, outside: bool) -> None:
        """Add what a row brings, while the times are made."""
        if outside:
            by_task = self.outside_s.setdefault(kind, {})
            by_task[use.task_of] = by_task.get(use.task_of, np.zeros(len(value))) + value
        else:
            self.seconds[kind] = self.seconds[kind] + value
            self.helped[kind] = self.helped[kind] + value * use.helped

    def on_grid(self) -> Times:
        """The times on the time grid, once all is added."""
        outside = {kind: _rounded(by_task) for kind, by_task in self.outside_s.items()}
        return Times(_rounded(self.seconds), _rounded(self.helped), outside)


def _rounded(seconds: dict[str, Floats]) -> dict[str, Floats]:
    return {name: on_grid(value) for name, value in seconds.items()}


def _no_times(kinds: Iterable[str], size: int, aside: Iterable[str] = ()) -> Times:
    seconds, helped = ({kind: np.zeros(size) for kind in kinds} for _ in range(2))
    return Times(seconds, helped, {kind: {} for kind in aside})


@dataclass(frozen=True)
class NeedTimes(Times):
    """Per order and tool need: seconds of each kind of exchange, and what may go wrong at it.

    The needs of an order stand from ``first`` of it on. ``struck`` holds, by kind of exchange and need, the fault that
    strikes if that exchange is done, ``risky`` the rows of load_faults.csv by which it may go wrong; both are empty
    where none can.
    """

    first: Ints
    struck: dict[str, dict[int, WrongLoad]]
    risky: dict[str, tuple[tuple[int, ...], ...]]


def _drawn_s(use: ElementUse, draws: Draws, uid: Ints, total: int) -> Any:
    """Seconds of one occurrence per entity: the mean where nothing varies, else the drawn value."""
    return use.law.mean if use.law.is_constant else draws.drawn(f"element:{use.name}", total, use.law)[uid]


def sheet_times(plant: PlantInputs, tables: ProgramTables, draws: Draws, program: Ints, uid: Ints) -> SheetTimes:
    """Times of every sheet."""
    total = numbers_drawn(draws, uid)
    stages = (PUNCHING, FORMING, LOADING, UNLOADING, BENCH, *BY_DEVICE)
    stage = {name: np.zeros(len(uid)) for name in stages} | {CUTTING: tables.cut_base_s[program]}
    ratio = np.ones(len(uid))
    for use in tables.uses:
        name = use.driver if use.driver in BY_DEVICE and use.state == UNLOADING else use.state
        if use.driver == "process":
            ratio = np.where(use.count[program] > 0, _drawn_s(use, draws, uid, total), ratio)
        elif use.driver in SHEET_DRIVERS and name in stage:
            stage[name] = stage[name] + use.count[program] * _drawn_s(use, draws, uid, total)
    return _on_grid(plant, tables, program, uid, stage, ratio)


def _rework_s(plant: PlantInputs, tables: ProgramTables) -> Floats:
    """Expected rework seconds per sheet at the bench (share of parts times minutes, for those not scrapped)."""
    seconds = np.zeros(len(tables.programs))
    for cause, parts in zip(plant.quality, tables.at_risk, strict=True):
        seconds += cause.rate * (1 - cause.scrap_share) * parts * cause.rework_min * SECONDS_PER_MINUTE
    return seconds


def _on_grid(
    plant: PlantInputs, tables: ProgramTables, program: Ints, uid: Ints, stage: dict[str, Floats], ratio: Floats
) -> SheetTimes:
    """Round each stage once; the run is the exact sum of its rounded stages.

    A sheet whose parts all left by device or chute leaves only its skeleton: nothing is pulled to the bench.
    """
    measured, losses = tables.measured_run_s[program], tables.other_losses
    stretched = run_stages(stage[PUNCHING], stage[FORMING], stage[CUTTING], measured, ratio, losses)
    punch, form, cut = (on_grid(seconds) for seconds in stretched)
    process = punch + form + cut
    picked = np.array([flow.places_picked for flow in tables.flows], np.int64)[program]
    reclamps = np.array([row.repositions for row in tables.programs], np.int64)[program]
    stands = sheet_time_s(process, stage["pick"], stage["pick_blocking"], picked, reclamps, plant.settings.removal)
    tail = on_grid(np.maximum(stands - process, 0.0))
    skeleton = np.array([flow.leaves_skeleton for flow in tables.flows], bool)[program]
    unload_s = np.where(skeleton, stage["skeleton"], stage[UNLOADING])
    return SheetTimes(
        program=program, uid=uid, load_s=on_grid(stage[LOADING]), punch_s=punch, form_s=form, cut_s=cut,
        tail_s=tail, run_s=process + tail, unload_s=on_grid(unload_s), bench_s=on_grid(stage[BENCH]),
        rework_s=on_grid(_rework_s(plant, tables)[program]),
    )  # fmt: skip


def sheet_time_s(
    process_s: ArrayLike, picks_s: ArrayLike, blocking_s: ArrayLike, picked: ArrayLike, reclamps: ArrayLike,
    limits: Removal,
) -> Floats:  # fmt: skip
    """Seconds of a sheet from its first stroke until its last part is out, one entry per sheet.

    While the picker works the machine goes on, but for the part of each pick during which the sheet must stand still;
    and a sheet stays until its picks are done. Before a re-clamp all parts that were cut so far must be out, so the
    time is summed over the stretches between re-clamps, over which process and parts are split evenly, parts as whole
    ones.

    ``picks_s`` and ``blocking_s`` are the sums over its ``picked`` parts of the whole cycle and of the share that holds
    the sheet still; ``reclamps`` counts its re-clamps. Each stretch takes its process and blocking time, and never
    less than its picks: shared by all pickers, or, where each has a zone of its own, those of the fuller zone. Source:
    rules of the cell; closed form worked by hand.
    """
    process, picks, blocking = (np.asarray(each, float) for each in (process_s, picks_s, blocking_s))
    number = np.maximum(np.asarray(picked, np.int64), 1)
    stretches = np.asarray(reclamps, np.int64) * limits.out_before_reclamp + 1
    fewer, longer = number // stretches, number % stretches

    def stretch_s(parts: NDArray[np.int64]) -> Floats:
        share = parts / number
        seconds: Floats = np.maximum(process / stretches + blocking * share, picks * (_cycles(parts, limits) / number))
        return seconds

    total: Floats = longer * stretch_s(fewer + 1) + (stretches - longer) * stretch_s(fewer)
    return total


def _cycles(parts: NDArray[np.int64], limits: Removal) -> Floats:
    """Picks that follow one another where so many parts are picked: shared evenly, or those of the fuller zone."""
    pickers = max(limits.pickers, 1)
    return parts / pickers if limits.pickers_share else np.ceil(parts / pickers)


def order_times(tables: ProgramTables, draws: Draws, program: Ints, sheets: Ints) -> Times:
    """Times of every order, by the drivers of :data:`ONCE`, by ``first_piece``, and ``fixed`` and ``fixed_machine``:
    what else happens once an order at the machine, by somebody and without anybody.

    Moved work is by ``order``, that of the order as a whole, and by the drivers of :data:`ASIDE`.
    """
    times = _no_times((*ONCE, FIRST_PIECE, "fixed", "fixed_machine"), len(program), ("order", *ASIDE))
    positions = draws.book.position
    total = int(positions.max()) + 1 if len(positions) else 0
    unproven = np.array([float(not row.proven) for row in tables.programs])[program]
    for use in tables.uses:
        kind = _kind_of_order(use)
        if kind:
            count: Floats = np.asarray(use.count[program] > 0, float)
            if use.driver in SHEET_DRIVERS:
                count = use.count[program] * sheets
            elif use.driver == "new_program":
                count = count * unproven
            value = count * _drawn_s(use, draws, positions, total)
            times.add(kind, use, value, outside=use.state == OUTSIDE and kind not in PALLET_DRIVERS)
    return times.on_grid()


def _kind_of_order(use: ElementUse) -> str:
    """Where a time of an order goes; nowhere for one of sheets, of tool needs, or not of an order."""
    if use.driver in NOT_BY_ORDER or (use.driver in SHEET_DRIVERS and use.state != OUTSIDE):
        return ""
    if use.state == OUTSIDE and use.driver not in PALLET_DRIVERS:
        return use.driver if use.driver in ASIDE else "order"
    if use.driver in ONCE or use.state == FIRST_PIECE:
        return use.driver if use.driver in ONCE else FIRST_PIECE
    if use.state == CHANGEOVER:
        return "fixed" if use.by_person else "fixed_machine"
    return ""


def need_times(plant: PlantInputs, tables: ProgramTables, draws: Draws, program: Ints) -> NeedTimes:
    """Times of every exchange that an order may need, and what may go wrong at it."""
    counts = np.diff(tables.first_need)[program]
    first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    order_of = np.repeat(np.arange(len(program)), counts)
    place = np.arange(first[-1]) - first[order_of]
    uid = (draws.book.first_need[order_of] + place).astype(np.int64)
    row = tables.first_need[program[order_of]] + place
    times = _no_times(EXCHANGES, len(uid))
    for use in tables.uses:
        if use.driver in EXCHANGES:
            value = use.per_need[row] * _drawn_s(use, draws, uid, draws.need_count)
            times.add(use.driver, use, value, outside=use.state == OUTSIDE)
    struck = struck_faults(plant, tables, draws, row, uid) if plant.load_faults else {}
    risky = risky_exchanges(plant, tables, row)
    return NeedTimes(**vars(times.on_grid()), first=first, struck=struck, risky=risky)


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
