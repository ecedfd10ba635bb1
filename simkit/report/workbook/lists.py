"""Sheets that list: read-me, summary of cases, benefits register, static sensitivity, change log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from simkit.finance import FINANCE_CAUTION
from simkit.finance.lines import COST, LINES, NOT_MONETISED
from simkit.report.moneystudy import MoneyStudy
from simkit.report.workbook.book import CASES, CHECKS, PRICE_CASES, SWITCH, Book
from simkit.report.workbook.chain import Step
from simkit.report.workbook.expr import both, choose, either, total
from simkit.report.workbook.grid import Sheet, span
from simkit.report.workbook.money_rows import titled
from simkit.report.workbook.option_sheet import OptionSheet

SUMMARY, REGISTER, SENSITIVITY, OTHERS, LOG = (
    "Summary",
    "Benefits register",
    "Sensitivity (static)",
    "Other cases (static)",
    "Change log",
)
LOG_ROWS = 40
MAIN_CASES = 4
"""Cases beside the package for which the value of hours is shown rule by rule."""

MEASURES = (
    ("capital", "capital", "money"),
    ("npv headline", "net present value", "total_money"),
    ("npv with_avoided", "... with avoided cost", "money"),
    ("npv with_signed_sales", "... with signed sales", "money"),
    ("payback", "payback, years", "years"),
    ("discounted_payback", "discounted payback, years", "years"),
    ("irr", "internal rate a year", "percent2"),
    ("mirr", "modified rate a year", "percent2"),
    ("equivalent_annual_value", "equivalent annual value", "money"),
    ("break_even_capital", "worth at most", "money"),
)
"""Measures of the summary: name, title, format."""


def read_me(book: Book) -> Sheet:
    """What the book is, its conventions, and who made it from what."""
    cash = book.cash
    settings = cash.study.plant.settings
    sheet = book.sheet("Read me", f"{settings.name}: what each option is worth", FINANCE_CAUTION, years=False)
    sheet.widths = {0: 30, 1: 110}
    sheet.freeze = (0, 0)
    rows = [*_conventions(book), *_origin(book)]
    sheet.next_row = 3
    for name, text in rows:
        sheet.row(name, text, looks=("total_text", "wrapped"))
    return sheet


def _conventions(book: Book) -> list[tuple[str, str]]:
    """What the book is and how it counts."""
    return [
        (
            "What this is",
            "The cash-flow table of the study with live formulas: hours per week from the simulation times "
            "prices, weeks, growth and ramp-up give lines, tax and measures. Change the blue cells of 'Inputs' or the "
            "switch of 'Scenarios'; everything else follows.",
        ),
        (
            "Sign",
            "Amounts are differences from today. Positive is received, negative is paid. Capital and 'worth at "
            "most' are shown positive.",
        ),
        (
            "Time",
            "Year 0 is the first payment and is never discounted. Year y is the twelve months that end y years "
            "later; the cell 'When the flows of a year fall' on 'Inputs' says where in the year. The same column is "
            "the same year on every sheet with years.",
        ),
        ("Conventions", "; ".join(book.cash.cashflow.conventions) + "."),
        (
            "Three figures",
            "Headline: cash released by named budgets and single amounts, less all costs. '... with "
            "avoided cost' and '... with signed sales' stand beside it, never instead.",
        ),
        (
            "Tax",
            "On each class; what becomes of losses is an input. Relief at once needs other profit. Depreciation "
            "acts through tax alone. Confirm all of it with your controller.",
        ),
        (
            "Simulated numbers",
            "The sheet 'Simulated' holds results of the simulation. A change of orders, shifts, "
            "times or options needs a new run; a change of prices, wages, demand within the simulated levels or terms "
            "does not.",
        ),
        (
            "Static values",
            "What is not a formula says so: " + "; ".join(f"{what} ({why})" for what, why in book.pasted) + ".",
        ),
        ("Colours", "Blue on yellow: an input. Grey italics: a value pasted from the run. Black: a formula."),
    ]


def _origin(book: Book) -> list[tuple[str, str]]:
    """From which plant and run it was made, and by whom it is paid."""
    cash = book.cash
    settings, run = cash.study.plant.settings, cash.study.run
    return [
        ("Plant and date", f"{settings.name}; data as of {settings.as_of.isoformat()}; currency {settings.currency}"),
        (
            "Made by",
            "the study kit, from the plant folder and its simulation; the plant's owners named on 'Inputs' "
            "answer for the numbers",
        ),
        (
            "Run",
            f"{book.run_id}; seed {run.seed}; {run.replications} replications of {run.weeks:g} weeks; demand levels "
            + ", ".join(f"{level:g}" for level in run.demand_factors),
        ),
        ("Study paid for by", settings.study_paid_by or "not entered"),
        ("Options sold by", settings.options_sold_by or "not entered"),
        (
            "Calibration",
            "NOT calibrated: the hours are those of the model, not yet compared with the plant",
        ),
        *(("Note", note) for note in cash.cashflow.notes),
    ]


def summary(book: Book, made: Mapping[str, OptionSheet], steps: Mapping[str, list[Step]]) -> Sheet:
    """All cases with a sheet beside each other, and both chains of increments."""
    sheet = book.sheet(
        SUMMARY,
        "All cases at a glance",
        f"{book.currency}; live. In order of the report; rates and paybacks are those of the headline.",
        years=False,
    )
    wide = {"payback": 30, "discounted_payback": 30, "irr": 36, "mirr": 34, "break_even_capital": 44}
    sheet.widths = {0: 34, **{1 + i: wide.get(name, 17) for i, (name, _, _) in enumerate(MEASURES)}}
    sheet.row("case", *(title for _, title, _ in MEASURES), look="head")
    for one in made.values():
        row = sheet.row(one.sheet.name)
        for place, (name, _, look) in enumerate(MEASURES):
            sheet.put(row, 1 + place, one.measures[name], look)
    for title, chain in steps.items():
        sheet.next_row += 1
        sheet.row(title, look="section")
        sheet.row(
            "case, in order of capital",
            "against",
            "extra capital",
            "extra value",
            "internal rate of the extra",
            "payback of the extra, years",
            "1: worth its extra",
            look="head",
        )
        for step in chain:
            row = sheet.row(step.name)
            looks = ("words", "money", "total_money", "percent2", "years", "year")
            values = (step.against, step.capital, step.value, step.rate, step.payback, step.accepted)
            for place, (value, look) in enumerate(zip(values, looks, strict=True)):
                sheet.put(row, 1 + place, value, look)
    return sheet


def register(book: Book, made: Mapping[str, OptionSheet]) -> Sheet:
    """Benefits register: class, basis, budget line, evidence, owner, date; amounts over all years before tax."""
    sheet = book.sheet(
        REGISTER,
        "Benefits register",
        "Sums over all years before tax, live. A benefit counts when its "
        "budget line falls; the owner signs, with a date.",
        years=False,
    )
    sheet.widths = {0: 34, 1: 44, 2: 18, 3: 16, 4: 22, 5: 36, 6: 24, 7: 20, 8: 16}
    sheet.row(
        "case",
        "line",
        "class",
        f"amount, {book.currency}",
        "budget line",
        "evidence to ask for",
        "owner",
        "basis: rows of the sheet",
        "date agreed",
        look="head",
    )
    named = {entry.line: entry for entry in book.cash.cashflow.finance.budget_lines}
    for one in made.values():
        first = sheet.next_row
        amounts = []
        for item in one.lines:
            if item.kind in (COST, NOT_MONETISED) or item.row.sum is None:
                continue
            line, budget = LINES[item.line], named.get(item.line)
            row = sheet.row(
                one.sheet.name,
                titled(item.line, item.item),
                item.kind.replace("_", " "),
                None,
                budget.account if budget else line.budget,
                line.evidence,
                (budget.owner if budget else "") or item.owner or "not named",
                f"{one.sheet.name}, row {item.row.row + 1}",
            )
            amounts.append(sheet.put(row, 3, item.row.sum, "money").value)
            falls = budget.falls_from.isoformat() if budget and budget.falls_from else ""
            sheet.put(row, 8, falls, "input_text")
        if amounts:
            _register_sum(book, sheet, one, first, amounts)
    return sheet


def _register_sum(book: Book, sheet: Sheet, one: OptionSheet, first: int, amounts: list[float]) -> None:
    row = sheet.row(one.sheet.name, "all benefits before tax", look="total_text")
    listed = total(span(REGISTER, (first, 3), (first + len(amounts) - 1, 3), amounts))
    cell = sheet.put(row, 3, listed, "subtotal")
    sums = [series.sum for kind, series in one.sums.items() if kind not in (COST, "investment")]
    classes = total(*(cell for cell in sums if cell is not None))
    book.check(f"{one.sheet.name}: benefits of the register sum to the classes", book.none(cell - classes), REGISTER)


def sensitivity(book: Book) -> Sheet:
    """Values pasted from the run: each value rule alone, other discount rates, and how well the value is known."""
    cash, unit = book.cash, book.currency
    sheet = book.sheet(
        SENSITIVITY,
        "Sensitivity: values pasted from the run",
        f"Static: not recalculated here. Run "
        f"{book.run_id}. Headline net present value in {unit} unless said otherwise.",
        years=False,
    )
    names = main_cases(book)
    sheet.widths = {0: 58, **dict.fromkeys(range(1, 9), 18)}
    sheet.row(
        "Each rule of what an hour is worth, alone: the package and the cases with the highest values", look="section"
    )
    rules = ("overtime", "subcontract", "sales", "posts", "hours_only")
    sheet.row(
        "case",
        *(f"{rule.replace('_', ' ')}{', with signed sales' if rule == 'sales' else ''}" for rule in rules),
        look="head",
    )
    by_rule = {rule: cash.with_finance(names, value_rules=(rule,)) for rule in rules}
    for name in names:
        found = [by_rule[rule][name] for rule in rules]
        values = [r.npv_with_signed_sales if rule == "sales" else r.npv for rule, r in zip(rules, found, strict=True)]
        sheet.row(book.sheet_name(name), *values, looks=("text", *["pasted_money"] * len(values)))
    sheet.next_row += 1
    sheet.row("How well the value is known from the replications (prices as quoted)", look="section")
    sheet.row("case", "value", "95 % half-width", "replications", look="head")
    for name in book.names:
        known = cash.intervals[name]
        finite = known.half_width if known.half_width < float("inf") else "not known"
        sheet.row(
            book.sheet_name(name),
            known.mean,
            finite,
            known.n,
            looks=("text", "pasted_money", "pasted_money", "pasted_year"),
        )
    return sheet


def main_cases(book: Book) -> list[str]:
    """The package and the sheets with the highest values."""
    package, results = book.cash.study.package, book.cash.results
    best = sorted((name for name in book.names if name != package), key=lambda name: -results[name].npv)
    return [*([package] if package in book.names else []), *best[:MAIN_CASES]]


def other_cases(book: Book) -> Sheet | None:
    """Cases of the report that have no sheet of their own: values pasted from the run."""
    cash = book.cash
    rest = [result for name, result in cash.results.items() if name not in book.names]
    if not rest:
        return None
    sheet = book.sheet(
        OTHERS,
        "Other cases of the report: values pasted from the run",
        f"Static. Run {book.run_id}. {book.currency}.",
        years=False,
    )
    sheet.widths = {0: 58, **dict.fromkeys(range(1, 8), 18)}
    sheet.row(
        "case",
        "capital",
        "net present value",
        "... with avoided cost",
        "... with signed sales",
        "payback",
        "discounted payback",
        "internal rate",
        look="head",
    )
    for one in rest:
        sheet.row(
            cash.study.named(one.scenario),
            one.capital,
            one.npv,
            one.npv_with_avoided,
            one.npv_with_signed_sales,
            one.payback.text,
            one.discounted_payback.text,
            one.irr.text,
            looks=("text", *["pasted_money"] * 4, *["note"] * 3),
        )
    return sheet


def switch_results(
    book: Book, sheet: Sheet, made: Mapping[str, OptionSheet], by_case: list[Mapping[str, float]]
) -> None:
    """On the switch's sheet: the value in force beside those the run had for each case, and whether they agree."""
    sheet.next_row += 1
    sheet.row(
        f"Headline net present value, {book.currency}",
        *CASES,
        "in force",
        "the columns low to high are pasted from the run; 'in force' is live",
        looks=("head",) * 5 + ("note",),
    )
    changed = book.input("changed")
    for name, one in made.items():
        row = sheet.row(one.sheet.name)
        cells = [sheet.put(row, 1 + i, values[name], "pasted_money") for i, values in enumerate(by_case)]
        value = sheet.put(row, 1 + len(CASES), one.measures["npv headline"], "total_money")
        agrees = either(changed > 0, book.none(value - choose(book.case, *cells)))
        book.check(f"{one.sheet.name}: value equals that of the run, unless inputs were changed", agrees, SWITCH)


