"""What a case changes in a full year of use: one item a line or part of it, each with its formula in names.

``{x}`` stands for the scenario that is compared with today: the case, or the options of it whose gain fades.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from simkit.finance.inputs import Prices
from simkit.finance.labour import group_name
from simkit.finance.lines import LINES
from simkit.report.workbook.hours import HoursSheet, words_of
from simkit.report.workbook.sheets import FormulaSheet

SCENARIOS = ("today", "case", "alone")
"""Today, the case, and the case of those of its options whose gain fades."""

TITLES = {"today": "today", "case": "the case", "alone": "what fades, alone", "budget": "today, at its budgets' demand"}
BUDGETED = ("overtime", "overrun", "subcontract")
FOR_BUDGET = ("overtime_h", "person_overrun_h", "subcontract_h", "inhouse_h", "energy_kwh", "gas_m3", "sheets",
              "sheets_in_span")  # fmt: skip


@dataclass(frozen=True)
class GainLine:
    """A line of money or a part of it: ``full`` is the gain of a year, or ``spent`` what a scenario spends a year."""

    line: str
    item: str
    full: str = ""
    spent: str = ""

    @property
    def title(self) -> str:
        """Title of the line, with what it is about."""
        return f"{LINES[self.line].title}{f' ({self.item})' if self.item else ''}"


def items_of(hours: HoursSheet, prices: Prices, weeks: str) -> list[GainLine]:
    """Every item that the measures of a study have, in the order of the lines."""
    known = set(hours.measures)
    found = [
        GainLine("overtime", "", spent=f"[overtime_h@{{x}}]*[crew rate@{{x}}]*(1+[overtime_premium])*{weeks}"),
        GainLine("overrun", "", spent=f"[person_overrun_h@{{x}}]*[operator_wage]*(1+[overtime_premium])*{weeks}"),
        GainLine("subcontract", "", spent=f"[subcontract_h@{{x}}]*([subcontract_price]-[own cost@{{t}}])*{weeks}"),
        GainLine("sales", "", f"([unmet_h@today]-[unmet_h@{{x}}])*[margin_per_hour]*{weeks}"),
        *_labour(hours, weeks),
        *_metals(hours, prices, weeks),
        *_used(hours, weeks),
        *_own_prices(hours, prices, weeks),
    ]
    if {"parts_scrapped", "parts", "parts_kg"} <= known:
        less = "([parts_scrapped@today]*[parts ratio@{x}]-[parts_scrapped@{x}])*[parts_kg@today]/[parts@today]"
        found.append(GainLine("parts_scrapped", "", f"IF([parts@today]>0,{less}*[mean price]*{weeks},0)"))
    return [item for item in found if item.line != "overrun" or "person_overrun_h" in known]


def _labour(hours: HoursSheet, weeks: str) -> Iterator[GainLine]:
    """Overtime and posts beyond the limit of paid hours, group by group, and work of people not on the roster."""
    for i, group in enumerate(hours.groups, 1):
        overtime = f"[extra {i}@today]*[rate {i}@today]-[extra {i}@{{x}}]*[rate {i}@{{x}}]"
        yield GainLine("labour_overtime", group_name(group), f"({overtime})*(1+[overtime_premium])*{weeks}")
        posts = f"[posts {i}@today]*[post cost {i}@today]-[posts {i}@{{x}}]*[post cost {i}@{{x}}]"
        yield GainLine("labour_posts", group_name(group), f"({posts})*{weeks}")
    for measure, rate in (
        ("preparation_h", "[setter_wage]"),
        ("programming_h", "[programmer_wage]"),
        ("care_by_others_h", "[operator_wage]"),
        ("on_call_h", "[operator_wage]*(1+[night_premium])"),
    ):
        if measure in hours.measures:
            words = measure.removesuffix("_h").replace("_", " ")
            yield GainLine("labour_by_others", words, f"([{measure}@today]-[{measure}@{{x}}])*{rate}*{weeks}")


def _used(hours: HoursSheet, weeks: str) -> Iterator[GainLine]:
    """What is used, for the same parts made in house."""
    for line, measure, price, ratio in (
        ("energy", "energy_kwh", "[energy_price]", "span ratio"),
        ("gas", "gas_m3", "[gas_price]", "span ratio"),
        ("regrinds", "tools_reground", "[regrind_price]", "parts ratio"),
        ("tools", "tool_lives", "[tool_life_price]", "parts ratio"),
        ("tools", hours.read("tools_broken"), "[tool_price]", "parts ratio"),
        ("rework", "parts_reworked", "[rework_price]", "parts ratio"),
    ):
        if measure in hours.measures:
            item = measure if line == "tools" else ""
            yield GainLine(line, item.replace("_", " "),
                       f"([{measure}@today]*[{ratio}@{{x}}]-[{measure}@{{x}}])*{price}*{weeks}")  # fmt: skip


def _metals(hours: HoursSheet, prices: Prices, weeks: str) -> Iterator[GainLine]:
    """Sheet material and scrap credit of each metal, for the same mass of its parts."""
    for k, metal in enumerate(prices.materials_of, 1):
        lost = hours.read(f"lost_kg_{metal}") in hours.measures
        sheets, scrap = ("lost", "lost") if lost else ("sheets", "scrap")
        for line, what, price in (("material", sheets, f"[mean price {k}]"),
                                  ("scrap", scrap, f"-([scrap {k}]+[mixing {k}])")):  # fmt: skip
            less = f"([{what} kg {k}@today]*[ratio {k}@{{x}}]-[{what} kg {k}@{{x}}])"
            yield GainLine(line, metal, f"IF([ratio {k}@{{x}}]=0,0,{less}*{price}*{weeks})")


def _own_prices(hours: HoursSheet, prices: Prices, weeks: str) -> Iterator[GainLine]:
    """All that a case uses of something whose price it changes, at that change."""
    for key in hours.own_prices:
        if hours.read(key) in hours.measures:
            line = "tools" if key.startswith("tool") else "material" if key.startswith("material") else "scrap"
            sign = "" if line == "scrap" else "-"
            yield GainLine(line, f"{key.replace('_', ' ')}, price",
                       f"{sign}[{hours.read(key)}@{{x}}]*[own price {key}@{{x}}]*{weeks}")  # fmt: skip


def amount_rows(sheet: FormulaSheet, hours: HoursSheet, prices: Prices) -> None:
    """Weekly amounts of today, the case and what fades, at the demand of each year."""
    for who in (*SCENARIOS, "budget"):
        _level_rows(sheet, who)
        for measure in hours.measures:
            if who != "budget" or measure in FOR_BUDGET:
                _amount(sheet, f"amount {measure}", who, measure, *words_of(measure))
        for i, group in enumerate(hours.groups, 1) if who != "budget" else ():
            _amount(sheet, f"busy {i}", who, f"busy {i}", f"Busy: {group_name(group)}", "h/week")
    metals = list(prices.materials_of.values())
    _name_materials(sheet, "sheets kg@today", [material for own in metals for material in own], "today")
    for k, who in product(range(len(metals)), SCENARIOS):
        _name_materials(sheet, f"materials {k + 1}@{who}", metals[k], who)


def _level_rows(sheet: FormulaSheet, who: str) -> None:
    """Between which rows of 'Hours' the demand of a year lies, and how near to the upper one."""
    sheet.heading(f"Amounts a week: {TITLES[who]}", "from 'Hours', at the demand of the year")
    demand, row = ("[budget_demand]", "[row@today]") if who == "budget" else ("[demand]", f"[row@{who}]")
    count, mine = f"INDEX([hours levels],{row})", f"([hours case]=INDEX([hours case],{row}))"
    sheet.line("Row of 'Hours' with the demand level below", "row",
               f"{row}-1+MAX(1,MIN(SUMPRODUCT({mine}*([hours level]<={demand}*[season])),{count}-1))", "whole",
               f"i@{who}")  # fmt: skip
    sheet.line("Row with the level above", "row", f"MIN([i@{who}]+1,{row}+{count}-1)", "whole", f"j@{who}")
    low, high = f"INDEX([hours level],[i@{who}])", f"INDEX([hours level],[j@{who}])"
    sheet.line("Weight of the level above", "share",
               f"IF({high}>{low},MAX(0,MIN(1,({demand}*[season]-{low})/({high}-{low}))),0)",
               "percent", f"w@{who}")  # fmt: skip
    sheet.line("Demand beyond the simulated levels", "factor", f"ABS({demand}*[season]-{low}*(1-[w@{who}])"
               f"-{high}*[w@{who}])*[inside]", "factor", f"missed@{who}")  # fmt: skip


def _amount(sheet: FormulaSheet, column: str, who: str, name: str, label: str, unit: str) -> None:
    """A row that reads an amount between two demand levels."""
    low, high = f"INDEX([{column}],[i@{who}])", f"INDEX([{column}],[j@{who}])"
    sheet.line(label, unit, f"{low}*(1-[w@{who}])+{high}*[w@{who}]", "number", f"{name}@{who}")


def _name_materials(sheet: FormulaSheet, name: str, materials: Sequence[str], who: str) -> None:
    """Name the rows of some materials, which stand below each other, as one block."""
    first, last = (sheet.find(f"material_kg_{materials[end]}@{who}").row for end in (0, -1))
    sheet.names[name + sheet.suffix] = sheet.years_of(first, last)


def ratio_rows(sheet: FormulaSheet, hours: HoursSheet, prices: Prices) -> None:
    """What the items need besides amounts: the same parts as today, mean prices, cost of an hour in house."""
    known, unit = set(hours.measures), "ratio"
    sheet.heading("Ratios to today, mean prices")
    for who in ("today", "budget"):
        inside = {"sheets", "sheets_in_span"} <= known
        both = f"AND([sheets@{who}]>0,[sheets_in_span@{who}]>0)"
        share = f"IF({both},[sheets_in_span@{who}]/[sheets@{who}],1)" if inside else "1"
        cost = "+".join(f"[{m}@{who}]*[{p}_price]" for m, p in (("energy_kwh", "energy"), ("gas_m3", "gas"))
                        if m in known) or "0"  # fmt: skip
        own = f"IF([inhouse_h@{who}]>0,({cost})/([inhouse_h@{who}]*{share}),0)"
        sheet.line(f"Energy and gas of an hour in house, {TITLES[who]}", "money/h",
                   own if "inhouse_h" in known else "0", "price", f"own cost@{who}")  # fmt: skip
    for who in ("case", "alone"):
        parts = _ratio("parts_kg", who, "1") if "parts_kg" in known else "1"
        sheet.line(f"Parts made in house, by mass: {TITLES[who]}", unit, parts, "factor", f"parts ratio@{who}")
        span = f"[parts ratio@{who}]"
        span = _ratio("sheets_in_span", who, span) if "sheets_in_span" in known else span
        sheet.line(f"Sheets made in the measured span: {TITLES[who]}", unit, span, "factor", f"span ratio@{who}")
    total = "SUM([sheets kg@today])"
    sheet.line("Mean sheet price, by today's mass", "money/kg",
               f"IF({total}>0,SUMPRODUCT([sheets kg@today],[sheet_prices])/{total},0)", "price",
               "mean price")  # fmt: skip
    for k, metal in enumerate(prices.materials_of, 1):
        lost = hours.read(f"lost_kg_{metal}")
        _metal_rows(sheet, k, metal, lost if lost in known else "")
    for key in hours.own_prices:
        for who in ("case", "alone"):
            sheet.scalar(f"Own price less today's, {key.replace('_', ' ')}: {TITLES[who]}", "money",
                         f"INDEX([own price {key}],[row@{who}])", "price", f"own price {key}@{who}")  # fmt: skip


def _ratio(measure: str, who: str, otherwise: str) -> str:
    today = f"[{measure}@today]"
    return f"IF({today}>0,[{measure}@{who}]/{today},{otherwise})"


def _metal_rows(sheet: FormulaSheet, k: int, metal: str, lost: str) -> None:
    """Mean price of a metal, its sheet mass and the ratio of the mass of its parts; 0 where there are none."""
    mass = f"SUM([materials {k}@today])"
    sheet.line(f"Mean sheet price, {metal}", "money/kg",
               f"IF({mass}>0,SUMPRODUCT([materials {k}@today],[sheet prices {k}])/{mass},0)", "price",
               f"mean price {k}")  # fmt: skip
    for who in SCENARIOS:
        sheet.line(f"Sheets, {metal}: {TITLES[who]}", "kg/week", f"SUM([materials {k}@{who}])", "number",
                   f"sheets kg {k}@{who}")  # fmt: skip
        for name, read in (("scrap", f"scrap_kg_{metal}"), ("lost", lost or f"sheets kg {k}")):
            sheet.names[f"{name} kg {k}@{who}{sheet.suffix}"] = sheet.find(f"{read}@{who}")
    parts = {who: f"([sheets kg {k}@{who}]-[scrap kg {k}@{who}])" for who in SCENARIOS}
    for who in ("case", "alone"):
        known = f"AND({parts['today']}>0,{parts[who]}>0)"
        sheet.line(f"Mass of parts, {metal}: {TITLES[who]}", "ratio", f"IF({known},{parts[who]}/{parts['today']},0)",
                   "factor", f"ratio {k}@{who}")  # fmt: skip


def item_rows(sheet: FormulaSheet, item: GainLine, key: str, level: str, unit: str) -> None:
    """Rows of one item: the gain of a full year, what fades of it, and what of it counts, released and avoided."""
    full = _spent_rows(sheet, item, key, unit) if item.spent else item.full
    whole = f"{unit}/year"
    sheet.line(f"{item.title}: gain of a full year", whole, full.replace("{x}", "case"), "money",
               f"full {key}")  # fmt: skip
    sheet.line("... of which by what fades, alone", whole, full.replace("{x}", "alone"), "money", f"fades {key}")
    rule = LINES[item.line].rule
    switch = f'IF([count_{rule}]="yes",1,0)*' if rule else ""
    fading = f"MAX(0,MIN(1,IF([full {key}]=0,0,[fades {key}]/[full {key}])))"
    sheet.line("... share of the year that counts", "share",
               f"IF([full {key}]<0,[in use],{switch}([ramped]-(1-[kept share])*{fading}*[after a year]))*[inside]",
               "percent", f"counts {key}")  # fmt: skip
    within = f"[within {key}]" if item.spent else f"[full {key}]"
    sheet.line("... counted, released" if item.line != "sales" else "... counted", unit,
               f"{within}*[counts {key}]*{level}", "money", f"released {key}")  # fmt: skip
    if item.spent:
        sheet.line("... counted, avoided", unit, f"([full {key}]-[within {key}])*[counts {key}]*{level}", "money",
                   f"avoided {key}")  # fmt: skip


def _spent_rows(sheet: FormulaSheet, item: GainLine, key: str, unit: str) -> str:
    """What today, the case and today's book spend a year; within the budget lies min(today, it) - min(case, it)."""
    for who in (*SCENARIOS, "budget"):
        template = item.spent.replace("{x}", who).replace("{t}", "budget" if who == "budget" else "today")
        sheet.line(f"{item.title}, a full year: {TITLES[who]}", f"{unit}/year", template, "money", f"{key} {who}")
    budget = f"[{key} budget]"
    sheet.line(f"{item.title}: gain within today's budget", f"{unit}/year",
               f"MIN([{key} today],{budget})-MIN([{key} case],{budget})", "money", f"within {key}")  # fmt: skip
    return f"[{key} today]-[{key} {{x}}]"
