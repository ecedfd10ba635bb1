"""The sheet of increments: cases in order of capital, each against the best so far, from today and from the package."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from simkit.report.workbook.book import CHAIN, Book
from simkit.report.workbook.expr import (
    Expr,
    as_expr,
    both,
    entry,
    if_,
    most,
    place_of,
    sum_product,
)
from simkit.report.workbook.grid import FIRST_YEAR, LABEL, NOTE, UNIT, VALUE, Series, Sheet, fixed, span
from simkit.report.workbook.option_sheet import OptionSheet
from simkit.report.workbook.rates import RatesSheet
from simkit.report.workbook.results import paybacks, rate_in_words

Cell = Callable[[int], Expr]


@dataclass
class Step:
    """One step of a chain: the case, what it is compared with, and what it adds."""

    name: Expr
    against: Expr
    capital: Expr
    value: Expr
    rate: Expr
    payback: Expr
    accepted: Expr


@dataclass
class Chain:
    """A chain under construction; ``base`` is None for today."""

    book: Book
    sheet: Sheet
    rates: RatesSheet
    title: str
    cases: list[OptionSheet]
    base: OptionSheet | None
    place: Expr | None = None

    def write(self) -> list[Step]:
        """Write the table of cases and then one block per step."""
        if not self.cases:
            return []
        self.sheet.heading(self.title)
        self._table()
        return [self._step(number) for number in range(1, len(self.cases) + 1)]

    def _table(self) -> None:
        """Headline of every case by year, its capital, and its place in order of capital; ties by name."""
        sheet, unit = self.sheet, self.book.currency
        first = sheet.next_row
        self.flows = [sheet.line(made.sheet.name, unit, _row(made.figures["headline"]), "money") for made in self.cases]
        for place, made in enumerate(self.cases):
            sheet.put(first + place, VALUE, made.capital, "money")
        last = sheet.next_row - 1
        self.first, self.last = first, last
        capitals = span(CHAIN, (first, VALUE), (last, VALUE), [made.capital.value for made in self.cases])
        self.capitals = capitals
        self.names = span(CHAIN, (first, LABEL), (last, LABEL), [made.sheet.name for made in self.cases])
        by_name = sorted(range(len(self.cases)), key=lambda i: self.cases[i].name)
        ties = [by_name.index(i) + 1 for i in range(len(self.cases))]
        sheet.row("Order by capital, dearer last; ties by name", "place", None, None, look="text")
        start = sheet.next_row
        tie_cells = span(CHAIN, (start, UNIT), (start + len(ties) - 1, UNIT), ties)
        places: list[float] = []
        for i, made in enumerate(self.cases):
            row = sheet.row(made.sheet.name)
            tie = sheet.put(row, UNIT, ties[i], "pasted_year")
            own = fixed(CHAIN, first + i, VALUE, made.capital.value)
            before = sum_product((capitals < own) + (capitals.is_(own)) * (tie_cells < tie)) + 1
            places.append(sheet.put(row, VALUE, before, "year").value)
        self.places = span(CHAIN, (start, VALUE), (start + len(ties) - 1, VALUE), places)
        self.best: Expr = as_expr(0)

    def _step(self, number: int) -> Step:
        """One step: the case with this place, its difference from the base and from the best so far."""
        book, sheet, unit = self.book, self.sheet, self.book.currency
        sheet.next_row += 1
        row = sheet.row(f"{self.title}: step", "case", None, None, look="total_text")
        place = sheet.put(row, VALUE, number if self.place is None else self.place + 1, "year")
        self.place = place
        index = sheet.scalar("Row of the case", "row", place_of(place, self.places), "year")
        name = sheet.scalar("Case", "name", entry(self.names, index), "words")
        start_name = self.base.sheet.name if self.base else "Today"
        best = self.best
        against = sheet.scalar(
            "Best so far", "name", if_(best > 0, entry(self.names, _safe(best)), start_name), "words"
        )
        flows = sheet.line("Cash of the case", unit, self._of(index), "money")
        start = sheet.line(f"Cash of {start_name}", unit, self._base(), "money")
        so_far = sheet.line("Cash of the best so far", unit, self._best_of(best, start), "money")
        factor = book.years["factor"]
        whole = sheet.scalar(
            f"Value against {start_name}", unit, sum_product((flows.all - start.all) * factor.all), "money"
        )
        dropped = sheet.scalar(f"Dropped: loses against {start_name}", "1 or 0", if_(whole < 0, 1, 0), "year")
        change = sheet.line(
            "Extra cash",
            unit,
            lambda y: flows[y] - if_(dropped.is_(1), start[y], so_far[y]),
            "money",
            summed=True,
        )
        value = sheet.scalar("Extra value", unit, sum_product(change.all * factor.all), "total_money")
        base_capital = self.base.capital if self.base else as_expr(0)
        compared = if_(both(dropped.is_(0), best > 0), entry(self.capitals, _safe(best)), base_capital)
        capital = sheet.scalar("Extra capital", unit, entry(self.capitals, index) - compared, "money")
        accepted = sheet.scalar("Worth its extra", "1 or 0", if_(both(dropped.is_(0), value > 0), 1, 0), "total_year")
        rate_row = self.rates.add(f"{self.title}: extra cash of step {number}", change)
        rate = sheet.scalar("Internal rate of the extra", "a year", rate_in_words(book, rate_row, change), "percent2")
        back = paybacks(book, sheet, "Payback of the extra", change)[0]
        self.best = sheet.scalar("Row of the best after this step", "row", if_(accepted > 0, index, best), "year")
        book.check(
            f"{self.title}, step {number}: extra value is the difference of values",
            book.none(value - self._difference(index, best, dropped)),
            CHAIN,
        )
        return Step(name, against, capital, value, rate, back, accepted)

    def _difference(self, index: Expr, best: Expr, dropped: Expr) -> Expr:
        """Difference of the net present values, as each sheet shows them."""
        values = self.value_cells
        base = self.base.measures["npv headline"] if self.base else as_expr(0)
        compared = if_(both(dropped.is_(0), best > 0), entry(values, _safe(best)), base)
        return entry(values, index) - compared

    @property
    def value_cells(self) -> Expr:
        """Net present values of the cases, in the note column of the table."""
        found = []
        for i, made in enumerate(self.cases):
            value = made.measures["npv headline"]
            if (self.first + i, NOTE) not in self.sheet.cells:
                self.sheet.put(self.first + i, NOTE, value, "money")
            found.append(value.value)
        return span(CHAIN, (self.first, NOTE), (self.last, NOTE), found)

    def _of(self, index: Expr) -> Cell:
        return lambda y: entry(self._column(y), index)

    def _column(self, year: int) -> Expr:
        column = FIRST_YEAR + year
        return span(CHAIN, (self.first, column), (self.last, column), [f.values[year] for f in self.flows], down=True)

    def _base(self) -> Cell:
        base = self.base
        return (lambda y: base.figures["headline"][y]) if base else (lambda _: as_expr(0))

    def _best_of(self, best: Expr, start: Series) -> Cell:
        return lambda y: if_(best > 0, entry(self._column(y), _safe(best)), start[y])


def _safe(best: Expr) -> Expr:
    """A row that exists, for a branch that is not taken."""
    return most(1, best)


def _row(series: Series) -> Cell:
    return lambda y: series[y]


def chain_sheet(book: Book) -> Sheet:
    """The empty sheet of increments."""
    sheet = book.sheet(
        CHAIN,
        "What each case adds, in order of capital",
        "Each case against the best before it. Do not "
        "rank by a case's own internal rate or payback: the extra must earn its extra capital.",
    )
    return sheet
