"""What a workbook is made from, and the sheets around its live case, from read me to the log of changes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from simkit.finance import FINANCE_CAUTION
from simkit.finance.cashflow import CashFlowTable
from simkit.finance.evaluate import MoneyResult
from simkit.finance.inputs import ScenarioTotals
from simkit.finance.lines import LINES
from simkit.plant.plant import PlantInputs
from simkit.report.words import listing
from simkit.report.workbook.model import ELSEWHERE, MEASURES, NEVER, NO_LIMIT, NO_RATE, NOTHING, WORTHLESS, LiveModel
from simkit.report.workbook.sheets import FIRST_YEAR, LABEL, PRESENT, FormulaSheet, LiveWorkbook


@dataclass(frozen=True)
class WorkbookContent:
    """A cash flow with the plant's prices, the simulated totals (today's first) and the measures of every case.

    ``run_id`` names the run, ``facts`` say in words how it was made, ``marks`` are warnings that stand on top.
    """

    plant: PlantInputs
    totals: Mapping[str, ScenarioTotals]
    flow: CashFlowTable
    results: Mapping[str, MoneyResult]
    run_id: str
    facts: Mapping[str, str]
    marks: tuple[str, ...] = ()

    def described(self, name: str) -> str:
        """Options of a case in words."""
        held = self.totals[name].option_ids
        return listing(self.flow.prices.options[one].name for one in held) if held else "no option: changed inputs"


README, SUMMARY, CHECKS, SOURCES, CHANGES = "Read me", "Summary", "Checks", "Sources", "Changes"
LIVE_ROW, TABLE_ROW = 4, 9
MONEY_MEASURES = ("capital", "headline", "with avoided", "with sales", "annual value")
LOG_ROWS = 40


def static_measures(result: MoneyResult) -> dict[str, Any]:
    """What the kit itself found for a case, in the words of the workbook."""
    most = result.break_even_capital
    worth = WORTHLESS if most is None else NO_LIMIT if math.isinf(most) else most
    return {
        "capital": result.capital, "headline": result.npv, "with avoided": result.npv_with_avoided,
        "with sales": result.npv_with_signed_sales, "payback": _time(result.payback.years),
        "discounted payback": _time(result.discounted_payback.years),
        "irr": result.irr.roots[0] if result.irr.status == "one" else NO_RATE,
        "mirr": NO_RATE if result.mirr is None else result.mirr,
        "annual value": result.equivalent_annual_value, "worth": worth,
    }  # fmt: skip


def _time(years: float | None) -> float | str:
    return NEVER if years is None else years or NOTHING


def summary_sheet(
    book: LiveWorkbook,
    content: WorkbookContent,
    names: Mapping[str, str],
    others: Mapping[str, Mapping[str, float]],
    today: str,
) -> FormulaSheet:
    """Every case, static, as the kit found it; above it the picked case, live, beside the same numbers."""
    sheet = book.sheet(SUMMARY, "Summary: every case", (
        f"Static table from run {content.run_id}, money in {content.flow.currency}, against {today}; above it the "
        "case picked on 'Case', live.",
        "Where inputs were changed, live and static numbers differ: trust the live ones.",
    ))  # fmt: skip
    words = [title.removesuffix(", years").removesuffix(", a year") for _, title, *_ in MEASURES]
    heads = ("case", "what it is", *words, "value at low prices", "value at high prices")
    sheet.header(TABLE_ROW, *heads, numbers=range(2, len(heads)))
    for row, (name, label) in enumerate(names.items(), TABLE_ROW + 1):
        sheet.data(row, 0, label)
        sheet.data(row, 1, content.described(name), "wrapped")
        values = static_measures(content.results[name])
        for column, (key, _, look, _) in enumerate(MEASURES, 2):
            sheet.put(row, column, values[key], f"static_{look}")
        for column, case in enumerate(("low", "high"), 2 + len(MEASURES)):
            sheet.put(row, column, others[case][name], "static_money")
    last = TABLE_ROW + len(names)
    book.name("what it is", sheet.area(TABLE_ROW + 1, 1, last))
    book.name("case_names", sheet.area(TABLE_ROW + 1, 0, last), "case_names")
    for column, (key, *_) in enumerate(MEASURES, 2):
        book.name(f"static {key}", sheet.area(TABLE_ROW + 1, column, last))
    sheet.widths = {0: 34, 1: 44, **dict.fromkeys(range(2, 4 + len(MEASURES)), 12)}
    sheet.freeze = (TABLE_ROW + 1, 1)
    return sheet


def live_rows(sheet: FormulaSheet) -> None:
    """The picked case, live and static, and how much they differ."""
    sheet.put(LIVE_ROW - 1, 0, "The case picked on 'Case'", "section")
    for row, words in enumerate(("live", "static", "live less static"), LIVE_ROW):
        sheet.put(row, 0, "=[Case/pick]" if words != "live less static" else "", "text")
        sheet.put(row, 1, words, "total_text")
    sheet.put(LIVE_ROW + 3, 0, "Inputs changed since the book was made", "text")
    sheet.put(LIVE_ROW + 3, 1, "=SUM([inputs changed])", "whole")
    for column, (key, title, look, _) in enumerate(MEASURES, 2):
        live, static = f"[Case/{key}]", f"INDEX([static {key}],MATCH([Case/pick],[case_names],0))"
        sheet.put(LIVE_ROW - 1, column, title, "head_right")
        sheet.put(LIVE_ROW, column, f"={live}", f"total_{look}")
        sheet.put(LIVE_ROW + 1, column, f"={static}", f"static_{look}")
        if key in MONEY_MEASURES:
            less = f"{live}-{static}"
            sheet.put(LIVE_ROW + 2, column, f"=IF(ABS({less})>[no_difference],{less},0)", "money")


def compare_rows(model: LiveModel, first: LiveModel) -> None:
    """On the second model's sheet: both cases side by side, line by line, and what choosing it instead adds."""
    sheet, unit = model.sheet, model.unit
    at = sheet.names["headline"].row - 2
    sheet.header(at, "Both live: the case picked here beside the one on 'Case'", "", "picked here", "on 'Case'", "",
                 "difference", numbers=range(2, 6))  # fmt: skip
    for key, _, look, _ in MEASURES:
        row = sheet.names[key].row
        sheet.put(row, PRESENT, f"=[{first.name}/{key}]", f"total_{look}")
        if key in MONEY_MEASURES:
            sheet.put(row, FIRST_YEAR, f"=[{key}]-[{first.name}/{key}]", f"total_{look}")
    beyond = sheet.last_year + 1
    sheet.header(4, *[""] * beyond, "present value on 'Case'", "difference", numbers=(beyond, beyond + 1))
    for row in range(sheet.names["rows purchase"].row, sheet.end):
        own = sheet.cells.get((row, PRESENT))
        if own is not None:
            sheet.names["there"] = first.sheet.area(row - model.top + first.top, PRESENT)
            sheet.put(row, beyond, "=[there]", own.look)
            sheet.names["here"] = sheet.area(row, PRESENT)
            sheet.put(row, beyond + 1, "=[here]-[there]", own.look)
    sheet.widths |= {beyond: 14, beyond + 1: 14}
    more = f"[flow headline]-[{first.name}/flow headline]"
    sheet.row = at - 1
    sheet.line("HEADLINE less that of the case on 'Case'", unit, more, "total_money", "more", total=True)


