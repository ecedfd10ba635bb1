"""Sentences of the page of today's cell: titles and notes of its tables, and its answer, as functions of numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pandas as pd

from simkit.analysis.capacity import EVERY_LEVEL_FITS, NO_LEVEL_FITS, Capacity
from simkit.base.vocabulary import PROCESS_STATES, SETUP_STATES, WEEKDAYS
from simkit.experiment.intervals import Estimate
from simkit.report.palette import TASK_LABELS
from simkit.report.words import capitalised, number, percent, plural, plus_minus, with_unit

ATTENDED, UNATTENDED = "attended", "at night"
MEAN = "Mean ± half of its 95 % interval, per week."
SET_UP = {
    "tool_load": "tools fetched and fitted by hand",
    "die_change": "dies changed for clearance only",
    "angle_change": "tools turned to another angle",
    "magazine_exchange": "tools exchanged by the magazine",
    "magazine_die_change": "dies exchanged by the magazine",
    "order": "papers, program and booking of an order",
    "rest": "material, nozzle, gas and clamps",
    "first_piece": "first piece made, measured, released",
    "material": "waiting for material",
}
"""Kinds of set-up in words."""
TASKS = TASK_LABELS | {"clear": "clearing stops", "first_piece": "first pieces", "technician": "technician's work"}
"""Tasks of people in words, as work that goes on."""


def load(book: float, observed: float, simulated: float, weeks: int, seen: int, demand: float) -> tuple[str, str]:
    """Whether it is the same work, and what each column of the load counts."""
    also = "" if math.isnan(observed) else f", an observed week {number(observed)}"
    title = f"A simulated week needs {number(simulated)} machine hours; a week of the book plans {number(book)}{also}"
    return title, (
        f"Book: planned hours of {plural(weeks, 'release week')}, times the demand of {demand:g}. Observed: "
        f"{plural(seen, 'week')}, hours of set-up, handling, process and stops. Simulated: hours needed, those of "
        "subcontracted and refused orders included; orders and sheets made in house. Waiting for a person is in the "
        "simulated hours and in no observed ones."
    )


HELPED = "only with help"


def verdict(fits: bool | None, overtime: Estimate, elsewhere: Estimate) -> str:
    """Whether the cell makes a book; ``fits`` is whether orders are there in time, None where the runs disagree.

    Overtime and subcontracted hours or refused count where their interval excludes zero.
    """
    if fits is None:
        return "cannot tell"
    if not fits:
        return "no"
    return HELPED if elsewhere.tells else "with overtime" if overtime.tells else "yes"


def makes_the_book(
    name: str, verdict: str, elsewhere_h: float, capacity: Capacity, limit: float
) -> tuple[str, str]:  # fmt: skip
    """Whether the cell makes the book now, up to which demand orders are in time, and when a book counts as made."""
    hours = with_unit(elsewhere_h, "h")
    words = {
        "yes": "the cell makes the book in its shifts", "with overtime": "the cell makes the book with overtime",
        "no": "the cell does not make the book", "cannot tell": "the runs cannot tell whether the cell makes the book",
        HELPED: f"the cell makes the book only by subcontracting or refusing {hours} a week",
    }  # fmt: skip
    return f"{name}: {words[verdict]}; {_reach(capacity)}", (
        f"{MEAN} Orders are in time where at most {percent(limit, 1)} are late or refused and the backlog does not "
        "grow. Only with help: orders are subcontracted or refused. Cannot tell: the replications disagree. Needed: "
        "machine hours until all orders are done that wait at the start or come later, subcontracted and refused ones "
        "included; the machine also runs through breaks. Attended: overtime included."
    )


def _reach(capacity: Capacity) -> str:
    demand = number(capacity.demand_factor, 2)
    if capacity.decisive is not None:
        return f"whether orders are in time at demand {capacity.decisive.demand_factor:g} cannot be told"
    if capacity.state == NO_LEVEL_FITS:
        return "orders are not in time at any demand that was tried"
    if capacity.state == EVERY_LEVEL_FITS:
        return f"orders are in time at every demand that was tried, up to {demand} times the book"
    return f"orders are in time up to {demand} times the book"


def days_to_due(low: float, high: float) -> str:
    """Days from the decision to the due date, in words."""
    if math.isinf(high):
        return f"more than {low:g} days before due"
    return f"{low:g} to {high:g} days before due" if low > 0 else f"at most {high:g} days before due"


def gone(out: Estimate, refused: Estimate, late: Estimate, empty: int) -> tuple[str, str]:
    """What is subcontracted, refused and late; the planner's rule, and how many ``empty`` rows are left out."""
    title = f"Nothing is subcontracted and nothing refused; {percent(late.mean, 1)} of the orders are late"
    if out.mean or refused.mean:
        title = (
            f"{with_unit(out.mean, 'h')} a week are subcontracted and {with_unit(refused.mean, 'h')} refused; "
            f"{percent(late.mean, 1)} of the other orders are late"
        )
    left_out = f" {plural(empty, 'row')} without any order left out." if empty else ""
    return title, (
        f"{MEAN} An order is subcontracted when it is short of time: the planned hours of all orders ranked up to it "
        "exceed the hours of the windows before its due date, with all overtime that is still possible. What can "
        f"neither be made nor subcontracted is refused where the plant refuses orders.{left_out}"
    )


