"""The workbook of a cash flow: one live case to pick, all inputs once, and what the simulation found.

Formulas are written with names in place of cells and give both their text and their value
(:mod:`simkit.report.workbook.formula`), so that the file is right before any program calculates it. Planning aid: no
tax or investment advice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from simkit.base.files import no_formula
from simkit.finance.cashflow import build_cashflow, figure_flows
from simkit.finance.conventions import printed_rules
from simkit.finance.timeline import present_value, seasons_of
from simkit.plant.options import PriceCase
from simkit.report.workbook import pages
from simkit.report.workbook.hours import hours_sheet
from simkit.report.workbook.inputs import inputs_sheet, posts_of
from simkit.report.workbook.model import LiveModel
from simkit.report.workbook.options import MODELS, OptionSheet
from simkit.report.workbook.pages import WorkbookContent
from simkit.report.workbook.sheets import LiveWorkbook
from simkit.report.workbook.writing import write

OTHER_PRICES: tuple[PriceCase, ...] = ("low", "high")
LONGEST_LABEL = 60


def case_labels(content: WorkbookContent) -> dict[str, str]:
    """Words by which each case is picked: its name, cut where it is long.

    A spreadsheet program looks texts up without regard to capitals and reads ``*``, ``?`` and ``~`` as wildcards.
    """
    found: dict[str, str] = {}
    for name in content.totals:
        plain = no_formula(re.sub(r"[*?~]", "-", name[:LONGEST_LABEL]))
        taken = {label.casefold() for label in found.values()}
        numbered = (plain, *(f"{plain} ({serial})" for serial in range(2, len(content.totals) + 2)))
        found[name] = next(label for label in numbered if label.casefold() not in taken)
    return found


def build_book(content: WorkbookContent, picked: Sequence[str] = ()) -> LiveWorkbook:
    """Build all sheets; ``picked``: scenarios on 'Case' and 'Compare', by default the first two."""
    plant, finance, prices = content.plant, content.flow.finance, content.flow.prices
    labels = case_labels(content)
    everyone = {label: content.totals[name] for name, label in labels.items()}
    today = labels.pop(content.flow.today)
    held = {option for totals in everyone.values() for option in totals.option_ids}
    options = [option for option in plant.options if option.id in held] or list(plant.options)  # blocks need a row
    posts = posts_of(everyone.values())
    book = LiveWorkbook()
    inputs_sheet(book, plant, finance, prices, list(everyone.values()), options, posts)
    hours = hours_sheet(book, content.run_id, prices, everyone, options, posts)
    others: dict[str, dict[str, float]] = {case: _values_at(content, case) for case in OTHER_PRICES}
    summary = pages.summary_sheet(book, content, labels, others, today)
    sheet_of_options = OptionSheet(book, options, finance, content.flow.currency)
    picks = [labels[name] for name in (*picked, *labels, *labels)][:2]
    book.complete |= {"Inputs", "Hours"}
    models = []
    for name, pick, top in zip(MODELS, picks, (6, 9), strict=True):
        about = ("One live model: every line of every year by formula; positive is received. Workings stand below.",)
        sheet = book.sheet(name, "Case" if name == "Case" else "Compare", about, finance.horizon_years)
        models.append(LiveModel(sheet, pick, hours, prices, seasons_of(finance), sheet_of_options, top))
    sheet_of_options.terms()
    sheet_of_options.use()
    sheet_of_options.cash()
    for model in models:
        model.build()
    pages.compare_rows(models[1], models[0])
    pages.live_rows(summary)
    numbers = book.names["hours numbers"]
    control = sum(float(cell.value) for (row, column), cell in book.sheets["Hours"].cells.items()
                  if row >= numbers.row and column >= numbers.column and not isinstance(cell.value, str))  # fmt: skip
    pages.checks_sheet(book, models, control)
    pages.sources_sheet(book, content)
    pages.changes_sheet(book, plant.settings.as_of.isoformat(), content.run_id)
    pages.readme_sheet(book, content, printed_rules(finance, prices))
    return book


def _values_at(content: WorkbookContent, case: PriceCase) -> dict[str, float]:
    """Headline value of every case at low or high prices."""
    today, *others = content.totals.values()
    table = build_cashflow(content.plant, today, others, case=case)
    return {name: present_value(table.finance, figure_flows(table, name)) for name in content.results}


def write_workbook(content: WorkbookContent, path: Path) -> None:
    """Write the workbook of a cash flow: the same cash flow gives the same bytes."""
    write(
        build_book(content),
        [pages.README, *(name for name, _ in pages.SHEETS)],
        path,
        f"{content.plant.settings.name}: cash flow of options",
    )
