"""The preview of a calendar on a terminal."""

from __future__ import annotations

import datetime as dt

from simkit.process.preview import calendar_preview
from simkit.report.calendar_text import LEGEND, calendar_lines
from tests.process.test_preview import EVERY_NIGHT, berlin
from tests.small_plant import MONDAY


def test_days_alike_stand_together_and_the_week_is_summed() -> None:
    lines = list(calendar_lines(calendar_preview(berlin(calendar={"night": EVERY_NIGHT}), MONDAY, 7)))
    assert lines[0] == "Calendar from Mon 5 Jan to Sun 11 Jan 2026, wall time of Europe/Berlin; nothing has been run."
    assert lines[2:6] == [
        "Mon 5 Jan, Tue 6 Jan, Wed 7 Jan, Thu 8 Jan, Fri 9 Jan: each attended 16 h, unattended 8 h, closed 0 h",
        "               00  02  04  06  08  10  12  14  16  18  20  22  ",
        "shift early    ············▒▒▒▒▒▒/▒▒▒▒/▒▒▒▒····················  7.25 h",
        "shift late     ····························▒▒▒▒▒▒/▒▒▒▒/▒▒▒▒····  7.25 h",
    ]
    assert lines[6] == "night          ████████████································████  8.00 h"
    assert "Sat 10 Jan, Sun 11 Jan: each attended 0 h, unattended 8 h, closed 16 h" in lines
    assert "Week from Mon 5 Jan: attended 80 h, unattended 56 h, closed 32 h" in lines
    assert lines[-2:] == list(LEGEND)


def test_a_long_day_has_fifty_half_hours_and_says_two_twice() -> None:
    lines = list(calendar_lines(calendar_preview(berlin(calendar={"night": EVERY_NIGHT}), dt.date(2026, 10, 19), 7)))
    at = lines.index("Sun 25 Oct: attended 0 h, unattended 9 h, closed 16 h")
    assert lines[at + 1].split() == ["00", "02", "03", "05", "07", "09", "11", "13", "15", "17", "19", "21", "23"]
    assert lines[at + 2] == f"{'night':14} {'█' * 14}{'·' * 32}{'█' * 4}  9.00 h"


def test_a_part_of_a_week_is_summed_as_days() -> None:
    lines = list(calendar_lines(calendar_preview(berlin(), MONDAY, 9)))
    assert "2 days: attended 32 h, unattended 0 h, closed 16 h" in lines
