"""Makes the machine log of the demo's four observed weeks from its hidden truth, without the cell, and spoils it.

The floor is that of ``make_observed.py``, with the same luck: this only writes down what its machine does, in the words
of the open standard. Its frozen output is ``data/tarnholt/events.csv``. Faults: three silences (the longest
5 h 40), a clock that gains 4 min in a day and is set back, twelve repeated lines, an hour that comes twice.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import sys
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from simkit.plant.reading import read_plant  # noqa: E402
from tests.demo.described import described  # noqa: E402
from tests.demo.make_observed import BLOCKED, CARE, HANDLING, PROCESS, SETUP, STOPPED, Floor, Step  # noqa: E402
from tests.demo.sequencing import Work  # noqa: E402

ZONE = ZoneInfo("Europe/Berlin")
HEARTBEAT = dt.timedelta(minutes=20)
LOAD, UNLOAD, TOOL = "MATERIAL_LOAD", "MATERIAL_UNLOAD", "TOOL_LOAD"
SILENCES = (("2026-05-07 08:10", 340), ("2026-05-12 15:00", 130), ("2026-05-20 18:05", 95))
DRIFT_DAY, DRIFT, SET_RIGHT = dt.date(2026, 5, 14), dt.timedelta(minutes=4), dt.datetime(2026, 5, 14, 17, 53, 10)
TWICE = dt.datetime(2026, 5, 21, 11, 33, 57)
"""From here on the clock is an hour late, until midnight."""
REPEATED_AT, REPEATED = 3000, 12

Line = tuple[dt.datetime, str, str]


class LoggedFloor(Floor):
    """The shop floor, whose machine writes down its state at each change and every 20 minutes."""

    def __init__(self) -> None:
        super().__init__(described(read_plant(ROOT / "data" / "tarnholt", calibrated=False)))
        self.lines: list[Line] = []
        self.values: dict[str, str] = {}
        self.program, self.wait, self.cause = "", "NONE", ""

    def _sheet(self, work: Work) -> Iterator[Step]:
        """Tell loading from pulling out, and a short stop from a breakdown."""
        before, short = True, True
        self.program = work.order.program_id
        for step in super()._sheet(work):
            self.wait = LOAD if step[0] == HANDLING and before else UNLOAD if step[0] == HANDLING else "NONE"
            before &= step[0] != HANDLING
            if step[0] == STOPPED:
                self.cause, short = "short_stop" if short else "breakdown", False
            yield step
        self.wait = "NONE"

    def _changeover(self, work: Work) -> Iterator[Step]:
        """Tell tool loads from the other set-up, and name the tool fault."""
        loads = 0
        for step in super()._changeover(work):
            self.wait = TOOL if step[0] == SETUP and not loads else "NONE"
            self.cause = "tool_fault"
            yield step
        self.wait = "NONE"

    def _work_window(self, opens: dt.datetime, closes: dt.datetime, care_min: float) -> None:
        """Resume at the start of a window; whatever runs is held at its end, or the machine has no work left."""
        super()._work_window(opens, closes, care_min)
        running = self.values.get("EXECUTION") == "ACTIVE"
        self._log(max(self.now, opens), EXECUTION="FEED_HOLD" if running and self.rest else "READY", WAIT_STATE="NONE")
        while self.now < closes:
            self.now = min(self.now + HEARTBEAT, closes)
            self._write(self.now, "AVAILABILITY", "AVAILABLE")

    def _spend(self, state: str, minutes: float) -> None:
        if minutes > 0:
            self._log(self.now, **self._told(state))
        start = self.now
        super()._spend(state, minutes)
        moment = start + HEARTBEAT
        while moment < self.now:
            self._write(moment, "AVAILABILITY", "AVAILABLE")
            moment += HEARTBEAT

    def _told(self, state: str) -> dict[str, str]:
        """What the machine shows in a state of the floor."""
        cause = f"FAULT {self.cause}" if state == STOPPED else "NORMAL"
        shown = {"EXECUTION": "READY", "WAIT_STATE": "NONE", "FUNCTIONAL_MODE": "PRODUCTION", "CONDITION": cause}
        if state == PROCESS:
            shown |= {"PROGRAM": self.program, "EXECUTION": "ACTIVE"}
        elif state == STOPPED:
            shown |= {"EXECUTION": "INTERRUPTED"}
        elif state == CARE:
            shown |= {"FUNCTIONAL_MODE": "MAINTENANCE"}
        elif state == SETUP:
            shown |= {"FUNCTIONAL_MODE": "SETUP", "WAIT_STATE": self.wait}
        elif state == HANDLING:
            shown |= {"WAIT_STATE": self.wait}
        elif state == BLOCKED:
            shown |= {"WAIT_STATE": "SECONDARY_PROCESS"}
        return shown

    def _log(self, moment: dt.datetime, **shown: str) -> None:
        for item, value in shown.items():
            if self.values.get(item) != value:
                self._write(moment, item, value)

    def _write(self, moment: dt.datetime, item: str, value: str) -> None:
        self.values[item] = value
        self.lines.append((moment, item, value))


def spoiled(lines: list[Line]) -> list[Line]:
    """The same lines with the faults of the description; behind a silence the adapter sends all values again."""
    silent = [(dt.datetime.fromisoformat(start), dt.timedelta(minutes=length)) for start, length in SILENCES]
    kept: list[Line] = []
    values: dict[str, str] = {}
    lost = False
    for moment, item, value in lines:
        values[item] = value
        if any(start < moment < start + length for start, length in silent):
            lost = True
            continue
        kept += [(moment, *pair) for pair in values.items()] if lost else [(moment, item, value)]
        lost = False
    moved = [(_shown(moment), item, value) for moment, item, value in kept]
    again = moved[REPEATED_AT : REPEATED_AT + REPEATED]
    return [*moved[: REPEATED_AT + REPEATED], *again, *moved[REPEATED_AT + REPEATED :]]


def _shown(moment: dt.datetime) -> dt.datetime:
    """What the machine's clock shows."""
    if moment.date() == DRIFT_DAY:
        start = dt.datetime.combine(DRIFT_DAY, dt.time(6))
        return moment + DRIFT * max(0.0, min((moment - start) / dt.timedelta(hours=8), 1.0)) * (moment < SET_RIGHT)
    return moment - dt.timedelta(hours=1) if TWICE <= moment < TWICE.replace(hour=23) else moment


def main() -> int:
    """Write the log into a file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--into", type=Path, required=True, metavar="FILE")
    parser.add_argument("--clean", action="store_true", help="without the faults")
    given = parser.parse_args()
    floor = LoggedFloor()
    floor.run()
    with given.into.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("time_utc", "item", "value"))
        for moment, item, value in floor.lines if given.clean else spoiled(floor.lines):
            utc = moment.replace(tzinfo=ZONE).astimezone(dt.UTC)
            writer.writerow((f"{utc:%Y-%m-%dT%H:%M:%S}.{utc.microsecond // 1000:03}Z", item, value))
    return 0


if __name__ == "__main__":
    sys.exit(main())
