"""Draws: the orders of one replication and the uniform numbers behind all its luck.

Made from the plant as it is today, so that every scenario meets the same orders and the same luck.
A position is an order's place in the drawn book; sheets and tool needs are numbered through all
positions, and keep their number whatever an option does with the order.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base import streams
from simkit.base.arrays import Floats, Ints
from simkit.base.keeping import kept
from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_WEEK, on_grid
from simkit.plant.plant import PlantInputs
from simkit.process.bookweeks import chosen_weeks, weeks_of_orders
from simkit.process.planner import order_hours, planner_hours
from simkit.process.programs import ProgramTables, program_tables
from simkit.process.shifts import ShiftPlan, plan_from, plan_shifts


@dataclass(frozen=True)
class DrawnOrders:
    """The drawn orders in order of release; one entry per order.

    ``position`` is the order's stable place in the draws; ``first_sheet`` and ``first_need`` are where its
    sheets and tool needs begin in the streams.
    """

    position: Ints
    row: Ints
    sheets: Ints
    released_s: Floats
    due_s: Floats
    rush: NDArray[np.bool_]
    first_sheet: Ints
    first_need: Ints

    def __len__(self) -> int:
        return len(self.position)


@dataclass(frozen=True)
class Draws:
    """Orders and luck of one replication, shared by all scenarios.

    ``order_h`` are the planned hours of each order drawn, in today's plant: in these standard hours a subcontractor
    is paid. ``drawn_mean_h`` is the mean of their sum over all luck; None where it is not known.
    """

    seed: int
    replication: int
    weeks: float
    demand_factor: float
    book: DrawnOrders
    sheet_count: int
    need_count: int
    days: int
    order_h: Floats
    drawn_mean_h: float | None = None
    _cache: dict[str, Floats] = field(default_factory=dict, repr=False)

    @property
    def drawn_h(self) -> float:
        """Planned hours of all orders drawn, in today's plant."""
        return float(self.order_h.sum())

    def uniform(self, purpose: str, count: int) -> Floats:
        """The first ``count`` uniform numbers of a purpose; the same array for every scenario."""
        known = self._cache.get(purpose)
        if known is None or len(known) < count:
            known = self._cache[purpose] = streams.uniforms(self.seed, self.replication, purpose, count)
        return known[:count]

    def drawn(self, purpose: str, count: int, law: Law) -> Floats:
        """What a law draws at the first ``count`` uniform numbers of a purpose, worked out once for all scenarios.

        Laws that differ in their mean alone share it; an empirical law is drawn each time.
        """
        if law.is_constant or law.kind == "empirical":
            return law.draw(self.uniform(purpose, count))
        key = f"{purpose} {law.kind} {law.cv!r}"
        known = self._cache.get(key)
        if known is None or len(known) < count:
            known = self._cache[key] = dataclasses.replace(law, mean=1.0).draw(self.uniform(purpose, count))
        return law.mean * known[:count]


def make_draws(
    plant: PlantInputs,
    seed: int,
    replication: int,
    *,
    weeks: float | None = None,
    demand_factor: float | None = None,
    mean_order_h: float | None = None,
) -> Draws:
    """Draw the orders of one replication from today's plant.

    A saturated queue is as long as to outlast the horizon with orders of ``mean_order_h`` hours, by default the mean
    of the book.
    """
    run, tables = plant.settings.run, program_tables(plant)
    weeks = run.weeks if weeks is None else weeks
    factor = run.demand_factor if demand_factor is None else demand_factor
    days = _calendar_days(plant, weeks)
    plan = plan_shifts(plant, days)
    copies = None
    if run.source == "project":
        slots, copies = _projected(plant, plan, seed, replication, weeks, factor)
    elif run.source == "replay":
        slots = _replayed(plant, plan)
    elif run.source == "law":
        slots = _by_law(plant, seed, replication, weeks)
    else:
        slots = _saturated(plant, days, float(np.mean(order_hours(plant))) if mean_order_h is None else mean_order_h)
    book, sheets, needs = _numbered(plant, tables, slots)
    hours = planner_hours(plant, tables, tables.of_orders(plant.orders)[book.row], book.sheets)
    mean_h = None if copies is None else _mean_drawn_h(plant, book, hours, copies)
    return Draws(seed, replication, weeks, factor, book, sheets, needs, days, hours, mean_h)


