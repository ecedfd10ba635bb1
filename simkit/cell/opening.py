"""When the cell is open: attended hours, worked overtime and allowed nights."""

from __future__ import annotations

from bisect import bisect_right, insort
from operator import itemgetter

from simkit.process.shifts import ShiftPlan, Span, merged, without


class Opening:
    """Answers whether a moment is attended, an allowed night, or closed.

    Overtime windows become attended when the overtime rule asks for them.
    """

    def __init__(self, plan: ShiftPlan) -> None:
        self.nights = plan.nights
        self._attended = list(plan.attended)
        self._open = list(merged((*plan.attended, *plan.nights)))
        self._night_starts = [start for start, _ in plan.nights]
        self.worked_overtime: list[Span] = []
        self._seen, self._seen_open = Seen(self._attended), Seen(self._open)

    def people(self, now_s: float) -> Seen:
        """Whether people are there (``inside``), and until when they are or are not."""
        seen = self._seen
        if not seen.from_s <= now_s < seen.until_s:
            seen.look(now_s)
        return seen

    def attended(self, now_s: float) -> bool:
        """Whether a shift or worked overtime is on, breaks included."""
        return self.people(now_s).inside

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
        at = bisect_right(self._attended, (now_s, float("inf"))) - 1
        if not self.nights or at < 0 or now_s >= self._attended[at][1]:
            return None
        end_s = self._attended[at][1]
        back_s = self._attended[at + 1][0] if at + 1 < len(self._attended) else float("inf")
        at = bisect_right(self.nights, end_s, key=itemgetter(1))
        night = self.nights[at] if at < len(self.nights) else None
        return (end_s - now_s, night) if night is not None and night[0] < back_s else None

    def is_open(self, now_s: float) -> bool:
        """Whether a new sheet may start now."""
        seen = self._seen_open
        if not seen.from_s <= now_s < seen.until_s:
            seen.look(now_s)
        return seen.inside

    def next_open(self, now_s: float) -> float | None:
        """The next moment at which a sheet may start; None when there is none in the calendar."""
        return _next(self._open, now_s)

    def next_attended(self, now_s: float) -> float | None:
        """The next attended moment; None when there is none in the calendar."""
        return _next(self._attended, now_s)

    def work_overtime(self, span: Span) -> None:
        """Add a worked overtime window."""
        for piece in without([span], self._attended):
            insort(self.worked_overtime, piece)
        insort(self._attended, span)
        self._attended = list(merged(self._attended))
        self._open = list(merged((*self._open, span)))
        self._seen, self._seen_open = Seen(self._attended), Seen(self._open)

    @property
    def open_spans(self) -> tuple[Span, ...]:
        """Attended hours, worked overtime and allowed nights together."""
        return tuple(self._open)

    @property
    def attended_spans(self) -> tuple[Span, ...]:
        """Attended hours with worked overtime."""
        return tuple(self._attended)


class Seen:
    """The span of a list, or the gap between two, in which the moment lay that was last asked for."""

    __slots__ = ("_spans", "from_s", "inside", "until_s")

    def __init__(self, spans: list[Span]) -> None:
        self._spans, self.inside = spans, False
        self.from_s = self.until_s = 0.0

    def look(self, now_s: float) -> None:
        """Find the span or gap of a moment."""
        spans = self._spans
        at = bisect_right(spans, (now_s, float("inf"))) - 1
        self.inside = at >= 0 and now_s < spans[at][1]
        if self.inside:
            self.from_s, self.until_s = spans[at]
            return
        self.from_s = spans[at][1] if at >= 0 else float("-inf")
        self.until_s = spans[at + 1][0] if at + 1 < len(spans) else float("inf")


def _next(spans: list[Span], now_s: float) -> float | None:
    at = bisect_right(spans, (now_s, float("inf"))) - 1
    if at >= 0 and now_s < spans[at][1]:
        return now_s
    return spans[at + 1][0] if at + 1 < len(spans) else None
