"""The book of Uthmarsh: every program has an order of its own, and a few come back."""

from __future__ import annotations

import dataclasses

import numpy as np
from drawing import DrawnOrder, DrawnProgram, Streams, finished, sketch
from uthmarsh_facts import LEAD_DAYS, PROGRAMS, REPEATED, REPEATS, RUSH_SHARE, SHEETS, SHOP, WEEKS


def draw_book(streams: Streams) -> tuple[list[DrawnProgram], list[DrawnOrder]]:
    """Draw programs in a shuffled order of families, then orders; the orders in the order of release."""
    names = [family for family, count in PROGRAMS.items() for _ in range(count)]
    streams["programs"].shuffle(names)
    rng = streams["orders"]
    again = [int(program) for program in rng.choice(len(names), REPEATED, replace=False)]
    sketches = [sketch(name, SHOP.families[name], SHOP.tools, streams["programs"], streams["use"]) for name in names]
    programs = [
        finished(number, dataclasses.replace(one, proven=number in again), SHOP.tools, streams["use"])
        for number, one in enumerate(sketches)
    ]
    wanted = [*range(len(programs)), *(again[place % REPEATED] for place in range(REPEATS))]
    orders = [_order(place, program, rng) for place, program in enumerate(wanted)]
    return programs, sorted(orders, key=lambda order: order.day)


def _order(place: int, program: int, rng: np.random.Generator) -> DrawnOrder:
    """Weeks take turns, so that each week releases about as much; the rest is drawn."""
    sheets = int(rng.integers(SHEETS[0], SHEETS[1] + 1))
    day = 7 * (place % WEEKS) + int(rng.integers(5))
    rush = bool(rng.random() < RUSH_SHARE)
    lead = 1 if rush else int(rng.integers(LEAD_DAYS[0], LEAD_DAYS[1] + 1))
    return DrawnOrder(program, sheets, day, lead, rush)
