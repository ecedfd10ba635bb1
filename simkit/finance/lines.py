"""The lines of the cash-flow table: what each means, which budget it moves and what proves it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from simkit.finance.casearrays import PerCase
from simkit.finance.timeline import deflator, growth, growth_until
from simkit.plant.settings_money import Finance

CASH_RELEASING = "cash_releasing"
COST_AVOIDED = "cost_avoided"
CAPACITY = "capacity"
ONE_TIME = "one_time"
NOT_MONETISED = "not_monetised"
COST = "cost"

CLASSES = (CASH_RELEASING, ONE_TIME, COST, COST_AVOIDED, CAPACITY, NOT_MONETISED)
"""Benefit classes, each of gains and losses alike, and ``cost`` for what is paid for the option itself."""


HEADLINE_CLASSES = (CASH_RELEASING, ONE_TIME, COST)
AVOIDED_CLASSES = (*HEADLINE_CLASSES, COST_AVOIDED)
SALES_CLASSES = (*AVOIDED_CLASSES, CAPACITY)

ValueRule = Literal["overtime", "subcontract", "sales", "posts", ""]
Growth = Literal["wages", "prices", "none"]


@dataclass(frozen=True)
class Line:
    """A kind of amount: title, budget line that moves, evidence to ask for, which growth it follows.

    ``rule`` names the value-of-hours rule that switches its gains on; losses are never switched off.
    """

    title: str
    budget: str
    evidence: str
    growth: Growth = "prices"
    rule: ValueRule = ""


LINES: dict[str, Line] = {
    "capital": Line("Purchase", "investment", "quotation, valid until", "none"),
    "capital_line": Line("Installation and other capital", "investment", "quotation or explicit zero", "none"),
    "bundle_adjustment": Line("Adjustment for combining", "investment", "quotation for the set", "none"),
    "replacement": Line("Replacement at end of life", "investment", "life stated in the quotation"),
    "residual": Line("Residual value at the horizon", "investment", "second-hand price, assumed share", "none"),
    "grant": Line("Grant", "investment", "grant notice", "none"),
    "working_capital": Line("Stock bound or freed while in use", "stock", "count, stock value", "none"),
    "training": Line("Training", "training", "offer", "none"),
    "installation_stop": Line("Hours lost during installation", "overtime or subcontract", "installation plan"),
    "yearly_cost": Line("Service, software and other yearly cost", "maintenance", "service offer"),
    "service": Line("Service contract", "maintenance", "service offer"),
    "software": Line("Software licences and interfaces", "software", "licence offer"),
    "spares": Line("Spares and wearing parts", "maintenance", "spares list with prices"),
    "insurance": Line("Insurance", "insurance", "insurer's answer"),
    "standing_energy": Line("Energy that the device draws at rest", "energy", "data sheet, meter"),
    "named_labour": Line("Named hours that the option needs", "wages", "named person and task", "wages"),
    "labour_overtime": Line("Overtime beyond the limit of paid hours", "overtime pay", "time sheets of the group",
                            "wages", "overtime"),
    "labour_posts": Line("Posts beyond that overtime", "wages", "time sheets of the group", "wages", "posts"),
    "labour_by_others": Line("Work of people not on the roster, and calls", "wages", "named person and task", "wages"),
    "posts_added": Line("Posts and paid hours added", "wages", "roster", "wages"),
    "posts": Line("Whole posts given up", "wages", "payroll line, owner, date", "wages", "posts"),
    "agency": Line("Agency hours given up", "agency staff", "agency invoices, end of contract", "wages", "posts"),
    "overtime": Line("Overtime", "overtime pay", "payroll", "wages", "overtime"),
    "overrun": Line("Overrun past breaks and shift ends", "overtime pay", "time sheets", "wages", "overtime"),
    "subcontract": Line("Subcontracted hours", "subcontracting", "invoices", "prices", "subcontract"),
    "sales": Line("Extra sales of signed demand", "contribution margin", "signed orders, lost-order log", "prices",
                  "sales"),
    "material": Line("Sheet material", "material", "purchase price, weighed yield"),
    "parts_scrapped": Line("Material of scrapped parts", "material", "scrap log"),
    "rework": Line("Rework besides hours", "quality", "rework log, price of material and outside work"),
    "scrap": Line("Scrap credit", "scrap revenue", "weighbridge, scrap contract"),
    "energy": Line("Energy", "energy", "meter"),
    "gas": Line("Assist gas", "gas", "meter, contract"),
    "regrinds": Line("Regrinding", "tooling", "tool room log"),
    "tools": Line("Tools worn or broken", "tooling", "tool purchases"),
    "one_time": Line("Single amount", "as stated", "count", "none"),
    "stock": Line("Stock released or bound once", "stock", "count, stock value", "none"),
    "tax": Line("Tax on the amounts of a class", "tax", "controller", "none"),
    "tax_relief_depreciation": Line("Tax relief by depreciation", "tax", "controller", "none"),
    "tax_losses": Line("Tax that losses relieve later or never", "tax", "controller", "none"),
    "tax_on_residual": Line("Tax on residual value", "tax", "controller", "none"),
    "hours_only": Line("Freed hours not turned into money", "none", "named task for the hours", "none"),
}  # fmt: skip
"""All lines by name."""

CAPITAL_LINES = ("capital", "capital_line", "bundle_adjustment")
PURCHASE = (*CAPITAL_LINES, "grant")
PROPORTIONAL_TO_CAPITAL = (
    *PURCHASE, "replacement", "residual", "tax_relief_depreciation", "tax_on_residual",
)  # fmt: skip
"""Lines that grow with the capital; their value per unit of capital gives the break-even capital."""

UNTAXED = (*PURCHASE, "replacement", "residual", "working_capital", "stock")
"""Lines that are not taxed as they are: capital and grants act through depreciation, residual through its own line,
stock changes its place in the books."""

TAX_LINES = tuple(name for name, line in LINES.items() if line.budget == "tax")
"""Lines of tax and of relief."""


def class_of(line: str) -> str:
    """Class of what changes with an option in use, gains and losses alike, where no budget limits what is released."""
    return CAPACITY if line == "sales" else CASH_RELEASING


def counts(finance: Finance, rule: str) -> bool:
    """Whether a value-of-hours rule is switched on, or a line has none; ``hours_only`` switches all rules off."""
    return not rule or (rule in finance.value_rules and "hours_only" not in finance.value_rules)


def growth_rate(finance: Finance, line: str) -> float:
    """Growth of a line a year: its own in the settings, or that of wages or prices."""
    if line in finance.growth_of_lines:
        return finance.growth_of_lines[line]
    follows = LINES[line].growth
    return finance.wage_growth if follows == "wages" else finance.price_growth if follows == "prices" else 0.0


def price_level(finance: Finance, line: str, year: PerCase) -> PerCase:
    """Price of a line in ``year`` over that of the as-of date: growth from year 2 on.

    Under a real basis prices of the as-of date are money of year 0: growth is beyond inflation, and the inflation that
    turns them into money of the year is the very one that :func:`simkit.finance.timeline.deflator` takes out again.
    """
    return growth(growth_rate(finance, line), year) / deflator(finance, year)


def purchase_level(finance: Finance, moment: PerCase, year: PerCase) -> PerCase:
    """Price of a purchase at a ``moment`` that is paid in ``year``, over that of the as-of date."""
    return growth_until(growth_rate(finance, "replacement"), moment) / deflator(finance, year)