def values_by_case(cash: MoneyStudy, names: Sequence[str]) -> list[Mapping[str, float]]:
    """Headline values of scenarios in the three cases, from the cash-flow table."""
    return [{name: result.npv for name, result in cash.in_case(case, names).items()} for case in PRICE_CASES]


def change_log(book: Book) -> Sheet:
    """Empty rows for the user below the line of the kit."""
    sheet = book.sheet(LOG, "Change log", "Write down what you change, why, and who agreed.", years=False)
    sheet.widths = {0: 14, 1: 24, 2: 30, 3: 60, 4: 40}
    sheet.row("date", "who", "sheet and cell", "what and why", "agreed by", look="head")
    made = f"workbook made from run {book.run_id}"
    sheet.row(book.cash.study.plant.settings.as_of.isoformat(), "study kit", "all", made, "-", look="input_text")
    for _ in range(LOG_ROWS):
        sheet.row("", "", "", "", "", look="input_text")
    return sheet


def checks_sheet(book: Book) -> Sheet:
    """Every check and the one that holds all of them."""
    sheet = book.sheet(CHECKS, "Checks", "TRUE in every row, or the number it looks at must not be used.", years=False)
    sheet.widths = {0: 96, 1: 12, 2: 36}
    first = sheet.next_row + 3
    results = []
    for place, (name, formula, where) in enumerate(book.checks):
        row = first + place
        sheet.put(row, 0, name)
        results.append(sheet.put(row, 1, formula, "check").value)
        sheet.put(row, 2, where, "note")
    listed = span(CHECKS, (first, 1), (first + len(results) - 1, 1), results)
    sheet.put(sheet.next_row, 0, "ALL CHECKS", "total_text")
    book.inputs["master"] = sheet.put(sheet.next_row, 1, both(listed), "check")
    for column, text in enumerate(("check", "result", "looks at")):
        sheet.put(first - 1, column, text, "head")
    sheet.next_row = first + len(results)
    sheet.freeze = (first, 1)
    return sheet
