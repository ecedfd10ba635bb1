"""What the planner sees and decides at a moment: told the moment, without a clock. The rule itself is elsewhere."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE, SECONDS_PER_WEEK
from simkit.cell.nightshare import NightShare
from simkit.cell.orders import REFUSED, SUBCONTRACT, Job, Orders
from simkit.cell.overflow import HoursAhead, LeavingOrder, ReleasedOrder, ShortOrder, leaving_orders, overtime
from simkit.process.shifts import CoveredTime, Span, crew_spans, plan_shifts
from simkit.process.workload import Workload

OVERTIME = "overtime"
NO_JOB = -1


class OverflowDecision(NamedTuple):
    """What was decided when: overtime, or an order given out or refused, and the order for which it was.

    ``short_job`` would end ``slack_days`` before its due date (negative: after it) and is short by ``short_h`` machine
    hours. ``job`` goes; for overtime there is none, and ``window`` is worked.
    """

    moment_s: float
    what: str
    job: int
    short_job: int
    short_h: float
    slack_days: float
    window: Span | None = None


class Planner:
    """Decides about overflow once an instant, when all releases of that instant are on the board.

    It knows the calendar without absences to come. A saturated queue, and a history that is replayed, are left alone.
    """

    def __init__(self, workload: Workload, orders: Orders) -> None:
        settings, plan = workload.plant.settings, plan_shifts(workload.plant, workload.draws.days)
        self.orders, self.rules, self.overflow = orders, settings.rules, settings.overflow
        self.nights = NightShare(plan.nights, self.rules.night_share_planned)
        self.decisions: list[OverflowDecision] = []
        decides = self.overflow.overtime or self.overflow.subcontract or self.overflow.refuse
        self.active = decides and not orders.saturated and not orders.replayed
        crew = CoveredTime(crew_spans(workload.plant.people, plan.person, plan.attended))
        self._covered = crew, CoveredTime(plan.nights)
        self._machines = len(workload.plant.machines)
        self._end_s = plan.day_start[-1]
        self._looks = frozenset({plan.day_of(start): start for _, start, _ in reversed(plan.shift_spans)}.values())
        self._windows = _decided_at(workload) if self.overflow.overtime else []
        self._tolerance_s = self.overflow.tolerance_days * SECONDS_PER_DAY
        self._lead_s = self.overflow.subcontract_lead_days * SECONDS_PER_DAY
        self._given_out_h: dict[int, float] = {}
        self._waiting: dict[int, ReleasedOrder] = {}

    @property
    def moments(self) -> list[float]:
        """When it looks at the orders beside their releases: the start of each day, and of shifts before overtime."""
        return sorted({*self._looks, *(moment for moment, _ in self._windows)}) if self.active else []

    def decide(self, now_s: float, new: Sequence[Job], worked: Sequence[Span]) -> tuple[list[Span], list[Job]]:
        """Return the overtime to be worked and the orders that leave; ``worked`` is overtime decided before."""
        worked = [span for span in worked if span[1] > now_s - SECONDS_PER_WEEK]
        seen = self._seen(now_s)
        extra = self._overtime(now_s, seen, worked)
        if not (new or now_s in self._looks):
            return extra, []
        spans = (*worked, *extra)
        latest_s = max([order.due_s for order in seen], default=now_s)
        ahead = self._at(now_s, (*spans, *self._possible(spans, latest_s)))
        gone = self._given_out(ahead, seen) if self.overflow.subcontract else []
        if self.overflow.refuse and new:
            left, fresh = [order for order in seen if order not in gone], {job.number for job in new}
            rows = leaving_orders(left, ahead.hours, lambda order: order.number in fresh and not order.stays,
                           self.overflow.least_h)  # fmt: skip
            gone += [self._goes(ahead, row, REFUSED) for row in rows]
        return extra, [self.orders.jobs[order.number] for order in gone]

    def _seen(self, now_s: float) -> list[ReleasedOrder]:
        begun, waiting = self.orders.planned(now_s)
        known = self._waiting
        for job in waiting:
            if job.number not in known:
                known[job.number] = self._released(job, stays=job.rush)
        return [self._released(job, stays=True) for job in begun] + [known[job.number] for job in waiting]

    def _released(self, job: Job, *, stays: bool) -> ReleasedOrder:
        return ReleasedOrder(job.number, job.left_h, job.invoice_h, job.due_s + self._tolerance_s, stays)

    def _at(self, now_s: float, overtime: Iterable[Span]) -> HoursAhead:
        share = self.nights.share(now_s) if self.nights.nights else 0.0
        ahead = tuple(span for span in overtime if span[1] > now_s)
        return HoursAhead(now_s, *self._covered, share, self._machines, ahead)

    def _overtime(self, now_s: float, seen: Sequence[ReleasedOrder], worked: Sequence[Span]) -> list[Span]:
        """Decide the windows whose moment has come, earliest first; what is decided is not taken back."""
        extra: list[Span] = []
        while self._windows and self._windows[0][0] <= now_s:
            _, window = self._windows.pop(0)
            ahead = self._at(now_s, (*worked, *extra))
            found = overtime(seen, ahead, self._within_cap(window, (*worked, *extra)), self.overflow)
            if found is not None:
                row, span = found
                extra.append(span)
                self._note(ahead, row, OVERTIME, NO_JOB, span)
        return extra

    def _within_cap(self, window: Span, worked: Sequence[Span]) -> Span:
        """What of a window the week's cap leaves."""
        used_s = sum(end - start for start, end in worked if _week(start) == _week(window[0]))
        left_s = max(self.rules.overtime_cap_h_per_week * SECONDS_PER_HOUR - used_s, 0.0)
        return window[0], min(window[1], window[0] + left_s)

    def _possible(self, worked: Sequence[Span], until_s: float) -> list[Span]:
        """Overtime that may still be decided before a moment."""
        found: list[Span] = []
        for _, window in self._windows:
            if window[0] >= until_s:
                break
            found.append(self._within_cap(window, (*worked, *found)))
        return found

    def _given_out(self, ahead: HoursAhead, seen: Sequence[ReleasedOrder]) -> list[ReleasedOrder]:
        week = _week(ahead.now_s)
        given_h = self._given_out_h.get(week, 0.0)
        delivered_s = ahead.now_s + self._lead_s + self._tolerance_s
        rows = leaving_orders(
            seen, ahead.hours, lambda order: not order.stays and delivered_s <= order.due_s, self.overflow.least_h,
            self.rules.subcontract_cap_h_per_week - given_h,
        )  # fmt: skip
        self._given_out_h[week] = given_h + sum(row.order.invoice_h for row in rows)
        return [self._goes(ahead, row, SUBCONTRACT) for row in rows]

    def _goes(self, ahead: HoursAhead, row: LeavingOrder, what: str) -> ReleasedOrder:
        self.orders.leave(self.orders.jobs[row.order.number], what, ahead.now_s)
        self._note(ahead, row.short, what, row.order.number)
        return row.order

    def _note(self, ahead: HoursAhead, short: ShortOrder, what: str, job: int, window: Span | None = None) -> None:
        minutes = range(int((self._end_s - ahead.now_s) / SECONDS_PER_MINUTE))
        ends_s = ahead.now_s + SECONDS_PER_MINUTE * bisect_left(
            minutes, short.planned_h, key=lambda minute: ahead.hours(ahead.now_s + SECONDS_PER_MINUTE * minute)
        )
        slack_days = (short.order.due_s - self._tolerance_s - ends_s) / SECONDS_PER_DAY
        self.decisions.append(
            OverflowDecision(ahead.now_s, what, job, short.order.number, short.hours, slack_days, window)
        )


def _decided_at(workload: Workload) -> list[tuple[float, Span]]:
    """Each overtime window with the moment of its decision: the start of the last shift before it."""
    starts = [start for _, start, _ in workload.plan.shift_spans]
    found = []
    for span in workload.plan.overtime:
        before = bisect_left(starts, span[0])
        found.append((starts[before - 1] if before else max(span[0] - SECONDS_PER_DAY, 0.0), span))
    return found


def _week(moment_s: float) -> int:
    return int(moment_s // SECONDS_PER_WEEK)
