"""What an option changes in a full year of use, line by line: the rows that make money of hours and amounts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from simkit.finance.inputs import ScenarioTotals
from simkit.finance.lines import LINES
from simkit.report.workbook.book import Book
from simkit.report.workbook.expr import Expr, as_expr, if_, least, most
from simkit.report.workbook.grid import Series, Sheet
from simkit.report.workbook.input_rows import own_prices
from simkit.report.workbook.simulated import SINGLE, Reader
from simkit.report.workbook.today import TodaySheet

Cell = Callable[[int], Expr]


@dataclass
class GainRow:
    """A line's gain of a full year of use at prices of year 1; ``budget`` is what can be released at most."""

    line: str
    item: str
    full: Series
    budget: Cell | None = None


@dataclass
class Gains:
    """The gains of one scenario, on its sheet."""

    book: Book
    sheet: Sheet
    today: TodaySheet
    own: Reader
    totals: ScenarioTotals
    crew_rate: Expr
    rows: list[GainRow] = field(default_factory=list)

    def build(self) -> list[GainRow]:
        """Write all rows, hours first, and return the gains."""
        self._read()
        self.sheet.heading("Ratios to today")
        self._ratios()
        self.sheet.heading("Gain of a full year of use, at prices of year 1", "negative: a cost")
        self._hours()
        self._moved()
        self._used()
        for metal in self.book.prices.materials_of:
            self._metal(metal)
        self._own_prices()
        self._scrapped_parts()
        return self.rows

    def _own_prices(self) -> None:
        """All that an option uses of something at its own price instead of today's."""
        weeks = self.book.input("production_weeks")
        for own in own_prices(self.totals, self.today.totals, self.book.prices):
            if self.own.has(own.measure):
                if own.measure not in self.own.read:
                    self.own.add(own.measure)
                ours = self.book.input(own.key)
                is_credit = own.line == "scrap"
                change = ours - self.today.credit(own.today) if is_credit else self.book.input(own.today) - ours
                self._gain(own.line, _of(self.own[own.measure], weeks, change), item=own.item)

    def _read(self) -> None:
        self.sheet.heading("Simulated, at the demand of the year")
        metals = self.book.prices.materials_of
        names = [*SINGLE, *(f"{kind}_kg_{m}" for m in metals for kind in ("sheets", "scrap", "lost"))]
        for name in names:
            if self.own.has(name):
                self.own.add(name)

    def _both(self, measure: str) -> tuple[Series, Series] | None:
        if not (self.own.has(measure) or self.today.reader.has(measure)):
            return None
        return self.today.reader[measure], self.own[measure]

    def _gain(self, line: str, formula: Cell, *, item: str = "", note: str = "", budget: Cell | None = None) -> None:
        label = f"{LINES[line].title}{f' ({item})' if item else ''}"
        full = self.sheet.line(label, f"{self.book.currency}/year", formula, "money", note)
        self.rows.append(GainRow(line, item, full, budget))

    def _ratio(self, label: str, measure: str) -> Series | None:
        pair = self._both(measure)
        if pair is None:
            return None
        before, after = pair
        return self.sheet.line(label, "ratio", lambda y: if_(before[y] > 0, after[y] / before[y], 1), "factor")

    def _ratios(self) -> None:
        parts = self._ratio("Parts made in house, by mass", "parts_kg")
        self.parts = parts or self.sheet.line("Parts made in house, not known", "ratio", lambda _: as_expr(1), "factor")
        inside = self._both("sheets_in_span")
        self.span_work = self.parts
        if inside:
            before, after = inside
            self.span_work = self.sheet.line(
                "Sheets made in the measured span",
                "ratio",
                lambda y: if_(before[y] > 0, after[y] / before[y], self.parts[y]),
                "factor",
            )

    def _hours(self) -> None:
        book, today, own, weeks = self.book, self.today, self.own, self.book.input("production_weeks")
        premium = book.input("overtime_premium")
        over = today.reader["overtime_h"], own["overtime_h"]
        self._gain(
            "overtime",
            lambda y: (over[0][y] * today.crew_rate - over[1][y] * self.crew_rate) * (1 + premium) * weeks,
            budget=lambda _: today.budget_overtime,
        )
        past = self._both("person_overrun_h")
        if past:
            rate = book.input("operator_rate")
            self._gain(
                "overrun",
                lambda y: (past[0][y] - past[1][y]) * rate * (1 + premium) * weeks,
                budget=lambda _: today.budget_overrun,
            )
        out = today.reader["subcontract_h"], own["subcontract_h"]
        self._gain(
            "subcontract",
            lambda y: (out[0][y] - out[1][y]) * today.outside_price[y] * weeks,
            budget=lambda y: today.budget_outside_h * today.outside_price[y] * weeks,
        )
        self._sales()

    def _sales(self) -> None:
        today, own, weeks = self.today.reader, self.own, self.book.input("production_weeks")
        before, after = today["unmet_h"], own["unmet_h"]
        if today.has("inhouse_h") and own.has("inhouse_h"):
            sold = self.sheet.line(
                "Hours sold of signed demand, no more than is unmet today",
                "h/week",
                lambda y: least(before[y] - after[y], before[y]),
                "number2",
            )
        else:
            names = ("hours_needed", "overtime_h", "subcontract_h")
            need, over, out = ((today[name], own[name]) for name in names)
            left = self.sheet.line(
                "Freed hours left for sale",
                "h/week",
                lambda y: need[0][y] - need[1][y] - (over[0][y] - over[1][y]) - (out[0][y] - out[1][y]),
                "number2",
            )
            sold = self.sheet.line(
                "Hours sold of signed demand, no more than is unmet today",
                "h/week",
                lambda y: least(before[y] - after[y], before[y], most(left[y], 0)),
                "number2",
            )
        self._gain("sales", lambda y: sold[y] * weeks * self.book.input("margin"))

    def _moved(self) -> None:
        """Hours of preparation, programming and calls that an option adds, unless it brings a post for them."""
        book, weeks = self.book, self.book.input("production_weeks")
        before = self.today.totals.roster.by_person
        brought = {s for p in self.totals.roster.posts if p.person_id not in before for s in p.skills}
        night = book.input("operator_rate") * (1 + book.input("night_premium"))
        kinds = (
            ("preparation_h", "preparation", book.input("setter_rate")),
            ("programming_h", "programming", book.input("programmer_rate")),
            ("care_by_others_h", "care by others", book.input("operator_rate")),
            ("on_call_h", "on call", night),
        )
        for measure, skill, rate in kinds:
            pair = self._both(measure)
            if pair and skill not in brought:
                self._gain("labour_by_others", self._added(pair, rate, weeks), item=skill)

    def _added(self, pair: tuple[Series, Series], rate: Expr, weeks: Expr) -> Cell:
        return lambda y: -most(pair[1][y] - pair[0][y] * self.parts[y], 0) * rate * weeks

    def _used(self) -> None:
        """Energy, gas and tools, for the same parts."""
        input_of, weeks = self.book.input, self.book.input("production_weeks")
        reworked = self.book.prices.money.rework_cost_per_part != 0.0
        kinds = (
            ("energy", "energy_kwh", "energy_price", self.span_work),
            ("gas", "gas_m3", "gas_price", self.span_work),
            ("regrinds", "tools_reground", "regrind_price", self.parts),
            ("tools", "tool_lives", "tool_life_price", self.parts),
            ("tools", "tools_broken", "tool_price", self.parts),
            *([("rework", "parts_reworked", "rework_price", self.parts)] if reworked else []),
        )
        for line, measure, price, ratio in kinds:
            pair = self._both(measure)
            if pair:
                self._gain(line, self._less(pair, ratio, input_of(price), weeks), item=measure)

    def _less(self, pair: tuple[Series, Series], ratio: Series, price: Expr, weeks: Expr) -> Cell:
        return lambda y: (pair[0][y] * ratio[y] - pair[1][y]) * price * weeks

    def _metal(self, metal: str) -> None:
        """Sheet material and scrap credit of a metal, for the same mass of its parts."""
        own, today, weeks = self.own, self.today.reader, self.book.input("production_weeks")
        sheets, scrap = (
            (today[f"sheets_kg_{metal}"], own[f"sheets_kg_{metal}"]),
            (today[f"scrap_kg_{metal}"], own[f"scrap_kg_{metal}"]),
        )
        parts = [
            self.sheet.line(f"Parts of {metal}, {who}", "kg/week", _minus(sheets[i], scrap[i]), "number2")
            for i, who in enumerate(("today", "with it"))
        ]
        ratio = self.sheet.line(
            f"Parts of {metal} (1 if none are made)",
            "ratio",
            lambda y: if_(least(parts[0][y], parts[1][y]) > 0, parts[1][y] / parts[0][y], 1),
            "factor",
        )
        made = self.sheet.line(
            f"{metal}: parts are made today and with it",
            "1 or 0",
            lambda y: if_(least(parts[0][y], parts[1][y]) > 0, 1, 0),
            "year",
        )
        if today.has(f"lost_kg_{metal}") and own.has(f"lost_kg_{metal}"):
            sheets = scrap = today[f"lost_kg_{metal}"], own[f"lost_kg_{metal}"]
        price, credit = self.today.metal_price[metal], self.today.credit(metal)
        used, fell = sheets, scrap
        self._gain("material", lambda y: (used[0][y] * ratio[y] - used[1][y]) * price[y] * weeks * made[y], item=metal)
        self._gain("scrap", lambda y: -(fell[0][y] * ratio[y] - fell[1][y]) * credit * weeks * made[y], item=metal)

    def _scrapped_parts(self) -> None:
        scrapped, parts, mass = (self._both(name) for name in ("parts_scrapped", "parts", "parts_kg"))
        if not (scrapped and parts and mass):
            return
        weeks, price = self.book.input("production_weeks"), self.today.mean_price
        kg = self.sheet.line(
            "Mean part of today", "kg", lambda y: if_(parts[0][y] > 0, mass[0][y] / parts[0][y], 0), "factor"
        )
        self._gain(
            "parts_scrapped", lambda y: (scrapped[0][y] * self.parts[y] - scrapped[1][y]) * kg[y] * weeks * price[y]
        )


def _of(row: Series, weeks: Expr, price: Expr) -> Cell:
    return lambda y: row[y] * weeks * price


def _minus(first: Series, second: Series) -> Cell:
    return lambda y: first[y] - second[y]
