"""Settings of Tarnholt: the content of plant.toml."""

from __future__ import annotations

from typing import Any

from families import SEED
from settings_base import WORKDAYS, settings

EARLY = {"name": "early", "days": WORKDAYS, "start": "06:00", "end": "14:00",
         "breaks": [["09:00", "09:15"], ["12:00", "12:30"]]}  # fmt: skip
LATE = {"name": "late", "days": WORKDAYS, "start": "14:00", "end": "22:00",
        "breaks": [["17:00", "17:15"], ["19:30", "20:00"]]}  # fmt: skip
SATURDAY = {"days": ["Sat"], "start": "06:00", "end": "12:00"}


def plant_settings() -> dict[str, Any]:
    """Return the settings as nested dictionaries."""
    return settings(
        "Tarnholt Foldworks, Ostermere (invented)",
        calendar={"shifts": [EARLY, LATE], "overtime": [SATURDAY], "overtime_people": ["OP-E", "BEN-E"]},
        rules={"planning_factor": 1.05, "overtime_cap_h_per_week": 6.0, "subcontract_cap_h_per_week": 8.0},
        overflow={},
        seed=SEED,
        remnants_kept=0.3,
        demand=[
            {"from_year": 1, "factor": 1.0, "signed": True},
            {"from_year": 2, "factor": 1.25, "signed": True},
            {"from_year": 3, "factor": 1.6, "signed": False},
        ],
        demand_levels=[0.8, 1.0, 1.25, 1.6],
        demand_range=(1.05, 1.4),
    )  # fmt: skip
