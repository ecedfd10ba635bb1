"""People in the live model: who is paid in today's cell, in the case and in what fades; groups beyond their limit."""

from __future__ import annotations

from simkit.finance.labour import group_name
from simkit.report.workbook.formula import Place
from simkit.report.workbook.gains import SCENARIOS, TITLES
from simkit.report.workbook.hours import Hours
from simkit.report.workbook.sheets import FIRST_YEAR, LABEL, UNIT, VALUE, Sheet

HEADS = ("h/week by day", "by night", "group", "in overtime", "cost a week", "hours a week")
DAY, NIGHT, GROUP, CREW, COST, WEEK = range(FIRST_YEAR, FIRST_YEAR + len(HEADS))
ADDED, GIVEN, AGENCY = range(WEEK + 1, WEEK + 4)


def people_rows(sheet: Sheet, hours: Hours, unit: str) -> None:
    """One table for each roster, what posts come and go a week, then the rates of crew and groups."""
    for who in SCENARIOS:
        _roster(sheet, hours, who, unit)
    sheet.names["crew rate@budget"] = sheet.find("crew rate@today")
    for title, name in (("Posts and hours added", "added"), ("Whole posts given up", "given"),
                        ("Agency hours given up", "agency")):  # fmt: skip
        sheet.scalar(f"{title}, a week", unit, f"SUM([{name} rows])", "money", f"{name} a week")
    for i, group in enumerate(hours.groups, 1):
        _group_scalars(sheet, i, group_name(group), unit)


def _roster(sheet: Sheet, hours: Hours, who: str, unit: str) -> None:
    sheet.heading(f"People: {TITLES[who]}", "hours from 'Hours', wages from 'Inputs'")
    head = sheet.row - 1
    sheet.put(head, VALUE, "wage", "head")
    for place, title in enumerate(HEADS):
        sheet.put(head, DAY + place, title, "head")
    if who == "case":
        for column, title in ((ADDED, "added"), (GIVEN, "whole posts less"), (AGENCY, "agency less")):
            sheet.put(head, column, title, "head")
    first = sheet.row
    for i, post in enumerate(hours.posts, 1):
        at = sheet.row
        sheet.data(at, LABEL, f"{post.person_id} ({post.shift})")
        sheet.put(at, UNIT, "agency" if post.agency else "whole post" if post.whole else "part", "static_words")
        own = f"wage {post.person_id}"
        change = f"+INDEX([own price {own}],[row@{who}])" if own in hours.own_prices else ""
        sheet.put(at, VALUE, f"=[wage {i}]{change}", "price")
        for column, key in ((DAY, "day"), (NIGHT, "night"), (GROUP, "group"), (CREW, "crew")):
            look = "number" if column <= NIGHT else "whole"
            sheet.put(at, column, f"=INDEX([{key} {i}],[row@{who}])", look)
        sheet.put(at, COST, "={C}*({F}+{G}*(1+[night_premium]))", "money")
        sheet.put(at, WEEK, "={F}+{G}", "number")
        if who == "case":
            _changes(sheet, at, i)
        for key, column in (("week", WEEK), ("cost", COST)):
            sheet.names[f"{key} {i}@{who}"] = Place(sheet.name, at, column, at, column)
    columns = {"wages": VALUE, "groups": GROUP, "crew": CREW, "cost": COST, "weeks": WEEK}
    for key, column in columns.items():
        sheet.names[f"{key}@{who}"] = Place(sheet.name, first, column, sheet.row - 1, column)
    if who == "case":
        for key, column in (("added", ADDED), ("given", GIVEN), ("agency", AGENCY)):
            sheet.names[f"{key} rows"] = Place(sheet.name, first, column, sheet.row - 1, column)
    together = f"SUMPRODUCT([crew@{who}],[wages@{who}])"
    sheet.scalar("Hour of those who come to overtime, without premium", f"{unit}/h",
                 f"IF({together}>0,{together},[operator_wage])", "price", f"crew rate@{who}")  # fmt: skip


def _changes(sheet: Sheet, at: int, i: int) -> None:
    """Money a week of a person's hours beside today's: more hours, a whole post less, agency hours less."""
    before, more = f"[week {i}@today]", f"({{K}}-[week {i}@today])"
    hour = "{J}/{K}"
    longer = f'IF(OR({before}=0,{{B}}="agency"),{hour},{{C}}*(1+[overtime_premium]))'
    sheet.put(at, ADDED, f"=IF({more}>0,{more}*{longer},0)", "money")
    gone = 'AND({K}=0,{B}="whole post")'
    sheet.put(at, GIVEN, f"=IF({gone},[cost {i}@today],0)", "money")
    price = f"[cost {i}@today]/{before}"
    sheet.put(at, AGENCY, f'=IF({{B}}="agency",IF({before}>{{K}},({before}-{{K}})*{price},0),0)', "money")


GROUP_SCALARS = """
1present {i}@{who} | h/week | number | Paid and there: {words} | INDEX([present {i}],[row@{who}])
1count {i}@{who} | posts | whole | Posts: {words} | INDEX([count {i}],[row@{who}])
1hours {i}@{who} | h/week | number | Paid hours: {words} | SUMPRODUCT(([groups@{who}]=[group no {i}])*[weeks@{who}])
1rate {i}@{who} | {unit}/h | price | Mean wage: {words} | IF([hours {i}@{who}]>0,
    SUMPRODUCT(([groups@{who}]=[group no {i}])*[weeks@{who}]*[wages@{who}])/[hours {i}@{who}],0)
1post cost {i}@{who} | {unit}/week | money | A post: {words}
     | SUMPRODUCT(([groups@{who}]=[group no {i}])*[cost@{who}])/MAX(1,[count {i}@{who}])
"""
EXCESS = """
ybeyond {i}@{who} | h/week | number | {words}: beyond the limit
     | MAX(0,[busy {i}@{who}]-[utilisation_limit]*[present {i}@{who}])
yextra {i}@{who} | h/week | number | ... as overtime | MIN([beyond {i}@{who}],[overtime_cap])
yposts {i}@{who} | posts | whole | ... as posts | IF([present {i}@{who}]>0,-INT([same_moment]-([beyond {i}@{who}]
    -[extra {i}@{who}])*[count {i}@{who}]/([utilisation_limit]*[present {i}@{who}])),0)
"""


def _group_scalars(sheet: Sheet, i: int, group: str, unit: str) -> None:
    """Paid hours that are there, mean rate and mean cost of a post of a group, in each scenario."""
    at = sheet.row
    sheet.data(at, LABEL, f"Group: {group}", "total_text")
    sheet.put(at, VALUE, i, "static_whole")
    sheet.names[f"group no {i}"] = Place(sheet.name, at, VALUE, at, VALUE)
    for who in SCENARIOS:
        sheet.rows(GROUP_SCALARS, i=f"{i}", who=who, unit=unit, words=TITLES[who])


def excess_rows(sheet: Sheet, hours: Hours) -> None:
    """Hours of each group beyond the limit of its paid hours: overtime up to the cap, then whole posts."""
    if hours.groups:
        sheet.heading("Work beyond the limit of paid hours, a week", "overtime up to its cap, then whole posts")
    for i, group in enumerate(hours.groups, 1):
        for who in SCENARIOS:
            sheet.rows(EXCESS, i=f"{i}", who=who, words=f"{group_name(group)}: {TITLES[who]}")
