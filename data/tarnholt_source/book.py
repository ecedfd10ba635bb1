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
from drawing import DrawnOrder, DrawnProgram, Sketch, Streams, finished, sketch
from facts import TOOLS
from families import FAMILIES, GROWTH, REPEAT_SHARE, RUSH_SHARE, WEEKDAY_WEIGHTS


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
    sketches: list[Sketch] = []
    earlier: dict[str, list[int]] = {name: [] for name in FAMILIES}
    counts = {name: family.orders for name, family in FAMILIES.items()}
    described = _draw_orders(counts, sketches, earlier, streams["orders"], streams["use"])
    programs = [finished(number, one, TOOLS, streams["use"]) for number, one in enumerate(sketches)]
    proven = {name: [program for program in known if sketches[program].proven] for name, known in earlier.items()}
    more = {name: round(GROWTH * count) for name, count in counts.items()}
    growth = _draw_orders(more, sketches, proven, streams["more"], streams["more"])
    added = list(enumerate(sketches))[len(programs) :]
    programs += [finished(number, one, TOOLS, streams["more"]) for number, one in added]
    return Book(programs, described, growth)


def _draw_orders(
    counts: Mapping[str, int], sketches: list[Sketch], earlier: dict[str, list[int]],
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
            sketches.append(sketch(name, FAMILIES[name], TOOLS, rng, use))
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
