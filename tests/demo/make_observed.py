"""Makes the four observed weeks of the demo from its hidden truth, without the cell.

A time account: one machine works through the released orders in attended time, each step takes its true
time, the bench holds three sheets, overflow is given out or refused by the day. Run it with
``--into FOLDER``; its frozen output are ``observed.csv`` and ``history.csv``.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import sys
from collections import Counter, defaultdict, deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from simkit.plant.plant import PlantInputs  # noqa: E402
from simkit.plant.reading import read_plant  # noqa: E402
from simkit.plant.tables import Order  # noqa: E402
from tests.demo.described import described  # noqa: E402
from tests.demo.hidden_truth import Luck, Truth  # noqa: E402
from tests.demo.sequencing import SmallTurret, Work, works_of  # noqa: E402
from tests.demo.static_corridor import PAGE, laser_s, own_minutes, punch_s, sheet_kg  # noqa: E402

WEEKS = 4
SETUP, HANDLING, PROCESS, STOPPED, CARE, BLOCKED = "setup", "handling", "process", "stopped", "care", "blocked"
WINDOWS = (("06:00", "09:00"), ("09:15", "12:00"), ("12:30", "17:00"), ("17:15", "19:30"), ("20:00", "22:00"))
SATURDAY = (("06:00", "09:00"), ("09:15", "12:00"))
BENCH_PLACES = 3

Step = tuple[str, float]
"""What the machine does, and for how many minutes."""


@dataclass
class Week:
    """The account of one week, in minutes and counts."""

    attended: float = 0.0
    overtime: float = 0.0
    minutes: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    count: Counter[str] = field(default_factory=Counter)


class Floor:
    """The shop floor: queue, machine, bench, and the account of its weeks."""

    def __init__(self, plant: PlantInputs) -> None:
        self.plant, self.truth, self.luck = plant, Truth(), Luck()
        self.times = own_minutes(plant)
        self.monday = plant.settings.run.start_monday
        self.queue: list[Work] = []
        self.weeks = [Week() for _ in range(WEEKS)]
        self.history: list[tuple[str, dt.datetime, dt.datetime, int, int]] = []
        self.given_out_h = self.refused_h = 0.0
        self.outside_h = 0.0
        self.turret = SmallTurret(plant)
        for row in plant.start:
            if row.what == "turret":
                self.turret.put(row.item, row.clearance_mm or 0.0, row.angle)
        self.last: Work | None = None
        self.clock_min = 0.0
        self.bench: deque[float] = deque(maxlen=BENCH_PLACES)
        self.run_min_to_breakdown = 60 * self.luck.exponential(self.truth.running_h_between_breakdowns)
        self.week = self.weeks[0]
        self.now = dt.datetime.combine(self.monday, dt.time(6))
        self.steps = self._steps()
        self.rest: Step | None = None

    def run(self) -> None:
        """Work through four weeks, day by day."""
        for day in range(7 * WEEKS):
            date = self.monday + dt.timedelta(days=day)
            self.week = self.weeks[day // 7]
            if day % 7 == 0:
                self.outside_h = 0.0
            self._release(date)
            if date.weekday() < 5:
                self._work_day(date, WINDOWS, care=True)
            elif date.weekday() == 5 and self._backlog_h() > self.truth.overtime_above_h:
                self.week.overtime += self._work_day(date, SATURDAY, care=False)

    def _release(self, date: dt.date) -> None:
        """Take the day's orders in, give out or refuse what is too much."""
        for work in works_of(self.plant, [order for order in self.plant.orders if order.released == date]):
            hours, waiting = self._estimate_h(work.order), self._backlog_h()
            outside = waiting > self.truth.give_out_above_h
            if outside and self.outside_h + hours <= self.truth.give_out_cap_h:
                self.outside_h += hours
                self.given_out_h += hours
            elif waiting > self.truth.refuse_above_h:
                self.refused_h += hours
            else:
                self.queue.append(work)

    def _backlog_h(self) -> float:
        return sum(self._estimate_h(work.order) for work in self.queue)

    def _estimate_h(self, order: Order) -> float:
        """The planner's estimate: run, handling and fixed times, and a fifth more for tools and material."""
        program = self.plant.program_by_id[order.program_id]
        run_s = punch_s(self.plant, program, PAGE) + laser_s(self.plant, program, PAGE)
        return 1.2 * (order.sheets * (run_s / 60 + PAGE.load + PAGE.pull_out) + 15) / 60

    def _work_day(self, date: dt.date, windows: tuple[tuple[str, str], ...], *, care: bool) -> float:
        """Work through the windows of a day; return their minutes."""
        total = 0.0
        for number, (start, end) in enumerate(windows):
            opens, closes = (dt.datetime.combine(date, dt.time.fromisoformat(text)) for text in (start, end))
            total += (closes - opens).total_seconds() / 60
            self._work_window(opens, closes, care_min=self.truth.care_per_day if care and not number else 0.0)
        self.week.attended += total
        return total

    def _work_window(self, opens: dt.datetime, closes: dt.datetime, care_min: float) -> None:
        """Spend a window on the machine's steps; a step that does not fit goes on in the next window."""
        self.now = opens
        self._spend(CARE, care_min)
        while self.now < closes:
            step = self.rest or self._next_step()
            if step is None:
                return
            state, minutes = step
            first_hour = opens.weekday() == 0 and opens.hour == 6 and self.now < opens + dt.timedelta(hours=1)
            slow = self.truth.monday_first_hour if state == SETUP and first_hour else 1.0
            left = (closes - self.now).total_seconds() / 60
            spent = min(minutes * slow, left)
            self._spend(state, spent)
            self.rest = (state, minutes - spent / slow) if minutes * slow > left else None

    def _next_step(self) -> Step | None:
        """Return the next step; none while the queue is empty."""
        step = next(self.steps, None)
        if step is None:
            self.steps = self._steps()
            step = next(self.steps, None)
        return step

    def _spend(self, state: str, minutes: float) -> None:
        self.week.minutes[state] += minutes
        self.clock_min += minutes
        self.now += dt.timedelta(minutes=minutes)

    def _steps(self) -> Iterator[Step]:
        """Work through the queue, rush orders first, until it is empty."""
        while self.queue:
            work = next((w for w in self.queue if w.order.rush), self.queue[0])
            self.queue.remove(work)
            started, scrap = self.now, 0
            yield SETUP, self.luck.lognormal(self.truth.order_fixed, 0.35)
            for step in self._changeover(work):
                scrap += 2 * (step[0] == STOPPED)
                yield step
            yield SETUP, self.luck.lognormal(self.truth.first_piece, self.truth.first_piece_cv)
            for _ in range(work.order.sheets):
                yield from self._sheet(work)
            self.week.count["orders"] += 1
            self.history.append((work.order.order_id, started, self.now, work.order.sheets, scrap))
            self.last = work

    def _changeover(self, work: Work) -> Iterator[Step]:
        truth, luck, last = self.truth, self.luck, self.last
        changes = self.turret.bring(work)
        self.week.count["loads"] += changes["load"]
        self.week.count["dies"] += changes["die"]
        for _ in range(changes["load"]):
            yield SETUP, luck.lognormal(truth.search, truth.search_cv) + luck.lognormal(truth.fit, truth.fit_cv)
            if luck.happens(truth.tool_fault_share):
                yield STOPPED, truth.tool_fault
        yield SETUP, changes["die"] * truth.die_change + changes["angle"] * truth.angle_change
        if last is None or last.material != work.material:
            yield SETUP, luck.lognormal(truth.fetch, 0.6)
        if last is not None and last.nozzle != work.nozzle:
            yield SETUP, luck.lognormal(truth.nozzle_change, 0.3)

    def _sheet(self, work: Work) -> Iterator[Step]:
        truth, program = self.truth, self.plant.program_by_id[work.order.program_id]
        load = truth.heavy_load if sheet_kg(self.plant, program) > 25 else truth.load
        estimate_s = punch_s(self.plant, program, self.times) + laser_s(self.plant, program, self.times)
        run = self.luck.lognormal(truth.ratio(program.family) * estimate_s / 60, 0.06)
        yield HANDLING, self.luck.lognormal(load, 0.25)
        yield PROCESS, run
        yield STOPPED, self.luck.exponential(truth.short_losses * (load + run + truth.pull_out))
        yield CARE, run / 60 * (truth.bin_per_running_h + truth.check_per_running_h)
        self.run_min_to_breakdown -= run
        if self.run_min_to_breakdown < 0:
            self.run_min_to_breakdown = 60 * self.luck.exponential(truth.running_h_between_breakdowns)
            yield STOPPED, 60 * self.luck.lognormal(truth.repair_h, 0.8)
        if len(self.bench) == BENCH_PLACES:
            yield BLOCKED, max(0.0, self.bench[0] - self.clock_min)
        yield HANDLING, self.luck.lognormal(truth.pull_out, 0.25)
        self._to_bench(sum(part.per_sheet for part in self.plant.parts_of[work.order.program_id]))

    def _to_bench(self, parts: int) -> None:
        begins = max(self.clock_min, self.bench[-1] if self.bench else 0.0)
        self.bench.append(begins + self.luck.lognormal(parts * self.truth.bench_s_per_part / 60, 0.25))
        self.week.count["sheets"] += 1
        self.week.count["parts"] += parts


