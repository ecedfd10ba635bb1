"""The preview of a calendar as lines of text: one row per shift, window and person, half hours along the line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from simkit.process.preview import AWAY, BREAK, NIGHT, ON_CALL_STATE, OVERTIME, WORK, Preview, PreviewDay, PreviewRow

CLOSED = "closed"
LOOKS = {
    WORK: ("▒", "shift, at work"), BREAK: ("/", "break"), AWAY: ("-", "elsewhere, or talk at a shift change"),
    NIGHT: ("█", "night, unattended running allowed"), OVERTIME: ("+", "overtime, worked only when asked"),
    ON_CALL_STATE: ("~", "on call"), CLOSED: ("·", "closed, away"),
}  # fmt: skip
"""Sign of each state of a row, and what it means."""
NOT_SHOWN = "Absence is not shown."


def _key(*states: str) -> str:
    return "   ".join(" ".join(LOOKS[state]) for state in states)


LEGEND = (
    f"A sign is half an hour: {_key(WORK, BREAK, AWAY, CLOSED)}",
    f"{_key(NIGHT, OVERTIME, ON_CALL_STATE)}. {NOT_SHOWN}",
)
CELLS_PER_H = 2
NAME_WIDTH = 14


def calendar_lines(preview: Preview) -> Iterator[str]:
    """All lines: for each week its ribbon and sums, then the sentences and the legend. Days alike stand together."""
    yield heading(preview)
    for week in weeks_of(preview):
        for alike in days_alike(week):
            yield ""
            yield from _block(alike)
        yield ""
        yield week_sums(week)
    yield ""
    yield from preview.sentences
    yield from LEGEND


def heading(preview: Preview) -> str:
    """From when to when, in which zone."""
    first, last = preview.days[0].date, preview.days[-1].date
    dates = f"{short_date(first)} to {short_date(last)} {last.year}"
    return f"Calendar from {dates}, wall time of {preview.zone}; nothing has been run."


def weeks_of(preview: Preview) -> list[tuple[PreviewDay, ...]]:
    """Days by sevens, the last ones perhaps fewer."""
    return [preview.days[start : start + 7] for start in range(0, len(preview.days), 7)]


def days_alike(week: tuple[PreviewDay, ...]) -> Iterable[list[PreviewDay]]:
    """Days of a week with the same hours and people, together."""
    groups: dict[object, list[PreviewDay]] = {}
    for day in week:
        groups.setdefault(day.pattern, []).append(day)
    return groups.values()


def _block(days: list[PreviewDay]) -> Iterator[str]:
    day = days[0]
    each = "each " if len(days) > 1 else ""
    yield f"{', '.join(short_date(one.date) for one in days)}: {each}{sums(days[:1])}"
    if not day.rows:
        return
    marks = "".join(f"{hour:02d}" + " " * (2 * CELLS_PER_H - 2) for hour in day.clock[::2])
    yield f"{'':{NAME_WIDTH}} {marks[: len(day.clock) * CELLS_PER_H]}"
    for row in day.rows:
        yield f"{row.name[:NAME_WIDTH]:{NAME_WIDTH}} {_ribbon(row, day.length_h)} {row.hours:5.2f} h"


def _ribbon(row: PreviewRow, length_h: float) -> str:
    """One sign per half hour: what takes most of it; of equal parts, what is not work."""
    cells = []
    for cell in range(round(length_h * CELLS_PER_H)):
        start, end = cell / CELLS_PER_H, (cell + 1) / CELLS_PER_H
        shares: dict[str, float] = {}
        for state, a, b in row.pieces:
            shares[state] = shares.get(state, 0.0) + max(min(b, end) - max(a, start), 0.0)
        state = max(shares, key=lambda state: (shares[state], state != WORK))
        cells.append(LOOKS[state if shares[state] > 0 else CLOSED][0])
    return "".join(cells)


def week_sums(week: tuple[PreviewDay, ...]) -> str:
    """A week, or so many days, with its hours."""
    return f"{f'Week from {short_date(week[0].date)}' if len(week) == 7 else f'{len(week)} days'}: {sums(week)}"


def sums(days: Iterable[PreviewDay]) -> str:
    """Hours of some days: attended, open unattended, closed, and overtime windows where there are any."""
    listed = list(days)
    attended, unattended, overtime, closed = (
        sum(getattr(day, key) for day in listed) for key in ("attended_h", "unattended_h", "overtime_h", "closed_h")
    )
    more = f", overtime windows {overtime:g} h" if overtime else ""
    return f"attended {attended:g} h, unattended {unattended:g} h, closed {closed:g} h{more}"


def short_date(date: dt.date) -> str:
    """A date as in Mon 5 Jan."""
    return f"{date:%a} {date.day} {date:%b}"
