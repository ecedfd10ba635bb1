"""The order book and its programs, drawn by the rules of the description.

Where the description leaves the order of drawing open, this is the reading taken: an order is drawn
after the other, its fields in the order of the text (sheets, release, lead, repeat), and for a new
program its material, parts per sheet, hits and cut length follow on the same stream. Which tools a
program uses (their number, then the side ratio of the part, then the tools) is the stream of use.
Parts per sheet are the whole part of the triangular draw.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from facts import (
    FAMILIES,
    FAMILY_LIKING,
    GROWTH,
    POPULARITY_POWER,
    REPEAT_SHARE,
    RUSH_SHARE,
    SEED,
    STREAMS,
    TOOLS,
    WEEKDAY_WEIGHTS,
    Family,
)

Streams = Mapping[str, np.random.Generator]

FORMING_SHARE = 0.05
"""A forming tool's weight in the split of a part's hits, a cutting tool has 1: forms are few."""


@dataclass(frozen=True)
class DrawnProgram:
    """A program as drawn: tools by row, hits per part by tool, one kind of part."""

    number: int
    family: str
    material: str
    parts: int
    tools: tuple[int, ...]
    hits: tuple[int, ...]
    cut_mm: float
    side_ratio: float
    proven: bool


@dataclass(frozen=True)
class DrawnOrder:
    """An order as drawn; ``day`` counts from 0, the first Monday."""

    program: int
    sheets: int
    day: int
    lead: int
    rush: bool


@dataclass
class _Sketch:
    family: str
    material: str
    parts: int
    part_hits: float
    cut_mm: float
    side_ratio: float
    tools: tuple[int, ...]
    proven: bool = False


def make_streams() -> dict[str, np.random.Generator]:
    """Return the named random streams."""
    children = np.random.SeedSequence(SEED).spawn(len(STREAMS))
    return {name: np.random.default_rng(child) for name, child in zip(STREAMS, children, strict=True)}


@dataclass(frozen=True)
class Book:
    """Programs in order of first use; orders of the description and orders of the growth, each by release."""

    programs: list[DrawnProgram]
    described: list[DrawnOrder]
    growth: list[DrawnOrder]

    @property
    def orders(self) -> list[DrawnOrder]:
        """All orders, those of the description first: their numbers stay as they were."""
        return [*self.described, *self.growth]


def draw_book(streams: Streams) -> Book:
    """Draw the book of the description, then, on a stream of its own, the orders by which the firm has grown.

    Those repeat proven programs only, so that no program of the description changes.
    """
    sketches: list[_Sketch] = []
    earlier: dict[str, list[int]] = {name: [] for name in FAMILIES}
    counts = {name: family.orders for name, family in FAMILIES.items()}
    described = _draw_orders(counts, sketches, earlier, streams["orders"], streams["use"])
    programs = [_finished(number, sketch, streams["use"]) for number, sketch in enumerate(sketches)]
    proven = {name: [program for program in known if sketches[program].proven] for name, known in earlier.items()}
    more = {name: round(GROWTH * count) for name, count in counts.items()}
    growth = _draw_orders(more, sketches, proven, streams["more"], streams["more"])
    added = list(enumerate(sketches))[len(programs) :]
    programs += [_finished(number, sketch, streams["more"]) for number, sketch in added]
    return Book(programs, described, growth)


def _draw_orders(
    counts: Mapping[str, int], sketches: list[_Sketch], earlier: dict[str, list[int]],
    rng: np.random.Generator, use: np.random.Generator,
) -> list[DrawnOrder]:  # fmt: skip
    """Draw so many orders of each family, in the order of their release; new programs are added to the sketches."""
    families = [name for name, count in counts.items() for _ in range(count)]
    rng.shuffle(families)
    orders: list[DrawnOrder] = []
    for name in families:
        known = earlier[name]
        sheets = int(np.clip(np.ceil(rng.lognormal(np.log(4.2), 0.85)), 1, 40))
        day = _release_day(rng)
        rush, lead = _lead(rng)
        if rng.random() < REPEAT_SHARE and known:
            program = known[int(rng.random() * len(known))]
            sketches[program].proven = True
        else:
            program = len(sketches)
            sketches.append(_sketch(name, FAMILIES[name], rng, use))
        known.append(program)
        orders.append(DrawnOrder(program, sheets, day, lead, rush))
    orders.sort(key=lambda order: order.day)
    return orders


def _release_day(rng: np.random.Generator) -> int:
    week = int(rng.integers(1, 5))
    weights = np.array(WEEKDAY_WEIGHTS)
    return (week - 1) * 7 + int(rng.choice(5, p=weights / weights.sum()))


def _lead(rng: np.random.Generator) -> tuple[bool, int]:
    """Return whether the order is a rush order, and its lead time in working days."""
    if rng.random() < RUSH_SHARE:
        return True, int(rng.integers(1, 3))
    return False, int(np.clip(np.round(rng.lognormal(np.log(6), 0.45)), 2, 20))


def _sketch(name: str, family: Family, rng: np.random.Generator, use: np.random.Generator) -> _Sketch:
    material = str(rng.choice(list(family.materials), p=list(family.materials.values())))
    parts = max(1, int(rng.triangular(*family.parts_per_sheet)))
    part_hits = float(rng.lognormal(np.log(family.hits_per_part), 0.5))
    cut_mm = float(rng.lognormal(np.log(family.cut_mm_per_part), 0.4))
    count = int(np.clip(1 + use.poisson(family.tools - 1), 2, 16))
    side_ratio = float(use.uniform(1, 3))
    weights = np.array([t.weight**POPULARITY_POWER * (FAMILY_LIKING if t.shape in family.likes else 1) for t in TOOLS])
    tools = use.choice(len(TOOLS), count, replace=False, p=weights / weights.sum())
    return _Sketch(name, material, parts, part_hits, cut_mm, side_ratio, tuple(sorted(int(t) for t in tools)))


def _finished(number: int, sketch: _Sketch, use: np.random.Generator) -> DrawnProgram:
    """Split the hits of a part over its tools: at least one each, forming tools few."""
    weights = use.exponential(size=len(sketch.tools))
    weights = weights * [FORMING_SHARE if TOOLS[t].forming else 1.0 for t in sketch.tools]
    spare = max(0.0, round(sketch.part_hits) - len(sketch.tools))
    ends = np.rint(np.cumsum(weights) / weights.sum() * spare).astype(int)
    hits = 1 + np.diff(ends, prepend=0)
    return DrawnProgram(
        number, sketch.family, sketch.material, sketch.parts, sketch.tools, tuple(int(h) for h in hits),
        sketch.cut_mm, sketch.side_ratio, sketch.proven,
    )  # fmt: skip
