"""Luck of picks, one by one: which picks of a sheet fail, by (order, sheet, part, n-th pick of it).

A pick fails with the chance of its cause, whatever happened before it, so that n of them pass with chance (1 - p)^n.
The luck is that of the pick itself: neither the order of parts in a program, nor the machine, nor what else is picked
changes it, and a lower chance fails none that a higher one does not. All sheets of a replication are drawn at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base import streams
from simkit.base.arrays import Ints
from simkit.plant.part_ways import picked_parts
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Program, Stop
from simkit.process.draws import Draws


class FailingPick(NamedTuple):
    """A pick that may fail: the share of the sheet's picks before it, the row of its cause in stops.csv, the luck of
    its failing (it fails where this is below its chance) and who it is, for the luck of how it goes on."""

    share: float
    cause: int
    uniform: float
    entity: int


class PickLuck:
    """Which picks of a workload's sheets fail; ``program`` and ``uid`` name the sheets, ``filled`` is the share of a
    program's places on a sheet that hold a part."""

    def __init__(self, plant: PlantInputs, draws: Draws, program: Ints, uid: Ints, filled: tuple[float, ...]) -> None:
        self.draws, self.program, self.uid, self.filled = draws, program, uid, filled
        self.causes = {row: cause for row, cause in enumerate(plant.stops) if picks_one_by_one(cause)}
        self._places = [_places(plant, row) for row in plant.programs] if self.causes else []
        self._first: dict[int, list[FailingPick]] | None = None

    def failing(self, sheet: int, attempt: int) -> list[FailingPick]:
        """Picks of a sheet that may fail, first to last, when it is made for the ``attempt``-th time (from 0)."""
        if attempt:
            return dict(self._found(np.array([sheet]), attempt)).get(sheet, [])
        if self._first is None:
            self._first = dict(self._found(np.arange(len(self.program)), 0))
        return self._first.get(sheet, [])

    def _found(self, sheets: Ints, attempt: int) -> Iterator[tuple[int, list[FailingPick]]]:
        """Sheets with picks that may fail, and these."""
        which = self.program[sheets]
        for program in np.unique(which).tolist() if self._places else ():
            part, number, times = self._places[program]
            if not len(part):
                continue
            own = sheets[which == program]
            who = streams.entity(self.uid[own][:, None], part[None, :], (number + attempt * times)[None, :])
            rows: dict[int, list[FailingPick]] = {}
            for row, cause in self.causes.items():
                luck = streams.keyed(self.draws.seed, self.draws.replication, f"pick:{cause.clock}", who)
                luck = luck / self.filled[program]
                for at, place in np.argwhere(luck < most_chance(cause)).tolist():
                    one = FailingPick(place / len(part), row, float(luck[at, place]), int(who[at, place]))
                    rows.setdefault(int(own[at]), []).append(one)
            yield from ((sheet, sorted(found)) for sheet, found in rows.items())

    def uniform(self, cause: int, what: str, entity: int) -> float:
        """How a failed pick goes on: one number for each ``what``."""
        purpose = f"pick:{self.causes[cause].clock}:{what}"
        return float(streams.keyed(self.draws.seed, self.draws.replication, purpose, np.uint64(entity)))


def picks_one_by_one(cause: Stop) -> bool:
    """Whether a cause strikes at picks by their own luck; one with a list of intervals strikes by the list."""
    return cause.exposure == "pick" and not cause.file


def most_chance(cause: Stop) -> float:
    """The highest chance that a pick fails by a cause, early life included."""
    return cause.rate * (max(cause.early_factor, 1.0) if cause.settle_weeks > 0 else 1.0)


def _places(plant: PlantInputs, program: Program) -> tuple[NDArray[np.uint64], Ints, Ints]:
    """Picks of a sheet in file order: the part's name, which of its kind, and how many of its kind there are."""
    kinds = picked_parts(plant, program)
    times = [part.per_sheet for part in kinds]
    names = np.array([streams.name_of(part.part_id) for part in kinds], np.uint64)
    number = np.concatenate([np.arange(count) for count in times]) if times else np.zeros(0)
    return np.repeat(names, times), number.astype(np.int64), np.repeat(np.array(times, np.int64), times)