def _close(difference: str, size: str) -> str:
    """Formula that is 1 where a difference counts as none beside a size."""
    return f"IF(ABS({difference})>[no_difference]*MAX(1,ABS({size})),0,1)"


def _model_checks(model: LiveModel) -> list[tuple[str, str, str]]:
    """What must hold on a live model: what it says, its formula, the sheet."""
    n, place = model.name, f"MATCH([{model.name}/pick],[case_names],0)"
    missed = "+".join(f"SUM([{n}/{key}:])" for key in model.sheet.names if key.startswith("missed@"))
    again = f"NPV([discount_rate],[{n}/flow headline:])*(1+[discount_rate])"
    classes = f"([{n}/class own:]+[{n}/class avoided:]+[{n}/class sold:])"
    found = [
        ("Demand of all years lies within the simulated levels", f"IF({missed}>[no_difference],0,1)"),
        ("Depreciation sums to what is written off",
         _close(f"SUM([{n}/written off:])-SUM([{n}/bought:])", f"SUM([{n}/bought:])")),
        ("Stock comes back by the end", _close(f"SUM([{n}/purchase working_capital:])", "1")),
        ("The headline by year sums to its total so far",
         _close(f"SUM([{n}/flow headline:])-[{n}/so far at end]", f"[{n}/so far at end]")),
        ("Net present value again, by NPV (year ends)",
         f'IF([flow_timing]="year end",{_close(f"[{n}/headline]-{again}", f"[{n}/headline]")},1)'),
        ("Classes sum to the third figure",
         _close(f"[{n}/with sales]-SUMPRODUCT({classes}*[discount:])", f"[{n}/with sales]")),
    ]  # fmt: skip
    for key, title, *_ in MEASURES:
        if key in MONEY_MEASURES:
            same = _close(f"[{n}/{key}]-INDEX([static {key}],{place})", f"[{n}/{key}]")
            found.append((f"{title}: live equals the run's own, unless inputs were changed",
                          f"IF(SUM([inputs changed])>0,1,{same})"))  # fmt: skip
    return [(title, formula, n) for title, formula in found]


