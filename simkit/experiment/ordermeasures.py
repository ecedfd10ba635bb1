"""What became of the released orders: how many were late or refused, and on which day and how early work was given out.

Merged orders count one by one. Hours given out are standard hours of today's plant, as on the invoice.
"""

from __future__ import annotations

from simkit.base.units import SECONDS_PER_DAY
from simkit.base.vocabulary import WEEKDAYS
from simkit.cell.board import REFUSED, SUBCONTRACT, Job
from simkit.cell.trace import Trace
from simkit.process.workload import Workload

DAYS_TO_DUE = {"5": (0.0, 5.0), "10": (5.0, 10.0), "15": (10.0, 15.0), "more": (15.0, float("inf"))}
"""Calendar days from the decision to the end of the due date, by the name of the measure: more than, at most."""


def lateness(trace: Trace, workload: Workload) -> dict[str, float]:
    """Late orders over those not refused, and refused ones over all; one given out is late by its delivery."""
    lead_s = workload.plant.settings.overflow.subcontract_lead_days * SECONDS_PER_DAY
    due_s, refused, days = workload.draws.book.due_s, 0, []
    for job in trace.jobs:
        if job.released_s > trace.end_s:
            continue
        refused += len(job.members) if job.fate == REFUSED else 0
        if job.fate != REFUSED:
            end_s = _there_s(job, lead_s, trace.end_s)
            days += [(end_s - float(due_s[order])) / SECONDS_PER_DAY for order in job.members]
    late = [each for each in days if each > 0]
    released = len(days) + refused
    return {
        "orders_late": float(len(late)),
        "late_share": len(late) / len(days) if days else 0.0,
        "late_mean_days": sum(late) / len(late) if late else 0.0,
        "refused_share": refused / released if released else 0.0,
    }


def _there_s(job: Job, lead_s: float, end_s: float) -> float:
    """When an order's parts are there; an order that is not finished is so at the end of the run at the earliest."""
    if job.fate == SUBCONTRACT:
        return job.gone_s + lead_s
    return job.finished_s if job.finished_s >= 0 else end_s


def given_out(trace: Trace, workload: Workload) -> dict[str, float]:
    """Hours given out by weekday of the decision, and by days from it to the due date."""
    found = {name_of_day(day): 0.0 for day in WEEKDAYS} | {name_of_days(name): 0.0 for name in DAYS_TO_DUE}
    for job in trace.jobs:
        if job.fate == SUBCONTRACT:
            found[name_of_day(WEEKDAYS[workload.plan.day_of(job.gone_s) % len(WEEKDAYS)])] += job.invoice_h
            left_days = (job.due_s - job.gone_s) / SECONDS_PER_DAY
            found[name_of_days(next(n for n, (a, b) in DAYS_TO_DUE.items() if a < left_days <= b))] += job.invoice_h
    return found


def name_of_day(day: str) -> str:
    """Measure of the hours given out on a weekday."""
    return f"given_out_{day.lower()}_h"


def name_of_days(name: str) -> str:
    """Measure of the hours given out so many days before the due date (a name of :data:`DAYS_TO_DUE`)."""
    return f"given_out_to_due_{name}_h"
