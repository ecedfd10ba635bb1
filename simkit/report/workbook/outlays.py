"""What the options of a scenario cost: capital, replacement, residual, yearly cost, training, posts, stops."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import reduce

from simkit.finance.inputs import ScenarioTotals
from simkit.finance.lines import COST, ONE_TIME
from simkit.finance.posts import posts_given_up
from simkit.plant.options import Option
from simkit.report.workbook.book import Book
from simkit.report.workbook.expr import Expr, as_expr, if_, least, most, sum_of, total, whole
from simkit.report.workbook.grid import Series, Sheet
from simkit.report.workbook.roster import RosterBlock

Cell = Callable[[int], Expr]


@dataclass
class Draft:
    """A row of money before it is written: its line, item, class, owner and formula by year."""

    line: str
    item: str
    kind: str
    owner: str
    formula: Cell
    note: str = ""
    values: tuple[float, ...] = ()
    """Values pasted from the run in place of a formula."""


@dataclass
class LineRow:
    """A row of money by year: its line, item, class and owner."""

    line: str
    item: str
    kind: str
    owner: str
    row: Series


@dataclass
class Use:
    """When the options of a scenario, or one of them, are in use: rows of shares of the year."""

    start: Expr
    in_use: Series


@dataclass
class Outlays:
    """Rows of cost of one scenario."""

    book: Book
    sheet: Sheet
    totals: ScenarioTotals
    today: ScenarioTotals
    options: tuple[Option, ...]
    own: RosterBlock
    before: RosterBlock
    use: Use
    owner: str
    drafts: list[Draft] = field(default_factory=list)
    single: dict[str, Use] = field(default_factory=dict)
    waited: Expr = field(default_factory=lambda: as_expr(1))

    def input_of(self, option: Option, name: str) -> Expr:
        """Value in force of an input of an option."""
        return self.book.input(f"option {option.id} {name}")

    def add(
        self, line: str, formula: Cell, *, item: str = "", kind: str = COST, owner: str = "", note: str = ""
    ) -> None:
        """Note a row of money; rows are written class by class."""
        self.drafts.append(Draft(line, item, kind, owner, formula, note))

    def capital(self) -> None:
        """Capital by stage of payment and grants; its lines and the adjustment for combining at the first payment."""
        first, wait = self.book.years["first"], self.book.input("wait")
        growth = self.book.growth_rate("replacement")
        self.waited = self.sheet.scalar("Price growth while the purchase waits", "factor", growth**wait, "factor")
        for option in self.options:
            if option.capital.high:
                self._stages(option)
            if option.grant_share:
                grant = self.input_of(option, "capital") * self.input_of(option, "grant") * self.waited
                self.add("grant", received(grant, first), item=option.id, kind=ONE_TIME, owner=option.owner)
        self._capital_lines(first)
        bought = [option for option in self.options if option.kind == "bought"]
        for option in bought if len(bought) > 1 else ():
            if option.bundle_adjustment:
                extra = self.input_of(option, "adjustment") * self.waited
                self.add("bundle_adjustment", paid(extra, first), item=option.id, owner=option.owner)

    def _stages(self, option: Option) -> None:
        """Share of the capital that is due in each year: stages dated by the lead time, at the first payment for 0."""
        year, wait, instant = self.book.years["year"], self.book.input("wait"), self.book.input("instant")
        lead = self.input_of(option, "lead") / self.book.input("weeks_per_year")
        due = []
        for stage, _ in self.book.cash.cashflow.finance.payments:
            moment = self.book.input(f"paid at {stage}") * lead
            when = if_(moment > 0, most(1, -whole(instant - moment)), 0) + wait
            due.append((self.sheet.scalar(f"{option.id}: year of payment at {stage}", "year", when, "year"),
                        self.book.input(f"payment {stage}")))  # fmt: skip
        shares = self.sheet.line(
            f"{option.id}: share of the capital that is due", "share",
            lambda y: sum_of([if_(year[y].is_(when), share, 0) for when, share in due]), "percent",
        )  # fmt: skip
        self.add("capital", paid(self.input_of(option, "capital") * self.waited, shares), item=option.id,
                 owner=option.owner)  # fmt: skip

    def _capital_lines(self, first: Series) -> None:
        """Every line of an option; a line of the bundle once, at the dearest of its prices."""
        bundle: dict[str, list[tuple[Expr, Option]]] = {}
        for option in self.options:
            for place, line in enumerate(option.capital_lines):
                amount = self.input_of(option, f"line {place}")
                if line.per == "bundle":
                    bundle.setdefault(line.line, []).append((amount, option))
                else:
                    self.add(
                        "capital_line",
                        paid(amount * self.waited, first),
                        item=f"{option.id}: {line.line}",
                        owner=option.owner,
                    )
        for name, found in bundle.items():
            dearest = most(*(amount for amount, _ in found))
            self.add("capital_line", paid(dearest * self.waited, first), item=f"once: {name}", owner=found[0][1].owner)

    def renewal(self) -> None:
        """What is bought again at the end of its life, and the residual value of the last purchase."""
        for option in self.options:
            if option.life_years is not None and option.capital.high:
                self._renewal(option)

    def _renewal(self, option: Option) -> None:
        year, end, inside = (self.book.years[name] for name in ("year", "end", "inside"))
        life, capital = self.input_of(option, "life"), self.input_of(option, "capital")
        horizon, instant = self.book.input("horizon"), self.book.input("instant")
        start, growth = self.single[option.id].start, self.book.growth_of["replacement"]
        before_end = self.sheet.scalar(
            f"{option.id}: times bought again before the end",
            "times",
            most(0, -whole(instant - (horizon - start) / life) - 1),
            "year",
        )
        again = self.sheet.line(
            f"{option.id}: times bought again so far",
            "times",
            lambda y: least(before_end, most(0, whole((year[y] - start) / life + instant))),
            "year",
        )
        wait = self.book.input("wait")
        at_first = self.book.growth_rate("replacement") ** wait
        price = self.sheet.run(
            f"{option.id}: price level of the last purchase", "factor",
            lambda y, so_far: if_(again[y] > again.before(y), growth[y], if_(year[y] > 0, so_far, at_first)), "factor",
        )  # fmt: skip
        self.add("replacement", lambda y: -(again[y] - again.before(y)) * capital * growth[y] * inside[y],
                 item=option.id, owner=option.owner)  # fmt: skip
        left = self.sheet.scalar(
            f"{option.id}: left of the last purchase at the end", "share",
            if_(self.book.input("residual_rule").is_(1), self.book.input("residual_share"),
                most(0, 1 - most(horizon - start - before_end * life, 0) / life)), "percent",
        )  # fmt: skip
        self.add("residual", lambda y: capital * price[y] * left * end[y], item=option.id, kind=ONE_TIME,
                 owner=option.owner)  # fmt: skip

    def stock(self) -> None:
        """Stock bound while in use and undone at the end, and amounts of a single year of use."""
        for option in self.options:
            if option.working_capital:
                self._working_capital(option)
            for place, line in enumerate(option.once):
                amount, year = self.input_of(option, f"once {place}"), self.input_of(option, f"once year {place}")
                name = "stock" if line.what == "stock" else "one_time"
                kind = ONE_TIME if line.amount >= 0 else COST
                self.add(name, received(amount, self._once(option, line.line, year)), item=option.id, kind=kind,
                         owner=line.owner or option.owner)  # fmt: skip

    def _first_use(self, option: Option) -> Expr:
        """First year in which an option is used."""
        start = self.single[option.id].start
        return self.sheet.scalar(f"{option.id}: first year of use", "year",
                                 whole(start + self.book.input("instant")) + 1, "year")  # fmt: skip

    def _stock_year(self, option: Option) -> Expr:
        """Year in which stock is bound: 0 for a start at the first payment, else the one that ends with the start."""
        start, instant = self.single[option.id].start, self.book.input("instant")
        year = if_(start > 0, most(1, -whole(instant - start)), 0)
        return self.sheet.scalar(f"{option.id}: year in which stock is bound", "year", year, "year")

    def _working_capital(self, option: Option) -> None:
        """The two rows of stock: bound with the start of use, undone at the end; both only if use starts before it."""
        amount, begun = self.input_of(option, "stock"), self._stock_year(option)
        year, end, horizon = self.book.years["year"], self.book.years["end"], self.book.input("horizon")
        inside = self.book.years["inside"]
        bound, freed = (COST, ONE_TIME) if option.working_capital > 0 else (ONE_TIME, COST)
        more = {"item": option.id, "owner": option.owner}
        self.add("working_capital", lambda y: -amount * if_(year[y].is_(begun), inside[y], 0), kind=bound, **more)
        self.add("working_capital", lambda y: amount * if_(begun <= horizon, end[y], 0), kind=freed, **more)

    def _once(self, option: Option, text: str, of_use: Expr) -> Series:
        """The year in which a single amount falls."""
        year, wait, inside = self.book.years["year"], self.book.input("wait"), self.book.years["inside"]
        then = self.sheet.scalar(f"{option.id}: year of '{text}'", "year",
                                 if_(of_use > 0, self._first_use(option) + of_use - 1, wait), "year")  # fmt: skip
        return self.sheet.line(f"{option.id}: '{text}' falls", "1 or 0",
                               lambda y: if_(year[y].is_(then), inside[y], 0), "year")  # fmt: skip

    def running(self) -> None:
        """Yearly cost and named hours of each option, from its own start of use."""
        wage = self.sheet.scalar(
            "Rate of named hours",
            f"{self.book.currency}/h",
            if_(self.book.input("setter_rate") > 0, self.book.input("setter_rate"), self.book.input("operator_rate")),
            "price",
            "setter, else operator",
        )
        growth = self.book.growth_of
        for option in self.options:
            used = self.single[option.id].in_use
            if option.yearly_cost:
                cost, grown = self.input_of(option, "yearly_cost"), growth["yearly_cost"]
                self.add("yearly_cost", paid(cost, grown, used), item=option.id, owner=option.owner)
            for place, line in enumerate(option.yearly_lines):
                cost = self.input_of(option, f"yearly {place}")
                self.add(line.budget, paid(cost, growth[line.budget], used), item=option.id, owner=option.owner,
                         note=line.line)  # fmt: skip
            if option.yearly_labour_h:
                hours, grown = self.input_of(option, "labour"), growth["named_labour"]
                self.add("named_labour", paid(hours * wage, grown, used), item=option.id, owner=option.owner)

    def at_start(self, starts: Series) -> None:
        """Training of a bought set, and the hours lost during installation, in the year use starts."""
        if any(option.kind == "bought" for option in self.options):
            training = self.book.input("training")
            self.add("training", paid(training, starts), owner=self.owner)
        if any(option.stop_days for option in self.options):
            self._stop(starts)

    def _stop(self, starts: Series) -> None:
        input_of, sheet, unit = self.book.input, self.sheet, self.book.currency
        days = [self.input_of(option, "stop") for option in self.options]
        longest = sheet.scalar("Longest installation stop", "working days", most(*days), "number2")
        lost = sheet.scalar(
            "Hours lost to installation",
            "h",
            (longest + input_of("stop_share") * (total(*days) - longest)) * self.before.day_h,
            "number2",
            "all attended hours, idle or not",
        )
        room = sheet.scalar(
            "Overtime available to make them good",
            "h",
            input_of("overtime_cap") * input_of("catch_up") * input_of("overtime_allowed"),
            "number2",
        )
        outside = input_of("subcontract_price")
        made_good = sheet.scalar("Made good by overtime", "h", if_(outside > 0, least(lost, room), lost), "number2")
        crew = sheet.scalar(
            "Crew with premium", f"{unit}/h", self.before.crew_rate * (1 + input_of("overtime_premium")), "price"
        )
        self.add("installation_stop", paid(made_good * crew, starts), item="overtime", owner=self.owner)
        self.add("installation_stop", paid((lost - made_good) * outside, starts), item="given out", owner=self.owner)

    def posts_added(self) -> None:
        """Posts that come in addition, and longer weeks of today's people at the overtime premium."""
        weeks, growth, used = self.book.input("production_weeks"), self.book.growth_of["posts_added"], self.use.in_use
        premium = 1 + self.book.input("overtime_premium")
        known = self.today.roster.by_person
        for post in self.totals.roster.posts:
            old = known.get(post.person_id)
            if post.h_per_week <= (old.h_per_week if old else 0.0):
                continue
            name = post.person_id
            weekly = self.own.cost[name]
            if old is not None:
                weekly = (self.own.hours[name] - self.before.hours[name]) * self.own.rate[name] * premium
            self.add("posts_added", paid(weekly * weeks, growth, used), item=name, owner=self.owner)

    def gone(self) -> tuple[list[str], list[str]]:
        """People of today whom the scenario does not have: whole posts, and those with duties elsewhere."""
        whole_posts, parts = posts_given_up(self.today.roster, self.totals.roster)
        return [post.person_id for post in whole_posts], [post.person_id for post in parts]


def paid(amount: Expr, *rows: Series) -> Cell:
    """An amount that goes out, times the rows of the year."""
    return received(-amount, *rows)


def received(amount: Expr, *rows: Series) -> Cell:
    """An amount that comes in, times the rows of the year."""
    return lambda year: reduce(lambda a, row: a * row[year], rows, amount)
