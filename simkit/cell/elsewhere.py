"""Work that people have in other cells. Pure: told who and how often; no clock.

Somebody with ``elsewhere_per_h`` is called away by chance: the gaps between calls are exponential in hours at work.
Somebody with ``elsewhere_min`` alone leaves whenever nothing here waits that the person could do, and nobody calls the
person back before that piece of work, or the person's time at work, ends.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, TIME_GRID_PER_S, on_grid_s
from simkit.cell.drawstream import DrawStream
from simkit.plant.tables import Person
from simkit.process.draws import Draws
from simkit.process.shifts import Span


class Elsewhere:
    """Who goes elsewhere, when they are called, and how long each piece of work there takes."""

    def __init__(self, people: Sequence[Person], draws: Draws) -> None:
        self.people = people
        busy = [row for row, person in enumerate(people) if person.elsewhere_min > 0]
        self.leaving = tuple(row for row in busy if people[row].elsewhere_per_h is None)
        self.called = tuple(row for row in busy if people[row].elsewhere_per_h)
        self._gaps = {row: DrawStream(draws, f"elsewhere:{people[row].person_id}:gap") for row in busy}
        self._lengths = {row: DrawStream(draws, f"elsewhere:{people[row].person_id}:length") for row in busy}
        self._number = dict.fromkeys(busy, 0)

    def piece_s(self, row: int) -> float:
        """Seconds of a person's next piece of work elsewhere; never zero."""
        person, number = self.people[row], self._number[row]
        self._number[row] += 1
        law = Law(person.elsewhere_law, person.elsewhere_min * SECONDS_PER_MINUTE, person.elsewhere_cv)
        seconds = float(law.draw(np.array([self._lengths[row][number]]))[0])
        return max(on_grid_s(seconds), 1 / TIME_GRID_PER_S)

    def calls(self, row: int, windows: Sequence[Span]) -> Iterator[float]:
        """Moments of the calls of a person, in the person's time at work."""
        mean_s = SECONDS_PER_HOUR / (self.people[row].elsewhere_per_h or np.inf)
        number, left_s = 0, self._gap_s(row, 0, mean_s)
        for start, end in windows:
            moment = start + left_s
            while moment < end:
                yield moment
                number += 1
                moment += self._gap_s(row, number, mean_s)
            left_s = moment - end

    def _gap_s(self, row: int, number: int, mean_s: float) -> float:
        return on_grid_s(-float(np.log1p(-self._gaps[row][number])) * mean_s)