def observed_rows(floor: Floor) -> Iterator[list[object]]:
    """Yield the observed weeks with their heads first."""
    yield ["week", "monday", "attended_h", "sheets", "parts", "orders_finished", "setup_h", "handling_h", "process_h",
           "stopped_h", "tool_loads", "die_changes", "use"]  # fmt: skip
    for number, week in enumerate(floor.weeks):
        hours = [round(week.minutes[state] / 60, 2) for state in (SETUP, HANDLING, PROCESS, STOPPED)]
        yield [
            number + 1, floor.monday + dt.timedelta(weeks=number), round(week.attended / 60, 2), week.count["sheets"],
            week.count["parts"], week.count["orders"], *hours, week.count["loads"], week.count["dies"],
            "calibrate" if number < 2 else "validate",
        ]  # fmt: skip


def history_rows(floor: Floor) -> Iterator[list[object]]:
    """Yield what was made when, with the heads first."""
    yield ["order_id", "machine", "started", "finished", "sheets", "scrap"]
    for order_id, started, finished, sheets, scrap in floor.history:
        yield [order_id, "PL-1", f"{started:%Y-%m-%d %H:%M}", f"{finished:%Y-%m-%d %H:%M}", sheets, scrap]


def main() -> int:
    """Write the observed weeks and the history into a folder; print what was given out and refused."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--into", type=Path, required=True, metavar="FOLDER")
    folder = parser.parse_args().into
    floor = Floor(described(read_plant(ROOT / "data" / "tarnholt", calibrated=False)))
    floor.run()
    for name, rows in (("observed", observed_rows(floor)), ("history", history_rows(floor))):
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)
    overtime_h = sum(week.overtime for week in floor.weeks) / 60
    print(f"overtime {overtime_h:.1f} h, given out {floor.given_out_h:.1f} h, refused {floor.refused_h:.1f} h")
    return 0


if __name__ == "__main__":
    sys.exit(main())
