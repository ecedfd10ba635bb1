"""The release weeks of an order book, and which of them a replication draws.

A balanced draw uses each week of the book equally often, in random order, so that a mean does not rest on which weeks
came; weeks that do not fit in a whole number of times are dealt out over consecutive replications. Every week has the
same chance to be in a replication, whichever way weeks are drawn. Replications that share a deal differ more from each
other than independent ones would, so that their intervals err on the safe side.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from simkit.base import streams
from simkit.base.arrays import Floats, Ints
from simkit.plant.plant import PlantInputs
from simkit.process.planner import order_hours


@dataclass(frozen=True)
class BookWeek:
    """A release week of the book: its Monday, what is released in it, and the planned hours of that."""

    monday: dt.date
    orders: int
    sheets: int
    planned_h: float


def weeks_of_orders(plant: PlantInputs) -> Ints:
    """Week in which each order of the book is released, counted from the week of the first release."""
    day = np.array([order.released.toordinal() for order in plant.orders], np.int64)
    monday = day.min() - min(plant.orders, key=lambda order: order.released).released.weekday()
    return np.asarray((day - monday) // 7, np.int64)


def chosen_weeks(plant: PlantInputs, held: int, seed: int, replication: int, count: int) -> Ints:
    """The weeks of a book of ``held`` weeks that make up ``count`` weeks of a replication, in their order."""
    if plant.settings.run.week_draw == "with_replacement":
        return (streams.uniforms(seed, replication, "release week", count) * held).astype(np.int64)
    whole, rest = divmod(count, held)
    weeks = np.concatenate([np.tile(np.arange(held), whole), _dealt(held, seed, replication, rest)])
    return weeks[np.argsort(streams.uniforms(seed, replication, "order of weeks", count))]


def _dealt(held: int, seed: int, replication: int, count: int) -> Ints:
    """This replication's ``count`` weeks, fewer than the book holds, of a shuffled deal.

    The deal goes round until it comes out even: then every week has been dealt equally often.
    """
    sharing = held // math.gcd(held, count)
    deal, turn = divmod(replication, sharing)
    shuffled = np.argsort(streams.uniforms(seed, deal, "deal of weeks", held))
    return shuffled[(turn * count + np.arange(count)) % held]


def week_hours(plant: PlantInputs) -> Floats:
    """Planned hours of each release week of the book, in standard hours of the plant: how much weeks differ, not how
    well a mean is known."""
    return np.asarray(np.bincount(weeks_of_orders(plant), order_hours(plant)), float)


def book_weeks(plant: PlantInputs) -> tuple[BookWeek, ...]:
    """All release weeks of the book from the first to the last, those without a release as well."""
    of_order, hours = weeks_of_orders(plant), week_hours(plant)
    first = min(order.released for order in plant.orders)
    monday = first - dt.timedelta(first.weekday())
    orders = np.bincount(of_order)
    sheets = np.bincount(of_order, [order.sheets for order in plant.orders])
    return tuple(
        BookWeek(monday + dt.timedelta(weeks=number), int(orders[number]), int(sheets[number]), float(hours[number]))
        for number in range(len(hours))
    )
