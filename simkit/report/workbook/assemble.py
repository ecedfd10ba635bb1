"""Puts a workbook together: which scenarios get a sheet, in which order the sheets are built and shown."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.report.moneystudy import MoneyStudy
from simkit.report.studydata import TODAY
from simkit.report.workbook import lists
from simkit.report.workbook.book import (
    CHAIN,
    CHECKS,
    INPUTS,
    PRICE_CASES,
    RATES,
    ROSTER,
    SIMULATED,
    SWITCH,
    YEARS,
    Book,
)
from simkit.report.workbook.chain import Chain, Step, chain_sheet
from simkit.report.workbook.checks import option_checks, run_checks
from simkit.report.workbook.input_rows import inputs_sheet
from simkit.report.workbook.inputs import switch_sheet
from simkit.report.workbook.option_sheet import Maker, OptionSheet, alone_scenario
from simkit.report.workbook.rates import RatesSheet
from simkit.report.workbook.results import measures
from simkit.report.workbook.roster import add_wages, roster_sheet
from simkit.report.workbook.simulated import simulated_sheet
from simkit.report.workbook.today import TodaySheet
from simkit.report.workbook.years import years_sheet

RUN_DIGITS = 16


def own_sheets(cash: MoneyStudy) -> list[str]:
    """The package, and every set with a bought device or other hours, alone and on the package."""
    study = cash.study
    wanted = {study.package, *study.bought, *study.calendar}
    return [name for name in cash.results if name in wanted]


def with_needed(cash: MoneyStudy, names: Sequence[str]) -> list[str]:
    """The scenarios and those from which they read what fades, these first."""
    book = Book(cash, (), "")
    found: list[str] = []

    def add(name: str) -> None:
        options = [book.prices.options[i] for i in cash.totals[name].option_ids]
        for case in PRICE_CASES:
            fading = [option for option in options if getattr(option.persistence, case) < 1.0]
            if fading and len(fading) < len(options):
                alone = alone_scenario(book, fading)
                if alone is not None and alone not in found:
                    add(alone)
        if name not in found:
            found.append(name)

    for name in names:
        add(name)
    return found


def build_book(cash: MoneyStudy, names: Sequence[str] | None = None) -> Book:
    """Build all sheets."""
    chosen = with_needed(cash, own_sheets(cash) if names is None else names)
    run = cash.study.run
    run_id = f"{run.inputs_sha256[:RUN_DIGITS] or 'inputs not recorded'}, seed {run.seed}"
    book = Book(cash, tuple(chosen), run_id)
    book.pasted = _pasted()
    sheet = switch_sheet(book)
    plants = {scenario.name: scenario.plant for scenario in cash.scenarios}
    everyone = [TODAY, *chosen]
    held = {name for scenario in chosen for name in cash.totals[scenario].option_ids}
    options = [option for option in cash.study.plant.options if option.id in held]
    inputs = inputs_sheet(book, options, everyone)
    add_wages(inputs, {name: plants[name] for name in everyone})
    inputs.finish()
    years_sheet(book, inputs)
    blocks = simulated_sheet(book, everyone)
    rosters = roster_sheet(book, everyone, plants)
    today = TodaySheet(book, inputs, blocks[TODAY], rosters[TODAY])
    made: dict[str, OptionSheet] = {}
    for name in chosen:
        made[name] = Maker(book, today, blocks[name], rosters[name], made).make()
    rates = RatesSheet(book)
    for one in made.values():
        measures(book, one, rates.add(f"{one.sheet.name}: headline", one.figures["headline"]))
        option_checks(book, one)
    steps = _chains(book, rates, made)
    lists.summary(book, made, steps)
    lists.register(book, made)
    lists.sensitivity(book)
    lists.other_cases(book)
    lists.change_log(book)
    lists.switch_results(book, sheet, made, lists.values_by_case(cash, chosen))
    run_checks(book)
    lists.checks_sheet(book)
    lists.read_me(book)
    _show_master(book)
    return book


def _pasted() -> list[tuple[str, str]]:
    return [
        ("amounts a week on 'Simulated'", "results of the simulation"),
        ("paid hours and flags on 'Roster'", "shifts and duties are read from the plant's calendar"),
        ("the sheets marked static", "each value needs the study to be evaluated again with other terms"),
        ("values of the cases on 'Scenarios'", "they are what the live values are checked against"),
    ]


def _chains(book: Book, rates: RatesSheet, made: dict[str, OptionSheet]) -> dict[str, list[Step]]:
    """Increments from today over all cases, and from the package over those on top of it."""
    study, sheet = book.cash.study, chain_sheet(book)
    package = made.get(study.package)
    found = {}
    title = "Against today"
    found[title] = Chain(book, sheet, rates, title, list(made.values()), None).write()
    if package is not None:
        others = [one for name, one in made.items() if name in study.bought or name in study.calendar]
        on_top = [one for one in others if study.holds_package(one.name)] or others
        title = "Against the package"
        found[title] = Chain(book, sheet, rates, title, on_top, package).write()
    return {name: steps for name, steps in found.items() if steps}


def _show_master(book: Book) -> None:
    """On every sheet, whether all checks hold."""
    master = book.input("master")
    for name, sheet in book.sheets.items():
        if name != CHECKS and (2, 1) not in sheet.cells:
            row = 2
            if (row, 0) in sheet.cells:
                sheet.put(row, 4, "All checks", "total_text")
                sheet.put(row, 5, master, "check")
            else:
                sheet.put(row, 0, "All checks of this book (see 'Checks')", "total_text")
                sheet.put(row, 1, master, "check")


def sheet_order(book: Book) -> list[str]:
    """Sheets as a reader meets them."""
    head = ["Read me", lists.SUMMARY, SWITCH, INPUTS]
    cases = ["Today", *(book.sheet_name(name) for name in book.names)]
    tail = [CHAIN, lists.REGISTER, lists.SENSITIVITY, lists.OTHERS, CHECKS, lists.LOG, YEARS, SIMULATED, ROSTER, RATES]
    return [name for name in (*head, *cases, *tail) if name in book.sheets]
