"""The sheet of rates: net present value over a grid of rates, how often it crosses zero, and the rate there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.finance.measures import RATE_HIGH, RATE_LOW
from simkit.report.workbook.book import RATES, Book
from simkit.report.workbook.expr import Expr, entry, if_, least, most, sum_product
from simkit.report.workbook.grid import Series, Sheet, fixed, moving, span

POINTS = 49
STEPS = 8
NAME, COUNT, GUESS, REFINED, GRID = range(5)
PLACE_ROW, WITHIN_ROW, RATE_ROW = 4, 5, 6
STEP_COLUMN = GRID + POINTS


@dataclass(frozen=True)
class RateRow:
    """Of one series of cash: how many rates give a value of zero, one just below the first, and that rate."""

    count: Expr
    guess: Expr
    refined: Expr


class RatesSheet:
    """Rows are series of cash, columns are rates, equally spaced in the logarithm of 1 + rate."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.sheet: Sheet = book.sheet(
            RATES,
            "Internal rates",
            "Value of each series at rates from -99 % to 1000 % a year (of negative ones at the horizon): a change of "
            "sign marks an internal rate. The last columns close in on it by secants.",
            years=False,
        )
        self.rates = [float(rate) for rate in np.geomspace(1 + RATE_LOW, 1 + RATE_HIGH, POINTS) - 1]
        sheet = self.sheet
        sheet.widths = {NAME: 58, COUNT: 12, GUESS: 12, REFINED: 12}
        sheet.widths |= {GRID + i: 13 for i in range(POINTS + 1 + 2 * (STEPS + 2))}
        heads = ("Rate a year", "crossings", "rate below", "rate")
        for column, text in enumerate(heads):
            sheet.put(RATE_ROW, column, text, "head")
        sheet.put(PLACE_ROW, NAME, "Place")
        sheet.put(WITHIN_ROW, NAME, "Value of one unit received during a year, at its end")
        self.within_values = []
        for place, rate in enumerate(self.rates):
            sheet.put(PLACE_ROW, GRID + place, place + 1, "year")
            sheet.put(RATE_ROW, GRID + place, rate, "pasted_factor")
            within = self._within(moving(RATES, RATE_ROW, GRID + place, rate))
            sheet.put(WITHIN_ROW, GRID + place, within, "factor")
            self.within_values.append(within.value)
        self._step_heads()
        sheet.next_row = RATE_ROW + 1
        sheet.freeze = (RATE_ROW + 1, 1)

    def _step_heads(self) -> None:
        self.sheet.put(RATE_ROW, STEP_COLUMN, "place below", "head")
        for step in range(STEPS + 2):
            self.sheet.put(RATE_ROW, STEP_COLUMN + 1 + 2 * step, f"rate {step}", "head")
            self.sheet.put(RATE_ROW, STEP_COLUMN + 2 + 2 * step, f"value {step}", "head")

    def _within(self, rate: Expr) -> Expr:
        """Value at the end of a year of one unit received during it, by the timing in force."""
        months = self.book.input("months_per_year")
        parts = if_(rate.is_(0), 1, rate / (months * ((1 + rate) ** (1 / months) - 1)))
        return self.book.by_timing((1 + rate) ** 0.5, parts)

    def _value(self, flows: Series, rate: Expr, within: Expr) -> Expr:
        """Net present value of flows at a rate; at a negative rate the value at the horizon, which stays finite."""
        first, horizon = flows.fixed(0), self.book.input("horizon")
        later = sum_product(flows.all * (1 + rate) ** (-self.book.years["year"].all))
        return (first + (later - first) * within) * least(1, 1 + rate) ** horizon

    def add(self, title: str, flows: Series) -> RateRow:
        """One series: its values over the grid, the crossings, and the rate at the first of them."""
        sheet, row = self.sheet, self.sheet.next_row
        sheet.next_row += 1
        sheet.put(row, NAME, title)
        values = []
        for place, rate in enumerate(self.rates):
            within = moving(RATES, WITHIN_ROW, GRID + place, self.within_values[place])
            value = self._value(flows, moving(RATES, RATE_ROW, GRID + place, rate), within)
            values.append(sheet.put(row, GRID + place, value, "money").value)
        crossed, places = self._crossed(row, values), self._cells(PLACE_ROW, [*range(1, POINTS)], POINTS - 1)
        some = sum_product(flows.all * flows.all) > 0
        count = sheet.put(row, COUNT, if_(some, sum_product(crossed), 0), "year")
        below = sheet.put(row, STEP_COLUMN, if_(count.is_(1), sum_product(crossed * places), 1), "year")
        refined = self._close_in(row, flows, values, below)
        guess = entry(self._cells(RATE_ROW, self.rates, POINTS), below)
        return RateRow(
            count,
            sheet.put(row, GUESS, guess, "factor"),
            sheet.put(row, REFINED, refined, "factor"),
        )

    def _cells(self, row: int, values: list[float], count: int) -> Expr:
        return span(RATES, (row, GRID), (row, GRID + count - 1), values)

    def _crossed(self, row: int, values: list[float]) -> Expr:
        low = span(RATES, (row, GRID), (row, GRID + POINTS - 2), values[:-1])
        high = span(RATES, (row, GRID + 1), (row, GRID + POINTS - 1), values[1:])
        return (low >= 0) * (high < 0) + (low < 0) * (high >= 0)

    def _close_in(self, row: int, flows: Series, values: list[float], place: Expr) -> Expr:
        """Secants from the two rates around the crossing, never outside them."""
        sheet, rates, cells = self.sheet, self._cells(RATE_ROW, self.rates, POINTS), self._cells(row, values, POINTS)
        ends = [(entry(rates, place), entry(cells, place)), (entry(rates, place + 1), entry(cells, place + 1))]
        found = [
            (
                sheet.put(row, STEP_COLUMN + 1 + 2 * i, rate, "factor"),
                sheet.put(row, STEP_COLUMN + 2 + 2 * i, value, "money"),
            )
            for i, (rate, value) in enumerate(ends)
        ]
        lowest, highest = found[0][0], found[1][0]
        for step in range(STEPS):
            (r0, v0), (r1, v1) = found[-2:]
            change = if_(v1.is_(v0), 0, v1 * (r1 - r0) / (v1 - v0))
            rate = sheet.put(row, STEP_COLUMN + 5 + 2 * step, most(lowest, least(highest, r1 - change)), "factor")
            value = sheet.put(row, STEP_COLUMN + 6 + 2 * step, self._value(flows, rate, self._within(rate)), "money")
            found.append((rate, value))
        return fixed(RATES, row, STEP_COLUMN + 5 + 2 * (STEPS - 1), found[-1][0].value)
