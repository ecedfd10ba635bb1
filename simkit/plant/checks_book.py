"""Checks of the order book as a whole: whole weeks are drawn from it, so that one wrong date makes empty ones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from statistics import median

from simkit.base.messages import Finding, also_rows
from simkit.base.units import SECONDS_PER_WEEK
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, note
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

Released = list[tuple[Order, int]]


@reads("orders", settings=True)
def book_without_gaps(draft: Draft) -> Iterator[Finding]:
    """Releases follow each other; a few far from the rest are errors, a long gap in the book is a note."""
    groups = _groups(draft)
    if len(groups) < 2:
        return
    rest = max(groups, key=len)
    drawn = draft.settings.run.source == "project"
    for group, after in pairwise(groups):
        if drawn and any(_few(one, rest) for one in (group, after)):
            continue
        last, first = group[-1][0].released, after[0][0].released
        why = f"no order is released between {last} and {first}, {(first - last).days} days; {_empty(last, first)}"
        yield note("orders.csv", why, "Nothing to do if the plant stood still then", row=after[0][1], column="released")
    for group in groups:
        if drawn and _few(group, rest):
            yield _far_from_rest(group, rest)


def _groups(draft: Draft) -> list[Released]:
    """Orders in the sequence of their release, parted where nothing is released for long."""
    groups: list[Released] = []
    for row, line in sorted(draft.sheets["orders"], key=lambda pair: pair[0].released):
        if not groups or (row.released - groups[-1][-1][0].released).days > LONGEST_GAP_DAYS:
            groups.append([])
        groups[-1].append((row, line))
    return groups


def _few(group: Released, rest: Released) -> bool:
    few = max(1.0, FEW_OF_BOOK * len(rest))
    return group is not rest and len(rest) >= LEAST_REST and len(group) <= few


def _empty(last: dt.date, first: dt.date) -> str:
    """What a gap does where whole release weeks are drawn."""
    weeks = (first - dt.timedelta(first.weekday()) - last + dt.timedelta(last.weekday())).days // 7 - 1
    return f"{weeks} weeks without a release would be drawn as weeks without work"


def _far_from_rest(group: Released, rest: Released) -> Finding:
    """The finding about a few orders far from the rest of the book."""
    row, line = group[0]
    near, far = rest[0][0].released, rest[-1][0].released
    early = row.released < near
    gap = _empty(group[-1][0].released, near) if early else _empty(far, row.released)
    why = f"is far from the rest of the book, {near} to {far}{also_rows([line for _, line in group])}; {gap}"
    meant = next((day for day in _misread(row.released) if near <= day <= far and not near <= row.due < day), None)
    mend = "Correct the day, or leave the order out of the book"
    hint = f"; {meant} would fit" if meant else ""
    return Finding("orders.csv", why, mend + hint, row=line, column="released", value=str(row.released))


def _misread(day: dt.date) -> Iterator[dt.date]:
    """Days that a slip in year or month, or day and month in each other's place, may stand for."""
    readings = [(day.year + years, day.month, day.day) for years in (1, -1, 10, -10, 100, -100)]
    readings += [(day.year, day.day, day.month), *((day.year, month, day.day) for month in range(1, 13))]
    for year, month, of_month in readings:
        try:
            yield dt.date(year, month, of_month)
        except ValueError:
            continue


@reads(settings=True)
def run_that_can_end(draft: Draft) -> Iterator[Finding]:
    """A queue that never empties needs an end of the run, and the warm-up ends before it."""
    run = draft.settings.run
    if run.source == "saturated" and run.horizon_s is None:
        yield Finding("plant.toml", "a saturated queue never ends", "Write the end of the run", column="run.horizon_s")
    end_s = min(run.horizon_s or LONGEST_S, run.max_weeks * SECONDS_PER_WEEK)
    if run.warmup_s >= end_s:
        why, mend = f"cuts off the whole run of {end_s:g} s", "Write less, or make the run longer"
        yield Finding("plant.toml", why, mend, column="run.warmup_s", value=f"{run.warmup_s:g}")


@reads("orders")
def usual_lead_times(draft: Draft) -> Iterator[Finding]:
    """Orders are due within a few of the book's usual times after their release."""
    leads = [(row.due - row.released).days for row in draft.sheets["orders"].rows]
    usual = median(leads) if leads else 0.0
    longest = max(LONG_LEAD_DAYS, LEADS_OF_BOOK * usual)
    long = [(row, line) for row, line in draft.sheets["orders"] if (row.due - row.released).days > longest]
    if long:
        row, line = long[0]
        days = (row.due - row.released).days
        why = f"is {days} days after the release{also_rows([line for _, line in long])}; usual in this book: {usual:g}"
        mend = "Look whether year or month of one of the two days is right"
        yield note("orders.csv", why, mend, row=line, column="due", value=str(row.due))
