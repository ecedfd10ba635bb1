"""Tools loaded wrongly: which exchange of which tool need goes wrong, and how, by the luck of (order, tool).

A tool that comes back from grinding is one more such moment: its die is not shimmed, its length is not corrected.

Each row of load_faults.csv has its own uniform number per tool need, the same for every way of exchange and every
scenario. Rows are tried in the order of the file; a row strikes with its rate over the share that the rows before it
left, so that each strikes exactly with its rate. Less of any rate strikes a subset of the exchanges.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import compress

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats, Ints
from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_MINUTE, on_grid_s
from simkit.base.vocabulary import FAULT_MOMENTS
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import LoadFault
from simkit.process.draws import Draws
from simkit.process.programs import ProgramTables

NONE = -1


@dataclass(frozen=True, slots=True)
class WrongLoad:
    """A wrongly loaded tool, if the exchange is done: how it is found and what it costs to put right.

    ``row`` is its row in load_faults.csv, ``need`` the tool need (its place in NeedTimes). ``breaks``: the tool breaks
    at its first hit, which finds the fault. Else it is found when a first piece is measured (``at_first_piece``), or
    after ``after_sheets`` sheets (1 or more). ``repair_s`` are seconds on the time grid.
    """

    row: int
    need: int
    breaks: bool
    at_first_piece: bool
    after_sheets: int
    repair_s: float


def struck_faults(
    plant: PlantInputs, tables: ProgramTables, draws: Draws, need_row: Ints, uid: Ints
) -> dict[str, dict[int, WrongLoad]]:
    """Return, by kind of exchange and tool need, the fault that strikes if that exchange is done.

    ``need_row`` says, per tool need of the orders, which need of ``tables`` it is; ``uid`` its number in the draws.
    Kinds without any fault are left out: with rates of 0 nothing is drawn and the result is empty.
    """
    found: dict[str, dict[int, WrongLoad]] = {}
    for kind in FAULT_MOMENTS:
        struck = _struck_row(plant, tables, draws, need_row, uid, kind)
        needs = np.flatnonzero(struck != NONE)
        if len(needs):
            found[kind] = {}
        for row in np.unique(struck[needs]).tolist():
            hit = np.flatnonzero(struck == row)
            found[kind].update((fault.need, fault) for fault in _faults(plant.load_faults[row], row, draws, hit, uid))
    return found


def risky_exchanges(
    plant: PlantInputs, tables: ProgramTables, need_row: Ints
) -> dict[str, tuple[tuple[int, ...], ...]]:
    """Return, by kind of exchange that can go wrong, the rows of load_faults.csv that may strike each tool need.

    A row strikes with its rate, whatever the other rows of the file are.
    """
    found: dict[str, tuple[tuple[int, ...], ...]] = {}
    for kind in FAULT_MOMENTS:
        rows = [row for row, fault in enumerate(plant.load_faults) if kind in fault.exchanges and fault.rate > 0]
        if rows:
            strikes = zip(*(tables.may_strike[row].tolist() for row in rows), strict=True)
            of_program = [tuple(compress(rows, need)) for need in strikes]
            found[kind] = tuple(of_program[need] for need in need_row.tolist())
    return found


def _struck_row(
    plant: PlantInputs, tables: ProgramTables, draws: Draws, need_row: Ints, uid: Ints, kind: str
) -> NDArray[np.int64]:
    """Per tool need the row that strikes at an exchange of this kind, :data:`NONE` where all goes well."""
    struck = np.full(len(uid), NONE, np.int64)
    left = np.ones(len(uid))
    for row, fault in enumerate(plant.load_faults):
        if kind in fault.exchanges and fault.rate > 0:
            rate = fault.rate * tables.may_strike[row][need_row]
            bad = _luck(draws, fault, "strikes", uid) * left < rate
            struck[bad & (struck == NONE)] = row
            left = left - rate
    return struck


def _luck(draws: Draws, fault: LoadFault, what: str, uid: Ints) -> Floats:
    """Uniform numbers of one aspect of a fault, by tool need."""
    return draws.uniform(f"fault:{fault.fault}:{fault.applies_to}:{what}", draws.need_count)[uid]


def _faults(fault: LoadFault, row: int, draws: Draws, needs: Ints, uid: Ints) -> Iterator[WrongLoad]:
    """How each of these needs goes wrong, when it does."""
    breaks, early, late, repair = (
        _luck(draws, fault, what, uid[needs]) for what in ("breaks", "first piece", "sheets", "repair")
    )
    law = Law(fault.repair_law, fault.repair_min * SECONDS_PER_MINUTE, fault.repair_cv)
    after = sheets_until_found(late, fault.found_after_sheets)
    for at, repair_s in enumerate(law.draw(repair).tolist()):
        broken = bool(breaks[at] < fault.break_share)
        first = not broken and bool(early[at] < fault.found_first_piece)
        yield WrongLoad(row, int(needs[at]), broken, first, int(after[at]), on_grid_s(repair_s))


def sheets_until_found(uniforms: Floats, mean_sheets: float) -> Ints:
    """Sheets made until somebody sees a fault: 1, 2, ... by the geometric law with this mean (1 or more).

    Each sheet looked at shows the fault with chance 1 / mean. By the inverse distribution function, textbook
    standard (from memory): n = 1 + floor(ln(1 - u) / ln(1 - 1 / mean)).
    """
    if mean_sheets <= 1.0:
        return np.ones(len(uniforms), np.int64)
    missed = np.floor(np.log1p(-uniforms) / np.log1p(-1.0 / mean_sheets))
    return np.asarray(1 + missed, np.int64)
