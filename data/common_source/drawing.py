"""Drawing of programs and what an order is, for all demo plants.

What a program looks like is drawn on the stream of its order: material, parts per sheet, hits and cut of a part; which
tools it uses (their number, then the side ratio of the part, then the tools) is the stream of use. Parts per sheet are
the whole part of the triangular draw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from facts import FAMILY_LIKING, POPULARITY_POWER, Family, ToolFact

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
class Sketch:
    """A program whose hits are not yet split over its tools."""

    family: str
    material: str
    parts: int
    part_hits: float
    cut_mm: float
    side_ratio: float
    tools: tuple[int, ...]
    proven: bool = False


def make_streams(seed: int, names: Sequence[str]) -> dict[str, np.random.Generator]:
    """Return the named random streams: one a purpose, spawned from the seed in this order and never shared."""
    children = np.random.SeedSequence(seed).spawn(len(names))
    return {name: np.random.default_rng(child) for name, child in zip(names, children, strict=True)}


def sketch(
    name: str, family: Family, tools: Sequence[ToolFact], rng: np.random.Generator, use: np.random.Generator
) -> Sketch:
    """Draw a new program of a family."""
    material = str(rng.choice(list(family.materials), p=list(family.materials.values())))
    parts = max(1, int(rng.triangular(*family.parts_per_sheet)))
    part_hits = float(rng.lognormal(np.log(family.hits_per_part), 0.5))
    cut_mm = float(rng.lognormal(np.log(family.cut_mm_per_part), 0.4))
    count = int(np.clip(1 + use.poisson(family.tools - 1), 2, 16))
    side_ratio = float(use.uniform(1, 3))
    weights = np.array([t.weight**POPULARITY_POWER * (FAMILY_LIKING if t.shape in family.likes else 1) for t in tools])
    chosen = use.choice(len(tools), count, replace=False, p=weights / weights.sum())
    return Sketch(name, material, parts, part_hits, cut_mm, side_ratio, tuple(sorted(int(t) for t in chosen)))


def finished(number: int, sketch: Sketch, tools: Sequence[ToolFact], use: np.random.Generator) -> DrawnProgram:
    """Split the hits of a part over its tools: at least one each, forming tools few."""
    weights = use.exponential(size=len(sketch.tools))
    weights = weights * [FORMING_SHARE if tools[t].forming else 1.0 for t in sketch.tools]
    spare = max(0.0, round(sketch.part_hits) - len(sketch.tools))
    ends = np.rint(np.cumsum(weights) / weights.sum() * spare).astype(int)
    hits = 1 + np.diff(ends, prepend=0)
    return DrawnProgram(
        number, sketch.family, sketch.material, sketch.parts, sketch.tools, tuple(int(h) for h in hits),
        sketch.cut_mm, sketch.side_ratio, sketch.proven,
    )  # fmt: skip
