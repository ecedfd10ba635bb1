"""The lines of the cash-flow table: what each means, which budget it moves and what proves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod
from typing import Literal, NamedTuple

from simkit.finance.arrays import Value, first_case
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

Rule = Literal["overtime", "subcontract", "sales", "posts", ""]
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
    rule: Rule = ""


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


class Factor(NamedTuple):
    """A value and what it is, with its unit; ``text`` has a place for each of the values ``shown``, if there are any.

    A share of the whole may be ``left_out_at_1``, where it says nothing.
    """

    value: Value
    text: str
    shown: tuple[Value, ...] = ()
    left_out_at_1: bool = False


@dataclass(frozen=True)
class CashRow:
    """One amount: who, when, which line and class, how it came about (``basis``), who answers for it.

    ``item`` names the option, person or material it is about. Money of the year; positive is received.
    """

    scenario: str
    year: int
    line: str
    benefit_class: str
    amount: float
    basis: str
    owner: str
    item: str = ""


def class_of(line: str) -> str:
    """Class of what changes with an option in use, gains and losses alike, where no budget limits what is released."""
    return CAPACITY if line == "sales" else CASH_RELEASING


def growth_rate(finance: Finance, line: str) -> float:
    """Growth of a line a year: its own in the settings, or that of wages or prices."""
    if line in finance.growth_of_lines:
        return finance.growth_of_lines[line]
    follows = LINES[line].growth
    return finance.wage_growth if follows == "wages" else finance.price_growth if follows == "prices" else 0.0


def price_level(finance: Finance, line: str, year: Value) -> Value:
    """Price of a line in ``year`` over that of the as-of date: growth from year 2 on.

    Under a real basis prices of the as-of date are money of year 0: growth is beyond inflation, and the inflation that
    turns them into money of the year is the very one that :func:`simkit.finance.timeline.deflator` takes out again.
    """
    return growth(growth_rate(finance, line), year) / deflator(finance, year)


def purchase_level(finance: Finance, moment: Value, year: Value) -> Value:
    """Price of a purchase at a ``moment`` that is paid in ``year``, over that of the as-of date."""
    return growth_until(growth_rate(finance, "replacement"), moment) / deflator(finance, year)


def product(factors: Sequence[Factor]) -> Value:
    """Product of the values of factors."""
    return prod(factor.value for factor in factors) + 0.0  # a negative zero becomes zero


def basis_text(factors: Sequence[Factor], year: int, note: str = "") -> str:
    """Return ``18 h/week x 47 weeks x 77 CU/h; note``: each number of a year with its unit, in order.

    Numbers stand with twelve digits, so that their product is the amount; pages may shorten them. What a plant's own
    words could add to these marks is written otherwise, so that the product can be read back.
    """
    pieces = []
    for factor in factors:
        value = first_case(factor.value, year)
        if value == 1.0 and factor.left_out_at_1:
            continue
        shown = tuple(first_case(one, year) for one in factor.shown)
        unit = factor.text.format(*shown) if shown else factor.text
        pieces.append(f"{value + 0.0:.12g} {unit.replace(' x ', ' by ').replace(';', ',')}")
    text = " x ".join(pieces)
    return f"{text}; {note}" if note else text
