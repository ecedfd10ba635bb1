"""What became of the orders: how many were late or refused, and on which day and how early work was given out.

Merged orders count one by one. Subcontracted hours are standard hours of today's plant, as on the invoice.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import WEEKDAYS
from simkit.cell.orders import REFUSED, SUBCONTRACT
from simkit.cell.trace import Trace
from simkit.experiment.tables import Table, column_sum, table
from simkit.process.workload import Workload

DAYS_TO_DUE = {"5": (0.0, 5.0), "10": (5.0, 10.0), "15": (10.0, 15.0), "more": (15.0, float("inf"))}
"""Calendar days from the decision to the end of the due date, by the name of the measure: more than, at most."""


class OrderRow(NamedTuple):
    """An order of the run; moments in hours from its start, not a number where it did not happen.

    ``there_h`` is when its parts are there: made, or delivered after it was given out. ``gone_h`` is when it was given
    out or refused, on the weekday ``gone_on`` and so many ``days_to_due``. ``late_days`` count from its due date,
    negative before it; what is not there counts as there at the end of the run, what was refused has none.
    ``planned_h`` are the planner's hours, ``invoice_h`` the standard hours of today's plant.
    """

    order_id: str
    program_id: str
    sheets: int
    rush: bool
    released_h: float
    due_h: float
    started_h: float
    there_h: float
    fate: str
    gone_h: float
    gone_on: str
    days_to_due: float
    late_days: float
    planned_h: float
    invoice_h: float


def order_table(trace: Trace, workload: Workload) -> Table:
    """All orders of a run."""
    jobs, book, plan, plant = trace.jobs, workload.draws.book, workload.plan, workload.plant
    order = np.array([member for job in jobs for member in job.members], np.int64)
    of = np.repeat(np.arange(len(jobs)), [len(job.members) for job in jobs])
    names = np.array([(row.order_id, row.program_id) for row in plant.orders], np.str_).reshape(-1, 2)[book.row[order]]
    moments = np.array([(job.started_s, job.finished_s, job.gone_s) for job in jobs], float).reshape(-1, 3)
    started_s, finished_s, gone_s = np.where(moments >= 0, moments, np.nan)[of].T
    fate = np.array([job.fate for job in jobs], np.str_)[of]
    days = [WEEKDAYS[plan.day_of(job.gone_s) % len(WEEKDAYS)] if job.gone_s >= 0 else "" for job in jobs]
    lead_s = plant.settings.overflow.subcontract_lead_days * SECONDS_PER_DAY
    there_s = np.where(fate == SUBCONTRACT, gone_s + lead_s, finished_s)
    end_s = np.where(np.isnan(there_s), trace.end_s, there_s)
    late_days = np.where(fate == REFUSED, np.nan, (end_s - book.due_s[order]) / SECONDS_PER_DAY)
    hours = (at_s / SECONDS_PER_HOUR for at_s in (book.released_s[order], book.due_s[order], started_s, there_s))
    return table(OrderRow, (
        *names.T, book.sheets[order], book.rush[order], *hours, fate, gone_s / SECONDS_PER_HOUR,
        np.array(days, np.str_)[of], (book.due_s[order] - gone_s) / SECONDS_PER_DAY, late_days,
        workload.planned_h[order], workload.draws.order_h[order],
    ))  # fmt: skip


def lateness(orders: Table, end_h: float) -> dict[str, float]:
    """Late orders over those not refused, and refused ones over all; one given out is late by its delivery."""
    released = orders[orders["released_h"] <= end_h]
    kept = released[released["fate"] != REFUSED]
    late = kept["late_days"][kept["late_days"] > 0]
    return {
        "orders_late": float(len(late)),
        "late_share": len(late) / len(kept) if len(kept) else 0.0,
        "late_mean_days": column_sum(late) / len(late) if len(late) else 0.0,
        "refused_share": (len(released) - len(kept)) / len(released) if len(released) else 0.0,
    }


def given_out(orders: Table) -> dict[str, float]:
    """Subcontracted hours by weekday of the decision, and by days from it to the due date."""
    out = orders[orders["fate"] == SUBCONTRACT]
    by_day = {name_of_day(day): column_sum(out["invoice_h"][out["gone_on"] == day]) for day in WEEKDAYS}
    return by_day | {
        name_of_days(name): column_sum(out["invoice_h"][(out["days_to_due"] > low) & (out["days_to_due"] <= high)])
        for name, (low, high) in DAYS_TO_DUE.items()
    }


def name_of_day(day: str) -> str:
    """Measure of the subcontracted hours on a weekday."""
    return f"given_out_{day.lower()}_h"


def name_of_days(name: str) -> str:
    """Measure of the subcontracted hours so many days before the due date (a name of :data:`DAYS_TO_DUE`)."""
    return f"given_out_to_due_{name}_h"