def checks_sheet(book: LiveWorkbook, models: Sequence[LiveModel], control: float) -> None:
    """Every check, and the one that holds all of them; ``control`` is the sum of all numbers on 'Hours'."""
    sheet = book.sheet(CHECKS, "Checks", ("1 in every row, or the number it looks at must not be used.",))
    stages = "+".join(f"[{name}]" for name in book.names if name.startswith("payment "))
    sheet.put(5, LABEL, "Control total of 'Hours' as built")
    sheet.put(5, 1, control, "static_number")
    sheet.names["built"] = sheet.area(5, 1)
    listed = [check for model in models for check in _model_checks(model)]
    listed.append(("Shares of payment sum to 1", _close(f"{stages}-1", "1"), "Inputs"))
    listed.append(("Nothing on 'Hours' was changed", _close("SUM([hours numbers])-[built]", "[built]"), "Hours"))
    sheet.header(7, "check", "holds", "looks at")
    for row, (title, formula, where) in enumerate(listed, 8):
        sheet.put(row, 0, title)
        sheet.put(row, 1, f"={formula}", "check")
        sheet.put(row, 2, where, "note")
    sheet.names["all"] = sheet.area(8, 1, 7 + len(listed))
    sheet.put(3, 0, "ALL CHECKS HOLD", "total_text")
    sheet.put(3, 1, "=MIN([all])", "check")
    book.name("all_checks", sheet.area(3, 1), "all_checks")
    sheet.put(4, 0, "Inputs changed since the book was made")
    sheet.put(4, 1, "=SUM([inputs changed])", "whole")
    sheet.widths, sheet.freeze = {0: 84, 1: 14, 2: 16}, (8, 0)


def sources_sheet(book: LiveWorkbook, content: WorkbookContent) -> None:
    """Where lines and numbers come from: budgets and evidence, options, the run."""
    sheet = book.sheet(SOURCES, "Sources", ("Where numbers come from, and what proves each line.",))
    named = {entry.line: (entry.account, entry.owner) for entry in content.flow.finance.budget_lines}
    lines = [(line.title, line.budget, line.evidence, line.growth, *named.get(key, ("", "")))
             for key, line in LINES.items()]  # fmt: skip
    heads = ("line", "budget line", "evidence to ask for", "follows", "the plant's account", "who answers")
    sheet.row = 3
    _table(sheet, heads, lines)
    options = [(f"{o.name} ({o.id})", o.price_source, o.valid_until, o.owner, o.note) for o in content.plant.options]
    _list(sheet, "Options", ("option", "price from", "valid until", "owner", "note"), options)
    facts = [("run", content.run_id), *content.facts.items()]
    _list(sheet, "Simulation", ("what", "value"), facts)
    sheet.widths, sheet.freeze = {0: 56, 1: 30, 2: 42, 3: 24, 4: 40, 5: 24}, (4, 0)


def _list(
    sheet: FormulaSheet, title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], look: str = "text"
) -> None:  # fmt: skip
    """Texts of a plant or of ours under a heading."""
    sheet.heading(title)
    _table(sheet, heads, rows, look)


