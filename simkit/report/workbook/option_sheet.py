"""The sheet of one scenario: from hours and prices to cash by line, tax and the three figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from simkit.finance.costs import owners
from simkit.finance.lines import CAPACITY, CASH_RELEASING, COST, COST_AVOIDED, LINES, ONE_TIME, TAX_LINES, UNSIGNED
from simkit.finance.posts import agency_given_up
from simkit.finance.timeline import deflator
from simkit.plant.options import Option
from simkit.report.workbook.book import PRICE_CASES, Book
from simkit.report.workbook.expr import (
    Expr,
    as_expr,
    both,
    choose,
    if_,
    least,
    most,
    sum_of,
    whole,
)
from simkit.report.workbook.gains import GainRow, Gains
from simkit.report.workbook.grid import Series, Sheet
from simkit.report.workbook.money_rows import SECTIONS, cost_of, section_of, stack_of, titled
from simkit.report.workbook.outlays import Draft, LineRow, Outlays, Use, received
from simkit.report.workbook.roster import RosterBlock
from simkit.report.workbook.simulated import Block, reader
from simkit.report.workbook.taxes import Taxed, taxes
from simkit.report.workbook.today import TodaySheet

Cell = Callable[[int], Expr]


@dataclass
class OptionSheet:
    """The sheet of a scenario and the rows that other sheets read."""

    name: str
    sheet: Sheet
    options: tuple[Option, ...]
    gains: list[GainRow] = field(default_factory=list)
    lines: list[LineRow] = field(default_factory=list)
    classes: dict[str, Series] = field(default_factory=dict)
    figures: dict[str, Series] = field(default_factory=dict)
    start: Expr = field(default_factory=lambda: as_expr(0))
    capital: Expr = field(default_factory=lambda: as_expr(0))
    residual: list[Series] = field(default_factory=list)
    first_year: Expr = field(default_factory=lambda: as_expr(1))
    sums: dict[str, Series] = field(default_factory=dict)
    taxed: Taxed | None = None
    cumulative: Series = field(default_factory=lambda: Series("", 0, []))
    measures: dict[str, Expr] = field(default_factory=dict)

    def gain(self, line: str, item: str) -> GainRow | None:
        """The gain of a line and item, if the scenario has it."""
        return next((gain for gain in self.gains if (gain.line, gain.item) == (line, item)), None)


@dataclass
class Maker:
    """Writes the sheet of one scenario."""

    book: Book
    today: TodaySheet
    block: Block
    roster: RosterBlock
    others: Mapping[str, OptionSheet]

    def make(self) -> OptionSheet:
        """Write the sheet up to the three figures; measures follow when the rates are known."""
        book, totals = self.book, self.block.totals
        self.options = tuple(book.prices.options[name] for name in totals.option_ids)
        self.owner = owners(self.options)
        title = book.cash.study.named(totals.name)
        about = f"Differences from today in {book.currency} of the year; positive is received, negative is paid."
        self.sheet = book.sheet(book.sheet_name(totals.name), title, about)
        self.sheet.put(3, 0, book.cash.study.described(totals.name), "note")
        self.made = OptionSheet(totals.name, self.sheet, self.options)
        self._use()
        own = reader(book, self.sheet, self.block)
        gains = Gains(book, self.sheet, self.today, own, totals, self.roster.crew_rate)
        if not book.cash.cashflow.finance.season:
            self.made.gains = gains.build()
        self._fading()
        self._costs()
        self._money(own.read)
        self._taxed()
        self._figures()
        return self.made

    def _use(self) -> None:
        sheet, weeks = self.sheet, self.book.input("weeks_per_year")
        sheet.heading("Start of use and ramp-up")
        leads = [self.book.input(f"option {option.id} lead") for option in self.options]
        start = sheet.scalar(
            "Start of use after the first payment", "years", most(*leads) / weeks + self.book.input("wait"), "factor"
        )
        self.made.start = start
        self.use = Use(start, self._in_use("In use", start))
        self._ramp(start)
        instant, year = self.book.input("instant"), self.book.years["year"]
        first = sheet.scalar("Year that ends with or after the start of use", "year",
                             most(1, -whole(instant - start)), "year")  # fmt: skip
        inside = self.book.years["inside"]
        self.made.first_year = sheet.scalar("First year of use", "year", whole(start + instant) + 1, "year")
        self.starts = sheet.line("Use starts", "1 or 0", lambda y: if_(year[y].is_(first), inside[y], 0), "year")
        self.single: dict[str, Use] = {}
        for option, lead in zip(self.options, leads, strict=True):
            if len(self.options) == 1:
                self.single[option.id] = self.use
                continue
            own = sheet.scalar(f"{option.id}: start of use", "years", lead / weeks + self.book.input("wait"), "factor")
            self.single[option.id] = Use(own, self._in_use(f"{option.id}: in use", own))

    def _in_use(self, label: str, start: Expr) -> Series:
        year, inside = self.book.years["year"], self.book.years["inside"]
        return self.sheet.line(
            label, "share of year", lambda y: least(1, most(0, year[y] - start)) * inside[y], "factor"
        )

    def _ramp(self, start: Expr) -> None:
        """Shares of the year: ramped benefit, after the first year of use, after the ramp."""
        sheet, year, inside = self.sheet, self.book.years["year"], self.book.years["inside"]
        low, months = self.book.input("ramp_start"), self.book.input("ramp_months")
        ramp = sheet.scalar("Ramp-up", "years", months / self.book.input("months_per_year"), "factor")
        slope = sheet.scalar(
            "Rise of the benefit during the ramp", "share a year", if_(ramp > 0, (1 - low) / ramp, 0), "factor"
        )
        used = sheet.line("Years of use so far", "years", lambda y: most(0, year[y] - start), "factor")
        so_far = sheet.line(
            "Full years of benefit so far",
            "years",
            lambda y: if_(
                used[y] >= ramp,
                used[y] - ramp + 0.5 * (1 + low) * ramp,
                low * used[y] + 0.5 * slope * used[y] * used[y],
            ),
            "factor",
        )
        self.ramped = sheet.line(
            "Share of a full year's benefit",
            "share of year",
            lambda y: (so_far[y] - so_far.before(y)) * inside[y],
            "factor",
        )
        self.late = sheet.line(
            "More than a year after the start",
            "share of year",
            lambda y: least(1, most(0, year[y] - start - 1)) * inside[y],
            "factor",
        )
        self.settled = sheet.line(
            "After the ramp", "share of year", lambda y: least(1, most(0, year[y] - start - ramp)) * inside[y], "factor"
        )

    def _fading(self) -> None:
        """Share of each gain that fades after a year: all of it, or what the fading options alone bring."""
        ways = [self._way(case) for case in PRICE_CASES]
        self.kept: Expr = as_expr(1)
        self.fading: dict[tuple[str, str], Series] = {}
        if not any(ways):
            return
        self.sheet.heading("Share of each gain that fades after a year")
        shares = [self.book.input(f"option {option.id} kept") for option in self.options]
        self.kept = self.sheet.scalar("Kept of what fades", "share", least(1, *shares), "percent")
        count = self.sheet.scalar(
            "Options that fade", "options", sum_of([if_(share < 1, 1, 0) for share in shares]), "year"
        )
        built = [self._fading_options(case) for case in PRICE_CASES]
        counts = [
            self.sheet.scalar(f"Options that fade, as built, {case}", "options", len(found), "pasted_year")
            for case, found in zip(PRICE_CASES, built, strict=True)
        ]
        self.book.check(
            "The options that fade are those the sheet was built for",
            count.is_(choose(self.book.case, *counts)),
            self.sheet.name,
        )
        for gain in self.made.gains:
            key = (gain.line, gain.item)
            self.fading[key] = self.sheet.line(f"{titled(*key)}: fades", "share", self._share(gain, ways), "factor")

    def _fading_options(self, case: str) -> list[Option]:
        return [option for option in self.options if getattr(option.persistence, case) < 1.0]

    def _way(self, case: str) -> str:
        """Name of the scenario that holds just the fading options, ``all``, or nothing if none fades."""
        fading = self._fading_options(case)
        if not fading or len(fading) == len(self.options):
            return "all" if fading else ""
        return alone_scenario(self.book, fading) or "all"

    def _share(self, gain: GainRow, ways: list[str]) -> Cell:
        def of_case(way: str, year: int) -> Expr:
            alone = self.others[way].gain(gain.line, gain.item) if way not in ("", "all") else None
            if way == "all":
                return if_(gain.full[year] > 0, 1, 0)
            if alone is None:
                return as_expr(0)
            return if_(gain.full[year] > 0, least(1, most(0, alone.full[year] / gain.full[year])), 0)

        distinct = {way for way in ways if way}
        if len(distinct) == 1:
            return lambda y: of_case(next(iter(distinct)), y)
        return lambda y: choose(self.book.case, *(of_case(way, y) for way in ways))

    def _costs(self) -> None:
        """Rows that costs and posts need, then all money, class by class."""
        totals = self.block.totals
        self.sheet.heading("What the costs need")
        out = Outlays(
            self.book,
            self.sheet,
            totals,
            self.today.totals,
            self.options,
            self.roster,
            self.today.roster,
            self.use,
            self.owner,
            single=self.single,
        )
        out.capital()
        out.renewal()
        out.running()
        out.stock()
        out.at_start(self.starts)
        out.posts_added()
        self.out = out

    def _drafts(self, measures: Mapping[str, Series]) -> list[Draft]:
        growth, used = self.book.growth_of, self.use.in_use
        gains = self.made.gains
        found = [*self.out.drafts]
        if self.book.cash.cashflow.finance.season:
            return [*found, *self._pasted()]
        found += [self._draft(g, COST, cost_of(g.full, growth[g.line], used)) for g in gains]
        found += [self._draft(g, CASH_RELEASING, self._released(g)) for g in gains if g.line != "sales"]
        found += self._posts(measures)
        found += [self._draft(g, COST_AVOIDED, self._avoided(g)) for g in gains if g.budget is not None]
        found += [self._draft(g, CAPACITY, self._counted(g, g.full)) for g in gains if g.line == "sales"]
        return found

    def _pasted(self) -> list[Draft]:
        """Gains and posts as the run had them: with seasons each is a sum over the parts of a year."""
        cashflow, known = self.book.cash.cashflow, {draft.line for draft in self.out.drafts}
        kinds = (COST, CASH_RELEASING, COST_AVOIDED, CAPACITY)
        sums: dict[tuple[str, str, str], list[float]] = {}
        for row in cashflow.rows_of(self.block.totals.name):
            if row.benefit_class in kinds and row.line not in (*known, *UNSIGNED, *TAX_LINES):
                key = (row.line, row.item, row.benefit_class)
                amounts = sums.setdefault(key, [0.0] * (self.book.horizon + 1))
                amounts[row.year] += row.amount / deflator(cashflow.finance, row.year)
        self.book.paste("gains and posts on the sheets of cases", "the year has seasons, and each line is their sum")
        return [
            Draft(line, item, kind, self.owner, lambda _: as_expr(0), "pasted from the run", tuple(values))
            for (line, item, kind), values in sums.items()
        ]

    def _draft(self, gain: GainRow, kind: str, formula: Cell) -> Draft:
        return Draft(gain.line, gain.item, kind, self.owner, formula)

    def _money(self, measures: Mapping[str, Series]) -> None:
        """Write the money rows of each class under each other, and their sum."""
        drafts, unit = self._drafts(measures), self.book.currency
        for name, (title, note) in SECTIONS.items():
            own = [d for d in drafts if section_of(d) == name]
            self.sheet.heading(title, note)
            rows = []
            for draft in own:
                label = titled(draft.line, draft.item)
                if draft.values:
                    row = self.sheet.numbers(label, unit, draft.values, "pasted_money", draft.note, summed=True)
                else:
                    row = self.sheet.line(label, unit, draft.formula, "money", draft.note, summed=True)
                rows.append(row)
                self.made.lines.append(LineRow(draft.line, draft.item, draft.kind, draft.owner, row))
            self.made.sums[name] = self.sheet.line(f"{title}, sum", unit, stack_of(rows), "subtotal", summed=True)

    def _share_of_year(self, gain: GainRow, year: int) -> Expr:
        fading = self.fading.get((gain.line, gain.item))
        if fading is None:
            return self.ramped[year]
        return self.ramped[year] - (1 - self.kept) * fading[year] * self.late[year]

    def _times(self, gain: GainRow, year: int, amount: Expr) -> Expr:
        rule = LINES[gain.line].rule
        money = amount * self.book.growth_of[gain.line][year] * self._share_of_year(gain, year)
        return money * self.book.input(f"rule {rule}") if rule else money

    def _counted(self, gain: GainRow, row: Series) -> Cell:
        return lambda y: self._times(gain, y, most(row[y], 0))

    def _released(self, gain: GainRow) -> Cell:
        budget = gain.budget
        if budget is None:
            return self._counted(gain, gain.full)
        return lambda y: self._times(gain, y, most(least(gain.full[y], budget(y)), 0))

    def _avoided(self, gain: GainRow) -> Cell:
        budget = gain.budget
        assert budget is not None
        return lambda y: self._times(gain, y, most(gain.full[y] - most(budget(y), 0), 0))

    def _posts(self, measures: Mapping[str, Series]) -> list[Draft]:
        """Whole posts given up, in years in which the smaller roster meets due dates and covers all skills."""
        whole_posts, parts = self.out.gone()
        if parts:
            self.sheet.row(f"Parts of posts given up, shown as hours only: {', '.join(parts)}", look="note")
        agency = agency_given_up(self.today.totals.roster, self.block.totals.roster)
        if not (whole_posts or agency):
            return []
        unmet, needed, grows = measures["unmet_h"], measures["hours_needed"], measures["backlog_grows"]
        late = self.sheet.line(
            "Orders late, and work refused as a share of the hours needed",
            "share",
            lambda y: measures["late_share"][y] + unmet[y] / needed[y],
            "percent",
        )
        limit, growing = self.book.input("late_limit"), self.book.input("growing_limit")
        met = self.sheet.line(
            "The smaller roster meets due dates and covers all skills",
            "1 or 0",
            lambda y: if_(both(late[y] <= limit, grows[y] <= growing, self.roster.kept > 0), 1, 0),
            "year",
        )
        weeks, rule, growth = (
            self.book.input("production_weeks"),
            self.book.input("rule posts"),
            self.book.growth_of["posts"],
        )
        today = self.today.roster
        found = [
            Draft("posts", person, CASH_RELEASING, self.owner,
                  received(today.cost[person] * weeks * rule, growth, self.settled, met))
            for person in whole_posts
        ]  # fmt: skip
        for post, _ in agency:
            person, hourly = post.person_id, self.book.growth_of["agency"]
            kept = self.roster.hours.get(person, as_expr(0))
            less = (today.hours[person] - kept) * today.cost[person] / today.hours[person]
            rows = (hourly, self.settled, met)
            found.append(Draft("agency", person, CASH_RELEASING, self.owner, received(less * weeks * rule, *rows)))
        return found

    def _taxed(self) -> None:
        made = self.made
        taxed = taxes(self.book, self.sheet, made.lines, made.sums, made.first_year)
        made.taxed, made.classes = taxed, taxed.classes
        made.residual = [item.row for item in made.lines if item.line == "residual"]

    def _figures(self) -> None:
        made, unit = self.made, self.book.currency
        self.sheet.heading("Three figures", "each adds a class to the one before")
        kinds = made.classes
        head = self.sheet.line(
            "Headline: cash released and single amounts, less all costs",
            unit,
            lambda y: kinds[COST][y] + kinds[CASH_RELEASING][y] + kinds[ONE_TIME][y],
            "total",
            summed=True,
        )
        avoided = self.sheet.line(
            "... with avoided cost", unit, lambda y: head[y] + kinds[COST_AVOIDED][y], "total", summed=True
        )
        sales = self.sheet.line(
            "... with signed sales", unit, lambda y: avoided[y] + kinds[CAPACITY][y], "total", summed=True
        )
        made.figures = {"headline": head, "with_avoided": avoided, "with_signed_sales": sales}


def alone_scenario(book: Book, fading: list[Option]) -> str | None:
    """The simulated scenario that holds just these options."""
    wanted = {option.id for option in fading}
    return next((t.name for t in book.cash.others if set(t.option_ids) == wanted), None)