def _mean_drawn_h(plant: PlantInputs, book: DrawnOrders, hours: Floats, copies: float) -> float:
    """The mean, over all luck, of the hours of whole release weeks: orders that wait at the start, and every order of
    the book as often as it is drawn on average."""
    waiting = sum(start.what == "backlog" for start in plant.start)
    return float(hours[book.position < waiting].sum() + copies * order_hours(plant).sum())


def _calendar_days(plant: PlantInputs, weeks: float) -> int:
    run = plant.settings.run
    if run.horizon_s is not None:
        return int(np.ceil(run.horizon_s / SECONDS_PER_DAY)) + 2
    return int(np.ceil(7 * max(run.max_weeks, weeks + 1))) + 2


class _Slot(NamedTuple):
    """A candidate order at its position: its row in the book, ``kept`` by the demand factor or not, and the sheets that
    are left of it, None for all."""

    row: int
    released_s: float
    due_s: float
    kept: bool = True
    sheets: int | None = None


def _projected(
    plant: PlantInputs, plan: ShiftPlan, seed: int, replication: int, weeks: float, factor: float
) -> tuple[list[_Slot], float]:
    """Orders that wait at the start, then whole release weeks; and how often an order is drawn on average.

    More demand contains less: each order comes once per whole unit of the factor, and once more if its uniform is
    below the fraction.
    """
    week_of = weeks_of_orders(plant)
    monday = min(order.released for order in plant.orders)
    monday -= dt.timedelta(days=monday.weekday())
    held, count = int(week_of.max()) + 1, int(np.ceil(weeks))
    calendar, base = _WorkingDays(plan), _book_days(plant, monday, held + 11)
    drawn = []
    for week, chosen in enumerate(chosen_weeks(plant, held, seed, replication, count)):
        for row in np.flatnonzero(week_of == chosen).tolist():
            order = plant.orders[row]
            lead = base.between((order.released - monday).days, (order.due - monday).days)
            start = calendar.on_or_after(7 * week + order.released.weekday())
            drawn.append(_Slot(row, calendar.first_shift_s(start), plan.day_start[calendar.later(start, lead) + 1]))
    extra = streams.uniforms(seed, replication, "demand", len(drawn)) < factor - int(factor)
    once_more = [slot._replace(kept=kept) for slot, kept in zip(drawn, extra.tolist(), strict=True)]
    return [*_waiting(plant, plan, calendar), *drawn * int(factor), *once_more], factor * count / held


def _waiting(plant: PlantInputs, plan: ShiftPlan, calendar: _WorkingDays) -> Iterator[_Slot]:
    """Orders that wait at the start."""
    index = {order.order_id: number for number, order in enumerate(plant.orders)}
    first = calendar.on_or_after(0)
    for start in plant.start:
        if start.what == "backlog":
            due_s = plan.day_start[calendar.later(first, start.due_in_days) + 1]
            yield _Slot(index[start.item], 0.0, due_s, sheets=start.sheets or None)


def _replayed(plant: PlantInputs, plan: ShiftPlan) -> list[_Slot]:
    """The observed orders at their own dates, in the observed sequence where the history gives one."""
    first, last = plant.settings.run.start_monday, len(plan.day_start) - 1
    calendar = _WorkingDays(plan)
    started = {row.order_id: row.started for row in plant.history}
    found = []
    for row, order in enumerate(plant.orders):
        released_s = calendar.first_shift_s(calendar.on_or_after((order.released - first).days))
        due_s = plan.day_start[min(max((order.due - first).days, 0) + 1, last)]
        found.append((started.get(order.order_id, dt.datetime.max), order.released, _Slot(row, released_s, due_s)))
    return [slot for *_, slot in sorted(found)]


