"""Tax and depreciation on the sheet of a scenario, and the sum of each class after tax."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from simkit.finance.lines import CAPACITY, CAPITAL_LINES, CASH_RELEASING, COST, COST_AVOIDED, ONE_TIME
from simkit.report.workbook.book import Book
from simkit.report.workbook.expr import Expr, choose, entry, if_, least, most, total
from simkit.report.workbook.grid import Series, Sheet, stacked
from simkit.report.workbook.outlays import LineRow

Cell = Callable[[int], Expr]

CLASS_TITLES = {
    COST: "Paid",
    CASH_RELEASING: "Cash released",
    ONE_TIME: "Single amounts",
    COST_AVOIDED: "Cost avoided",
    CAPACITY: "Sales of signed demand",
}
UNTAXED_PART = {COST: "investment", ONE_TIME: "untaxed"}
"""Sums of a class that are not taxed as they are."""


@dataclass(frozen=True)
class Taxed:
    """Rows that tax leaves: capital, what is written off, its relief, one unit of capital, classes after tax."""

    capital: Series
    bought: Series
    relief: Series
    unit: Series
    classes: dict[str, Series]


def taxes(book: Book, sheet: Sheet, lines: list[LineRow], sums: dict[str, Series], first_year: Expr) -> Taxed:
    """Depreciation, tax of each class, what losses relieve later or never, and each class after tax.

    ``sums`` holds the sum of each class before tax, what is not taxed apart; ``first_year`` is that of first use.
    """
    capital, bought, written, unit_row = _depreciation(book, sheet, lines, first_year)
    sheet.heading("Tax by class", "planning aid, no tax advice")
    rate, unit = book.input("tax_rate"), book.currency
    relief = sheet.line("Tax relief by depreciation", unit, lambda y: written[y] * rate, "money", summed=True)
    tax = {
        kind: sheet.line(f"Tax: {title.lower()}", unit, _taxed(sums[kind], rate), "money", summed=True)
        for kind, title in CLASS_TITLES.items()
    }
    later = _losses(book, sheet, sums, written)
    sheet.heading("Classes after tax", "in money of year 0 where amounts are real")
    classes = {}
    for kind, title in CLASS_TITLES.items():
        rows = [sums[kind], tax[kind]]
        rows += [sums[UNTAXED_PART[kind]]] if kind in UNTAXED_PART else []
        rows += [relief] if kind == COST else []
        rows += [later[kind]] if kind in later else []
        classes[kind] = sheet.line(title, unit, _together(rows, book.years["deflator"]), "money", summed=True)
    return Taxed(capital, bought, relief, unit_row, classes)


def _taxed(amount: Series, rate: Expr) -> Cell:
    return lambda y: -amount[y] * rate


def _together(rows: list[Series], deflator: Series) -> Cell:
    def of_year(year: int) -> Expr:
        amount = rows[0][year]
        for row in rows[1:]:
            amount = amount + row[year]
        return amount * deflator[year]

    return of_year


def _losses(book: Book, sheet: Sheet, sums: dict[str, Series], written: Series) -> dict[str, Series]:
    """Tax that losses relieve later or never, class by class in the order of the three figures; 0 if used at once."""
    sheet.heading("Losses that do not relieve tax at once", "0 where they do")
    unit, rule, rate = book.currency, book.input("losses"), book.input("tax_rate")
    found: dict[str, Series] = {}
    base = more = None
    for kind, title in ((COST, "headline"), (COST_AVOIDED, "with avoided cost"), (CAPACITY, "with signed sales")):
        base = sheet.line(f"Taxable result, {title}", unit, _result(sums, written, base, kind), "money")
        carried = sheet.run(f"Loss carried on, {title}", unit, _carried(base, rule), "money")
        extra = sheet.line(f"Extra tax, {title}", unit, _extra(base, carried, rule, rate), "money")
        found[kind] = sheet.line(f"Losses relieved later or never: {CLASS_TITLES[kind].lower()}", unit,
                                 _step(extra, more), "money", summed=True)  # fmt: skip
        more = extra
    return found


def _result(sums: dict[str, Series], written: Series, before: Series | None, kind: str) -> Cell:
    if before is None:
        return lambda y: sums[COST][y] + sums[CASH_RELEASING][y] + sums[ONE_TIME][y] - written[y]
    return lambda y: before[y] + sums[kind][y]


def _carried(base: Series, rule: Expr) -> Callable[[int, Expr], Expr]:
    return lambda y, so_far: choose(rule, 0, most(0, so_far - base[y]), 0)


def _extra(base: Series, carried: Series, rule: Expr, rate: Expr) -> Cell:
    return lambda y: choose(rule, 0, 1, 1) * rate * (most(0, base[y] - carried.before(y)) - base[y])


def _step(extra: Series, before: Series | None) -> Cell:
    if before is None:
        return lambda y: -extra[y]
    return lambda y: before[y] - extra[y]


def _depreciation(
    book: Book, sheet: Sheet, lines: list[LineRow], first_year: Expr
) -> tuple[Series, Series, Series, Series]:
    """Depreciation from the year of use, of replacements from the year after; the last year takes what is left."""
    sheet.heading("Depreciation", "not cash: acts through tax alone")
    unit, years, horizon = book.currency, book.years, book.input("horizon")
    paid = [item.row for item in lines if item.line in CAPITAL_LINES]
    given = [item.row for item in lines if item.line == "grant"]
    again = [item.row for item in lines if item.line == "replacement"]
    capital = sheet.line("Capital", unit, lambda y: -stacked(paid, y), "money", "positive here", summed=True)
    net = sheet.line("Capital less grants", unit, lambda y: capital[y] - stacked(given, y), "money", summed=True)
    bought = sheet.line("... and replacements", unit, lambda y: net[y] - stacked(again, y), "money", summed=True)
    assert net.sum is not None
    assert bought.sum is not None
    then = sheet.scalar("Capital is written off from the year after", "year", least(first_year - 1, horizon), "year")
    vintages = [_vintage(book, sheet, "Capital", net.sum, then)]
    for year in range(1, book.horizon + 1) if again else ():
        cost = sheet.scalar(f"Bought again in year {year}", unit, -stacked(again, year), "money")
        vintages.append(_vintage(book, sheet, f"Bought again in year {year}", cost, years["year"].fixed(year)))
    plain = sheet.line("By schedule", unit, _added(vintages), "money")
    end, all_bought = years["end"], bought.sum
    rest = sheet.line("Written off in the last year", unit,
                      lambda y: if_(end[y].is_(1), all_bought - total(plain.all), 0), "money")  # fmt: skip
    written = sheet.line("Depreciation", unit, lambda y: plain[y] + rest[y], "money", summed=True)
    assert written.sum is not None
    book.check("Depreciation sums to the cost", book.none(written.sum - bought.sum), sheet.name)
    return capital, bought, written, _unit(book, sheet, then)


def _added(rows: list[Series]) -> Cell:
    def of_year(year: int) -> Expr:
        amount = rows[0][year]
        for row in rows[1:]:
            amount = amount + row[year]
        return amount

    return of_year


def _vintage(book: Book, sheet: Sheet, label: str, cost: Expr, then: Expr) -> Series:
    """Depreciation of one purchase: the shares of the schedule from the year after ``then``."""
    return sheet.line(f"{label}: by schedule", book.currency, _charged(book, cost, then), "money")


def _charged(book: Book, cost: Expr, then: Expr) -> Cell:
    share, year, inside = (book.years[name] for name in ("share", "year", "inside"))
    return lambda y: if_(year[y] > then, cost * entry(share.all, most(1, year[y] - then + 1)) * inside[y], 0)


def _unit(book: Book, sheet: Sheet, then: Expr) -> Series:
    """Cash of one unit of capital after tax relief, without residual: for a case without capital."""
    one = sheet.scalar("One unit of capital, as if paid", "unit", 1, "year", "for what a case without capital is worth")
    plain = sheet.line("One unit: by schedule", "unit", _charged(book, one, then), "factor")
    end, first, tax = book.years["end"], book.years["first"], book.input("tax_rate")
    deflator = book.years["deflator"]
    return sheet.line(
        "One unit: cash after tax relief", "unit",
        lambda y: ((plain[y] + if_(end[y].is_(1), one - total(plain.all), 0)) * tax - first[y]) * deflator[y], "factor",
    )  # fmt: skip
