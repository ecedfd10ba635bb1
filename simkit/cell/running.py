"""A sheet's run at a machine: punching, forming and cutting, through the stops and worn tools that fall into it."""

from __future__ import annotations

from simkit.base.units import on_grid_s
from simkit.cell.facts import Facts
from simkit.cell.machinetime import MachineTime
from simkit.cell.orders import Job
from simkit.cell.stops import StopClocks
from simkit.cell.toolwork import ToolWork
from simkit.cell.trace import RUN
from simkit.cell.troubles import Lost, Troubles
from simkit.cell.upkeep import UpkeepClocks

_STILL = -1
_NEVER_S = float("inf")


class Running:
    """A machine that runs sheets."""

    def __init__(
        self,
        time: MachineTime,
        facts: Facts,
        tools: ToolWork,
        stops: StopClocks,
        upkeep: UpkeepClocks,
        troubles: Troubles,
    ) -> None:
        self.time, self.facts, self.stops, self.troubles = time, facts, stops, troubles
        self.wear, self.upkeep = tools.wear, upkeep

    def _done(self, job: Job, sheet: int) -> None:
        self.upkeep.grow(self.facts.run_s[sheet], self.facts.cut_s[sheet], self.facts.slug_kg[job.program])
        self.wear.ran(1.0)

    def run(self, job: Job, sheet: int, number: int) -> Lost:
        """Punch, form and cut one sheet through its stops; return the sheets lost (0: the sheet is good)."""
        time, stops, people, run_s = self.time, self.stops, self.time.open_hours.people, self.facts.run_s[sheet]
        counts = self.facts.exposure(job, number)
        fails_after = self.wear.fails_after()
        worn_s = on_grid_s(fails_after * run_s) if fails_after < 1.0 else _NEVER_S
        attended = people.hold(time.clock.now)
        if fails_after >= 1.0 and not (stops.differ_by_hour and time.clock.now + run_s > people.until_s):
            left = stops.spared(sheet, counts, run_s, attended)
            if left is not None:
                if run_s > 0 and not time.passes(RUN, run_s):
                    yield from time.rest()
                stops.ran(sheet, left, run_s)
                self._done(job, sheet)
                return 0
        done_s = 0.0
        stops.begin_sheet(sheet)
        stops.catch_up(time.clock.now)
        while True:
            happening = stops.first(counts, done_s, run_s, time.clock.now, people.hold(time.clock.now))
            to_s, hit = (run_s, _STILL) if happening is None else (happening.offset_s, happening.cause)
            if stops.differ_by_hour:  # other causes stop it from when people leave or come
                border_s = done_s + (people.until_s - time.clock.now)
                if border_s < min(to_s, worn_s):
                    to_s, hit = border_s, _STILL
            if worn_s <= to_s:
                to_s, hit = worn_s, _STILL
            if to_s > done_s and not time.passes(RUN, to_s - done_s, done_s):
                yield from time.rest()
            stops.advance(counts, done_s, to_s, run_s, hit)
            done_s = to_s
            if hit != _STILL and happening is not None:
                lost = yield from self.troubles.stop(hit, happening.number, job)
                if lost:
                    self.wear.ran(done_s / run_s if run_s > 0 else 0.0)
                    return lost
            elif done_s == worn_s:
                self.wear.ran(fails_after)
                yield from self.troubles.worn_tool(job)
                return 1
            elif happening is None and done_s >= run_s:
                self._done(job, sheet)
                return 0
