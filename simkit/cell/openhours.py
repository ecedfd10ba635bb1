"""When the cell is open: attended hours, worked overtime and allowed nights."""

from __future__ import annotations

from bisect import bisect_right, insort
from operator import itemgetter

from simkit.cell.windows import Windows
from simkit.process.shifts import ShiftPlan, Span, merged, without


class OpenHours:
    """Answers whether a moment is attended, an allowed night, or closed.

    Overtime windows become attended when the overtime rule asks for them. ``people``: when people are there.
    """

    def __init__(self, plan: ShiftPlan) -> None:
        self.nights = plan.nights
        self.people, self._open = Windows(plan.attended), Windows(merged((*plan.attended, *plan.nights)))
        self._night_starts = [start for start, _ in plan.nights]
        self.worked_overtime: list[Span] = []

    def attended(self, now_s: float) -> bool:
        """Whether a shift or worked overtime is on, breaks included."""
        return self.people.hold(now_s)

    def in_night(self, now_s: float) -> bool:
        """Whether unattended running is allowed now."""
        return self.night_of(now_s) is not None

    def night_of(self, now_s: float) -> Span | None:
        """The allowed night in which this moment lies; None outside of one."""
        if not self.nights:
            return None
        at = bisect_right(self._night_starts, now_s) - 1
        inside = at >= 0 and now_s < self.nights[at][1] and not self.attended(now_s)
        return self.nights[at] if inside else None

    def next_night(self, now_s: float) -> Span | None:
        """The next allowed night that starts after this moment; None when there is none in the calendar."""
        at = bisect_right(self._night_starts, now_s)
        return self.nights[at] if at < len(self.nights) else None

    def before_night(self, now_s: float) -> tuple[float, Span] | None:
        """Seconds until the people there leave, and the allowed night that comes before others are there."""
        if not self.nights or not self.attended(now_s):
            return None
        end_s = self.people.until_s
        at = bisect_right(self.nights, end_s, key=itemgetter(1))
        night = self.nights[at] if at < len(self.nights) else None
        at = bisect_right(self.people.spans, (end_s, 0.0))
        back_s = self.people.spans[at][0] if at < len(self.people.spans) else float("inf")
        return (end_s - now_s, night) if night is not None and night[0] < back_s else None

    def is_open(self, now_s: float) -> bool:
        """Whether a new sheet may start now."""
        return self._open.hold(now_s)

    def next_open(self, now_s: float) -> float | None:
        """The next moment at which a sheet may start; None when there is none in the calendar."""
        return self._open.next(now_s)

    def next_attended(self, now_s: float) -> float | None:
        """The next attended moment; None when there is none in the calendar."""
        return self.people.next(now_s)

    def work_overtime(self, span: Span) -> None:
        """Add a worked overtime window."""
        for piece in without([span], self.people.spans):
            insort(self.worked_overtime, piece)
        self.people.change(merged((*self.people.spans, span)))
        self._open.change(merged((*self._open.spans, span)))

    @property
    def open_spans(self) -> tuple[Span, ...]:
        """Attended hours, worked overtime and allowed nights together."""
        return tuple(self._open.spans)

    @property
    def attended_spans(self) -> tuple[Span, ...]:
        """Attended hours with worked overtime."""
        return tuple(self.people.spans)
