"""The sheet of hours: simulated weekly amounts of every case at every demand level, and each case's roster. Static."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from simkit.experiment.glossary import describe
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.labour import BUSY, Group, group_name, groups_of
from simkit.finance.roster import Post
from simkit.plant.options import Option
from simkit.report.workbook.formula import Place
from simkit.report.workbook.inputs import WATCHED
from simkit.report.workbook.options import KEY
from simkit.report.workbook.sheets import Book, Sheet

HOURS = "Hours"
TITLE_ROW, FIRST_ROW = 4, 5
SINGLE = (
    "hours_needed", "overtime_h", "person_overrun_h", "subcontract_h", "unmet_h", "inhouse_h", "care_by_others_h",
    "on_call_h", "sheets", "sheets_in_span", "parts", "parts_kg", "parts_scrapped", "parts_reworked", "energy_kwh",
    "gas_m3", "tools_reground", "tool_lives",
)  # fmt: skip
"""Measures that the money reads; those by metal, by group of people and asked of others come in addition."""

ASKED = {"preparation_h": "preparation", "programming_h": "programming"}
"""Work asked of people who are not on the roster, where nobody on it has the skill."""


@dataclass
class Hours:
    """What the sheet holds: measures, people, groups of people and prices that differ by case."""

    sheet: Sheet
    measures: list[str]
    posts: list[Post]
    groups: list[Group]
    own_prices: list[str]

    def read(self, counted: str) -> str:
        """Which measure of rare events is read: the expected one where every case has it."""
        return at_expectation(counted) if at_expectation(counted) in self.measures else counted


def hours_sheet(
    book: Book, run_id: str, prices: Prices, cases: Mapping[str, ScenarioTotals], options: Sequence[Option],
    posts: Sequence[Post],
) -> Hours:  # fmt: skip
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
    found = Hours(sheet, _measures(everyone, prices), list(posts), _groups(everyone), _own_prices(everyone, prices))
    columns = [*_by_level(found), *_by_case(found, options)]
    last = FIRST_ROW + sum(len(totals.factors) for totals in everyone) - 1
    sheet.header(TITLE_ROW, "case", "demand level")
    for column, (key, title) in enumerate(columns, 2):
        sheet.data(TITLE_ROW, column, title, "head")
        book.name(key, Place(HOURS, FIRST_ROW, column, last, column))
    for key, column in (("hours case", 0), ("hours level", 1)):
        book.name(key, Place(HOURS, FIRST_ROW, column, last, column))
    book.name("hours numbers", Place(HOURS, FIRST_ROW, 1, last, 1 + len(columns)))
    row = FIRST_ROW
    for label, totals in cases.items():
        fixed = _facts(found, totals, everyone[0], options, prices)
        for place, level in enumerate(totals.factors):
            values = {**_amounts(found, totals, level), **(fixed if place == 0 else {})}
            sheet.data(row, 0, label)
            sheet.put(row, 1, level, "static_factor")
            for column, (key, _) in enumerate(columns, 2):
                if key in values:
                    sheet.data(row, column, values[key], "static_number")
            row += 1
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


def _by_level(hours: Hours) -> list[tuple[str, str]]:
    """Columns that differ by demand level: (name, title)."""
    named = [(f"amount {name}", ", ".join(words_of(name))) for name in hours.measures]
    return [*named, *((f"busy {i}", f"busy, {group_name(g)}, h/week") for i, g in enumerate(hours.groups, 1))]


def words_of(measure: str) -> tuple[str, str]:
    """What a measure is, and its unit a week."""
    known = describe(measure)
    asked = " (0 where the roster has the skill)" if measure in ASKED else ""
    text = known.meaning.split(";")[0].split(",")[0]
    return f"{text[:1].upper()}{text[1:]}{asked}", f"{known.unit}/week"


def _by_case(hours: Hours, options: Sequence[Option]) -> list[tuple[str, str]]:
    """Columns of facts of a case."""
    found = [("hours levels", "demand levels"), ("hours key", "key of its options"), ("day h", "attended h a day")]
    found += [(f"member {i}", f"holds {option.name}") for i, option in enumerate(options, 1)]
    for i, post in enumerate(hours.posts, 1):
        titles = {"day": "paid h/week by day", "night": "by night", "group": "group", "crew": "comes to overtime"}
        found += [(f"{key} {i}", f"{post.person_id}, {title}") for key, title in titles.items()]
    for i, group in enumerate(hours.groups, 1):
        found += [(f"present {i}", f"paid and there, {group_name(group)}, h/week"), (f"count {i}", "posts")]
    return [*found, *((f"own price {key}", f"own price less today's, {key}") for key in hours.own_prices)]


def _amounts(hours: Hours, totals: ScenarioTotals, level: float) -> dict[str, float]:
    """Weekly amounts of a case at a level."""
    skills = {skill for post in totals.roster.posts for skill in post.skills}
    found = {}
    for name in hours.measures:
        done_here = name in ASKED and ASKED[name] in skills
        known = totals.has(name) and not done_here
        found[f"amount {name}"] = totals.per_week(name, level) if known else 0.0
    own = groups_of(totals.roster)
    for i, group in enumerate(hours.groups, 1):
        found[f"busy {i}"] = _load(totals, own.get(group, ()), level)
    return found


def _facts(
    hours: Hours, totals: ScenarioTotals, today: ScenarioTotals, options: Sequence[Option], prices: Prices
) -> dict[str, float | str]:  # fmt: skip
    """What holds in a case at every demand."""
    held = [i for i, option in enumerate(options, 1) if option.id in totals.option_ids]
    key = KEY + "".join(f"{i}{KEY}" for i in held) if held else "today"
    found: dict[str, float | str] = {"hours levels": len(totals.factors), "hours key": key}
    found["day h"] = totals.roster.attended_h_per_day
    found |= {f"member {i}": int(i in held) for i in range(1, len(options) + 1)}
    by_person, groups = totals.roster.by_person, groups_of(totals.roster)
    crew = _crew(totals)
    place_of = {post.person_id: i for i, group in enumerate(hours.groups, 1) for post in groups.get(group, ())}
    for i, person in enumerate(hours.posts, 1):
        name = person.person_id
        day, night = (post.day_h_per_week, post.night_h_per_week) if (post := by_person.get(name)) else (0.0, 0.0)
        found |= {f"day {i}": day, f"night {i}": night}
        found |= {f"group {i}": place_of.get(name, 0), f"crew {i}": int(name in crew)}
    for i, group in enumerate(hours.groups, 1):
        posts = groups.get(group, ())
        found |= {f"present {i}": sum(post.present_h_per_week for post in posts), f"count {i}": len(posts)}
    changes: dict[str, float] = {}
    for name, change in _price_changes(totals, today, prices):
        changes[name] = change
    return found | {f"own price {name}": changes.get(name, 0.0) for name in hours.own_prices}


def _crew(totals: ScenarioTotals) -> set[str]:
    """Who comes to overtime and is paid for it."""
    roster = totals.roster
    if roster.overtime_people:
        return set(roster.overtime_people)
    return {post.person_id for post in roster.posts if post.whole and post.shift in (roster.overtime_shift, "always")}
