"""Settings that the demo plants share: machine, money, finance and risk of plant.toml."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from cell_rows import AS_OF, stations
from facts import MOTION
from work_rows import START_MONDAY

WORKDAYS = ["Mon", "Tue", "Wed", "Thu", "Fri"]
Section = Mapping[str, Any]


def settings(
    name: str, *, calendar: Section, rules: Section, overflow: Section, seed: int, demand: Sequence[Section],
    demand_levels: Sequence[float], demand_range: tuple[float, float], weeks: float = 12.0, remnants_kept: float = 0.0,
) -> dict[str, Any]:  # fmt: skip
    """Return the settings of a plant as nested dictionaries; what is not given is alike in all plants of the demo."""
    return {
        "name": name, "currency": "CU", "time_zone": "Europe/Berlin",
        "as_of": AS_OF, "study_paid_by": "nobody, it is a demo",
        "options_sold_by": "nobody, every price is invented for the demo",
        "calendar": {**calendar, "night": {"rule": "not_allowed"}},
        "people": {"overtime_premium": 0.35, "night_premium": 0.25},
        "machine": {
            "tall_form_mm": 5.0, "press_capacity_kn": 300.0, "laser_power_kw": 4.0, "lifter": True,
            "one_person_kg": 25.0, "nozzle_automatic": False, "clamps_automatic": True, "running_kw": 14.0,
            "idle_kw": 4.0, "gas_m3_per_h": 38.0, "laser_efficiency": 0.35, "stations": stations(), "motion": MOTION,
        },
        "bench": {"places": 3},
        **({"store": {"remnants_kept": remnants_kept}} if remnants_kept else {}),
        "rules": {
            "dispatch": "arrival", "window_orders": 10, "due_guard_days": 1.0, "eviction": "lru",
            "lookahead_orders": 20, "lookahead_sheets": 1, "first_piece": "each_order", "pinned": [],
            "late_share_limit": 0.05, **rules,
        },
        "overflow": {
            "least_h": 2.0, "tolerance_days": 0.0, "overtime": True, "overtime_block_h": 2.0, "subcontract": True,
            "subcontract_lead_days": 3.0, "refuse": True, **overflow,
        },
        "money": {
            "energy_per_kwh": 0.17, "gas_per_m3": 0.24, "subcontract_per_h": 118.0, "margin_per_h": 95.0,
            "bench_rate_per_h": 26.0, "setter_rate_per_h": 36.0, "programmer_rate_per_h": 39.0,
            "operator_rate_per_h": 31.0, "regrind_cost": 12.0,
        },
        "finance": _finance(demand),
        "financing": {
            "borrowing_rate": 0.06, "loan_share": 0.7, "loan_rate": 0.055, "loan_years": 5,
            "lease_rent_share": 0.225, "lease_years": 5, "lease_end_share": 0.05, "lease_in_advance": True,
        },
        "risk": _risk(*demand_range),
        "run": {
            "seed": seed, "replications": 6, "weeks": weeks, "demand_factor": 1.0,
            "demand_levels": list(demand_levels), "start_monday": START_MONDAY,
        },
    }  # fmt: skip


def _range(name: str, low: float, high: float, basis: str, owner: str) -> dict[str, Any]:
    return {"input": name, "low": low, "high": high, "basis": basis, "owner": owner, "source": "invented for the demo"}


def _risk(low: float, high: float) -> dict[str, Any]:
    """Return ranges of prices, terms and demand, pairs that move together, and past projects; all invented."""
    demand = _range("demand", low, high, "estimated", "sales")
    return {**RISK, "ranges": [*RISK["ranges"][:-1], demand, RISK["ranges"][-1]]}


RISK: dict[str, Any] = {
    "seed": 20407, "samples": 2048, "law": "triangular", "payback_limit_years": 3.0,
    "ranges": [
        _range("operator_wage", 30.0, 33.0, "estimated", "controller"),
        _range("overtime_premium", 0.35, 0.35, "measured", "controller"),
        _range("energy", 0.14, 0.24, "quoted", "buyer"),
        _range("gas", 0.21, 0.29, "quoted", "buyer"),
        _range("sheet", 0.9, 1.2, "estimated", "buyer"),
        _range("scrap", 0.7, 1.2, "estimated", "buyer"),
        _range("subcontract", 105.0, 128.0, "quoted", "buyer"),
        _range("wage_growth", 0.02, 0.04, "estimated", "controller"),
        _range("lead_time", 1.0, 1.5, "estimated", "production engineer"),
    ],
    "correlations": [
        {"first": "energy", "second": "gas", "coefficient": 0.4, "source": "invented for the demo"},
        {"first": "operator_wage", "second": "wage_growth", "coefficient": 0.5, "source": "invented for the demo"},
    ],
    "past_projects": [
        {"name": "bending machine", "year": 2019, "capital_planned": 240000.0, "capital_paid": 262000.0,
         "benefit_planned": 71000.0, "benefit_reached": 52000.0, "weeks_planned": 26.0, "weeks_taken": 34.0},
        {"name": "sheet store", "year": 2021, "capital_planned": 118000.0, "capital_paid": 121000.0,
         "benefit_planned": 24000.0, "benefit_reached": 22000.0, "weeks_planned": 20.0, "weeks_taken": 22.0},
        {"name": "deburring machine", "year": 2023, "capital_planned": 64000.0, "capital_paid": 73500.0,
         "benefit_planned": 18000.0, "benefit_reached": 14500.0, "weeks_planned": 14.0, "weeks_taken": 19.0},
    ],
}  # fmt: skip
"""Ranges of prices and terms, pairs that move together, and past projects; all invented."""


def budget(line: str, account: str, owner: str, falls_from: str) -> dict[str, str]:
    """Return a budget that amounts of a line move."""
    return {"line": line, "account": account, "owner": owner, "falls_from": falls_from}


BUDGETS = [
    budget("overtime", "cost centre cell, overtime pay", "works manager", "2027-01-01"),
    budget("overrun", "cost centre cell, overtime pay", "works manager", "2027-01-01"),
    budget("subcontract", "purchased services, cutting", "purchasing", "2027-01-01"),
    budget("posts", "cost centre cell, wages", "works manager", "2027-04-01"),
    budget("material", "material, sheet", "purchasing", "2027-01-01"),
    budget("scrap", "revenue, scrap", "purchasing", "2027-01-01"),
    budget("energy", "energy, hall 2", "works manager", "2027-01-01"),
    budget("gas", "assist gas", "purchasing", "2027-01-01"),
    budget("regrinds", "tool room", "works manager", "2027-01-01"),
    budget("tools", "tool purchases", "works manager", "2027-01-01"),
]


def _finance(demand: Sequence[Section]) -> dict[str, Any]:
    return {
        "value_rules": ["overtime", "subcontract", "sales", "posts"], "discount_rate": 0.09, "horizon_years": 8,
        "wage_growth": 0.03, "price_growth": 0.025, "tax_rate": 0.22, "depreciation_years": 8,
        "residual_share": 0.1, "ramp_start": 0.6, "ramp_months": 6.0, "production_weeks": 47.0,
        "payments": [["order", 0.6], ["delivery", 0.3], ["acceptance", 0.1]], "training": 8000.0,
        "stop_bundle_share": 0.3, "capital_budgets": [200000.0, 100000.0, 100000.0],
        "budget_lines": BUDGETS,
        "demand": list(demand),
    }  # fmt: skip
