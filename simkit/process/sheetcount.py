"""How many sheets an order takes in a scenario, and which luck each of them meets."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simkit.process.draws import Draws
from simkit.process.programs import ProgramTables

Ints = NDArray[np.int64]

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
