"""Why parts cannot be picked, by parts, sheets and bench hours, and which limit of the device holds back the most."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.plant.part_ways import why_not
from simkit.plant.plant import Plant
from simkit.plant.tables import Program, ProgramPart

PICKED = ""
"""The reason of parts that can be picked."""

MOST_OF = 0.8
"""Share of the parts held back by a limit for which the value is told that would let them through."""

LIMITS: Mapping[str, tuple[str, str, float]] = {
    "max_mass_kg": ("heaviest part", "kg", 1e9), "min_side_mm": ("shortest side", "mm", 0.0),
    "max_side_mm": ("longest side", "mm", 1e9), "max_form_height_mm": ("forms lower than", "mm", 1e9),
    "min_flat_area_mm2": ("flat area", "mm2", 0.0), "min_clear_circle_mm": ("circle free of holes", "mm", 0.0),
    "takes_sensitive": ("sensitive surfaces", "", 1.0), "max_removed_share": ("share taken out of a sheet", "1", 1.0),
}  # fmt: skip
"""Limits of ``plant.removal``: what each says, its unit, and its value when it limits nothing."""


@dataclass(frozen=True)
class ReasonRow:
    """Parts of the order book with one reason: pieces, sheets that hold some, and hours of bench work on them."""

    reason: str
    parts: int
    sheets: int
    bench_h: float


@dataclass(frozen=True)
class LimitGain:
    """What a limit alone holds back: parts and whole sheets of the book, and bench hours on these parts.

    ``value`` is the limit in force; ``enough`` the one that would let :data:`MOST_OF` of those parts through, None
    where the limit is no size of a part.
    """

    limit: str
    value: float
    parts: int
    sheets: int
    bench_h: float
    enough: float | None


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


def limit_gains(plant: Plant, bench_s: Mapping[str, float]) -> tuple[LimitGain, ...]:
    """What each limit alone holds back, the most parts first; limits that hold nothing back are left out."""
    batches = list(_batches(plant, bench_s))
    before, _ = whole_sheets(plant)
    gains = (_gain(plant, limit, batches, before) for limit in LIMITS)
    return tuple(sorted((gain for gain in gains if gain.parts), key=lambda gain: -gain.parts))


def _gain(plant: Plant, limit: str, batches: list[_Batch], whole_before: int) -> LimitGain:
    free = _with_limit(plant, limit, LIMITS[limit][2])
    freed = [b for b in batches if why_not(plant, b.program, b.part) and not why_not(free, b.program, b.part)]
    sheets = whole_sheets(free)[0] - whole_before
    value = float(getattr(plant.settings.removal, limit))
    return LimitGain(
        limit, value, sum(b.parts for b in freed), sheets, sum(b.bench_h for b in freed), _enough(limit, freed)
    )


def _with_limit(plant: Plant, limit: str, value: float) -> Plant:
    removal = plant.settings.removal.model_copy(update={limit: bool(value) if limit == "takes_sensitive" else value})
    return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"removal": removal}))


def _enough(limit: str, freed: list[_Batch]) -> float | None:
    """The value that lets most of the freed parts through."""
    if not freed or limit in ("max_removed_share", "takes_sensitive"):
        return None
    sizes = np.repeat([_size(limit, batch.part) for batch in freed], [batch.parts for batch in freed])
    share = MOST_OF if limit.startswith("max") else 1 - MOST_OF
    return float(np.quantile(sizes, share, method="higher" if limit.startswith("max") else "lower"))


def _size(limit: str, part: Any) -> float:
    sides = (part.length_mm, part.width_mm)
    sizes = {
        "max_mass_kg": part.mass_kg, "min_side_mm": min(sides), "max_side_mm": max(sides),
        "max_form_height_mm": part.form_height_mm, "min_flat_area_mm2": part.flat_area_mm2,
        "min_clear_circle_mm": part.clear_circle_mm,
    }  # fmt: skip
    return float(sizes[limit])


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