def _table(sheet: FormulaSheet, heads: Sequence[str], rows: Sequence[Sequence[str]], look: str = "text") -> None:
    sheet.header(sheet.row, *heads)
    for cells in rows:
        at = sheet.row
        for column, text in enumerate(cells):
            sheet.data(at, column, text, look)


def changes_sheet(book: LiveWorkbook, as_of: str, run_id: str) -> None:
    """Empty rows for the user below the line of the kit."""
    sheet = book.sheet(CHANGES, "Changes", ("Write down what you change, why, and who agreed.",))
    sheet.row = 3
    first = (as_of, "study kit", "all", f"workbook made from run {run_id}", "")
    _table(sheet, ("date", "who", "sheet and cell", "what and why", "agreed by"), [first])
    for row in range(5, 5 + LOG_ROWS):
        for column in range(5):
            sheet.put(row, column, "", "input_words")
    sheet.widths, sheet.freeze = {0: 14, 1: 24, 2: 30, 3: 60, 4: 30}, (4, 0)


SHEETS = (
    ("Summary", "every case as the kit found it (static), beside the picked one, live"),
    ("Inputs", "every number that may be changed, once: prices, wages, terms, options"),
    ("Hours", "simulated amounts a week of every case at every demand level, and its roster (static)"),
    ("Options", "terms by year, and each option's own cash by year (calculated)"),
    ("Case", "pick a case: every line of every year, live; the statement prints on A4, its workings stand below"),
    ("Compare", "pick a second case: the same model, live, beside the first, line by line"),
    ("Checks", "1 in every row, or the number must not be used"),
    ("Sources", "budgets, evidence, prices of options, the run"),
    ("Changes", "what you changed, for the next reader"),
)
HOW = (
    "Amounts are differences from today at the same demand; positive is received. Year 0 is the as-of date.",
    "Blue on yellow is an input. Grey italics are static. Black is calculated.",
    "Change an input on 'Inputs', pick a case on 'Case': all years, lines and measures follow.",
    "Rates, wages, premiums, prices, capital, yearly costs, growth, tax, losses, demand, timing and horizon are live.",
    "Horizon: up to the years that the book was made for. Demand: between the simulated levels, in a straight line.",
    "What fades of a gain is looked up live: the case of just those options, where it was simulated.",
    "A person's wage follows the wage of the work where both were equal; type over it to part them.",
)
STATIC = (
    ("'Hours'", "results of the simulation: a new order book, shift, option or rule needs a new run"),
    ("paid hours, groups of people, who comes to overtime", "read from shifts and duties of each case's calendar"),
    ("which options a case holds; own prices less today's", "read from the options"),
    ("groups of people never busy for more than half of their paid hours", "left out: their limit cannot be reached"),
    ("seasons: weeks and factor of each part", "plant.toml"),
    ("depreciation where not in a straight line", "its shares stand as inputs"),
    ("'Summary', value at low and at high prices", "each is a run of the kit; the choice of prices gives them live"),
    ("internal rate unless flows fall at year ends and change sign once; worth at most where losses wait",
     f"live cells say '{ELSEWHERE}' or '{NO_RATE}'"),
)  # fmt: skip


def readme_sheet(book: LiveWorkbook, content: WorkbookContent, rules: Sequence[tuple[str, str]]) -> None:
    """What the book is, its sheets, how to use it, what is static and why, and the rules behind every amount."""
    about = (content.plant.settings.name, f"Run {content.run_id}", FINANCE_CAUTION, *content.marks)
    sheet = book.sheet(README, "Workbook of the study", about)
    at = sheet.row
    sheet.put(at, 0, "All checks hold (1: yes)", "total_text")
    sheet.put(at, 1, "=[all_checks]", "check")
    _list(sheet, "Sheets", ("sheet", "what it is"), SHEETS)
    _list(sheet, "How to use it", ("",), [(text,) for text in HOW])
    _list(sheet, "What is static, and why", ("what", "why"), STATIC)
    _list(sheet, "How every amount is made", ("about", "rule"), rules, "wrapped")
    sheet.widths = {0: 66, 1: 110}
