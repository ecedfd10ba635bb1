"""The sheet of inputs: every number that may be changed, once, in words; prices, wages, terms, then each option."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from simkit.finance.costs import CATCH_UP_WEEKS
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.lines import LINES
from simkit.finance.roster import Post
from simkit.finance.tax import depreciation_text, shares_of
from simkit.finance.timeline import MONTHS_PER_YEAR, WEEKS_PER_YEAR, demand_path
from simkit.plant.options import CapitalLine, Option, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_money import Finance
from simkit.report.workbook.sheets import LiveWorkbook

INPUTS = "Inputs"
WHAT, OF, LOW, TYPICAL, HIGH, IN_FORCE, BUILT, CHANGED, BASIS, OWNER = range(10)
TITLES = ("input", "unit", "low", "value", "high", "in force", "as built (sum)", "changed", "allowed, basis", "owner")
TIMINGS = {"end_year": "year end", "mid_year": "mid-year", "monthly": "monthly"}
LOSSES = {"used_at_once": "at once", "carried_forward": "carried forward", "lost": "lost"}
RESIDUALS = {"share": "share", "remaining_life": "remaining life"}
RULES = {"overtime": "Overtime", "subcontract": "Subcontracted hours", "sales": "Sales", "posts": "Posts"}
YES_NO = ("yes", "no")
SHARE, RATE, POSITIVE, ANY = (0.0, 1.0), (-0.5, 0.5), (0.0, 1e12), (-1e12, 1e12)
WAGES = ("operator", "setter", "programmer", "bench")
WAGE_OF_SKILL = {"bench": "bench", "programming": "programmer", "preparation": "setter"}
WATCHED = 0.5
"""Groups of people whose load never exceeds this share of their paid hours are left out: their limit stays above."""

CONTROLLER = "controller"


class InputsSheet:
    """The sheet of inputs under construction."""

    def __init__(self, book: LiveWorkbook, unit: str) -> None:
        self.book, self.unit = book, unit
        self.owner = self.basis = ""  # of rows that name none of their own
        self.changes: list[tuple[int, str]] = []
        self.sheet = book.sheet(INPUTS, "Inputs", (
            "Blue on yellow may be changed; every sheet with formulas follows at once. Each number stands once.",
            "Where low, value and high are given, the choice of prices below decides which one is in force.",
        ))  # fmt: skip
        self.sheet.header(4, *TITLES, numbers=range(LOW, BUILT + 1))
        self.sheet.freeze = (5, 1)
        self.sheet.widths = dict(enumerate((52, 13, 11, 14, 11, 11, 11, 8, 40, 18)))

    def add(
        self, name: str, label: str, unit: str, value: Any, look: str = "number",
        limits: tuple[float, float] | Sequence[str] = POSITIVE, owner: str = "", basis: str = "",
        ends: tuple[float, float] | None = None, as_given: bool = False,
    ) -> None:  # fmt: skip
        """One input. Of low and high ``ends`` the choice of prices picks; unless ``as_given``, 0 is no end."""
        sheet, book = self.sheet, self.book
        row, alias = sheet.row, name if re.fullmatch(r"[a-z]+(_[a-z]+)+", name) else ""
        book.name(name, sheet.area(row, TYPICAL), alias)
        sheet.data(row, WHAT, label)
        sheet.data(row, OF, unit, "unit")
        sheet.put(row, TYPICAL, value, f"input_{look}")
        if ends:
            for column, end in zip((LOW, HIGH), ends, strict=True):
                sheet.put(row, column, end, f"input_{look}")
            bottom, top = ("{C}", "{E}") if as_given else ("IF({C}=0,{D},{C})", "IF({E}=0,{D},{E})")
            sheet.put(row, IN_FORCE, f'=IF([price_case]="low",{bottom},IF([price_case]="high",{top},{{D}}))', look)
            book.name(name, sheet.area(row, IN_FORCE))
        shown = sheet.cells[row, TYPICAL].value
        words = isinstance(shown, str)
        sheet.put(row, BUILT, shown if words else shown + sum(ends or ()), f"static_{look}")
        differs = "IF({D}={G},0,1)" if words else "IF(ABS({C}+{D}+{E}-{G})>[no_difference],1,0)"
        self.changes.append((row, differs))
        rule = _rule(limits, look)
        sheet.rules += [(row, column, rule) for column in ((LOW, TYPICAL, HIGH) if ends else (TYPICAL,))]
        sheet.data(row, BASIS, basis or self.basis or _words(limits), "note")
        sheet.data(row, OWNER, owner or self.owner, "note")

    def add_all(self, title: str, rows: Iterable[tuple[Any, ...]], note: str = "") -> int:
        """Inputs under a heading; returns the row of the first."""
        self.sheet.heading(title, note)
        first = self.sheet.row
        for row in rows:
            self.add(*row)
        return first

    def block(self, name: str, first: int, column: int = TYPICAL) -> None:
        """Name all inputs from a row to the last one as one range."""
        self.book.name(name, self.sheet.area(first, column, self.sheet.row - 1), name if "_" in name else "")


def _rule(limits: Sequence[Any], look: str) -> dict[str, Any]:
    """Validation of an input: one of some words, or between two numbers."""
    if isinstance(limits[0], str):
        return {"validate": "list", "source": list(limits)}
    low, high = limits
    return {"validate": "integer" if look == "whole" else "decimal", "criteria": "between", "minimum": low,
            "maximum": high}  # fmt: skip


def _words(limits: Sequence[Any]) -> str:
    """Limits in words."""
    if isinstance(limits[0], str):
        return ", ".join(limits)
    low, high = limits
    return "" if tuple(limits) == ANY else f"{low:g} or more" if high == POSITIVE[1] else f"{low:g} to {high:g}"


def inputs_sheet(
    book: LiveWorkbook, plant: PlantInputs, finance: Finance, prices: Prices, everyone: Sequence[ScenarioTotals],
    options: Sequence[Option], posts: Sequence[Post],
) -> None:  # fmt: skip
    """All inputs of a study, in the order in which a controller asks for them; ``everyone``: today first."""
    inputs = InputsSheet(book, plant.settings.currency)
    _prices(inputs, plant, prices, everyone[0])
    _wages(inputs, plant, prices, posts)
    _terms(inputs, finance)
    _payments_and_demand(inputs, finance, everyone)
    inputs.add_all("Prices in force", [("price_case", "Prices of options and share of a gain kept", "choose", "quoted",
                                        "words", ("low", "quoted", "high"), CONTROLLER)])  # fmt: skip
    for number, option in enumerate(options, 1):
        _option(inputs, option, number)
    inputs.owner = inputs.basis = ""
    inputs.add_all("Conventions", (
        ("no_difference", "Differences below this count as none", inputs.unit, 1e-6, "small"),
        ("same_moment", "Moments nearer than this are the same", "years", 1e-9, "small"),
        ("highest_rate", "Internal rates are looked for up to", "a year", 10.0, "percent"),
        ("weeks_per_year", "Weeks of a calendar year", "weeks", WEEKS_PER_YEAR),
        ("months_per_year", "Months of a year", "months", MONTHS_PER_YEAR, "whole"),
    ))  # fmt: skip
    for row, differs in inputs.changes:
        inputs.sheet.put(row, CHANGED, f"={differs}", "flag")
    book.name("inputs changed", inputs.sheet.area(5, CHANGED, inputs.sheet.row - 1))


def _prices(inputs: InputsSheet, plant: PlantInputs, prices: Prices, today: ScenarioTotals) -> None:
    money, unit = plant.settings.money, inputs.unit
    inputs.add_all("Prices", [(name, label, f"{unit}/{per}", value, "price") for name, label, per, value in (
        ("subcontract_price", "Subcontracted hour, as invoiced", "h", money.subcontract_per_h),
        ("margin_per_hour", "Contribution margin of an hour sold", "h", money.margin_per_h),
        ("energy_price", "Energy", "kWh", money.energy_per_kwh),
        ("gas_price", "Assist gas", "m3", money.gas_per_m3),
        ("regrind_price", "One regrind", "regrind", money.regrind_cost),
        ("rework_price", "A reworked part, besides hours", "part", money.rework_cost_per_part),
        ("tool_life_price", "One life of the mean tool", "life", prices.tool_life_price),
        ("tool_price", "The mean tool", "tool", prices.tool_price),
    )], "of the as-of date; they hold in year 1")  # fmt: skip
    row = inputs.sheet.row
    for number, metal in enumerate(prices.materials_of, 1):
        first = inputs.sheet.row
        for name in prices.materials_of[metal]:
            inputs.add(f"sheet {name}", f"Sheet {name}, purchase price", f"{unit}/kg", prices.sheet_per_kg[name],
                       "price", POSITIVE, "purchasing")  # fmt: skip
        inputs.block(f"sheet prices {number}", first)
    inputs.block("sheet_prices", row)
    for number, (metal, credit) in enumerate(prices.scrap_per_kg.items(), 1):
        inputs.add(f"scrap {number}", f"Scrap credit, {metal}, kept apart (mean of its thicknesses)", f"{unit}/kg",
                   credit, "price", ANY)  # fmt: skip
        inputs.add(f"mixing {number}", f"Scrap credit, {metal}, added by mixing today", f"{unit}/kg",
                   today.mixing_per_kg.get(metal, 0.0), "price", ANY, "", "0 or less: mixed earns less")  # fmt: skip


def _wages(inputs: InputsSheet, plant: PlantInputs, prices: Prices, posts: Sequence[Post]) -> None:
    """A wage stands once: people who earn the wage of their work follow it; others have their own."""
    settings, per_hour = plant.settings, f"{inputs.unit}/h"
    found = {work: getattr(settings.money, f"{work}_rate_per_h") for work in WAGES}
    inputs.add_all("Wages", [(f"{work}_wage", work.capitalize(), per_hour, rate, "price")
                             for work, rate in found.items()],
                   "loaded, of year 1; a person follows the wage of the work unless typed over")  # fmt: skip
    first = inputs.sheet.row
    for number, post in enumerate(posts, 1):
        likely = [work for skill, work in WAGE_OF_SKILL.items() if skill in post.skills]
        same = next((work for work in (*likely, *WAGES) if found[work] == post.rate_per_h), "")
        inputs.add(f"wage {number}", f"{post.person_id} ({post.shift})", per_hour,
                   f"=[{same}_wage]" if same else post.rate_per_h, "price", POSITIVE, "",
                   f"follows: {same}" if same else "people.csv, options.toml")  # fmt: skip
    inputs.block("people_wages", first)
    people, rules = settings.people, settings.rules
    for row in (
        ("overtime_premium", "Overtime premium", "share", people.overtime_premium, "percent"),
        ("night_premium", "Night premium", "share", people.night_premium, "percent"),
        ("utilisation_limit", "Share of paid hours that work in the cell may take", "share", people.utilisation_limit,
         "percent", (WATCHED, 1.0), "works manager"),
        ("overtime_cap", "Overtime at most", "h/week", rules.overtime_cap_h_per_week),
        ("overtime_allowed", "Overtime is allowed", "choose", YES_NO[not prices.overtime_allowed], "words", YES_NO),
        ("catch_up_weeks", "Weeks of overtime that make good an installation stop", "weeks", CATCH_UP_WEEKS, "number",
         POSITIVE, "", "common practice, no source"),
    ):  # fmt: skip
        inputs.add(*row)


def _terms(inputs: InputsSheet, f: Finance) -> None:
    """Terms of the cash-flow table, in the order of the settings."""
    years, real = float(f.horizon_years), f.rate_basis == "real"
    straight = f.depreciation == "straight_line" and not f.depreciation_percent
    timings, losses, residuals = (tuple(words.values()) for words in (TIMINGS, LOSSES, RESIDUALS))
    inputs.add_all("Terms", [
        ("discount_rate", f"Discount rate, {f.rate_basis}", "a year", f.discount_rate, "percent", (-0.9, 1),
         CONTROLLER),
        ("horizon_years", "Years looked at", "years", f.horizon_years, "whole", (1, years), CONTROLLER,
         f"1 to {years:g}; more years need a new workbook"),
        ("flow_timing", "When the flows of a year fall", "choose", TIMINGS[f.timing], "words", timings, CONTROLLER),
        ("inflation_rate", "Inflation, where rate and growth are real", "a year", f.inflation if real else 0.0,
         "percent", RATE, CONTROLLER, "rate and growth are real" if real else "0: rate and growth hold it already"),
        ("wage_growth", "Growth of wages", "a year", f.wage_growth, "percent", RATE, CONTROLLER),
        ("price_growth", "Growth of prices", "a year", f.price_growth, "percent", RATE, CONTROLLER),
        *((f"growth {line}", f"Growth of '{LINES[line].title}' instead", "a year", rate, "percent", RATE, CONTROLLER)
          for line, rate in f.growth_of_lines.items()),
        ("first_payment", "Years from the as-of date to the first payment", "years", f.start_after_years, "whole",
         (0, years - 1), CONTROLLER),
        ("tax_rate", "Tax rate", "of profit", f.tax_rate, "percent", SHARE, CONTROLLER),
        ("loss_rule", "Relief of taxable losses", "choose", LOSSES[f.losses], "words", losses, CONTROLLER),
        ("residual_rule", "Residual value by", "choose", RESIDUALS[f.residual_rule], "words", residuals),
        ("residual_share", "Residual value at the end, share of price", "share", f.residual_share, "percent", SHARE),
        ("ramp_start", "Share of the benefit at the start of use", "share", f.ramp_start, "percent", SHARE),
        ("ramp_months", "Months from there to the full benefit", "months", f.ramp_months),
        ("production_weeks", "Production weeks a year", "weeks", f.production_weeks, "number", (0, 53)),
        ("training_cost", "Training, once for a bought set", inputs.unit, f.training, "money"),
        ("stop_share", "Share of shorter installation stops added", "share", f.stop_bundle_share, "percent", SHARE),
        *((f"count_{name}", f"{title} count as money", "choose",
           YES_NO[name not in f.value_rules or "hours_only" in f.value_rules], "words", YES_NO, CONTROLLER,
           "yes or no; a loss always counts") for name, title in RULES.items()),
        ("depreciation_years", "Depreciation, years of straight line", "years", f.depreciation_years, "whole", (1, 50),
         CONTROLLER, "" if straight else "not read: the shares below are a table"),
    ])  # fmt: skip
    first, shares = inputs.sheet.row, shares_of(f)
    for year in range(1, f.horizon_years + 1):
        row = inputs.sheet.row
        inputs.sheet.put(row, IN_FORCE, year, "static_whole")
        inputs.sheet.row = row
        share = shares[year - 1] if year <= len(shares) else 0.0
        inputs.add(f"depreciated {year}", f"Depreciation, share in year {year} of use", "share",
                   "=IF({F}>[depreciation_years],0,1/[depreciation_years])" if straight else share, "percent", SHARE,
                   CONTROLLER, "from the years above" if straight else depreciation_text(f))  # fmt: skip
    inputs.block("depreciation_shares", first)
    inputs.block("service_years", first, IN_FORCE)


def _payments_and_demand(inputs: InputsSheet, finance: Finance, everyone: Sequence[ScenarioTotals]) -> None:
    rows: list[tuple[Any, ...]] = []
    for number, (stage, part) in enumerate(finance.payments, 1):
        when = finance.payments_at[number - 1] if finance.payments_at else 0.0
        basis = "" if finance.payments_at else "all at the first payment (cautious)"
        rows.append((f"payment {number}", f"Share paid at {stage}", "share", part, "percent", SHARE, "purchasing"))
        rows.append((f"paid at {number}", f"When {stage} is paid", "of lead time", when, "percent", SHARE, "purchasing",
                     basis))  # fmt: skip
    inputs.add_all("Payment of the capital", rows, "when: 0 of the lead time is the first payment, 1 the start of use")
    levels = [factor for totals in everyone for factor in totals.factors]
    among, path = (min(levels), max(levels)), demand_path(finance)
    budget = 1.0 if everyone[0].covers(1.0) else path[0]
    first = inputs.add_all("Demand", (
        (f"demand {year}", f"Demand of year {year}, signed", "factor", demand, "factor", among, "sales")
        for year, demand in enumerate(path, 1)
    ), "factor of the order book; between simulated levels it is read in a straight line")  # fmt: skip
    inputs.block("demand_by_year", first)
    inputs.add("budget_demand", "Demand of today's budgets", "factor", budget, "factor", among, CONTROLLER)


def _option(inputs: InputsSheet, option: Option, number: int) -> None:
    """What an option costs, by when it is used, and what of its gain is kept."""
    unit, inputs.owner, inputs.basis = inputs.unit, option.owner, option.price_source
    more = (option.owner, option.price_source)
    capital, kept, whole = option.capital, option.persistence, (0.0, 40.0)
    lines: list[tuple[str, str, str, CapitalLine | YearlyLine]]
    lines = [(f"line {number} {p}", f"{n.line}{' (once for all options that need it)' if n.per == 'bundle' else ''}",
              unit, n) for p, n in enumerate(option.capital_lines, 1)]  # fmt: skip
    lines += [(f"yearly {number} {p}", n.line, f"{unit}/year", n) for p, n in enumerate(option.yearly_lines, 1)]
    rows: list[tuple[Any, ...]] = [
        ("capital", "Capital", unit, capital.quoted, "money", POSITIVE, *more, (capital.low, capital.high), True),
        *((key, label, of, n.quoted, "money", POSITIVE, *more, (n.low, n.high)) for key, label, of, n in lines),
        ("yearly cost", "Service, software and other yearly cost", f"{unit}/year", option.yearly_cost, "money"),
        ("lead", "From first payment to use", "weeks", option.lead_weeks),
        ("stop", "The cell stands for installation", "working days", option.stop_days),
        ("life", "Life; then it is bought again", "years", option.life_years, "number", (1.0, 100.0)),
        ("kept", "Share of the gain kept after a year", "share", kept.quoted, "percent", SHARE, *more,
         (kept.low, kept.high), True),
        ("adjustment", "Added when combined with another bought option", unit,
         option.bundle_adjustment if option.kind == "bought" else None, "money", ANY),
        ("labour", "Named hours that it needs", "h/year", option.yearly_labour_h or None),
        ("grant", "Grant, share of the capital", "share", option.grant_share or None, "percent", SHARE),
        ("stock", "Stock bound while in use (negative: freed)", unit, option.working_capital or None, "money", ANY),
    ]  # fmt: skip
    for place, once in enumerate(option.once, 1):
        rows.append((f"once {number} {place}", f"Once: {once.line}", unit, once.amount, "money", ANY, once.owner))
        rows.append((f"once year {number} {place}", f"{once.line}: year of use (0: first payment)", "year", once.year,
                     "whole", whole))  # fmt: skip
    inputs.sheet.heading(option.name)
    for name, label, of, value, *rest in rows:
        if value is not None:
            inputs.add(name if name[-1].isdigit() else f"{name} {number}", label, of, value, *(rest or ["number"]))


def posts_of(everyone: Iterable[ScenarioTotals]) -> list[Post]:
    """Every person of any roster once, today's people first; 'nobody' where there is no one."""
    found: dict[str, Post] = {}
    for totals in everyone:
        for post in totals.roster.posts:
            found.setdefault(post.person_id, post)
    return list(found.values()) or [Post("nobody", "", (), 0.0, 0.0)]