def waits(wait_min: Estimate, share: Estimate, refused: str) -> tuple[str, str]:
    """Who waits for people, and what the columns of waits mean; ``refused`` says why some are empty."""
    title = (
        f"{percent(share.mean)} of the requests at the machine wait for a person, "
        f"{with_unit(wait_min.mean, 'min')} on average over all requests"
    )
    why = f" Empty: {refused}." if refused else ""
    return title, (
        "Mean ± half of its 95 % interval. Busy: the machine processes sheets, over the calendar; people work, over "
        "their windows; a sheet lies at the bench, over the calendar. Waiting: orders for the machine, requests at the "
        f"machine for people, sheets at the bench for a person.{why}"
    )


def tasks(busy: Estimate, task: str, hours: float) -> str:
    """What people do most."""
    if not task:
        return "People have no work"
    return f"People work {with_unit(busy.mean, 'h')} a week; {TASKS[task]} takes {with_unit(hours, 'h')} of them"


def setup(total_h: float, kind: str, hours: float) -> tuple[str, str]:
    """What set-up takes most, and what is counted."""
    most = f"most goes to {SET_UP[kind]}, {with_unit(hours, 'h')}" if kind else ""
    title = f"Set-up stops the machine for {with_unit(total_h, 'h')} a week; {most}" if kind else "Set-up takes no time"
    note = "Hours are those for which the machine stands. Tools and orders count over the whole run."
    return title, f"{MEAN} {note}"


def stops(count: Estimate, lost: Estimate, worst: str, often: str) -> tuple[str, str]:
    """What stops cost, and by what; and what is counted."""
    also = "" if worst == often else f", {cause_in_words(often)} comes most often"
    cause = f"{cause_in_words(worst)} costs most{also}"
    title = f"{number(count.mean)} stops a week cost {with_unit(lost.mean, 'h')}; {cause}"
    return title if count.mean else "No stop in any replication", (
        f"{MEAN} Hours run until somebody has cleared the stop. Causes and rates are those of the plant's list of "
        "stops; worn and wrong tools come of the tools themselves."
    )


def cause_in_words(cause: str) -> str:
    """A cause of stops as people read it."""
    return cause.replace("_", " ")


def split(hours: pd.Series, name: str) -> str:
    """Where the machine's hours go; ``hours`` by state."""
    found = {str(state): float(value) for state, value in hours.items()}
    open_h = sum(found.values()) - found.get("closed", 0.0)
    process = sum(found.get(state, 0.0) for state in PROCESS_STATES)
    set_up = sum(found.get(state, 0.0) for state in SETUP_STATES)
    if open_h <= 0:
        return f"{name}: the machine is never open"
    return (
        f"{name}: of {with_unit(open_h, 'h')} a week that the machine is open, {percent(process / open_h)} process "
        f"sheets and {percent(set_up / open_h)} go to set-up"
    )


