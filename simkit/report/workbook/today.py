"""The sheet of today: its simulated hours and amounts by year, mean prices, and what its budgets cost."""

from __future__ import annotations

from simkit.finance.inputs import ScenarioTotals
from simkit.report.workbook.book import Book
from simkit.report.workbook.expr import Expr, as_expr, both, if_, sum_of, sum_product, total
from simkit.report.workbook.grid import FIRST_YEAR, Series, Sheet, span
from simkit.report.workbook.inputs import InputsSheet
from simkit.report.workbook.roster import RosterBlock
from simkit.report.workbook.simulated import SINGLE, Block, Reader, fixed_ends, reader


class TodaySheet:
    """Today's rows that the sheets of all options refer to."""

    def __init__(self, book: Book, inputs: InputsSheet, block: Block, roster: RosterBlock) -> None:
        self.book, self.roster = book, roster
        self.totals: ScenarioTotals = block.totals
        self.sheet: Sheet = book.sheet("Today", "Today", f"Amounts a week at the demand of each year. {book.currency}.")
        self.reader: Reader = reader(book, self.sheet, block)
        self.crew_rate = roster.crew_rate
        self._read(inputs)
        self._own_cost()
        self._budgets(block)

    def credit(self, metal: str) -> Expr:
        """Scrap credit of a metal today, with what mixing takes from it."""
        apart = self.book.input(f"scrap {metal}")
        mixing = self.book.inputs.get(f"mixing {metal}")
        return apart if mixing is None else apart + mixing

    def _read(self, inputs: InputsSheet) -> None:
        self.sheet.heading("Simulated, at the demand of the year")
        metals = self.book.prices.materials_of
        names = [*SINGLE, *(f"{kind}_kg_{m}" for m in metals for kind in ("sheets", "scrap", "lost"))]
        for name in names:
            if self.reader.has(name):
                self.reader.add(name)
        self.sheet.heading("Mean price of sheets, by today's consumption")
        first = self.sheet.next_row
        everything = [name for names in metals.values() for name in names]
        for name in everything:
            self.reader.add(f"material_kg_{name}")
        self.metal_price: dict[str, Series] = {}
        for metal, materials in metals.items():
            self.metal_price[metal] = self._mean_price(metal, first, list(materials), inputs)
            first += len(materials)
        self.mean_price = self._mean_price("all metals", first - len(everything), everything, inputs)

    def _mean_price(self, of: str, first: int, materials: list[str], inputs: InputsSheet) -> Series:
        """Price weighted by mass; 0 where nothing is used."""
        rows = [self.reader[f"material_kg_{name}"] for name in materials]
        prices = inputs.column(f"sheet {name}" for name in materials)

        def formula(year: int) -> Expr:
            column = FIRST_YEAR + year
            kg = span(
                "Today", (first, column), (first + len(rows) - 1, column), [r.values[year] for r in rows], down=True
            )
            return if_(total(kg) > 0, sum_product(kg * prices) / total(kg), 0)

        return self.sheet.line(f"Mean sheet price, {of}", f"{self.book.currency}/kg", formula, "price")

    def _own_cost(self) -> None:
        """Energy and gas of an hour in house, and what an hour given out costs more than that."""
        own, input_of, per_h = self.reader, self.book.input, f"{self.book.currency}/h"
        self.sheet.heading("An hour given out")
        used = [
            (own[m], input_of(p)) for m, p in (("energy_kwh", "energy_price"), ("gas_m3", "gas_price")) if own.has(m)
        ]
        cost = self.sheet.line(
            "Energy and gas of today",
            f"{self.book.currency}/week",
            lambda y: sum_of([row[y] * price for row, price in used]),
            "number2",
        )
        share = self._share_in_span()
        if own.has("inhouse_h"):
            hours = own["inhouse_h"]
            each = self.sheet.line(
                "Energy and gas of an hour in house",
                per_h,
                lambda y: if_(hours[y] > 0, cost[y] / (hours[y] * share[y]), 0),
                "price",
            )
        else:
            each = self.sheet.line(
                "Energy and gas of an hour in house, not known", per_h, lambda _: as_expr(0), "price"
            )
        self.outside_price = self.sheet.line(
            "Hour given out, less energy and gas of doing it in house",
            per_h,
            lambda y: input_of("subcontract_price") - each[y],
            "price",
        )

    def _share_in_span(self) -> Series:
        label = "Share of today's sheets made in the measured span"
        if not (self.reader.has("sheets") and self.reader.has("sheets_in_span")):
            return self.sheet.line(f"{label}, not known", "share", lambda _: as_expr(1), "factor")
        sheets, inside = self.reader["sheets"], self.reader["sheets_in_span"]
        return self.sheet.line(
            label, "share", lambda y: if_(both(sheets[y] > 0, inside[y] > 0), inside[y] / sheets[y], 1), "factor"
        )

    def _budgets(self, block: Block) -> None:
        """What today's book costs a year on the lines that hours can release: no more can be released."""
        book, weeks, unit = self.book, self.book.input("production_weeks"), f"{self.book.currency}/year"
        premium = 1 + book.input("overtime_premium")
        self.sheet.heading("Budgets of today's book, at its own demand", "no more than this can be released")
        first, last = fixed_ends(block)
        demand = self.sheet.scalar(
            "Demand of today's book",
            "factor",
            if_(both(first <= 1, last >= 1), 1, book.years["demand"].fixed(1)),
            "factor",
        )
        over = self.reader.at("Overtime", "h/week", "overtime_h", demand)
        self.budget_overtime = self.sheet.scalar(
            "Overtime budget", unit, over * self.crew_rate * premium * weeks, "money"
        )
        self.budget_overrun: Expr = as_expr(0)
        if self.reader.has("person_overrun_h"):
            past = self.reader.at("Overrun", "h/week", "person_overrun_h", demand)
            self.budget_overrun = self.sheet.scalar(
                "Overrun budget", unit, past * book.input("operator_rate") * premium * weeks, "money"
            )
        self.budget_outside_h = self.reader.at("Hours given out", "h/week", "subcontract_h", demand)
