"""The sheet of posts: who is paid in each scenario, for which hours, at which rate."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from simkit.finance.inputs import ScenarioTotals
from simkit.finance.posts import posts_given_up, roster_problem
from simkit.finance.roster import Post
from simkit.plant.plant import Plant
from simkit.report.studydata import TODAY
from simkit.report.workbook.book import ROSTER, Book
from simkit.report.workbook.expr import Expr, if_, sum_product
from simkit.report.workbook.grid import Sheet, span
from simkit.report.workbook.inputs import InputsSheet

PERSON, SHIFT, WHOLE, CREW, RATE, DAY, NIGHT, WEEK, COST = range(9)
"""Columns: who, shift, whole post, works the overtime, money/h, hours by day, by night, both, money a week."""


@dataclass(frozen=True)
class RosterBlock:
    """Cells of one scenario: cost a week and hours of each person, the crew's rate, hours of a working day."""

    cost: dict[str, Expr]
    hours: dict[str, Expr]
    rate: dict[str, Expr]
    crew_rate: Expr
    day_h: Expr
    kept: Expr
    """1 if every shift and skill is still covered."""


def add_wages(inputs: InputsSheet, plants: dict[str, Plant]) -> None:
    """One input per person and rate; people without a rate of their own get the operator's."""
    inputs.sheet.heading("People: loaded rates", "people.csv; without a rate of their own, the operator's")
    unit = inputs.book.currency
    for plant in plants.values():
        for person in plant.people:
            name = wage_name(person.person_id, person.rate_per_h)
            if name not in inputs.book.inputs:
                rate = person.rate_per_h or inputs.book.input("operator_rate")
                inputs.add(name, person.person_id, f"{unit}/h", rate, look="price", basis="people.csv")


def wage_name(person_id: str, own_rate: float | None) -> str:
    """Name of the input that holds a person's rate."""
    return f"wage {person_id} {own_rate or 0:g}"


def roster_sheet(book: Book, names: Iterable[str], plants: dict[str, Plant]) -> dict[str, RosterBlock]:
    """Posts of every scenario, and what each costs in an ordinary week."""
    sheet = book.sheet(
        ROSTER,
        "Roster",
        "Paid hours of an ordinary week, without breaks and without duties elsewhere, "
        "from the shifts and duties of each scenario (static); rates from 'Inputs'.",
        years=False,
    )
    sheet.widths = {PERSON: 40, SHIFT: 14, WHOLE: 12, CREW: 14, RATE: 12, DAY: 14, NIGHT: 14, WEEK: 14, COST: 16}
    unit = book.currency
    sheet.row(
        "person",
        "shift",
        "whole post",
        "works overtime",
        f"{unit}/h",
        "h/week by day",
        "h/week by night",
        "h/week",
        f"{unit}/week",
        look="head",
    )
    today = book.cash.totals[TODAY]
    return {name: _block(book, sheet, book.cash.totals[name], today, plants[name]) for name in names}


def _block(book: Book, sheet: Sheet, totals: ScenarioTotals, today: ScenarioTotals, plant: Plant) -> RosterBlock:
    sheet.next_row += 1
    sheet.row(book.cash.study.named(totals.name), look="section")
    own = {person.person_id: person.rate_per_h for person in plant.people}
    roster = totals.roster
    first = sheet.next_row
    cost: dict[str, Expr] = {}
    hours: dict[str, Expr] = {}
    rate: dict[str, Expr] = {}
    for post in roster.posts:
        in_crew = post.whole and post.shift in (roster.overtime_shift, "always")
        wage = book.input(wage_name(post.person_id, own.get(post.person_id)))
        hours[post.person_id], cost[post.person_id] = _post_row(book, sheet, post, in_crew, wage)
        rate[post.person_id] = wage
    crew = _crew_rate(book, sheet, first, roster.posts, roster.overtime_shift)
    day_h = _labelled(sheet, "Attended hours of a working day, h", roster.attended_h_per_day, "pasted")
    problem = roster_problem(today.roster, roster, book.prices.people.minimum_attendance)
    gone = any(posts_given_up(today.roster, roster))
    kept = _labelled(
        sheet,
        f"Shifts and skills covered (static){': ' + problem if problem and gone else ''}",
        int(not problem),
        "pasted_year",
    )
    return RosterBlock(cost, hours, rate, crew, day_h, kept)


def _labelled(sheet: Sheet, label: str, content: object, look: str) -> Expr:
    row = sheet.row(label)
    return sheet.put(row, COST, content, look)


def _post_row(book: Book, sheet: Sheet, post: Post, in_crew: bool, wage: Expr) -> tuple[Expr, Expr]:
    row = sheet.next_row
    sheet.row(post.person_id, post.shift)
    sheet.put(row, WHOLE, int(post.whole), "pasted_year")
    sheet.put(row, CREW, int(in_crew), "pasted_year")
    sheet.put(row, RATE, wage, "price")
    day = sheet.put(row, DAY, post.day_h_per_week, "pasted")
    night = sheet.put(row, NIGHT, post.night_h_per_week, "pasted")
    week = sheet.put(row, WEEK, day + night, "number2")
    cost = sheet.put(row, COST, wage * (day + night * (1 + book.input("night_premium"))), "number2")
    return week, cost


def _crew_rate(book: Book, sheet: Sheet, first: int, posts: tuple[Post, ...], overtime_shift: str) -> Expr:
    """What the overtime shift costs together; the operator's rate where nobody is named."""
    operator = book.input("operator_rate")
    if not posts:
        return _labelled(sheet, "Crew of the overtime shift", operator, "price")
    last = first + len(posts) - 1
    rates = [sheet.cells[first + i, RATE][0] for i in range(len(posts))]
    flags = [sheet.cells[first + i, CREW][0] for i in range(len(posts))]
    sums = sum_product(
        span(ROSTER, (first, CREW), (last, CREW), flags) * span(ROSTER, (first, RATE), (last, RATE), rates)
    )
    crew = _labelled(sheet, f"Crew of the overtime shift ({overtime_shift or 'none'}), together", sums, "price")
    return _labelled(sheet, "Hour of the crew, without premium", if_(crew > 0, crew, operator), "price")
