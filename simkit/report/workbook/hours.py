"""The sheet of hours: simulated weekly amounts of every case at every demand level, and each case's roster. Static."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from simkit.experiment.glossary import describe
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.labour import BUSY, Group, group_name, groups_of
from simkit.finance.roster import Post
from simkit.plant.options import Option
from simkit.report.workbook.inputs import WATCHED
from simkit.report.workbook.options import KEY
from simkit.report.workbook.sheets import FormulaSheet, LiveWorkbook

HOURS = "Hours"
TITLE_ROW, FIRST_ROW = 4, 5
SINGLE = (
    "hours_needed", "overtime_h", "person_overrun_h", "subcontract_h", "unmet_h", "inhouse_h", "care_by_others_h",
    "on_call_h", "sheets", "sheets_in_span", "parts", "parts_kg", "parts_scrapped", "parts_reworked", "energy_kwh",
    "gas_m3", "tools_reground", "tool_lives",
)  # fmt: skip
"""Measures that the money reads; those by metal, by group of people and asked of others come in addition."""

Column = tuple[str, str, Any]
"""Name, title and value of a cell of a row."""

ASKED = {"preparation_h": "preparation", "programming_h": "programming"}
"""Work asked of people who are not on the roster, where nobody on it has the skill."""


@dataclass
class HoursSheet:
    """What the sheet holds: measures, people, groups of people and prices that differ by case."""

    sheet: FormulaSheet
    measures: list[str]
    posts: list[Post]
    groups: list[Group]
    own_prices: list[str]

    def read(self, counted: str) -> str:
        """Which measure of rare events is read: the expected one where every case has it."""
        return at_expectation(counted) if at_expectation(counted) in self.measures else counted


def hours_sheet(
    book: LiveWorkbook, run_id: str, prices: Prices, cases: Mapping[str, ScenarioTotals], options: Sequence[Option],
    posts: Sequence[Post],
) -> HoursSheet:  # fmt: skip
    """One row per case and demand level; what does not depend on demand stands in the first row of a case."""
    sheet = book.sheet(
        HOURS,
        "Hours and amounts of every case: static, from the simulation",
        (
            f"Not to be changed here. Run {run_id}; means over the runs, amounts a week of the released work.",
            "What depends on no demand (options, people, groups, own prices) stands in the first row of each case.",
        ),
    )
    everyone = list(cases.values())
    today, last = everyone[0], FIRST_ROW + sum(len(totals.factors) for totals in everyone) - 1
    found = HoursSheet(
        sheet, _measures(everyone, prices), list(posts), _groups(everyone), _own_prices(everyone, prices)
    )
    columns = [*_amounts(found, today, today.factors[0]), *_facts(found, today, today, options, prices)]
    for column, (key, title, _) in enumerate(
        [("hours case", "case", ""), ("hours level", "demand level", ""), *columns]
    ):
        sheet.data(TITLE_ROW, column, title, "head")
        book.name(key, sheet.area(FIRST_ROW, column, last))
    book.name("hours numbers", sheet.area(FIRST_ROW, 1, last, 1 + len(columns)))
    for label, totals in cases.items():
        facts = list(_facts(found, totals, today, options, prices))
        for level in totals.factors:
            row = sheet.row
            sheet.data(row, 0, label)
            sheet.put(row, 1, level, "static_factor")
            for column, (*_, value) in enumerate([*_amounts(found, totals, level), *facts], 2):
                sheet.data(row, column, value, "static_number")
            facts = []
    sheet.freeze = (FIRST_ROW, 2)
    sheet.widths = {0: 44, 1: 10, **dict.fromkeys(range(2, len(columns) + 2), 12)}
    return found


def _measures(everyone: Sequence[ScenarioTotals], prices: Prices) -> list[str]:
    today = everyone[0]
    metals = prices.materials_of
    names = [*SINGLE, *ASKED, *(f"material_kg_{m}" for group in metals.values() for m in group)]
    names += [f"scrap_kg_{metal}" for metal in metals]
    for rare in ("tools_broken", *(f"lost_kg_{metal}" for metal in metals)):
        expected = at_expectation(rare)
        names.append(expected if all(totals.has(expected) for totals in everyone) else rare)
    return [name for name in names if today.has(name) or name.startswith(("material_kg_", "scrap_kg_"))]


def at_expectation(counted: str) -> str:
    """Name of a measure of rare events at its expectation: probability times exposure."""
    return f"{counted}_expected" if counted == "tools_broken" else counted.replace("lost_kg_", "lost_expected_kg_")


def _groups(everyone: Sequence[ScenarioTotals]) -> list[Group]:
    """Groups that are busy for more than the watched share of their hours in some case."""
    found: dict[Group, None] = {}
    for totals in everyone:
        for group, posts in groups_of(totals.roster).items():
            paid = sum(post.present_h_per_week for post in posts)
            known = all(totals.has(BUSY + post.person_id) for post in posts)
            if known and paid > 0 and max(_load(totals, posts, level) for level in totals.factors) > WATCHED * paid:
                found[group] = None
    return list(found)


def _load(totals: ScenarioTotals, posts: Sequence[Post], level: float) -> float:
    return float(sum(totals.per_week(BUSY + post.person_id, level) for post in posts))


def _own_prices(everyone: Sequence[ScenarioTotals], prices: Prices) -> list[str]:
    """Prices in which some case differs from today."""
    found = {key for totals in everyone for key, change in _price_changes(totals, everyone[0], prices) if change}
    return sorted(found)


def _price_changes(totals: ScenarioTotals, today: ScenarioTotals, prices: Prices) -> Iterator[tuple[str, float]]:
    """What an option changes of a price, money: as (key, difference to today)."""
    for key, own, otherwise in (
        ("tool_lives", totals.tool_life_price, today.tool_life_price),
        ("tools_broken", totals.tool_price, today.tool_price),
    ):
        yield key, 0.0 if own is None or otherwise is None else own - otherwise
    for metal, materials in prices.materials_of.items():
        apart = today.scrap_per_kg.get(metal, prices.scrap_per_kg[metal])
        own = totals.scrap_per_kg.get(metal, apart) + totals.mixing_per_kg.get(metal, 0.0)
        yield f"scrap_kg_{metal}", own - apart - today.mixing_per_kg.get(metal, 0.0)
        for name in materials:
            sheet = today.sheet_per_kg.get(name, prices.sheet_per_kg[name])
            yield f"material_kg_{name}", totals.sheet_per_kg.get(name, sheet) - sheet
    before = {post.person_id: post.rate_per_h for post in today.roster.posts}
    for post in totals.roster.posts:
        yield f"wage {post.person_id}", post.rate_per_h - before.get(post.person_id, post.rate_per_h)


def words_of(measure: str) -> tuple[str, str]:
    """What a measure is, and its unit a week."""
    known = describe(measure)
    asked = " (0 where the roster has the skill)" if measure in ASKED else ""
    text = known.meaning.split(";")[0].split(",")[0]
    return f"{text[:1].upper()}{text[1:]}{asked}", f"{known.unit}/week"


def _amounts(hours: HoursSheet, totals: ScenarioTotals, level: float) -> Iterator[Column]:
    """Weekly amounts of a case at a level."""
    skills = {skill for post in totals.roster.posts for skill in post.skills}
    for name in hours.measures:
        known = totals.has(name) and ASKED.get(name) not in skills
        yield f"amount {name}", ", ".join(words_of(name)), totals.per_week(name, level) if known else 0.0
    own = groups_of(totals.roster)
    for i, group in enumerate(hours.groups, 1):
        yield f"busy {i}", f"busy, {group_name(group)}, h/week", _load(totals, own.get(group, ()), level)


def _facts(
    hours: HoursSheet, totals: ScenarioTotals, today: ScenarioTotals, options: Sequence[Option], prices: Prices
) -> Iterator[Column]:
    """What holds in a case at every demand."""
    held = [i for i, option in enumerate(options, 1) if option.id in totals.option_ids]
    yield "hours levels", "demand levels", len(totals.factors)
    yield "hours key", "key of its options", KEY + "".join(f"{i}{KEY}" for i in held) if held else "today"
    yield "day h", "attended h a day", totals.roster.attended_h_per_day
    for i, option in enumerate(options, 1):
        yield f"member {i}", f"holds {option.name}", int(i in held)
    by_person, groups, crew = totals.roster.by_person, groups_of(totals.roster), _crew(totals)
    place_of = {post.person_id: i for i, group in enumerate(hours.groups, 1) for post in groups.get(group, ())}
    for i, name in enumerate((post.person_id for post in hours.posts), 1):
        post = by_person.get(name)
        yield f"day {i}", f"{name}, paid h/week by day", post.day_h_per_week if post else 0.0
        yield f"night {i}", f"{name}, by night", post.night_h_per_week if post else 0.0
        yield f"group {i}", f"{name}, group", place_of.get(name, 0)
        yield f"crew {i}", f"{name}, comes to overtime", int(name in crew)
    for i, group in enumerate(hours.groups, 1):
        posts = groups.get(group, ())
        there = sum(post.present_h_per_week for post in posts)
        yield f"present {i}", f"paid and there, {group_name(group)}, h/week", there
        yield f"count {i}", "posts", len(posts)
    changes = dict(_price_changes(totals, today, prices))
    for key in hours.own_prices:
        yield f"own price {key}", f"own price less today's, {key}", changes.get(key, 0.0)


def _crew(totals: ScenarioTotals) -> set[str]:
    """Who comes to overtime and is paid for it."""
    roster = totals.roster
    if roster.overtime_people:
        return set(roster.overtime_people)
    return {post.person_id for post in roster.posts if post.whole and post.shift in (roster.overtime_shift, "always")}
