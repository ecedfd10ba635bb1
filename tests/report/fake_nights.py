"""What the study of nights reads, made by simple arithmetic: its own cases, and the nights of each one by one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import cycle

import pandas as pd

from simkit.analysis.cases import Case
from simkit.analysis.night_cases import ALONE, BASE, FREED, HELP, IN_ORDER, MORE, RIVAL, SINGLE
from simkit.analysis.night_tables import NIGHT_COLUMNS

SET = ("N1", "N2", "A1", "A4", "C1")
OTHER = ("N1", "N2", "A4", "C1")
BASE_NAME, RIVAL_NAME = "N1+N2+A1+A4+C1", "N1+N2+A4+C1"
STOP = "short stop"

NIGHT_LEFT = {"no stop": 0.7, "no release": 0.8, "no stop, no release": 0.5, "free": 0.25, "stops": 0.75,
              "release": 0.5, "more": 0.7, "help": 0.6}  # fmt: skip
"""Share of the lost hours that is left in a case."""

ENDS = (("stop", STOP), ("stop", STOP), ("release", "unproven_program"), ("queue", ""), ("output", "left_by_shift"))
"""What ends the nights of a week, in turn; the last one stands for all kinds of limit."""

OFFSETS = (-1.0, -0.5, 0.0, 0.5, 1.0)
"""Hours by which the nights of a week differ; they sum to zero."""


def night_cases() -> dict[str, Case]:
    """The cases of the small plant's night set."""
    cases = [
        Case(BASE_NAME, BASE, "the set as it is", SET),
        Case("Without a short stop", SINGLE, "stop “short stop”", SET, want=STOP, of=BASE_NAME),
        Case("Without new programs", SINGLE, "a program that is not proven", SET, want="unproven_program",
                  of=BASE_NAME),
        Case(RIVAL_NAME, RIVAL, "another hand-over", OTHER),
        Case("1. without a short stop", IN_ORDER, "stop “short stop”", SET, want=STOP, of=BASE_NAME),
        Case("2. also without new programs", IN_ORDER, "a program that is not proven", SET,
                  want="unproven_program", of="1. without a short stop"),
        Case("Nothing but the queue", FREED, "everything else taken away", SET, of=BASE_NAME),
        Case("Only unplanned stops", ALONE, "only unplanned stops and the queue can end a night", SET,
                  want="stop", of=BASE_NAME),
        Case("Only release", ALONE, "only release and the queue can end a night", SET, want="release",
                  of=BASE_NAME),
        Case("Queue prepared", MORE, "the queue prepared", SET, want="queue", of=BASE_NAME),
        Case("Somebody there at 22:00", HELP, "one person for 1 h", SET, of=BASE_NAME, paid_h=5.0),
        Case("On call", HELP, "one person at home", SET, of=BASE_NAME),
    ]  # fmt: skip
    return {case.name: case for case in cases}


LEFT_OF = {
    "Without a short stop": "no stop", "Without new programs": "no release", "1. without a short stop": "no stop",
    "2. also without new programs": "no stop, no release", "Nothing but the queue": "free",
    "Only unplanned stops": "stops", "Only release": "release", "Queue prepared": "more",
    "Somebody there at 22:00": "help", "On call": "help",
}  # fmt: skip


def effects_of_night(case: Case) -> tuple[str, ...]:
    """Options and stand-ins for the edits, which the made-up results know by these names."""
    return (*case.options, *([LEFT_OF[case.name]] if case.name in LEFT_OF else []))


def fake_night_rows(
    cases: Mapping[str, Sequence[str]], replications: int, weeks: float, luck_of: Callable[[int], float]
) -> pd.DataFrame:
    """Rows of ``nights.csv`` whose hours sum to the totals of the same runs: 8 h allowed, 5 nights a week."""
    rows: list[tuple[object, ...]] = []
    for name, effects in cases.items():
        left = min((NIGHT_LEFT[effect] for effect in effects if effect in NIGHT_LEFT), default=1.0)
        for replication in range(replications):
            ends = cycle(ENDS)
            for night in range(int(5 * weeks)):
                lost = 3.2 * left * luck_of(replication) - OFFSETS[night % 5] * left
                start = 168.0 * (night // 5) + 24.0 * (night % 5) + 22.0
                limit, want = next(ends)
                sheets = 20 + night % 3
                rows.append((name, replication, "M1", night, start, 8.0, 8.0 - lost, 0.6 * (8.0 - lost), sheets,
                             sheets * 10, 3, 2, 9, 0.1 * sheets, 2, 4, 1.5, 0, 0, 4, 0, limit, want, lost))  # fmt: skip
    return pd.DataFrame(rows, columns=list(NIGHT_COLUMNS))
