"""On call: who comes in an allowed night when a machine needs somebody. Told the moment; no clock.

A request of a machine for one person, asked for in an allowed night, is called for at once if somebody on call has the
skill and is free, calls are left for this night, and the way ends before the night does. Who is called comes after the
response time, does that one request without a pause and leaves. If somebody else has begun it meanwhile the call was in
vain; it counts all the same.
"""

from __future__ import annotations

from collections.abc import Sequence

from simkit.base.units import SECONDS_PER_MINUTE, on_grid_s
from simkit.base.vocabulary import ON_CALL
from simkit.plant.settings import NightSettings
from simkit.plant.tables import Person
from simkit.process.shifts import Span


class OnCall:
    """The plant's rule, and the calls of each night so far."""

    def __init__(self, night: NightSettings, people: Sequence[Person]) -> None:
        here = night.on_call_response_min is not None and night.rule != "not_allowed"
        self.rows = tuple(row for row, person in enumerate(people) if here and person.shift == ON_CALL)
        self.response_s = on_grid_s((night.on_call_response_min or 0.0) * SECONDS_PER_MINUTE)
        self.per_night = night.on_call_calls_per_night
        self._calls: dict[Span, int] = {}

    def may_call(self, night: Span | None, asked_s: float, now_s: float) -> bool:
        """Whether a request of this night may still be called for now; ``night`` is None outside of one."""
        if night is None or asked_s < night[0] or self._calls.get(night, 0) >= self.per_night:
            return False
        return now_s + self.response_s < night[1]

    def note(self, night: Span) -> None:
        """Somebody has been called."""
        self._calls[night] = self._calls.get(night, 0) + 1
