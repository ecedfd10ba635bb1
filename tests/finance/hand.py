"""A plant and simulated totals written by hand: round numbers, so that a row is checked in two lines.

One week of span, 50 production weeks, no growth, no tax, no ramp, no lead time unless a test says so.
"""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.finance.cashflow import FIGURE_CLASSES, CashFlowTable, build_cashflow, figure_flows
from simkit.finance.inputs import ScenarioTotals
from simkit.finance.roster import Post, Roster
from simkit.plant.options import Option
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import People, Rules
from simkit.plant.settings_money import Money
from tests.small_plant import small_plant, small_settings

MONEY = Money(
    energy_per_kwh=0.2, gas_per_m3=0.25, subcontract_per_h=110, margin_per_h=90, setter_rate_per_h=36,
    programmer_rate_per_h=40, operator_rate_per_h=30, regrind_cost=12,
)  # fmt: skip
PLAIN: dict[str, Any] = {
    "discount_rate": 0.1, "horizon_years": 4, "wage_growth": 0.0, "price_growth": 0.0, "tax_rate": 0.0,
    "depreciation_years": 4, "residual_share": 0.0, "ramp_start": 1.0, "ramp_months": 0.0, "production_weeks": 50,
    "payments": (("order", 0.6), ("delivery", 0.3), ("acceptance", 0.1)), "training": 0.0, "stop_bundle_share": 0.3,
}  # fmt: skip
BOUGHT = Option(id="A1", name="magazine", kind="bought", owner="production engineer")
CHEAP = Option(id="N2", name="cart", kind="low_capital", owner="works manager")
TODAY_H = {"span_weeks": 1.0, "hours_needed": 100.0, "overtime_h": 6.0, "subcontract_h": 8.0, "unmet_h": 4.0}
CREW = Roster(
    posts=(
        Post("OP-1", "early", ("load", "clear"), 30.0, 36.0),
        Post("OP-2", "late", ("load", "clear"), 30.0, 36.0),
    ),
    overtime_shift="early",
    attended_h_per_day=14.5,
)  # fmt: skip


def hand_plant(*options: Option, money: Money = MONEY, rules: Rules | None = None, **finance: Any) -> PlantInputs:
    """The small plant with these options, prices and finance settings."""
    settings = small_settings()
    plain = settings.finance.model_validate({**PLAIN, **finance})
    update = {"finance": plain, "money": money, "people": People(overtime_premium=0.5, night_premium=0.25)}
    if rules is not None:
        update["rules"] = rules
    return dataclasses.replace(small_plant(), settings=settings.model_copy(update=update), options=options)


def totals(name: str = "A1", options: tuple[str, ...] = ("A1",), roster: Roster = CREW, **changes: float
           ) -> ScenarioTotals:  # fmt: skip
    """Totals of one week at demand 1: today's hours with changes."""
    return ScenarioTotals(name, {1.0: {**TODAY_H, **changes}}, options, roster)


def today(roster: Roster = CREW, **changes: float) -> ScenarioTotals:
    return totals("today", (), roster, **changes)


def table(plant: PlantInputs, before: ScenarioTotals, *after: ScenarioTotals, **more: Any) -> CashFlowTable:
    return build_cashflow(plant, before, after, **more)


def amounts(cashflow: CashFlowTable, line: str, scenario: str = "A1", kind: str | None = None) -> list[float]:
    """Sum of a line by year, year 0 first."""
    classes = [kind] if kind else {row.benefit_class for row in cashflow.rows}
    return [round(x, 6) for x in cashflow.flows(scenario, classes, lines=[line]).tolist()]


def figures(cashflow: CashFlowTable, scenario: str = "A1") -> list[list[float]]:
    """Cash by year of the three figures, year 0 first."""
    return [figure_flows(cashflow, scenario, figure).tolist() for figure in FIGURE_CLASSES]


def written(cashflow: CashFlowTable, scenario: str = "A1") -> list[float]:
    """Depreciation by year, year 1 first."""
    return cashflow.of(scenario).written[1:, 0].tolist()


def hours_of(cashflow: CashFlowTable, kind: str, scenario: str = "A1") -> list[float]:
    """Hours of a year of full use of one kind, year 1 first."""
    return cashflow.of(scenario).hours[kind][1:, 0].tolist()
