"""What takes time in a plant, in one table: when it occurs in the order book, and the usual element rows for it.

The check that no time is missing, the blank plant and the field reference are made from :data:`NEEDS`. What comes with
the tables of materials (cutting, piercing), with stops.csv, upkeep.csv and quality.csv has its time in columns there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from simkit.base.vocabulary import (
    BENCH,
    CHANGEOVER,
    CUTTING,
    DRIVERS,
    FIRST_PIECE,
    FORMING,
    LOADING,
    NO_SOURCE,
    OUTSIDE,
    PUNCHING,
    UNLOADING,
)  # fmt: skip
from simkit.plant import book_counts as counts
from simkit.plant.book_counts import Count, on_sheets
from simkit.plant.tables import Element


@dataclass(frozen=True)
class UsualRow:
    """An element row to start from: its mean and range are common practice, no source."""

    element: str
    task_of: str
    unit: str
    state: str
    typical: float
    low: float
    high: float

    def cells(self, value: bool = True) -> dict[str, str]:
        """Its cells by column; without ``value`` those that only the plant knows stay empty."""
        told = {"typical": self.typical, "low": self.low, "high": self.high} if value else {}
        known = {"element": self.element, "task_of": self.task_of, "unit": self.unit, "state": self.state,
                 "law": "constant"}  # fmt: skip
        more = {"basis": "default", "source": NO_SOURCE} if value else {}
        return {**known, **{name: f"{number:g}" for name, number in told.items()}, **more}


@dataclass(frozen=True)
class TimeNeed:
    """Something that takes time: by what it is counted, the states whose rows give its time, how often it occurs.

    ``count`` is per program of the book, over all its orders; ``usual`` are rows to start from; ``everywhere``: in
    nearly every plant, so that the blank plant asks for it.
    """

    driver: str
    usual: tuple[UsualRow, ...]
    count: Count
    states: tuple[str, ...] = ()
    what: str = ""
    everywhere: bool = True

    @property
    def meaning(self) -> str:
        """What takes the time, in words."""
        return self.what or DRIVERS[self.driver]

    def answers(self, row: Element) -> bool:
        """Whether a row says how long this takes, for whomever it is."""
        return row.driver == self.driver and (not self.states or row.state in self.states)


def _need(
    count: Count,
    *rows: tuple[str, str, str, str, float, float, float],
    states: tuple[str, ...] = (),
    what: str = "",
    everywhere: bool = True,
) -> TimeNeed:
    usual = tuple(UsualRow(*row) for row in rows)
    return TimeNeed(usual[0].unit.partition("/")[2], usual, count, states, what, everywhere)


_device = partial(_need, everywhere=False)

NEEDS: tuple[TimeNeed, ...] = (
    # how often; element, who, unit, state, usual mean, low, high; states whose rows count; what it is
    _need(counts.of_orders, ("order_fixed", "changeover", "min/order", CHANGEOVER, 3, 1.5, 8),
          states=(CHANGEOVER, OUTSIDE), what="what an order takes once: its papers, its program, its booking"),
    _need(counts.first_pieces, ("first_piece", "first_piece", "min/order", FIRST_PIECE, 6, 3, 20),
          states=(FIRST_PIECE,), what="a first piece measured and released"),
    _need(counts.unproven, ("programming", "programming", "min/new_program", OUTSIDE, 12, 5, 20)),
    _need(counts.exchanges, ("tool_search", "changeover", "min/tool_load", CHANGEOVER, 1.6, 0.5, 6),
          ("tool_fit", "changeover", "min/tool_load", CHANGEOVER, 2.4, 1, 5)),
    _need(counts.die_changes, ("die_change", "changeover", "min/die_change", CHANGEOVER, 1.5, 0.7, 3)),
    _need(counts.angle_changes, ("angle_change", "changeover", "min/angle_change", CHANGEOVER, 0.3, 0.1, 1)),
    _device(counts.by_gripper(counts.exchanges),
            ("magazine_exchange", "machine", "min/magazine_exchange", CHANGEOVER, 0.75, 0.3, 2)),
    _device(counts.by_gripper(counts.die_changes),
            ("magazine_die_change", "machine", "min/magazine_die_change", CHANGEOVER, 0.6, 0.2, 1.5)),
    _device(counts.magazine_loads, ("magazine_load", "preparation", "min/magazine_load", OUTSIDE, 3, 1, 8)),
    _need(counts.material_changes, ("material_fetch", "material", "min/material_change", CHANGEOVER, 6, 3, 20)),
    _device(counts.packs, ("pack_change", "material", "min/pack_change", CHANGEOVER, 6, 3, 20)),
    _device(counts.stored_packs, ("store_load", "material", "min/store_load", OUTSIDE, 5, 2, 15)),
    _device(on_sheets("stored_sheet"), ("store_fill", "material", "s/stored_sheet", OUTSIDE, 5, 2, 15)),
    _device(counts.store_exchanges, ("store_exchange", "machine", "min/store_exchange", CHANGEOVER, 3, 1.5, 6)),
    _need(counts.set_up("nozzle", lambda book, program: book.material(program).nozzle),
          ("nozzle_change", "changeover", "min/nozzle_change", CHANGEOVER, 4, 2, 10)),
    _need(counts.set_up("width", lambda book, program: program.sheet_width_mm),
          ("clamp_change", "changeover", "min/clamp_change", CHANGEOVER, 1, 0.1, 3)),
    _need(counts.set_up("gas", lambda book, program: book.material(program).gas),
          ("gas_change", "machine", "min/gas_change", CHANGEOVER, 1, 0.3, 3)),
    _need(on_sheets("sheet"), ("load", "load", "min/sheet", LOADING, 1.9, 1, 5), states=(LOADING,),
          what="a sheet separated, put on the table and clamped"),
    _need(on_sheets("hit"), ("hit", "machine", "s/hit", PUNCHING, 0.33, 0.15, 1)),
    _need(on_sheets("forming_hit"), ("form_hit", "machine", "s/forming_hit", FORMING, 1.5, 0.8, 5)),
    _need(on_sheets("tool"), ("index", "machine", "s/tool", PUNCHING, 2.2, 0.5, 6)),
    _device(counts.engagements, ("die_rise", "machine", "s/engagement", PUNCHING, 0.3, 0.2, 0.5)),
    _need(on_sheets("reposition"), ("reposition", "machine", "s/reposition", PUNCHING, 6, 3, 15)),
    _need(on_sheets("mode_change"), ("mode_change", "machine", "s/mode_change", CUTTING, 5, 2, 12)),
    _need(on_sheets("contour"), ("contour_move", "machine", "s/contour", CUTTING, 1.2, 0.5, 3)),
    _need(counts.pulled_out, ("pull_out", "unload", "min/sheet", UNLOADING, 1.3, 0.6, 3), states=(UNLOADING,),
          what="a sheet with its parts pulled out of the machine"),
    _need(on_sheets("part"), ("break_out", "bench", "s/part", BENCH, 6.5, 3, 20),
          ("deburr", "bench", "s/part", BENCH, 4, 2, 15), ("sort", "bench", "s/part", BENCH, 3, 1, 8),
          states=(BENCH,), what="a part broken out, deburred and sorted at the bench"),
    _need(on_sheets("tab"), ("micro_joint", "bench", "s/tab", BENCH, 0, 0, 2),
          what="a micro-joint (0 where the time of a part holds it)"),
    _device(counts.kilograms, ("heavy_part", "bench", "s/kg", BENCH, 1, 0, 3)),
    _device(on_sheets("pick"), ("pick", "machine", "s/pick", UNLOADING, 9, 6, 20), states=(UNLOADING,)),
    _device(on_sheets("pick_blocking"), ("pick_blocking", "machine", "s/pick_blocking", UNLOADING, 3, 0, 9),
            states=(UNLOADING,)),
    _device(on_sheets("chute_part"), ("chute_sort", "bench", "s/chute_part", BENCH, 3, 1, 8)),
    _device(on_sheets("skeleton"), ("skeleton_out", "machine", "min/skeleton", UNLOADING, 0.6, 0.3, 1.5),
            states=(UNLOADING,)),
    _device(counts.skeletons_by_hand, ("skeleton_by_hand", "bench", "min/sheet", BENCH, 1.5, 0.5, 4), states=(BENCH,),
            what="a skeleton carried off, cut, folded and binned by hand, where a device takes time for its own"),
    _device(on_sheets("remnant"), ("remnant", "bench", "min/remnant", BENCH, 2, 1, 5)),
    _device(counts.entries, ("cell_entry", "first_piece", "min/cell_entry", FIRST_PIECE, 4, 2, 8)),
    _device(counts.stacks, ("stack_exchange", "pallet", "min/stack_exchange", OUTSIDE, 3, 1, 8)),
    _device(counts.skeleton_pallets, ("skeleton_exchange", "pallet", "min/skeleton_exchange", OUTSIDE, 3, 1, 8)),
    _need(counts.regrinds, ("regrind", "preparation", "min/regrind", OUTSIDE, 10, 1, 25)),
)  # fmt: skip
"""All that takes time and is counted by element rows; the order is that of the blank plant."""
