"""The workbook of a study of money: one live case to pick, all inputs once, and what the simulation found.

Formulas are written with names in place of cells and give both their text and their value
(:mod:`simkit.report.workbook.formula`), so that the file is right before any program calculates it. Planning aid: no
tax or investment advice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from simkit.base.files import no_formula
from simkit.finance.cashflow import build_cashflow
from simkit.finance.conventions import printed_rules
from simkit.finance.figures import figure_flows
from simkit.finance.inputs import prices_of
from simkit.finance.timeline import present_value, seasons_of
from simkit.plant.options import PriceCase
from simkit.report.moneystudy import MoneyStudy
from simkit.report.workbook import pages
from simkit.report.workbook.hours import hours_sheet
from simkit.report.workbook.inputs import inputs_sheet, posts_of
from simkit.report.workbook.model import Model
from simkit.report.workbook.options import MODELS, OptionSheet
from simkit.report.workbook.sheets import Book
from simkit.report.workbook.writing import write

__all__ = ["case_labels", "write_workbook"]

ORDER = ("Read me", "Summary", "Inputs", "Hours", "Options", "Case", "Compare", "Checks", "Sources", "Changes")
OTHER_PRICES: tuple[PriceCase, ...] = ("low", "high")
RUN_DIGITS = 16
LONGEST_LABEL = 60


def case_labels(cash: MoneyStudy) -> dict[str, str]:
    """Words by which each case is picked: its name, with the options in words where there is room.

    A spreadsheet program looks texts up without regard to capitals and reads ``*``, ``?`` and ``~`` as wildcards.
    """
    found: dict[str, str] = {}
    for name in cash.results:
        short, words = cash.study.named(name), cash.study.named(name)
        for option in cash.study.options_of(name):
            parts = [f"{part} {option.name}" if part == option.id else part for part in words.split("+")]
            words = "+".join(parts)
        plain = no_formula(re.sub(r"[*?~]", "-", words if len(words) <= LONGEST_LABEL else short))
        taken = {"today", *(label.casefold() for label in found.values())}
        numbered = (plain, *(f"{plain} ({serial})" for serial in range(2, len(found) + 3)))
        found[name] = next(label for label in numbered if label.casefold() not in taken)
    return found


def build_book(cash: MoneyStudy, picked: Sequence[str] = ()) -> Book:
    """Build all sheets; ``picked``: scenarios on 'Case' and 'Compare', by default the package and the best set."""
    study, finance = cash.study, cash.cashflow.finance
    run_id = f"{study.run.inputs_sha256[:RUN_DIGITS] or 'inputs not recorded'}, seed {study.run.seed}"
    labels = case_labels(cash)
    everyone = {"Today": cash.today, **{label: cash.totals[name] for name, label in labels.items()}}
    held = {option for totals in everyone.values() for option in totals.option_ids}
    options = [option for option in study.plant.options if option.id in held]
    posts = posts_of(everyone.values())
    book, prices = Book(), prices_of(study.plant)
    inputs_sheet(book, study.plant, finance, prices, list(everyone.values()), options, posts)
    hours = hours_sheet(book, run_id, prices, everyone, options, posts)
    others: dict[str, dict[str, float]] = {case: _values_at(cash, case) for case in OTHER_PRICES}
    summary = pages.summary_sheet(book, cash, labels, others, run_id)
    sheet_of_options = OptionSheet(book, options, finance, study.currency)
    picks = [labels[name] for name in (*picked, *_first_picks(cash))][:2]
    book.complete |= {"Inputs", "Hours"}
    models = []
    for name, pick, top in zip(MODELS, picks, (6, 9), strict=True):
        about = ("One live model: every line of every year by formula; positive is received. Workings stand below.",)
        sheet = book.sheet(name, "Case" if name == "Case" else "Compare", about, finance.horizon_years)
        models.append(Model(sheet, pick, hours, prices, seasons_of(finance), sheet_of_options, top))
    sheet_of_options.terms()
    sheet_of_options.use()
    sheet_of_options.cash()
    for model in models:
        model.build()
    pages.publish(book, models)
    pages.compare_rows(models[1], models[0])
    pages.live_rows(summary)
    numbers = book.names["hours numbers"]
    control = sum(float(cell.value) for (row, column), cell in book.sheets["Hours"].cells.items()
                  if row >= numbers.row and column >= numbers.column and not isinstance(cell.value, str))  # fmt: skip
    pages.checks_sheet(book, models, control)
    pages.sources_sheet(book, cash, run_id)
    pages.changes_sheet(book, study.plant.settings.as_of.isoformat(), run_id)
    pages.readme_sheet(book, cash, printed_rules(finance, prices), run_id)
    return book


def _first_picks(cash: MoneyStudy) -> list[str]:
    """The package and the bought set with the highest value, or the first cases; one case stands twice if alone."""
    best = cash.best_bought
    wanted = [cash.study.package, *([best.scenario] if best else []), *cash.results, *cash.results]
    return [name for name in wanted if name in cash.results]


def _values_at(cash: MoneyStudy, case: PriceCase) -> dict[str, float]:
    """Headline value of every case at low or high prices."""
    table = build_cashflow(cash.study.plant, cash.today, cash.others, case=case)
    return {name: present_value(table.finance, figure_flows(table, name)) for name in cash.results}


def write_workbook(cash: MoneyStudy, path: Path) -> None:
    """Write the workbook of a study: the same study gives the same bytes."""
    if cash.results:
        book, order = build_book(cash), list(ORDER)
    else:
        book, order = Book(), list(ORDER[:1])
        book.sheet(order[0], "Workbook of the study", ("No case was simulated beside today: nothing is compared.",))
    write(book, order, path, f"{cash.study.plant.settings.name}: cash flow of options")
