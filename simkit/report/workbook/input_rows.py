"""The typed-in numbers: terms, prices, materials, growth, and each option."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from simkit.finance.costs import CATCH_UP_WEEKS
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.lines import LINES
from simkit.finance.timeline import MONTHS_PER_YEAR, WEEKS_PER_YEAR, demand_path
from simkit.plant.options import Option
from simkit.plant.settings_money import Finance
from simkit.report.workbook.book import Book
from simkit.report.workbook.inputs import LOSS_RULES, RULES, TIMINGS, TOLERANCE, InputsSheet


@dataclass(frozen=True)
class OwnPrice:
    """A price that an option changes: the line it acts on, what is priced, the inputs of both prices."""

    line: str
    measure: str
    item: str
    today: str
    key: str
    label: str
    value: float


def own_prices(totals: ScenarioTotals, today: ScenarioTotals, prices: Prices) -> list[OwnPrice]:
    """Prices that hold in a scenario and differ from the same of today; for scrap, ``today`` is the metal."""
    life, tool = today.tool_life_price, today.tool_price
    found = [
        ("tools", "tool_lives", "tool_lives, price", "tool_life_price",
         prices.tool_life_price if life is None else life, totals.tool_life_price),
        ("tools", "tools_broken", "tools_broken, price", "tool_price",
         prices.tool_price if tool is None else tool, totals.tool_price),
    ]  # fmt: skip
    for metal, materials in prices.materials_of.items():
        apart = today.scrap_per_kg.get(metal, prices.scrap_per_kg[metal])
        credit = apart + today.mixing_per_kg.get(metal, 0.0)
        own = totals.scrap_per_kg.get(metal, apart) + totals.mixing_per_kg.get(metal, 0.0)
        found.append(("scrap", f"scrap_kg_{metal}", f"{metal}, credit", metal, credit, own))
        for name in materials:
            price, measure = today.sheet_per_kg.get(name, prices.sheet_per_kg[name]), f"material_kg_{name}"
            found.append(("material", measure, f"{measure}, price", f"sheet {name}", price,
                          totals.sheet_per_kg.get(name)))  # fmt: skip
    return [
        OwnPrice(line, measure, item, base, f"{line} {base} at {own:.9g}", item, own)
        for line, measure, item, base, price, own in found
        if own is not None and own != price
    ]


def _own_prices(inputs: InputsSheet, names: Iterable[str]) -> None:
    """Prices that options bring, each once."""
    book = inputs.book
    today = book.cash.today
    found = {own.key: own for name in names for own in own_prices(book.cash.totals[name], today, book.prices)}
    if found:
        inputs.sheet.heading("Prices that an option changes", "they hold in the scenarios with that option")
    for own in found.values():
        inputs.add(own.key, own.label, book.currency, own.value, look="price", basis="options.toml")


def inputs_sheet(book: Book, options: Iterable[Option], names: Iterable[str]) -> InputsSheet:
    """All typed-in numbers but the simulated ones and the hours of the roster."""
    inputs = InputsSheet(book)
    _terms(inputs, book.cash.cashflow.finance)
    _use_terms(inputs, book.cash.cashflow.finance)
    _payments_demand_rules(inputs, book.cash.cashflow.finance)
    _prices(inputs)
    _materials(inputs)
    _growth(inputs)
    _own_prices(inputs, names)
    for option in options:
        _option(inputs, option)
    return inputs


def _terms(inputs: InputsSheet, finance: Finance) -> None:
    add, sheet, years = inputs.add, inputs.sheet, inputs.book.horizon
    sheet.heading("Terms")
    share = {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 1}
    real = finance.rate_basis == "real"
    basis = "real" if real else "nominal"
    add("discount_rate", f"Discount rate, {basis}", "a year", finance.discount_rate, look="percent", owner="controller")
    add(
        "horizon",
        "Years looked at",
        "years",
        years,
        look="year",
        owner="controller",
        basis=f"1 to {years}; more years need a new workbook",
        limits={"validate": "integer", "criteria": "between", "minimum": 1, "maximum": years},
    )
    add(
        "timing",
        "When the flows of a year fall: 1 at its end, 2 in its middle, 3 in twelve parts",
        "1, 2 or 3",
        TIMINGS.index(finance.timing) + 1,
        look="year",
        owner="controller",
        limits={"validate": "integer", "criteria": "between", "minimum": 1, "maximum": len(TIMINGS)},
    )
    inflation = finance.inflation if real else 0.0
    why = "rate and growth are without inflation" if real else "0: rate and growth hold inflation already"
    add("inflation", "Inflation, where rate and growth are real", "a year", inflation, look="percent", basis=why)
    add("wait", "First payment after", "years", finance.start_after_years, look="year", owner="controller",
        limits={"validate": "integer", "criteria": "between", "minimum": 0, "maximum": years})  # fmt: skip
    add("losses", "Taxable losses: 1 used at once, 2 carried forward, 3 lost", "1, 2 or 3",
        LOSS_RULES.index(finance.losses) + 1, look="year", owner="controller",
        limits={"validate": "integer", "criteria": "between", "minimum": 1, "maximum": len(LOSS_RULES)})  # fmt: skip
    add("residual_rule", "Residual value: 1 share of the last purchase, 2 its life that is left", "1 or 2",
        1 if finance.residual_rule == "share" else 2, look="year",
        limits={"validate": "list", "source": [1, 2]})  # fmt: skip
    add("tax_rate", "Tax rate", "of profit", finance.tax_rate, look="percent", owner="controller", limits=share)
    add(
        "depreciation_years",
        "Depreciation, straight line over",
        "years",
        finance.depreciation_years,
        look="year",
        owner="controller",
    )
    add(
        "residual_share",
        "Residual value at the end, share of the last purchase",
        "share",
        finance.residual_share,
        look="percent",
        limits=share,
    )


def _use_terms(inputs: InputsSheet, finance: Finance) -> None:
    """Growth, ramp-up, production weeks, training and installation."""
    add = inputs.add
    add("wage_growth", "Growth of wages", "a year", finance.wage_growth, look="percent")
    add("price_growth", "Growth of prices", "a year", finance.price_growth, look="percent")
    add("ramp_start", "Share of the benefit at the start of use", "share", finance.ramp_start, look="percent")
    add("ramp_months", "Months from there to the full benefit", "months", finance.ramp_months)
    add("production_weeks", "Production weeks a year", "weeks", finance.production_weeks)
    add("training", "Training, once for a bought set", inputs.book.currency, finance.training)
    add(
        "stop_share",
        "Share of shorter installation stops added to the longest",
        "share",
        finance.stop_bundle_share,
        look="percent",
    )


def _payments_demand_rules(inputs: InputsSheet, finance: Finance) -> None:
    """Stages of payment, demand by year, and which values of hours count."""
    add, sheet = inputs.add, inputs.sheet
    sheet.heading("Payments of the capital", "0 of the lead time is the first payment, 1 the start of use")
    for place, (stage, part) in enumerate(finance.payments):
        when = finance.payments_at[place] if finance.payments_at else 0.0
        cautious = "plant.toml" if finance.payments_at else "all dated at the first payment (cautious)"
        add(f"payment {stage}", f"at {stage}, share", "share", part, look="percent", owner="purchasing")
        add(f"paid at {stage}", f"at {stage}, when", "share of lead time", when, look="percent", basis=cautious)
    sheet.heading(
        "Demand read by the years, as a factor of the book", "signed demand; must lie within simulated levels"
    )
    for year in demand_path(finance, inputs.book.cash.cashflow.demand):
        add(
            f"demand {year.year}",
            f"year {year.year}",
            "factor",
            year.factor,
            look="factor",
            owner="sales",
            basis="signed demand, latest entry that has started",
        )
    sheet.heading("Which values of freed hours are counted", "1 counted, 0 not; a cost is always counted")
    for rule in RULES:
        on = rule in finance.value_rules and "hours_only" not in finance.value_rules
        add(
            f"rule {rule}",
            f"rule '{rule}'",
            "1 or 0",
            int(on),
            look="year",
            owner="controller",
            limits={"validate": "list", "source": [0, 1]},
        )


def _prices(inputs: InputsSheet) -> None:
    add, unit = inputs.add, inputs.book.currency
    settings = inputs.book.cash.study.plant.settings
    money, people, rules = settings.money, settings.people, settings.rules
    inputs.sheet.heading("Wages and prices", "of the as-of date; they hold in year 1")
    per_h = {
        "operator_rate": ("Operator, loaded rate", money.operator_rate_per_h),
        "setter_rate": ("Setter, loaded rate", money.setter_rate_per_h),
        "programmer_rate": ("Programmer, loaded rate", money.programmer_rate_per_h),
        "subcontract_price": ("Hour given out, invoiced", money.subcontract_per_h),
        "margin": ("Contribution margin of an hour sold", money.margin_per_h),
    }
    for name, (label, value) in per_h.items():
        add(name, label, f"{unit}/h", value, look="price")
    prices = inputs.book.prices
    add("energy_price", "Energy", f"{unit}/kWh", money.energy_per_kwh, look="price")
    add("gas_price", "Assist gas", f"{unit}/m3", money.gas_per_m3, look="price")
    add("regrind_price", "One regrind", unit, money.regrind_cost, look="price")
    add("rework_price", "A reworked part besides hours", f"{unit}/part", money.rework_cost_per_part, look="price")
    add("tool_life_price", "One life of the mean tool", unit, prices.tool_life_price, look="price", basis="tools.csv")
    add("tool_price", "The mean tool", unit, prices.tool_price, look="price", basis="tools.csv")
    add("overtime_premium", "Overtime premium", "share", people.overtime_premium, look="percent")
    add("night_premium", "Night premium", "share", people.night_premium, look="percent")
    inputs.sheet.heading("Rules and constants")
    add("overtime_cap", "Overtime cap", "h/week", rules.overtime_cap_h_per_week)
    add("overtime_allowed", "Overtime is allowed", "1 or 0", int(prices.overtime_allowed), look="year")
    add(
        "catch_up",
        "Weeks of overtime that make good an installation stop",
        "weeks",
        CATCH_UP_WEEKS,
        basis="common practice, no source",
    )
    add(
        "late_limit",
        "Late or refused work allowed when a post goes",
        "share",
        rules.late_share_limit,
        look="percent",
    )
    add(
        "growing_limit",
        "Replications with a growing backlog allowed",
        "share",
        0.05,
        look="percent",
        basis="common practice, no source",
    )
    add("weeks_per_year", "Weeks of a calendar year", "weeks", WEEKS_PER_YEAR, basis="convention")
    add("months_per_year", "Months of a year", "months", MONTHS_PER_YEAR, look="year", basis="calendar")
    add(
        "tolerance", "Differences below this count as none in checks", unit, TOLERANCE, look="small", basis="convention"
    )
    add("instant", "Moments nearer than this are the same", "years", 1e-9, look="small", basis="convention")


def _materials(inputs: InputsSheet) -> None:
    prices, unit = inputs.book.prices, inputs.book.currency
    inputs.sheet.heading("Sheet material, purchase price", "materials.csv")
    for names in prices.materials_of.values():
        for name in names:
            inputs.add(
                f"sheet {name}",
                name,
                f"{unit}/kg",
                prices.sheet_per_kg[name],
                look="price",
                basis="materials.csv",
                owner="purchasing",
            )
    inputs.sheet.heading("Scrap credit by metal, mean over thicknesses", "materials.csv")
    mixing = inputs.book.cash.today.mixing_per_kg
    for metal, credit in prices.scrap_per_kg.items():
        inputs.add(f"scrap {metal}", metal, f"{unit}/kg", credit, look="price", basis="materials.csv")
    for metal, change in mixing.items():
        if change:
            inputs.add(f"mixing {metal}", f"{metal}: added by mixing today", f"{unit}/kg", change, look="price",
                       basis="masses of the run, plant.toml scrap")  # fmt: skip


def _growth(inputs: InputsSheet) -> None:
    """Growth of every line that grows: its own, or that of wages or prices."""
    finance = inputs.book.cash.cashflow.finance
    inputs.sheet.heading("Growth by line", "wages or prices unless another rate is typed in")
    for name, line in LINES.items():
        own = finance.growth_of_lines.get(name)
        if own is not None:
            inputs.add(f"growth {name}", line.title, "a year", own, look="percent", basis="plant.toml growth_of_lines")
        elif line.growth != "none":
            rate = inputs.book.input("wage_growth" if line.growth == "wages" else "price_growth")
            inputs.add(f"growth {name}", line.title, "a year", rate, look="percent", basis=f"growth of {line.growth}")


def _option(inputs: InputsSheet, option: Option) -> None:
    unit, key = inputs.book.currency, f"option {option.id}"
    more: dict[str, Any] = {"owner": option.owner, "basis": option.price_source or "options.toml"}
    inputs.sheet.heading(f"{option.id}: {option.name}")

    def add(name: str, label: str, of: str, typical: Any, **extra: Any) -> None:
        inputs.add(f"{key} {name}", label, of, typical, **{**more, **extra})

    add("capital", "Capital", unit, option.capital.quoted, low=option.capital.low, high=option.capital.high)
    for place, line in enumerate(option.capital_lines):
        shared = " (once for all options that need it)" if line.per == "bundle" else ""
        add(f"line {place}", f"{line.line}{shared}", unit, line.quoted, low=line.low, high=max(line.quoted, line.high))
    add("adjustment", "Added when combined with another bought option", unit, option.bundle_adjustment)
    add("yearly_cost", "Service, software and other yearly cost", f"{unit}/year", option.yearly_cost)
    for place, yearly in enumerate(option.yearly_lines):
        label = f"{yearly.line} ({LINES[yearly.budget].title})"
        add(f"yearly {place}", label, f"{unit}/year", yearly.quoted, low=yearly.low,
            high=max(yearly.quoted, yearly.high))  # fmt: skip
    if option.grant_share:
        add("grant", "Grant, share of the capital", "share", option.grant_share, look="percent")
    if option.working_capital:
        add("stock", "Stock bound while in use (negative: freed)", unit, option.working_capital)
    for place, once in enumerate(option.once):
        add(f"once {place}", f"Once: {once.line}", unit, once.amount, owner=once.owner or option.owner)
        add(f"once year {place}", f"{once.line}: year of use (0: first payment)", "year", once.year, look="year")
    add("labour", "Named hours that it needs", "h/year", option.yearly_labour_h)
    add("lead", "From first payment to use", "weeks", option.lead_weeks)
    add("stop", "The cell stands for installation", "working days", option.stop_days)
    if option.life_years is not None:
        add("life", "Life; then it is bought again", "years", option.life_years)
    kept = option.persistence
    add(
        "kept",
        "Share of the gain kept after a year",
        "share",
        kept.quoted,
        low=kept.low,
        high=kept.high,
        look="percent",
    )
