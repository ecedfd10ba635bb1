"""Which parts cannot be picked and why, and the inputs that may decide whether removal pays, each tried alone.

Removal and hand stand on equal terms: what people take by hand is tried today as well as with removal, and removal is
compared with today at the same value.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import BENCH, FIRST_PIECE, UNLOADING
from simkit.plant.checks_times import missing_times
from simkit.plant.conditions import split_unit
from simkit.plant.part_ways import why_not
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element

HALF, TWICE = 0.5, 2.0
"""What an input without a range of its own is multiplied by: common practice, no source."""

MOST_LOST = 0.9
"""Share of parts that are lost at most, so that some are left."""

Changes = Mapping[str, Any]


@dataclass(frozen=True)
class RemovalInput:
    """An input, its values in words, and the changes of the plant that set them; None where it has no such value.

    ``today``: the changes reach today too, since people do it by hand.
    """

    name: str
    low: str
    typical: str
    high: str
    at_low: Changes | None
    at_high: Changes | None
    today: bool = False


_BY_ROW = (
    ("Entry into the guarded cell", ("cell_entry",), FIRST_PIECE, False),
    ("A pick", ("pick", "pick_blocking"), UNLOADING, False),
    ("Skeleton by the device", ("skeleton",), UNLOADING, False),
    ("Skeleton by hand", ("sheet",), BENCH, True),
)  # fmt: skip
"""What is timed by rows of elements with ranges of their own: drivers and state of the rows, and whether by hand."""


def removal_inputs(removal: PlantInputs) -> tuple[RemovalInput, ...]:
    """Inputs of a plant with part removal that it has; empty without a device."""
    if not removal.settings.removal.pickers:
        return ()
    return tuple(_inputs(removal))


def _inputs(plant: PlantInputs) -> Iterator[RemovalInput]:
    for name, drivers, state, today in _BY_ROW:
        rows = [row for row in plant.elements if split_unit(row.unit)[1] in drivers and row.state == state]
        if rows:
            yield _timed(name, rows, today)
    by_hand = [row for row in plant.elements if split_unit(row.unit)[1] in ("part", "tab", "kg") and row.state == BENCH]
    if by_hand:
        names = [row.element for row in by_hand]
        yield RemovalInput(
            "Breaking out by hand", "half as long", "as told", "twice as long",
            *_both(lambda factor: {f"elements[{name}].typical*": factor for name in names}), today=True,
        )  # fmt: skip
    fails = {stop.cause: stop.rate for stop in plant.stops if stop.exposure == "pick" and stop.rate > 0}
    if fails:
        yield RemovalInput(
            "Failed picks", *_percents(sum(fails.values()), "picks"),
            *_both(lambda factor: {f"stops[{cause}].rate*": factor for cause in fails}),
        )  # fmt: skip
    removal = plant.settings.removal
    if removal.yield_loss:
        yield RemovalInput(
            "Yield lost to gaps", *_percents(removal.yield_loss, "parts"),
            *_both(lambda factor: {"plant.removal.yield_loss": min(factor * removal.yield_loss, MOST_LOST)}),
        )  # fmt: skip
    told = "yes" if removal.sample_drawer else "no"
    yield RemovalInput("Sample drawer, at no price", "", told, "no" if removal.sample_drawer else "yes", None,
                       {"plant.removal.sample_drawer": not removal.sample_drawer})  # fmt: skip
    if any(program.handover == "removal" for program in plant.programs) and _can_drop(plant):
        yield RemovalInput("Parts it cannot grip", "", "to the bench", "down the chute", None,
                           {"programs[handover=removal].handover": "mixed"})  # fmt: skip


def _can_drop(plant: PlantInputs) -> bool:
    """Whether times are known for all that is to be done once ungripped parts go down the chute."""
    programs = [
        dataclasses.replace(program, handover="mixed") if program.handover == "removal" else program
        for program in plant.programs
    ]
    return not any(missing_times(dataclasses.replace(plant, programs=tuple(programs))))


def _both(changes: Callable[[float], Changes]) -> tuple[Changes, Changes]:
    """Changes at half and at twice."""
    return changes(HALF), changes(TWICE)


def _percents(share: float, of: str) -> tuple[str, str, str]:
    """Half of a share, the share and twice of it, in words."""
    return f"{50 * share:.3g} % of {of}", f"{100 * share:.3g} % of {of}", f"{200 * share:.3g} % of {of}"


def _timed(name: str, rows: list[Element], today: bool) -> RemovalInput:
    lows = {row.element: HALF * row.typical if row.low is None else row.low for row in rows}
    highs = {row.element: TWICE * row.typical if row.high is None else row.high for row in rows}
    first = rows[0]
    unit = first.unit.partition("/")[0]
    low, high = ({f"elements[{element}].typical": value for element, value in each.items()} for each in (lows, highs))
    least, most = lows[first.element], highs[first.element]
    return RemovalInput(
        name, f"{least:.3g} {unit}", f"{first.typical:.3g} {unit}", f"{most:.3g} {unit}", low, high, today
    )


# ---- parts that cannot be picked ----


PICKED = ""
"""The reason of parts that can be picked."""


@dataclass(frozen=True)
class ReasonRow:
    """Parts of the order book with one reason: pieces, sheets that hold some, and hours of bench work on them."""

    reason: str
    parts: int
    sheets: int
    bench_h: float


def reason_rows(plant: PlantInputs, bench_s: Mapping[str, float]) -> tuple[ReasonRow, ...]:
    """Parts of the book by why the device cannot pick them, the most first; ``bench_s`` is seconds of today's bench
    work on a sheet, by program, which is split evenly over its parts. Asked with the limits of ``plant``."""
    found: dict[str, list[tuple[str, int, float]]] = {}
    for name, sheets in plant.sheets_of.items():
        parts = plant.parts_of.get(name, ())
        every = sum(part.per_sheet for part in parts)
        for part in parts:
            bench_h = sheets * bench_s.get(name, 0.0) * part.per_sheet / every / SECONDS_PER_HOUR
            why = why_not(plant, plant.program_by_id[name], part)
            found.setdefault(why, []).append((name, sheets * part.per_sheet, bench_h))
    rows = []
    for why, own in found.items():
        sheets = sum(plant.sheets_of[name] for name in {name for name, *_ in own})
        rows.append(ReasonRow(why, sum(count for _, count, _ in own), sheets, sum(hours for *_, hours in own)))
    return tuple(sorted(rows, key=lambda row: -row.parts))


def whole_sheets(plant: PlantInputs) -> tuple[int, int]:
    """Sheets of the book all of whose parts can be picked, and all sheets."""
    sheets = plant.sheets_of
    whole = sum(
        count for name, count in sheets.items()
        if plant.parts_of.get(name) and all(not why_not(plant, plant.program_by_id[name], part)
                                            for part in plant.parts_of[name])
    )  # fmt: skip
    return whole, sum(sheets.values())
