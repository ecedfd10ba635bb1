"""A replay of observed weeks: the cell with the actual sequence and start, and its account week by week. No pandas."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np

from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, SECONDS_PER_WEEK
from simkit.base.vocabulary import HANDLING_STATES, PROCESS_STATES, SETUP_STATES, STATES, STOPPED, WEEKDAYS
from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.experiment.cache import Run
from simkit.experiment.measures import state_table
from simkit.experiment.ordermeasures import order_table
from simkit.experiment.overlaps import covered_s, overlap_s
from simkit.experiment.replication import RunSteps, draw_luck
from simkit.experiment.tables import table_of
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.tables import CalendarDay
from simkit.plant.values import minutes_between
from simkit.process.draws import Draws
from simkit.process.shifts import ShiftPlan, Span, crew_spans, plan_shifts
from simkit.process.workload import Workload, make_workload

HOURS_OF = {
    "setup_h": SETUP_STATES, "handling_h": HANDLING_STATES, "process_h": PROCESS_STATES, "stopped_h": (STOPPED,),
}  # fmt: skip
"""Hours of an observed week, and the machine states that they add up."""
USES = ("calibrate", "validate")
DELAYS = ("delay_h", "delay_p90_h")
WEEKLY = {
    **dict.fromkeys(HOURS_OF, "h"), "sheets": "sheets", "orders_finished": "orders", **dict.fromkeys(DELAYS, "h")
}  # fmt: skip
"""What is told of a replayed week, and its units.

Delay is from the start of the day of release to the last sheet, of the orders that finish in the week, in hours of the
shifts: nights and weekends would make it jump. Its mean and its 90th percentile.
"""


def replayed(plant: PlantInputs, use: str, *, rule: bool = False) -> PlantInputs:
    """The plant of its observed weeks of one use, first to last: the orders that its history started then and later, in
    their sequence, and overtime where it was worked.

    Orders that were released before stand ready at the start, and the turret as start.csv has it: what the weeks before
    were simulated to be is no part of it. With ``rule`` the plant's own dispatch rule chooses among the same orders.
    """
    mondays = [week.monday for week in plant.observed if week.use == use]
    monday, weeks = min(mondays), (max(mondays) - min(mondays)).days // 7 + 1
    made = {row.order_id for row in plant.history if row.started.date() >= monday}
    orders = tuple(
        dataclasses.replace(order, released=max(order.released, monday), due=max(order.due, monday))
        for order in plant.orders if order.order_id in made
    )  # fmt: skip
    update: dict[str, Any] = {
        "source": "replay", "start_monday": monday, "weeks": float(weeks), "horizon_s": weeks * SECONDS_PER_WEEK,
        "warmup_s": 0.0, "demand_factor": 1.0,
    }  # fmt: skip
    settings = plant.settings.model_copy(update={"run": plant.settings.run.model_copy(update=update)})
    started = tuple(row for row in plant.start if row.what != "backlog")
    history = () if rule else plant.history
    regular = dataclasses.replace(plant, settings=settings, orders=orders, start=started, history=history)
    worked = tuple(row for row in _overtime_worked(plant, regular) if row.date not in {d.date for d in plant.calendar})
    return dataclasses.replace(regular, calendar=(*plant.calendar, *worked))


def _overtime_worked(plant: PlantInputs, regular: PlantInputs) -> Iterable[CalendarDay]:
    """Overtime windows that the attended hours of observed weeks ask for, as added shifts of the overtime's crew."""
    calendar = plant.settings.calendar
    shift = calendar.overtime_shift or (calendar.shifts[0].name if calendar.shifts else "")
    plan = plan_shifts(regular, 7 * int(regular.settings.run.weeks) + 1)
    crew = crew_spans(regular.people, plan.person, plan.attended)
    last = regular.settings.run.start_monday + dt.timedelta(weeks=regular.settings.run.weeks)
    for week in plant.observed:
        if not regular.settings.run.start_monday <= week.monday < last:
            continue
        first = (week.monday - regular.settings.run.start_monday).days
        left_h = (
            week.attended_h - covered_s(crew, (plan.day_start[first], plan.day_start[first + 7])) / SECONDS_PER_HOUR
        )
        for day, window in itertools.product(range(7), calendar.overtime):
            date = week.monday + dt.timedelta(days=day)
            window_h = minutes_between(window.start, window.end) * SECONDS_PER_MINUTE / SECONDS_PER_HOUR
            if WEEKDAYS[day] in window.days and left_h > window_h / 2:
                left_h -= window_h
                yield CalendarDay(date=date, shift=shift, change="added", start=window.start, end=window.end)


