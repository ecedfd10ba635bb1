"""The preview of a calendar as one page: a ribbon a day, drawn from the same rows as the lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from simkit.base.messages import BadInput, Finding, refuse_to_replace
from simkit.base.units import HOURS_PER_DAY
from simkit.process.preview import BREAK, ON_CALL_STATE, Piece, Preview, PreviewDay, PreviewRow, long_date
from simkit.report import cautions
from simkit.report.calendar_text import LOOKS, NOT_SHOWN, days_alike, heading, short_date, sums, week_sums, weeks_of
from simkit.report.exhibits import TEMPLATES, environment
from simkit.report.palette import ACCENT, INK, MUTED, PAPER, WITHIN
from simkit.report.words import NO_BREAK

LABEL_FROM_H = 3.0
"""A piece shorter than this carries no name of its own."""

LANE_PX = 26
STRONG_H = 6
"""Hours between the marks that carry a number."""


@dataclass(frozen=True)
class Box:
    """A piece of a ribbon: where it starts and how wide it is, per cent; its look, its name, and its times in words."""

    left: float
    width: float
    kind: str
    name: str
    words: str


Mark = tuple[float, str]
"""A full hour on the clock: where it stands, per cent, and what it says; only some carry their number."""


@dataclass(frozen=True)
class Ribbon:
    """What is drawn in a row: boxes by lane, marks of the clock, and all of it in words."""

    width: float
    lanes: Sequence[Sequence[Box]]
    marks: tuple[Mark, ...]
    alt: str


def write_calendar_page(path: Path, preview: Preview, plant: str, options: Sequence[str] = ()) -> None:
    """Write the page of a preview; raises BadInput if the file is there already or its folder is not."""
    require_new_page(path)
    path.write_text(calendar_html(preview, plant, options), encoding="utf-8", newline="\n")


def require_new_page(path: Path) -> None:
    """Raise BadInput for a file that is there already, and for one in a folder that is not there."""
    refuse_to_replace(path)
    if not path.parent.is_dir():
        raise BadInput([Finding(str(path), "the folder is not there", f"Make {path.parent} first")])


def calendar_html(preview: Preview, plant: str, options: Sequence[str] = ()) -> str:
    """The page of a preview as text: no script, nothing from outside the file. ``options`` are those it shows."""
    longest = max(day.length_h for day in preview.days)
    style = (TEMPLATES / "study" / "static" / "study.css").read_text(encoding="utf-8")
    return environment().get_template("calendar.html.j2").render(
        plant=plant, options="+".join(options), heading=heading(preview), total=_kept(sums(preview.days)),
        count=len(preview.days), sentences=preview.sentences, not_shown=NOT_SHOWN,
        legend={_kind(state): words for state, (_, words) in LOOKS.items()},
        weeks=[_week(week, longest, preview.sentences) for week in weeks_of(preview)],
        caution=cautions.STANDING, lane_px=LANE_PX,
        css=Markup(style), colours={"work": WITHIN, "night": ACCENT, "ink": INK, "muted": MUTED, "paper": PAPER},
    )  # fmt: skip


def _kind(state: str) -> str:
    """Name of a state's look in the style of the page."""
    return state.replace(" ", "-")


def _kept(text: str) -> str:
    """Numbers and their unit on one line."""
    return text.replace(" h", f"{NO_BREAK}h")


def _week(week: tuple[PreviewDay, ...], longest: float, sentences: Sequence[str]) -> dict[str, object]:
    people = dict.fromkeys(row.name for day in week for row in day.rows if row.person)
    shifts = dict.fromkeys(row.name for day in week for row in day.rows if not row.person)
    return {
        "sums": _kept(week_sums(week)),
        "axis": _marks(week[0], longest),
        "days": [_day(day, longest, week[0], sentences) for day in week],
        "rows": f"Row by row: {len(shifts)} of shifts, overtime and nights, {len(people)} of people",
        "alike": [
            {"days": ", ".join(short_date(day.date) for day in days), "sums": _kept(sums(days[:1])),
             "each": len(days) > 1, "axis": _marks(days[0], longest),
             "rows": [_own(days[0], row, longest) for row in days[0].rows]}
            for days in days_alike(week)
        ],
    }  # fmt: skip


