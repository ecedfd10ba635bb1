"""A sheet's run at a machine: punching, forming and cutting, through the stops and worn tools that fall into it."""

from __future__ import annotations

from collections.abc import Generator

import simpy

from simkit.base.units import on_grid_s
from simkit.cell.leaving import Leaving
from simkit.cell.orders import Job
from simkit.cell.stops import SheetExposure
from simkit.cell.stretches import Steps

_STILL = -1
_NEVER_S = float("inf")


class Running(Leaving):
    """A machine that runs sheets."""

    def _run(self, job: Job, sheet: int, number: int) -> Generator[simpy.Event, None, int]:
        """Punch, form and cut one sheet through its stops; return the sheets lost (0: the sheet is good)."""
        run_s, counts = self.facts.run_s[sheet], self.facts.exposure(job, number)
        wear = self.tools.wear
        fails_after = wear.fails_after()
        worn_s = on_grid_s(fails_after * run_s) if fails_after < 1.0 else _NEVER_S
        done_s = 0.0
        self.stops.begin_sheet(sheet)
        self.stops.catch_up(self.clock.now)
        while True:
            attended = self.opening.attended(self.clock.now)
            happening = self.stops.first(counts, done_s, run_s, self.clock.now, attended)
            border_s = self._border_s(done_s)
            if border_s < min(worn_s, happening.offset_s if happening else run_s):
                yield from self._run_to(done_s, border_s, counts, run_s, _STILL)
                done_s = border_s
                continue
            if worn_s <= (happening.offset_s if happening else run_s):
                yield from self._run_to(done_s, worn_s, counts, run_s, _STILL)
                wear.ran(fails_after)
                yield from self._worn_tool(job)
                return 1
            if happening is None:
                yield from self._run_to(done_s, run_s, counts, run_s, _STILL)
                self.upkeep.grow(run_s, self.facts.cut_s[sheet], self.facts.slug_kg[job.program])
                wear.ran(1.0)
                return 0
            yield from self._run_to(done_s, happening.offset_s, counts, run_s, happening.cause)
            done_s = happening.offset_s
            lost = yield from self._stop(happening.cause, happening.number, job)
            if lost:
                wear.ran(done_s / run_s if run_s > 0 else 0.0)
                return lost

    def _border_s(self, done_s: float) -> float:
        """Where in the sheet people leave or come, from when on other causes stop it; endless where that is all one."""
        if not self.stops.differ_by_hour:
            return _NEVER_S
        now = self.clock.now
        return done_s + (self.opening.attended_until(now) - now)

    def _run_to(self, from_s: float, to_s: float, counts: SheetExposure, run_s: float, hit: int) -> Steps:
        if to_s <= from_s:
            self.stops.advance(counts, from_s, to_s, run_s, hit)
            return
        self.offset_s = from_s
        end_s = self.clock.now + (to_s - from_s)
        self.enter_run()
        if not self.clock.jump(end_s):
            yield self.clock.at(end_s, rank=self.rank)
        self.leave()
        self.stops.advance(counts, from_s, to_s, run_s, hit)
