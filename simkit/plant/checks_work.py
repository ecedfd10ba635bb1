"""Checks of the order book, of the run that is drawn from it, and of what was made and observed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from statistics import median

from simkit.base.messages import Finding, also_rows, plain, some
from simkit.base.units import OTHER_UNITS, SECONDS_PER_HOUR, SECONDS_PER_WEEK
from simkit.plant.check_register import reads, row_error, row_note
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import LONGEST_S
from simkit.plant.tables import Order

LONGEST_GAP_DAYS = 14
"""A book has no longer time without a release, unless the plant stood still."""
FEW_OF_BOOK = 0.1
"""Orders apart from the rest are a slip of the pen up to this share of the rest (common practice, no source)."""
LEAST_REST = 3
LEADS_OF_BOOK = 3.0
LONG_LEAD_DAYS = 60
"""An order due this long after its release, and this many times the usual time, is worth a look (no source)."""
WEEK_H = SECONDS_PER_WEEK / SECONDS_PER_HOUR
SUM_ODD = 1.5
"""Hours of the parts of an observed week over its attended hours that are worth a note. Common practice, no source."""


@reads("history", "orders")
def history_orders(plant: PlantInputs) -> Iterator[Finding]:
    """History tells of orders of the book."""
    known = {order.order_id for order in plant.orders}
    strange = [row for row in plant.history if row.order_id not in known]
    if strange:
        why = f"{len(strange)} orders are not in orders.csv ({some([row.order_id for row in strange])})"
        yield row_note(plant, strange[0], "", why, "Add them to the book; a replay leaves them out", "")


# ---- the book as a whole: whole weeks are drawn from it, so that one wrong date makes empty ones ----


@reads("orders", "settings")
def book_without_gaps(plant: PlantInputs) -> Iterator[Finding]:
    """Releases follow each other; a few far from the rest are errors, a long gap in the book is a note."""
    groups = _groups(plant)
    if len(groups) < 2:
        return
    rest = max(groups, key=len)
    drawn = plant.settings.run.source == "project"
    for group, after in pairwise(groups):
        if drawn and any(_few(one, rest) for one in (group, after)):
            continue
        last, first = group[-1].released, after[0].released
        why = f"no order is released between {last} and {first}, {(first - last).days} days; {_empty(last, first)}"
        yield row_note(plant, after[0], "released", why, "Nothing to do if the plant stood still then", "")
    for group in groups:
        if drawn and _few(group, rest):
            yield _far_from_rest(plant, group, rest)


def _groups(plant: PlantInputs) -> list[list[Order]]:
    """Orders in the sequence of their release, parted where nothing is released for long."""
    groups: list[list[Order]] = []
    for order in sorted(plant.orders, key=lambda order: order.released):
        if not groups or (order.released - groups[-1][-1].released).days > LONGEST_GAP_DAYS:
            groups.append([])
        groups[-1].append(order)
    return groups


def _few(group: list[Order], rest: list[Order]) -> bool:
    few = max(1.0, FEW_OF_BOOK * len(rest))
    return group is not rest and len(rest) >= LEAST_REST and len(group) <= few


def _empty(last: dt.date, first: dt.date) -> str:
    """What a gap does where whole release weeks are drawn."""
    weeks = (first - dt.timedelta(first.weekday()) - last + dt.timedelta(last.weekday())).days // 7 - 1
    return f"{weeks} weeks without a release would be drawn as weeks without work"


def _far_from_rest(plant: PlantInputs, group: list[Order], rest: list[Order]) -> Finding:
    """The finding about a few orders far from the rest of the book."""
    order, near, far = group[0], rest[0].released, rest[-1].released
    gap = _empty(group[-1].released, near) if order.released < near else _empty(far, order.released)
    also = also_rows([plant.line(other) for other in group])
    why = f"is far from the rest of the book, {near} to {far}{also}; {gap}"
    days = _misread(order.released)
    meant = next((day for day in days if near <= day <= far and not near <= order.due < day), None)
    hint = f"; {meant} would fit" if meant else ""
    mend = f"Correct the day, or leave the order out of the book{hint}"
    return row_error(plant, order, "released", why, mend)


def _misread(day: dt.date) -> Iterator[dt.date]:
    """Days that a slip in year or month, or day and month in each other's place, may stand for."""
    readings = [(day.year + years, day.month, day.day) for years in (1, -1, 10, -10, 100, -100)]
    readings += [(day.year, day.day, day.month), *((day.year, month, day.day) for month in range(1, 13))]
    for year, month, of_month in readings:
        try:
            yield dt.date(year, month, of_month)
        except ValueError:
            continue


@reads("orders")
def usual_lead_times(plant: PlantInputs) -> Iterator[Finding]:
    """Orders are due within a few of the book's usual times after their release."""
    lead_days = [(order.due - order.released).days for order in plant.orders]
    usual = median(lead_days) if lead_days else 0.0
    longest = max(LONG_LEAD_DAYS, LEADS_OF_BOOK * usual)
    long = [(order, days) for order, days in zip(plant.orders, lead_days, strict=True) if days > longest]
    if long:
        (first, days), also = long[0], also_rows([plant.line(order) for order, _ in long])
        why = f"is {days} days after the release{also}; usual in this book: {usual:g}"
        yield row_note(plant, first, "due", why, "Look whether year or month of one of the two days is right")


@reads("settings")
def run_that_can_end(plant: PlantInputs) -> Iterator[Finding]:
    """A queue that never empties needs an end of the run, and the warm-up ends before it."""
    run = plant.settings.run
    if run.source == "saturated" and run.horizon_s is None:
        yield Finding("plant.toml", "a saturated queue never ends", "Write the end of the run", column="run.horizon_s")
    end_s = min(run.horizon_s or LONGEST_S, run.max_weeks * SECONDS_PER_WEEK)
    if run.warmup_s >= end_s:
        why, mend = f"cuts off the whole run of {end_s:g} s", "Write less, or make the run longer"
        yield Finding("plant.toml", why, mend, column="run.warmup_s", value=f"{run.warmup_s:g}")


# ---- hours of a week ----


@reads("observed", "machines")
def observed_hours(plant: PlantInputs) -> Iterator[Finding]:
    """A week has 168 hours at each machine, and its parts are no longer than the whole."""
    machines = len(plant.machines)
    most = WEEK_H * machines
    for row in plant.observed:
        hours = {name: getattr(row, f"{name}_h") for name in ("setup", "handling", "process", "stopped")}
        for name, value in (("attended", row.attended_h), *hours.items()):
            if value > most:
                why = f"the week has {plain(most)} hours at {machines} machine(s)"
                hours_of_min = value * OTHER_UNITS["h"]["min"]
                why += f"; if {plain(value)} is in min, it is {plain(hours_of_min)} h" if hours_of_min <= most else ""
                yield row_error(plant, row, f"{name}_h", why, "Write hours of one week")
        total = sum(hours.values())
        if row.attended_h and most >= total > SUM_ODD * row.attended_h:
            why = f"set-up, handling, process and stops sum to {total:.3g} h of {plain(row.attended_h)} attended"
            yield row_note(plant, row, "attended_h", why, "Correct one of them")


@reads("settings")
def overtime_in_a_week(plant: PlantInputs) -> Iterator[Finding]:
    """No week has more overtime than hours."""
    cap = plant.settings.rules.overtime_cap_h_per_week
    if cap > WEEK_H:
        why, column = f"a week has {plain(WEEK_H)} hours", "rules.overtime_cap_h_per_week"
        yield Finding("plant.toml", why, "Write hours a week", column=column, value=plain(cap))