def _day(day: PreviewDay, longest: float, first: PreviewDay, sentences: Sequence[str]) -> dict[str, object]:
    shown = [row for row in day.rows if not row.person or any(state == ON_CALL_STATE for state, *_ in row.pieces)]
    return {
        "date": short_date(day.date),
        "badges": list(_badges(day, sentences)),
        "axis": None if day.clock == first.clock else _marks(day, longest),
        "sums": _kept(sums([day])),
        "ribbon": _ribbon(day, shown, longest, f"{short_date(day.date)}: {sums([day])}"),
    }


def _badges(day: PreviewDay, sentences: Sequence[str]) -> Iterator[str]:
    """What is unlike the ordinary day; the sentences above the ribbons say more."""
    if day.length_h != HOURS_PER_DAY:
        yield f"{day.length_h:g} hours, clock change"
    own = [text.removeprefix(long_date(day.date)) for text in sentences if text.startswith(long_date(day.date))]
    if any(text.startswith(" is closed") for text in own):
        yield "closed day"
    if any(text.startswith(":") for text in own):
        yield "changed day"


def _own(day: PreviewDay, row: PreviewRow, longest: float) -> dict[str, object]:
    return {"name": row.name, "hours": f"{row.hours:.2f} h", "ribbon": _ribbon(day, [row], longest, row.name)}


def _marks(day: PreviewDay, longest: float) -> tuple[Mark, ...]:
    """Every full hour that the clock says once is a multiple of two; each sixth with its number."""
    seen: set[int] = set()
    found = []
    for place, hour in enumerate(day.clock):
        if hour % 2 == 0 and hour not in seen:
            found.append((100 * place / longest, f"{hour:02d}" if hour % STRONG_H == 0 else ""))
        seen.add(hour)
    return tuple(found)


def _ribbon(day: PreviewDay, rows: Iterable[PreviewRow], longest: float, head: str) -> Ribbon:
    """Rows in as few lanes as keep their pieces apart."""
    lanes: list[tuple[list[Piece], list[Box]]] = []
    told = [head]
    for row in rows:
        own = list(_boxes(day, row, longest))
        lane = next((lane for lane in lanes if _apart(lane[0], row.pieces)), None)
        if lane is None:
            lanes.append(lane := ([], []))
        lane[0].extend(row.pieces)
        lane[1].extend(own)
        told.append(f"{row.name}: " + ", ".join(box.words for box in own))
    boxes = [boxes for _, boxes in lanes]
    return Ribbon(100 * day.length_h / longest, boxes, _marks(day, longest), "; ".join(told) + ".")


def _apart(lane: Iterable[Piece], pieces: Sequence[Piece]) -> bool:
    return all(a >= end or b <= start for _, start, end in lane for _, a, b in pieces)


def _boxes(day: PreviewDay, row: PreviewRow, longest: float) -> Iterator[Box]:
    widest = max(row.pieces, key=lambda piece: (piece[0] != BREAK, piece[2] - piece[1]))
    for piece in row.pieces:
        state, start, end = piece
        named = piece == widest and end - start >= LABEL_FROM_H
        name = row.name.removeprefix("shift ") if named else ""
        words = f"{state} {wall_time(day, start)} to {wall_time(day, end)}"
        yield Box(100 * start / longest, 100 * (end - start) / longest, _kind(state), name, words)


def wall_time(day: PreviewDay, elapsed_h: float) -> str:
    """What the clock says so many hours after midnight, as 06:30; the end of the day is 24:00."""
    if elapsed_h >= day.length_h:
        return "24:00"
    minutes = round(60 * (elapsed_h % 1))
    return f"{day.clock[int(elapsed_h)]:02d}:{minutes:02d}"
