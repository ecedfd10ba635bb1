"""Windows of time, asked about moments that go on: the window or gap in which the last moment lay is kept."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable

from simkit.process.shifts import Span


class Windows:
    """Sorted spans; ``inside`` tells whether the moment last looked at lies in one, ``from_s`` to ``until_s`` is that
    span or the gap between two, endless at both ends."""

    __slots__ = ("from_s", "inside", "spans", "until_s")

    def __init__(self, spans: Iterable[Span]) -> None:
        self.change(spans)

    def change(self, spans: Iterable[Span]) -> None:
        """Other windows hold from now on."""
        self.spans = list(spans)
        self.inside, self.from_s, self.until_s = False, 0.0, 0.0

    def hold(self, now_s: float) -> bool:
        """Whether a moment lies in a window."""
        if not self.from_s <= now_s < self.until_s:
            self._look(now_s)
        return self.inside

    def next(self, now_s: float) -> float | None:
        """The next moment in a window, this one if it is; None where none comes."""
        if self.hold(now_s):
            return now_s
        return self.until_s if self.until_s < float("inf") else None

    def _look(self, now_s: float) -> None:
        spans = self.spans
        at = bisect_right(spans, (now_s, float("inf"))) - 1
        self.inside = at >= 0 and now_s < spans[at][1]
        if self.inside:
            self.from_s, self.until_s = spans[at]
            return
        self.from_s = spans[at][1] if at >= 0 else float("-inf")
        self.until_s = spans[at + 1][0] if at + 1 < len(spans) else float("inf")
