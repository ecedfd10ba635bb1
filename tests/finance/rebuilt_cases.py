"""A plant, and the simulated amounts of today and of five scenarios, for the cash that is built anew."""

from __future__ import annotations

import dataclasses

from simkit.finance.inputs import ScenarioTotals
from simkit.finance.roster import Post, Roster
from simkit.plant.options import CapitalLine, Option, Range, ShareRange
from simkit.plant.settings import Rules
from simkit.plant.settings_money import DemandYear
from tests.finance.hand import hand_plant

LOADERS = (
    Post("OP-1", "early", ("load", "clear"), 31.0, 36.25),
    Post("OP-2", "late", ("clear", "load"), 31.0, 30, 6.25),
)
BENCH = (
    Post("BE-1", "early", ("bench",), 26.0, 36.25, absence_share=0.05),
    Post("BE-2", "early", ("bench",), 27.0, 36.25),
)
SETTER = Post("SE-1", "early", ("preparation",), 36.0, 18.75, whole=False)
ROSTER = Roster((*LOADERS, *BENCH, SETTER), "early", 14.5)
SMALLER = Roster((*LOADERS, BENCH[0], SETTER), "early", 14.5)
LARGER = Roster((*ROSTER.posts, Post("NI-1", "night", ("load",), 33.0, 6.25, 30.0)), "early", 21.75)

WEEKS = 4.0
BASE = {
    "span_weeks": WEEKS, "hours_needed": 300.0, "inhouse_h": 260.0, "overtime_h": 12.0, "subcontract_h": 30.0,
    "unmet_h": 6.0, "person_overrun_h": 5.0, "sheets": 2000.0, "sheets_in_span": 1900.0, "parts": 9000.0,
    "parts_kg": 21000.0, "energy_kwh": 3500.0, "gas_m3": 4100.0, "tool_lives": 44.0,
    "material_kg_MS-1.5": 28000.0, "scrap_kg_MS": 7000.0, "lost_kg_MS": 300.0, "parts_scrapped": 90.0,
    "preparation_h": 4.0, "on_call_h": 0.0,
    "busy_h_OP-1": 110.0, "busy_h_OP-2": 95.0, "busy_h_BE-1": 128.0, "busy_h_BE-2": 125.0, "busy_h_SE-1": 10.0,
    "busy_h_NI-1": 0.0,
}  # fmt: skip
"""Today over four weeks at the demand of the book."""

HIGH = {"hours_needed": 380.0, "inhouse_h": 300.0, "overtime_h": 24.0, "subcontract_h": 52.0, "unmet_h": 20.0,
        "busy_h_OP-1": 128.0, "busy_h_OP-2": 124.0, "busy_h_BE-1": 135.0, "busy_h_BE-2": 138.0}  # fmt: skip
"""What differs at one and a half times that demand."""


def totals(name, options=(), roster=ROSTER, low=(), high=()):
    return ScenarioTotals(name, {1.0: {**BASE, **dict(low)}, 1.5: {**BASE, **HIGH, **dict(high)}}, options, roster)


def option(name, kind="bought", capital=0.0, **more):
    return Option(id=name, name=name, kind=kind, owner="works manager",
                  capital=Range(low=capital, quoted=capital, high=capital), **more)  # fmt: skip


FADING = ShareRange(low=0.5, quoted=0.8, high=1.0)
PLANT = hand_plant(
    option("N2", "low_capital", 5_500.0, yearly_labour_h=20.0, persistence=FADING, lead_weeks=4.0),
    option("A1", capital=185_000.0, yearly_cost=9_000.0, life_years=10.0, lead_weeks=30.0, stop_days=5.0,
           capital_lines=(CapitalLine(line="floor", quoted=2_500.0),)),
    option("A3", capital=60_000.0, yearly_cost=2_800.0, life_years=2.5, lead_weeks=26.0),
    option("A4", capital=305_000.0, life_years=8.0, lead_weeks=60.0, stop_days=10.0),
    option("C3", "calendar", 5_000.0, lead_weeks=8.0),
    rules=Rules(overtime_cap_h_per_week=2.0), horizon_years=8, tax_rate=0.22, wage_growth=0.03, price_growth=0.025,
    depreciation_years=5, residual_share=0.1, ramp_start=0.6, ramp_months=6.0, production_weeks=47.0, training=8_000.0,
    demand=(DemandYear(from_year=1, factor=1.0), DemandYear(from_year=3, factor=1.3)),
)  # fmt: skip
PLANT = dataclasses.replace(
    PLANT,
    tools=tuple(dataclasses.replace(tool, price=180.0 + 40 * i, grind_life=12) for i, tool in enumerate(PLANT.tools)),
)
TODAY = totals("today")
CART = totals(
    "N2", ("N2",),
    low={"hours_needed": 280.0, "inhouse_h": 262.0, "subcontract_h": 12.0, "preparation_h": 20.0, "busy_h_SE-1": 74.0},
    high={"hours_needed": 350.0, "subcontract_h": 40.0, "overtime_h": 20.0, "unmet_h": 12.0, "preparation_h": 30.0,
          "busy_h_SE-1": 110.0},
)  # fmt: skip
BOTH = {"inhouse_h": 265.0, "sheets_in_span": 1990.0, "parts_kg": 21900.0, "energy_kwh": 3900.0,
        "material_kg_MS-1.5": 29300.0, "lost_kg_MS": 310.0, "scrap_kg_MS": 7200.0}  # fmt: skip
GIVEN_UP = {"busy_h_BE-1": 190.0, "overtime_h": 30.0}
NO_SHORTAGE = {"subcontract_h": 0.0, "overtime_h": 0.0, "unmet_h": 0.0, "busy_h_NI-1": 90.0}
SCENARIOS = {
    "posts given up, which leaves the rest of the bench with too much": (
        totals("A3", ("A3",), SMALLER, low={"busy_h_BE-1": 150.0}, high=GIVEN_UP), None
    ),
    "a cart that moves work to a setter": (CART, None),
    "a device that loses orders": (
        totals("A1", ("A1",), low={"unmet_h": 9.0, "subcontract_h": 34.0, "tool_lives": 60.0, "energy_kwh": 4100.0},
               high={"unmet_h": 29.0, "subcontract_h": 60.0, "person_overrun_h": 9.0, "on_call_h": 2.0}), None
    ),
    "two devices and the cart": (
        totals("N2+A1+A4", ("N2", "A1", "A4"), low={**BOTH, "subcontract_h": 2.0, "overtime_h": 4.0, "unmet_h": 0.0},
               high={**BOTH, "subcontract_h": 20.0, "overtime_h": 10.0, "unmet_h": 2.0, "parts_scrapped": 70.0}), CART
    ),
    "a third shift": (
        totals("C3", ("C3",), LARGER, low=NO_SHORTAGE,
               high={"subcontract_h": 4.0, "unmet_h": 0.0, "busy_h_NI-1": 140.0, "busy_h_OP-1": 100.0}), None
    ),
}  # fmt: skip
"""Each with the scenario of the options in it that fade, where that is another one."""
