"""The book of Quennow: its programs are drawn first, all of them proven; then each order takes one."""

from __future__ import annotations

import dataclasses

import numpy as np
from drawing import DrawnOrder, DrawnProgram, Streams, finished, sketch
from quennow_facts import LEAD_DAYS, ORDERS, PROGRAMS, SHEETS, SHOP

RELEASE_DAYS = (0, 1, 2, 3)
"""Monday to Thursday. Rule of the demo."""


def draw_book(streams: Streams) -> tuple[list[DrawnProgram], list[DrawnOrder]]:
    """Draw programs and orders; the orders in the order of release."""
    names = [family for family, count in PROGRAMS.items() for _ in range(count)]
    sketches = [sketch(name, SHOP.families[name], SHOP.tools, streams["programs"], streams["use"]) for name in names]
    programs = [
        finished(number, dataclasses.replace(one, proven=True), SHOP.tools, streams["use"])
        for number, one in enumerate(sketches)
    ]
    orders = [_order(number, len(programs), streams["orders"]) for number in range(ORDERS)]
    return programs, sorted(orders, key=lambda order: order.day)


def _order(number: int, programs: int, rng: np.random.Generator) -> DrawnOrder:
    """Weeks take turns, so that each week releases about as much; the rest is drawn."""
    sheets = int(rng.integers(SHEETS[0], SHEETS[1] + 1))
    day = 7 * (number % 4) + int(rng.choice(RELEASE_DAYS))
    lead = int(rng.integers(LEAD_DAYS[0], LEAD_DAYS[1] + 1))
    return DrawnOrder(int(rng.integers(programs)), sheets, day, lead, False)
