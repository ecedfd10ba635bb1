"""Checks of a workbook: sums, values and rates computed a second way, and agreement with the cash-flow table."""

from __future__ import annotations

from simkit.report.workbook.book import CASES, SIMULATED, SWITCH, Book
from simkit.report.workbook.expr import Expr, if_, is_number, present_value, size, sum_product, total
from simkit.report.workbook.option_sheet import OptionSheet


def option_checks(book: Book, one: OptionSheet) -> None:
    """Checks within the sheet of one scenario."""
    name, taxed = one.sheet.name, one.taxed
    assert taxed is not None
    head = one.figures["headline"]
    sales = one.figures["with_signed_sales"]
    assert head.sum is not None
    assert sales.sum is not None
    classes = [row.sum for row in one.classes.values() if row.sum is not None]
    book.check(f"{name}: classes sum to the widest figure", book.none(total(*classes) - sales.sum), name)
    book.check(
        f"{name}: undiscounted sum equals the end of the cumulative row",
        book.none(head.sum - one.cumulative.last),
        name,
    )
    value = one.measures["npv headline"]
    first = head.fixed(0)
    within = book.input("within")
    second = first + present_value(book.input("discount_rate"), head.later) * within
    book.check(f"{name}: value by discount factors equals NPV()", book.none(value - second), name)
    parts = total(*(one.measures[f"npv {kind}"] for kind in one.classes))
    widest = one.measures["npv with_signed_sales"]
    book.check(f"{name}: values of the classes sum to the widest figure", book.none(parts - widest), name)
    book.check(f"{name}: value at the internal rate is zero", _zero_at(book, one), name)


def _zero_at(book: Book, one: OptionSheet) -> Expr:
    """Value at the internal rate, small against the discounted flows; true where there is no single rate."""
    rate, head, sheet, year = one.measures["irr"], one.figures["headline"], one.sheet, book.years["year"]
    held = sheet.scalar("Rate at which the check discounts", "a year", if_(is_number(rate), rate, 0), "percent2")
    months = book.input("months_per_year")
    parts = if_(held.is_(0), 1, held / (months * ((1 + held) ** (1 / months) - 1)))
    within = sheet.scalar(
        "Value of one unit received during a year at that rate", "factor",
        book.by_timing((1 + held) ** 0.5, parts), "factor",
    )  # fmt: skip
    there = sheet.line(
        "Headline at that rate", book.currency,
        lambda y: head[y] * (1 + held) ** (-year[y]) * if_(year[y] > 0, within, 1), "money", summed=True,
    )  # fmt: skip
    left, scale = size(total(there.all)), sum_product(size(there.all))
    return if_(is_number(rate), left <= book.input("tolerance") * scale, held.is_(0))


def run_checks(book: Book) -> None:
    """Untouched simulation results, a known case, and payments that sum to the capital."""
    book.check(
        "Simulation results are as built", book.none(book.input("control") - book.input("control built")), SIMULATED
    )
    book.check("The switch names one of the cases", is_number(book.case), SWITCH)
    if book.cash.cashflow.finance.season:
        typical = book.case_word.is_(CASES[1])
        book.check("Lines pasted by season are those of the typical case", typical, SWITCH)
    paid = total(*(book.input(f"payment {stage}") for stage, _ in book.cash.cashflow.finance.payments))
    book.check("Payments of the capital sum to one", book.none(paid - 1), "Inputs")
