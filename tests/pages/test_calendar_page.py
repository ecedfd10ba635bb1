"""The calendar as a page says what the calendar as text says, and is drawn to scale."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import pytest

from simkit.base.messages import BadInput
from simkit.plant.tables import CalendarDay, Person
from simkit.process.preview import calendar_preview
from simkit.report.calendar_page import calendar_html, wall_time, write_calendar_page
from simkit.report.calendar_text import calendar_lines
from tests.pages.test_pages import Page, outside
from tests.process.test_preview import EVERY_NIGHT, berlin
from tests.small_plant import MONDAY

PEOPLE = (
    Person(person_id="OP-E", skills=("load", "clear"), shift="early", duties="Mon-Fri 08:00-09:05"),
    Person(person_id="OP-L", skills=("load", "clear"), shift="late"),
    Person(person_id="TEC-1", skills=("clear",), shift="on_call"),
)
SPRING, AUTUMN = dt.date(2026, 3, 23), dt.date(2026, 10, 19)


def busy_plant():
    """Overlapping shifts, a talk at their change, nights with somebody on call, Saturday overtime, unlike days."""
    night = {**EVERY_NIGHT, "on_call_response_min": 45.0}
    overtime = ({"days": ("Sat",), "start": "06:00", "end": "12:00"},)
    closed = (SPRING + dt.timedelta(2), AUTUMN + dt.timedelta(2))
    calendar = {"night": night, "handover_min": 30.0, "overtime": overtime, "closed_days": closed}
    plant = berlin(people=PEOPLE, calendar=calendar)
    shifts = [
        s.model_copy(update={"start": "13:00"}) if s.name == "late" else s for s in plant.settings.calendar.shifts
    ]
    calendar = plant.settings.calendar.model_copy(update={"shifts": tuple(shifts)})
    moved = CalendarDay(date=SPRING + dt.timedelta(3), shift="late", change="moved", end="20:00", note="stocktaking")
    settings = plant.settings.model_copy(update={"calendar": calendar})
    return dataclasses.replace(plant, settings=settings, calendar=(moved,))


def page_of(first=SPRING, days=7, plant=None):
    preview = calendar_preview(plant or busy_plant(), first, days)
    return preview, Page(calendar_html(preview, "Small plant"))


@pytest.mark.parametrize("first", [SPRING, AUTUMN, MONDAY])
def test_every_number_and_sentence_of_the_text_is_on_the_page(first):
    preview, page = page_of(first, 9)
    words = page.words
    lines = list(calendar_lines(preview))
    sums = [line for line in lines if ": attended" in line or ": each attended" in line]
    assert len(sums) >= 5
    assert all(line in words for line in sums)
    assert lines[0] in words
    assert all(sentence in words for sentence in preview.sentences)


@pytest.mark.parametrize("first", [SPRING, AUTUMN])
def test_rows_and_their_hours_are_those_of_the_text(first):
    preview = calendar_preview(busy_plant(), first, 7)
    text = [line.split() for line in calendar_lines(preview) if re.search(r"\d\.\d\d h$", line)]
    own = re.findall(
        r'<div class="own"><p>(.*?)</p>.*?<p class="hours">(.*?) h</p>', calendar_html(preview, "Small plant"), re.S
    )
    assert own == [(" ".join(words[:-3]), words[-2]) for words in text]


def test_the_night_and_who_is_on_call_are_told():
    _, page = page_of()
    assert "Unattended running, assessed by: a test, on 2026-01-01." in page.words
    assert "On call in these hours: TEC-1, there 45 min after a call; calls a night at most: 1." in page.words


def test_unlike_days_carry_a_badge():
    text = calendar_html(calendar_preview(busy_plant(), SPRING, 7), "Small plant")
    badges = text.split('class="badge">')[1:]
    assert [badge.split("<")[0] for badge in badges] == ["closed day", "changed day", "23 hours, clock change"]


def boxes_of(page, kind):
    """Pieces of the first ribbon of a look, as left and width in per cent."""
    found, last = [], {}
    for tag, attributes in page.elements:
        if tag == "svg" and "x" in attributes:
            last = attributes
        elif tag == "rect" and kind in (attributes.get("class", "").split()[:1] or [attributes.get("fill")]):
            found.append((last.get("x"), last.get("width"), last.get("y")))
        elif tag == "rect" and attributes.get("fill") == f"url(#{kind})" and "x" in last:
            found.append((last["x"], last["width"], last["y"]))
    return found


def test_a_ribbon_is_drawn_to_scale():
    """Early shift from 6, break at 9 for a quarter of an hour: 25 % and 12.5 %, then 37.5 % and 1.0417 % of 24 h."""
    _, page = page_of(MONDAY, 1, berlin())
    assert boxes_of(page, "work")[1][:2] == ("25.0000%", "12.5000%")
    assert ("37.5000%", "1.0417%", "2") in boxes_of(page, "break")


def test_shifts_that_overlap_stand_one_below_the_other():
    _, page = page_of(SPRING, 1)
    tops = {y for x, _, y in boxes_of(page, "work") if x is not None}
    assert tops == {"2", "28"}


@pytest.mark.parametrize(("first", "hours", "grounds"), [
    (SPRING, 23, {"100.0000%", "95.8333%"}), (AUTUMN, 25, {"96.0000%", "100.0000%"}),
])  # fmt: skip
def test_a_day_of_a_clock_change_is_as_long_as_it_is(first, hours, grounds):
    preview, page = page_of(first)
    assert preview.days[6].length_h == hours
    assert {a["width"] for _, a in page.elements if a.get("class") == "ground" and "x" in a} == grounds


def test_times_are_those_of_the_clock():
    spring = calendar_preview(busy_plant(), SPRING, 7).days[6]
    autumn = calendar_preview(busy_plant(), AUTUMN, 7).days[6]
    assert [wall_time(spring, h) for h in (0, 1.5, 2, 23)] == ["00:00", "01:30", "03:00", "24:00"]
    assert [wall_time(autumn, h) for h in (2, 3, 4.25, 25)] == ["02:00", "02:00", "03:15", "24:00"]


def test_a_ribbon_is_told_in_words():
    preview, page = page_of()
    told = [a["aria-label"] for a in page.all("svg") if a.get("role") == "img"]
    assert len(told) >= len(preview.days)
    assert all(told)
    assert told[0].startswith("Mon 23 Mar: attended 16 h")
    assert "shift early: work 06:00 to 09:00, break 09:00 to 09:15" in told[0]
    assert "TEC-1: on call 00:00 to 06:00" in told[0]


def test_nothing_comes_from_outside():
    _, page = page_of()
    assert outside(page) == []
    policies = [m["content"] for m in page.all("meta") if m.get("http-equiv") == "Content-Security-Policy"]
    assert policies == ["default-src 'none'; img-src data:; style-src 'unsafe-inline'"]
    assert page.all("html") == [{"lang": "en"}]
    assert len(page.all("title")) > 1, "each piece says its times where one points at it"
    assert len(page.all("main")) == len(page.all("h1")) == 1
    assert page.open == []


def test_people_are_shown_on_demand():
    _, page = page_of()
    assert len(page.all("details")) == 1
    assert "open" not in page.all("details")[0]
    assert "Row by row: 4 of shifts, overtime and nights, 3 of people" in page.words


def test_a_file_is_never_written_over(tmp_path):
    preview = calendar_preview(berlin(), MONDAY, 7)
    path = tmp_path / "week.html"
    write_calendar_page(path, preview, "Small plant")
    first = path.read_bytes()
    with pytest.raises(BadInput, match="nothing is written over"):
        write_calendar_page(path, preview, "Another plant")
    assert path.read_bytes() == first


def test_names_are_text_and_no_markup():
    plant = berlin(people=(Person(person_id="A&B", skills=("load",), shift="early"),))
    html = calendar_html(calendar_preview(plant, MONDAY, 1), "A & B <i>")
    assert "A&amp;B" in html
    assert "<i>" not in html
