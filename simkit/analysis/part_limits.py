"""Why parts cannot be picked, by parts, sheets and bench hours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from simkit.base.units import SECONDS_PER_HOUR
from simkit.plant.part_ways import why_not
from simkit.plant.plant import Plant
from simkit.plant.tables import Program, ProgramPart

PICKED = ""
"""The reason of parts that can be picked."""


@dataclass(frozen=True)
class ReasonRow:
    """Parts of the order book with one reason: pieces, sheets that hold some, and hours of bench work on them."""

    reason: str
    parts: int
    sheets: int
    bench_h: float


@dataclass(frozen=True)
class _Batch:
    """A kind of part in all orders of a program: sheets, pieces, and bench hours on them as today."""

    program: Program
    part: ProgramPart
    sheets: int
    parts: int
    bench_h: float


def reason_rows(plant: Plant, bench_s: Mapping[str, float]) -> tuple[ReasonRow, ...]:
    """Parts of the book by why the device cannot pick them, the most first; ``bench_s`` is seconds of today's bench
    work on a sheet, by program, which is split evenly over its parts. Asked with the limits of ``plant``."""
    batches = list(_batches(plant, bench_s))
    found: dict[str, list[_Batch]] = {}
    for batch in batches:
        found.setdefault(why_not(plant, batch.program, batch.part), []).append(batch)
    rows = (ReasonRow(why, sum(b.parts for b in own), _sheets(own), sum(b.bench_h for b in own))
            for why, own in found.items())  # fmt: skip
    return tuple(sorted(rows, key=lambda row: -row.parts))


def whole_sheets(plant: Plant) -> tuple[int, int]:
    """Sheets of the book all of whose parts can be picked, and all sheets."""
    sheets = _by_program(plant)
    whole = sum(
        count for name, count in sheets.items()
        if plant.parts_of.get(name) and all(not why_not(plant, plant.program_by_id[name], part)
                                            for part in plant.parts_of[name])
    )  # fmt: skip
    return whole, sum(sheets.values())


def _batches(plant: Plant, bench_s: Mapping[str, float]) -> Iterator[_Batch]:
    for name, sheets in _by_program(plant).items():
        parts = plant.parts_of.get(name, ())
        every = sum(part.per_sheet for part in parts)
        for part in parts:
            bench_h = sheets * bench_s.get(name, 0.0) * part.per_sheet / every / SECONDS_PER_HOUR
            yield _Batch(plant.program_by_id[name], part, sheets, sheets * part.per_sheet, bench_h)


def _by_program(plant: Plant) -> dict[str, int]:
    sheets: dict[str, int] = {}
    for order in plant.orders:
        sheets[order.program_id] = sheets.get(order.program_id, 0) + order.sheets
    return sheets


def _sheets(batches: list[_Batch]) -> int:
    return sum({batch.program.program_id: batch.sheets for batch in batches}.values())