def _by_law(plant: PlantInputs, seed: int, replication: int, weeks: float) -> list[_Slot]:
    """Arrivals by a law, programs in the order of the book, over and over; due dates as far as the book's."""
    run = plant.settings.run
    horizon = run.horizon_s if run.horizon_s is not None else weeks * SECONDS_PER_WEEK
    count = int(np.ceil(1.2 * horizon / run.arrival_mean_s + 12 * np.sqrt(horizon / run.arrival_mean_s))) + 10
    luck = streams.uniforms(seed, replication, "arrival", count)
    times = np.cumsum(on_grid(Law(run.arrival_law, run.arrival_mean_s, run.arrival_cv).draw(luck)))
    if times[-1] <= horizon:
        raise ValueError("too few arrivals drawn for the horizon")
    leads = [(order.due - order.released).days * SECONDS_PER_DAY for order in plant.orders]
    rows = itertools.cycle(range(len(leads)))
    arrivals = zip(times[times < horizon].tolist(), rows, strict=False)
    return [_Slot(row, time_s, time_s + leads[row] + SECONDS_PER_DAY) for time_s, row in arrivals]


def _saturated(plant: PlantInputs, days: int, mean_h: float) -> list[_Slot]:
    """A queue that never runs dry: the book over and over, all released at the start."""
    if plant.settings.run.horizon_s is None:
        raise ValueError("a saturated queue needs run.horizon_s")
    horizon_h = plant.settings.run.horizon_s / SECONDS_PER_HOUR
    machines = max(len(plant.machines), 1)
    count = int(np.ceil(1.5 * machines * (horizon_h / max(mean_h, 1e-6)) + 50)) + machines  # one in work at each
    return [_Slot(place % len(plant.orders), 0.0, (days - 1) * SECONDS_PER_DAY) for place in range(count)]


def _numbered(plant: PlantInputs, tables: ProgramTables, slots: list[_Slot]) -> tuple[DrawnOrders, int, int]:
    """Number sheets and needs through all positions, then keep and sort the orders by release."""
    row = np.array([slot.row for slot in slots], np.int64)
    released_s, due_s = (np.array([getattr(slot, name) for slot in slots]) for name in ("released_s", "due_s"))
    sheets = np.array([slot.sheets or plant.orders[slot.row].sheets for slot in slots], np.int64)
    needs = np.diff(tables.first_need)[tables.of_orders(plant.orders)[row]]
    first_sheet = np.concatenate([[0], np.cumsum(sheets)])
    first_need = np.concatenate([[0], np.cumsum(needs)])
    keep = np.flatnonzero([slot.kept for slot in slots])
    keep = keep[np.argsort(released_s[keep], kind="stable")]
    rush = np.array([order.rush for order in plant.orders], bool)[row]
    book = DrawnOrders(
        position=keep, row=row[keep], sheets=sheets[keep], released_s=released_s[keep], due_s=due_s[keep],
        rush=rush[keep], first_sheet=first_sheet[keep], first_need=first_need[keep],
    )  # fmt: skip
    return book, int(first_sheet[-1]), int(first_need[-1])


@kept
def _book_days(plant: PlantInputs, monday: dt.date, weeks: int) -> _WorkingDays:
    """Working days of the book's own weeks."""
    return _WorkingDays(plan_from(plant, monday, 7 * weeks))


class _WorkingDays:
    """Days on which a shift starts, for lead times in working days."""

    def __init__(self, plan: ShiftPlan) -> None:
        self.open = np.array(plan.open_days, np.int64)
        starts: dict[int, float] = {}
        for _, start, _ in plan.shift_spans:
            starts.setdefault(plan.day_of(start), start)
        self.starts = starts

    def on_or_after(self, day: int) -> int:
        return int(self.open[min(int(np.searchsorted(self.open, day)), len(self.open) - 1)])

    def later(self, day: int, working_days: int) -> int:
        at = int(np.searchsorted(self.open, day))
        return int(self.open[min(at + working_days, len(self.open) - 1)])

    def between(self, first: int, last: int) -> int:
        return int(np.searchsorted(self.open, last) - np.searchsorted(self.open, first))

    def first_shift_s(self, day: int) -> float:
        return self.starts[day]
