"""Settings of Quennow: one long shift, and a signed demand that it cannot make."""

from __future__ import annotations

from typing import Any

from quennow_facts import CLEARANCES_HELD, SEED, SHOP
from settings_base import WORKDAYS, settings
from work_rows import tool_id

DAY = {"name": "day", "days": WORKDAYS, "start": "06:00", "end": "16:00",
       "breaks": [["09:00", "09:15"], ["12:00", "12:30"], ["14:15", "14:30"]]}  # fmt: skip
SATURDAY = {"days": ["Sat"], "start": "06:00", "end": "12:00"}


def pinned() -> list[str]:
    """Return the standard layout: every tool stands, cutting tools at both clearances."""
    places = []
    for row, tool in enumerate(SHOP.tools):
        held = [""] if tool.forming else [f"@{clearance:.2f}" for clearance in CLEARANCES_HELD]
        places += [f"{tool_id(row)}{clearance}" for clearance in held]
    return places


def plant_settings() -> dict[str, Any]:
    """Return the settings as nested dictionaries."""
    return settings(
        "Quennow Panelworks (invented)",
        calendar={"shifts": [DAY], "overtime": [SATURDAY], "overtime_people": ["OP-1", "BEN-1"]},
        rules={"planning_factor": 1.24, "planner_load_share": 0.0,
               "planner_die_share": 0.0, "overtime_cap_h_per_week": 6.0, "subcontract_cap_h_per_week": 20.0,
               "first_piece": "new_program", "pinned": pinned()},
        overflow={"subcontractor": "an invented subcontractor", "subcontract_confirmed_h_per_week": 20.0},
        seed=SEED,
        demand=[{"from_year": 1, "factor": 1.0, "signed": True}],
        demand_levels=[0.625, 0.8, 1.0],
        demand_range=(0.8, 1.1),
    )  # fmt: skip