class ReplayedWeek(NamedTuple):
    """A week of a replay, counted from 0, by the names of :data:`WEEKLY`."""

    week: int
    setup_h: float
    handling_h: float
    process_h: float
    stopped_h: float
    sheets: float
    orders_finished: float
    delay_h: float
    delay_p90_h: float


class ReplayedUse(NamedTuple):
    """Delays of the orders that finish in any week of a use (``calibrate`` or ``validate``) that is replayed."""

    use: str
    delay_h: float
    delay_p90_h: float


def run_weeks(scenario: ScenarioInputs, luck: Draws) -> Run:
    """Simulate a replay; it has no totals, and records of each :class:`ReplayedWeek` and :class:`ReplayedUse`."""
    workload = make_workload(scenario, luck)
    trace = simulate(workload)
    weeks = int(workload.span_s // SECONDS_PER_WEEK)
    spans = [(week * SECONDS_PER_WEEK, (week + 1) * SECONDS_PER_WEEK) for week in range(weeks)]
    told = [ReplayedWeek(week, **_week(trace, workload, span)) for week, span in enumerate(spans)]
    uses = []
    for use in USES:
        own = [_number(workload.plant, week.monday) for week in workload.plant.observed if week.use == use]
        chosen = [spans[week] for week in own if 0 <= week < len(spans)]
        uses.append(ReplayedUse(use, **delays(_delay_h(trace, workload, chosen))))
    return Run({}, {"weeks": table_of(ReplayedWeek, told), "uses": table_of(ReplayedUse, uses)})


def _number(plant: PlantInputs, monday: dt.date) -> int:
    return (monday - plant.settings.run.start_monday).days // 7


def _delay_h(trace: Trace, workload: Workload, spans: Sequence[Span]) -> Floats:
    """Delays of the orders that finish within the spans."""
    orders = order_table(trace, workload)
    released_s, done_s = (np.asarray(orders[name], float) * SECONDS_PER_HOUR for name in ("released_h", "there_h"))
    return delay_h(workload.plan, released_s, done_s, spans)


def delay_h(plan: ShiftPlan, released_s: Floats, done_s: Floats, spans: Sequence[Span]) -> Floats:
    """Hours of the shifts from the start of the day of release to the end, of what ends within some spans."""
    own = np.zeros(len(done_s), bool)
    for start, end in spans:
        own |= (done_s >= start) & (done_s < end)
    day = np.array(plan.day_start)
    released_on = day[np.searchsorted(day, released_s[own], side="right") - 1]
    return overlap_s(released_on, done_s[own], plan.attended) / SECONDS_PER_HOUR


def _week(trace: Trace, workload: Workload, span: Span) -> dict[str, float]:
    tables = [
        state_table(log, own, trace.open_spans, span)
        for log, own in zip(trace.machines, workload.by_machine, strict=True)
    ]
    hours = dict(zip(STATES, np.sum(tables, axis=0) / SECONDS_PER_HOUR, strict=True))
    found = {name: float(sum(hours[state] for state in states)) for name, states in HOURS_OF.items()}
    made = np.concatenate([np.array(log.made_at_s, float) for log in trace.machines])
    found["sheets"] = float(np.count_nonzero((made >= span[0]) & (made < span[1])))
    delay_h = _delay_h(trace, workload, [span])
    found["orders_finished"] = float(len(delay_h))
    return found | delays(delay_h)


def delays(hours: Any) -> dict[str, float]:
    """Mean and 90th percentile of delays; not a number where there are none."""
    if not len(hours):
        return dict.fromkeys(DELAYS, np.nan)
    return dict(zip(DELAYS, (float(np.mean(hours)), float(np.quantile(hours, 0.9))), strict=True))


REPLAY = RunSteps(draw_luck, run_weeks, dict)
"""The cell, accounted week by week, without totals."""
