"""Unplanned stops: each cause has its own exposure clock on each machine.

Pure arithmetic, no events: the machine asks where in a sheet the next stop falls, and tells how far it got.
The exposure of a cause does not grow while the machine is stopped.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import cycle
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, on_grid_s
from simkit.cell.drawstream import DrawStream
from simkit.cell.earlylife import EarlyLife, early_life
from simkit.plant.tables import Stop
from simkit.process.draws import Draws
from simkit.process.pickluck import FailingPick, PickLuck, picks_one_by_one

LUCK = ("repair", "retry", "lost", "break")
"""What luck decides about a stop that has come."""

_BLOCK = 8
_TIME = -1


class SheetExposure(NamedTuple):
    """What one sheet adds to each exposure; running time is taken from the clock."""

    sheet: float
    part: float
    pick: float
    hit: float
    contour: float
    tool_load: float


class StopInSheet(NamedTuple):
    """A stop: its cause (row of stops.csv), its number on this machine, and where in the sheet it falls.

    ``number`` names the luck of how it goes: of a pick that failed it is the pick's own.
    """

    cause: int
    number: int
    offset_s: float


class _CauseClock(NamedTuple):
    """The exposure clock of a cause: its row, what it counts (place in an exposure, or ``_TIME``), its early life."""

    row: int
    counted: int
    early: EarlyLife | None


class StopOutcome(NamedTuple):
    """How a stop goes: seconds of retries, seconds of repair by somebody (0: a retry worked), losses.

    ``listed``: the repair takes the next time of a list, read when it starts (:meth:`StopClocks.listed_repair_s`).
    """

    retry_s: float
    repair_s: float
    sheets_lost: int
    breaks_tool: bool
    listed: bool = False


class StopClocks:
    """Exposure clocks of one machine.

    Of a cause with a list, the next interval is read when the machine starts to grow its exposure, over all machines in
    that order: a count or running hours when a sheet starts or goes on, calendar hours at the start of the run and as a
    stop ends. Until then the cause stands in ``_unread``. Of a cause that acts in some hours only, exposure grows in
    them; a sheet goes on over their border in another stretch. Picks have no clock: each fails by its own luck, once,
    when it is its turn.
    """

    def __init__(
        self, causes: tuple[Stop, ...], draws: Draws, machine: int, shared: dict[str, Iterator[float]],
        picks: PickLuck | None = None,
    ) -> None:  # fmt: skip
        self.causes, self.picks = causes, picks
        self._by_pick = [picks_one_by_one(cause) for cause in causes]
        self._coming: list[FailingPick] = []
        self._struck: FailingPick | None = None
        self._begun: dict[int, int] = {}
        self.timed = [cause.exposure in ("running_hour", "calendar_hour") for cause in causes]
        self.calendar = [cause.exposure == "calendar_hour" for cause in causes]
        self.has_calendar = any(self.calendar)
        self.early = [early_life(cause) for cause in causes]
        self._gaps = [DrawStream(draws, f"stop:{cause.clock}:{machine}:gap") for cause in causes]
        self._luck = [CauseLuck(cause, draws, machine) for cause in causes]
        clocks = [_CauseClock(row, _counted(cause), early_life(cause)) for row, cause in enumerate(causes)]
        self._acting = [[one for one in clocks if causes[one.row].acts_in(attended=at)] for at in (False, True)]
        self.differ_by_hour = self._acting[False] != self._acting[True]
        self._clocks = self._acting[True]
        self._shared = shared
        self.number = [0] * len(causes)
        self._unread: list[int] = []
        self.left = [self._next_gap(row) for row in range(len(causes))]
        self._read([row for row in self._unread if self.calendar[row]])
        self._seen_s = self._from_s = 0.0

    def _next_gap(self, row: int) -> float:
        """Exposure until the next stop; endless for the time being where a list is read later."""
        if self._by_pick[row]:
            return math.inf
        if self.causes[row].file:
            self._unread.append(row)
            return math.inf
        return self._gap(row)

    def _read(self, rows: list[int]) -> None:
        """Take the next intervals of lists: the exposure of these causes grows from now on."""
        for row in rows:
            self._unread.remove(row)
            cause = self.causes[row]
            value = next(self._shared[f"{cause.clock}:gap"])
            self.left[row] = on_grid_s(value * SECONDS_PER_HOUR) if self.timed[row] else value

    def _gap(self, row: int) -> float:
        """Exposure until the next stop: seconds for hours, else a count.

        Of a count, each unit stops at most once, with chance ``rate``: whole units pass first, so that n of them
        pass without a stop with chance (1-rate)^n, and the unit that stopped is not tried again.
        """
        cause = self.causes[row]
        if cause.rate <= 0:
            return float("inf")
        exponential = -float(np.log1p(-self._gaps[row][self.number[row]]))
        if self.timed[row]:
            return on_grid_s(exponential / cause.rate * SECONDS_PER_HOUR)
        if self.early[row] is not None and cause.rate < 1:
            return exponential / -float(np.log1p(-cause.rate))  # units weigh more than one, so parts of units count
        passed = float(np.floor(exponential / -np.log1p(-cause.rate))) if cause.rate < 1 else 0.0
        return passed + (self.number[row] > 0)

    def begin_sheet(self, sheet: int) -> None:
        """A sheet begins to run, for the first time or anew: its picks are those to come."""
        if self.picks is not None:
            attempt = self._begun.get(sheet, 0)
            self._begun[sheet] = attempt + 1
            self._coming = list(self.picks.failing(sheet, attempt))

    def spared(self, sheet: int, counts: SheetExposure, run_s: float, attended: bool) -> list[float] | None:
        """What is left of each cause after a whole sheet, for :meth:`ran`; None where a cause may strike in it."""
        if self.has_calendar or self._unread:
            return None
        if self.picks is not None and self.picks.failing(sheet, self._begun.get(sheet, 0)):
            return None
        left = [*self.left]
        for row, counted, early in self._acting[attended]:
            left[row] -= run_s if counted == _TIME else counts[counted]
            if left[row] < 0.0 or early is not None:
                return None
        return left

    def ran(self, sheet: int, left: list[float], run_s: float) -> None:
        """A whole sheet has been run, and no cause has struck."""
        self.left, self._coming = left, []
        self._begun[sheet] = self._begun.get(sheet, 0) + 1
        self._seen_s += run_s

    def first(
        self, counts: SheetExposure, done_s: float, run_s: float, now_s: float, attended: bool
    ) -> StopInSheet | None:
        """The first stop in the rest of a sheet of which ``done_s`` of ``run_s`` seconds are done at ``now_s``.

        Of counts, a stretch goes by the rate at its start; ``attended`` says in which hours it starts.
        """
        self._from_s, self._clocks = now_s, self._acting[attended]
        if self._unread:
            self._read(sorted(one.row for one in self._clocks if one.row in self._unread))
        struck, at_s, left, to_go_s = -1, math.inf, self.left, run_s - done_s
        rest = 1.0 - done_s / run_s if run_s > 0 else 1.0
        for row, counted, early in self._clocks:
            if counted == _TIME:
                seconds = left[row] if early is None else early.until(now_s, left[row])
                if seconds >= to_go_s:
                    continue
                offset = done_s + seconds if early is None else on_grid_s(done_s + seconds)
            else:
                amount = counts[counted] * rest * (1.0 if early is None else early.rate_at(now_s))
                if left[row] >= amount:
                    continue
                offset = on_grid_s(done_s + left[row] / amount * to_go_s)
            if offset < at_s:
                struck, at_s = row, offset
        best = StopInSheet(struck, self.number[struck], at_s) if struck >= 0 else None
        return self._first_pick(done_s, run_s, now_s, best) if self._coming else best

    def _first_pick(self, done_s: float, run_s: float, now_s: float, best: StopInSheet | None) -> StopInSheet | None:
        """The first pick to come that fails, unless another stop comes before; of equal moments the first cause."""
        for pick in self._coming:
            early = self.early[pick.cause]
            chance = self.causes[pick.cause].rate * (1.0 if early is None else early.rate_at(now_s))
            if pick.uniform < chance and any(one.row == pick.cause for one in self._clocks):
                offset = max(on_grid_s(pick.share * run_s), done_s)
                if best is None or (offset, pick.cause) < (best.offset_s, best.cause):
                    self._struck = pick
                    return StopInSheet(pick.cause, pick.entity, offset)
                break
        return best

    def advance(self, counts: SheetExposure, from_s: float, to_s: float, run_s: float, hit: int = -1) -> None:
        """Let exposures grow over a stretch of a sheet; the cause that struck starts a new gap."""
        share = (to_s - from_s) / run_s if run_s > 0 else 1.0
        self._seen_s += to_s - from_s
        if self._coming:
            self._pass_picks(to_s, run_s, hit)
        left = self.left
        for row, counted, early in self._clocks:
            if row == hit:
                self.number[row] += 1
                left[row] = self._next_gap(row)
            elif counted == _TIME:
                if early is None:
                    left[row] -= to_s - from_s
                else:
                    left[row] = self._left_after(row, self._from_s, self._from_s + (to_s - from_s))
            else:
                weight = share if early is None else share * early.rate_at(self._from_s)
                left[row] = max(left[row] - counts[counted] * weight, 0.0)

    def _pass_picks(self, to_s: float, run_s: float, hit: int) -> None:
        """Picks done by now are no more to come; of those of this moment, the one that struck."""
        struck, self._struck = self._struck if hit >= 0 else None, None
        self._coming = [pick for pick in self._coming if pick is not struck and on_grid_s(pick.share * run_s) >= to_s]

    def _left_after(self, row: int, from_s: float, to_s: float) -> float:
        """What is left of the gap of a cause by hours after a stretch of time."""
        early, left = self.early[row], self.left[row]
        return left - (to_s - from_s) if early is None else early.rest(left - early.grown(from_s, to_s))

    def catch_up(self, now_s: float) -> None:
        """Let calendar hours pass up to now, whatever the machine did; what fell due meanwhile strikes at once."""
        if self.has_calendar:
            for row, calendar in enumerate(self.calendar):
                if calendar:
                    self.left[row] = max(self._left_after(row, self._seen_s, now_s), 0.0)
            self._seen_s = now_s

    def stood_until(self, now_s: float) -> None:
        """The machine has been stopped until now: no exposure grew."""
        self._seen_s = now_s
        self._read(sorted(row for row in self._unread if self.calendar[row]))

    def next_calendar(self) -> float:
        """Seconds until the next stop of a calendar-hour cause, never negative; infinity without one."""
        return max(min((self._coming_s(row) for row, yes in enumerate(self.calendar) if yes), default=math.inf), 0.0)

    def _coming_s(self, row: int) -> float:
        early, left = self.early[row], self.left[row]
        return left if early is None or math.isinf(left) else on_grid_s(early.until(self._seen_s, left))

    def calendar_cause(self) -> int:
        """The calendar-hour cause that is due first."""
        return min((row for row, yes in enumerate(self.calendar) if yes), key=self._coming_s)

    def outcome(self, cause: int, number: int) -> StopOutcome:
        """How this stop goes, by the luck of (machine, cause, number), or of the pick that failed."""
        if self._by_pick[cause] and self.picks is not None:
            luck = {what: np.array([self.picks.uniform(cause, what, number)]) for what in LUCK}
            return outcomes(self.causes[cause], luck)[0]
        return self._luck[cause][number]

    def listed_repair_s(self, cause: int) -> float:
        """The next repair time of a cause with a list: asked for when the repair starts."""
        return on_grid_s(next(self._shared[f"{self.causes[cause].clock}:repair"]) * SECONDS_PER_MINUTE)


class CauseLuck:
    """How the stops of one cause at one machine go, worked out in growing blocks."""

    def __init__(self, cause: Stop, draws: Draws, machine: int) -> None:
        self._cause = cause
        self._streams = {what: DrawStream(draws, f"stop:{cause.clock}:{machine}:{what}") for what in LUCK}
        self._known: list[StopOutcome] = []

    def __getitem__(self, number: int) -> StopOutcome:
        known = self._known
        if number >= len(known):
            block = range(len(known), max(_BLOCK, 2 * number))
            self._known += outcomes(self._cause, {what: one.block(block) for what, one in self._streams.items()})
        return self._known[number]


def outcomes(cause: Stop, luck: Mapping[str, NDArray[np.float64]]) -> list[StopOutcome]:
    """How stops of a cause go, from uniform numbers for each word of ``LUCK``."""
    law = Law(cause.repair_law, cause.repair_min * SECONDS_PER_MINUTE, cause.repair_cv)
    repair_s = np.zeros(len(luck["repair"])) if cause.file else law.draw(luck["repair"])
    sure = int(cause.sheets_scrapped)
    found = []
    for own_s, retry, lost, breaks in zip(
        repair_s.tolist(), luck["retry"].tolist(), luck["lost"].tolist(), luck["break"].tolist(), strict=True
    ):
        tries = _tries(retry, cause.retries, cause.retry_success)
        if 0 < tries <= cause.retries:
            found.append(StopOutcome(on_grid_s(tries * cause.retry_s), 0.0, 0, False))
            continue
        sheets = sure + (lost < cause.sheets_scrapped - sure)
        tried_s = on_grid_s(cause.retries * cause.retry_s)
        found.append(StopOutcome(tried_s, on_grid_s(own_s), sheets, breaks < cause.break_share, bool(cause.file)))
    return found


def _counted(cause: Stop) -> int:
    return SheetExposure._fields.index(cause.exposure) if cause.exposure in SheetExposure._fields else _TIME


def _tries(uniform: float, retries: int, success: float) -> int:
    """The first try that succeeds; retries + 1 when none does."""
    failing = 1.0
    for number in range(1, retries + 1):
        failing *= 1.0 - success
        if uniform < 1.0 - failing:
            return number
    return retries + 1


def shared_sequences(causes: tuple[Stop, ...], sequences: dict[str, tuple[float, ...]]) -> dict[str, Iterator[float]]:
    """Lists consumed in the order of start over all machines: exposures (hours, or counts), repair times in minutes."""
    found: dict[str, Iterator[float]] = {}
    for cause in causes:
        if cause.file:
            found[f"{cause.clock}:gap"] = cycle(sequences[cause.file])
            found[f"{cause.clock}:repair"] = cycle(sequences[f"{cause.file}:repair"])
    return found