def split_told(families: pd.DataFrame, closed_h: float) -> tuple[str, str]:
    """The bars of hours by family of states in words, and what is left out of them."""
    bars = (f"{name}: " + ", ".join(f"{family} {number(hours)}" for family, hours in own.items() if hours > 0)
            for name, own in families.items())  # fmt: skip
    note = f"Closed hours are left out: {number(closed_h)} h a week. With them the states sum to the calendar."
    return f"Stacked bars of hours a week. {'; '.join(bars)}.", note


def late(count: int, of: int, days: pd.Series) -> str:
    """How many orders are late, and by how much."""
    orders = f"{plural(of, 'order')} of one run"
    if not count:
        return f"None of {orders} is late"
    return f"{count} of {orders} are late, the worst by {with_unit(float(days.max()), 'days', 1)}"


def demands(line: pd.DataFrame, table: pd.DataFrame) -> tuple[str, str]:
    """Hours needed at the highest demand of a case beside those attended, and all lines of a table in words."""
    last = line.iloc[-1]
    title = (
        f"At {last['demand']:g} times the book {last['scenario']} needs {number(last['needed_h_per_week'])} h a week; "
        f"{number(last['attended_h_per_week'])} h are attended"
    )
    rows = (
        f"{row['scenario']} at {row['demand']:g}: {number(row['needed_h_per_week'])} h needed, "
        f"{number(row['attended_h_per_week'])} h attended, makes the book: {row['makes_the_book']}"
        for row in table.to_dict("records")
    )
    return title, f"Hours a week against demand. {'; '.join(rows)}."


DAY_NAMES = dict(zip(
    WEEKDAYS, ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"), strict=True
))  # fmt: skip


def day(shown: pd.DataFrame, weekday: str) -> tuple[str, str, str]:
    """What the first resource, a machine, does on a day; the hours of all by state in words; how it is drawn."""
    machine = str(shown["resource"].iloc[0])
    open_ = shown[shown["state"] != "closed"]
    hours = (open_["end_h"] - open_["start_h"]).groupby([open_["resource"], open_["state"]], sort=False).sum()
    own = hours[machine]
    process = float(own[own.index.isin(PROCESS_STATES)].sum())
    first, last = (_clock(float(hour)) for hour in (shown["start_h"].min(), shown["end_h"].max()))
    title = (
        f"A simulated {DAY_NAMES[weekday]}, {first} to {last}: {machine} processes sheets for "
        f"{with_unit(process, 'h')}; set-up, handling, waiting and the rest take "
        f"{with_unit(float(own.sum()) - process, 'h')}"
    )
    rows = (f"{name} {cause_in_words(state)} {number(each)} h"
            for name, state, each in hours.reset_index().itertuples(index=False, name=None))  # fmt: skip
    alt = f"Timeline of a simulated {DAY_NAMES[weekday]}, one row a resource. {'; '.join(rows)}."
    note = (
        "Light ground: shift. Hatched: break. Dark ground: night. White: nobody there, nothing running. One simulated "
        "day; what does not look like yours is worth more than what does."
    )
    return title, alt, note


def _clock(hour: float) -> str:
    """An hour of the day as a clock shows it."""
    return "{:d}:{:02d}".format(*divmod(round(60 * hour), 60))


def rows_alt(names: Iterable[str], values: Iterable[float], unit: str) -> str:
    """Bars in words."""
    return f"Bars. {'; '.join(f'{name} {number(value)} {unit}' for name, value in zip(names, values, strict=True))}."


def needed(name: str, hours: Estimate, attended: Estimate) -> str:
    """Hours needed against those attended."""
    return (
        f"{capitalised(name)} needs {plus_minus(hours)} machine hours a week; the shifts and overtime give "
        f"{plus_minus(attended)}."
    )


def waiting(hours: Estimate) -> str:
    """What waiting for people costs the machine."""
    return f"The machine waits for people {plus_minus(hours)} h a week."


def with_package(hours: Estimate) -> str:
    """What the low-capital package leaves."""
    return f"With the low-capital package it needs {plus_minus(hours)} h a week."
