"""People in the live model: who is paid in today's cell, in the case and in what fades; groups beyond their limit."""

from __future__ import annotations

from simkit.finance.labour import group_name
from simkit.report.workbook.gains import SCENARIOS, TITLES
from simkit.report.workbook.hours import HoursSheet
from simkit.report.workbook.sheets import FIRST_YEAR, LABEL, UNIT, VALUE, FormulaSheet, filled

DAY, NIGHT, GROUP, CREW, COST, WEEK, ADDED, GIVEN, AGENCY = range(FIRST_YEAR, FIRST_YEAR + 9)
COLUMNS = (
    ("wage", VALUE, "wage", "price", "[wage {i}]{change}"),
    ("day", DAY, "h/week by day", "number", "INDEX([day {i}],[row@{who}])"),
    ("night", NIGHT, "by night", "number", "INDEX([night {i}],[row@{who}])"),
    ("group", GROUP, "group", "whole", "INDEX([group {i}],[row@{who}])"),
    ("crew", CREW, "in overtime", "whole", "INDEX([crew {i}],[row@{who}])"),
    ("cost", COST, "cost a week", "money", "{C}*({F}+{G}*(1+[night_premium]))"),
    ("week", WEEK, "hours a week", "number", "{F}+{G}"),
)
"""Columns of a table of people: name, place, title, format, formula."""
CHANGES = (
    ("added", ADDED, "added", "money", "IF(({K}-[week {i}@today])>0,({K}-[week {i}@today])*"
     'IF(OR([week {i}@today]=0,{B}="agency"),{J}/{K},{C}*(1+[overtime_premium])),0)'),
    ("given", GIVEN, "whole posts less", "money", 'IF(AND({K}=0,{B}="whole post"),[cost {i}@today],0)'),
    ("agency", AGENCY, "agency less", "money", 'IF({B}="agency",IF([week {i}@today]>{K},([week {i}@today]-{K})*'
     "[cost {i}@today]/[week {i}@today],0),0)"),
)  # fmt: skip
"""Money a week of a person's hours beside today's: more hours, a whole post less, agency hours less."""


def people_rows(sheet: FormulaSheet, hours: HoursSheet, unit: str) -> None:
    """One table for each roster, what posts come and go a week, then the rates of crew and groups."""
    for who in SCENARIOS:
        _roster(sheet, hours, who, unit)
    sheet.names["crew rate@budget"] = sheet.find("crew rate@today")
    for title, name in (("Posts and hours added", "added"), ("Whole posts given up", "given"),
                        ("Agency hours given up", "agency")):  # fmt: skip
        sheet.scalar(f"{title}, a week", unit, f"SUM([{name}@case])", "money", f"{name} a week")
    for i, group in enumerate(hours.groups, 1):
        _group_scalars(sheet, i, group_name(group), unit)


def _roster(sheet: FormulaSheet, hours: HoursSheet, who: str, unit: str) -> None:
    columns = (*COLUMNS, *CHANGES) if who == "case" else COLUMNS
    sheet.heading(f"People: {TITLES[who]}", "hours from 'Hours', wages from 'Inputs'")
    first = sheet.row
    for _, column, title, *_ in columns:
        sheet.put(first - 1, column, title, "head")
    for i, post in enumerate(hours.posts, 1):
        at, own = sheet.row, f"wage {post.person_id}"
        sheet.data(at, LABEL, f"{post.person_id} ({post.shift})")
        sheet.put(at, UNIT, "agency" if post.agency else "whole post" if post.whole else "part", "static_words")
        change = f"+INDEX([own price {own}],[row@{who}])" if own in hours.own_prices else ""
        for name, column, _, look, formula in columns:
            sheet.put(at, column, filled(f"={formula}", i=f"{i}", who=who, change=change), look)
            sheet.names[f"{name} {i}@{who}"] = sheet.area(at, column)
    for name, column, *_ in columns:
        sheet.names[f"{name}@{who}"] = sheet.area(first, column, sheet.row - 1)
    together = f"SUMPRODUCT([crew@{who}],[wage@{who}])"
    sheet.scalar("Hour of those who come to overtime, without premium", f"{unit}/h",
                 f"IF({together}>0,{together},[operator_wage])", "price", f"crew rate@{who}")  # fmt: skip


GROUP_SCALARS = """
1present {i}@{who} | h/week | number | Paid and there: {words} | INDEX([present {i}],[row@{who}])
1count {i}@{who} | posts | whole | Posts: {words} | INDEX([count {i}],[row@{who}])
1hours {i}@{who} | h/week | number | Paid hours: {words} | SUMPRODUCT(([group@{who}]=[group no {i}])*[week@{who}])
1rate {i}@{who} | {unit}/h | price | Mean wage: {words} | IF([hours {i}@{who}]>0,
    SUMPRODUCT(([group@{who}]=[group no {i}])*[week@{who}]*[wage@{who}])/[hours {i}@{who}],0)
1post cost {i}@{who} | {unit}/week | money | A post: {words}
     | SUMPRODUCT(([group@{who}]=[group no {i}])*[cost@{who}])/MAX(1,[count {i}@{who}])
"""
EXCESS = """
ybeyond {i}@{who} | h/week | number | {words}: beyond the limit
     | MAX(0,[busy {i}@{who}]-[utilisation_limit]*[present {i}@{who}])
yextra {i}@{who} | h/week | number | ... as overtime | MIN([beyond {i}@{who}],[overtime_cap])
yposts {i}@{who} | posts | whole | ... as posts | IF([present {i}@{who}]>0,-INT([same_moment]-([beyond {i}@{who}]
    -[extra {i}@{who}])*[count {i}@{who}]/([utilisation_limit]*[present {i}@{who}])),0)
"""


def _group_scalars(sheet: FormulaSheet, i: int, group: str, unit: str) -> None:
    """Paid hours that are there, mean rate and mean cost of a post of a group, in each scenario."""
    at = sheet.row
    sheet.data(at, LABEL, f"Group: {group}", "total_text")
    sheet.put(at, VALUE, i, "static_whole")
    sheet.names[f"group no {i}"] = sheet.area(at, VALUE)
    for who in SCENARIOS:
        sheet.rows(GROUP_SCALARS, i=f"{i}", who=who, unit=unit, words=TITLES[who])


def excess_rows(sheet: FormulaSheet, hours: HoursSheet) -> None:
    """Hours of each group beyond the limit of its paid hours: overtime up to the cap, then whole posts."""
    if hours.groups:
        sheet.heading("Work beyond the limit of paid hours, a week", "overtime up to its cap, then whole posts")
    for i, group in enumerate(hours.groups, 1):
        for who in SCENARIOS:
            sheet.rows(EXCESS, i=f"{i}", who=who, words=f"{group_name(group)}: {TITLES[who]}")
