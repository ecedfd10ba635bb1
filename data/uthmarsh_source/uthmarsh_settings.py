"""Settings of Uthmarsh: two shifts, short lead times, a neighbour who helps out within a day."""

from __future__ import annotations

from typing import Any

from settings_base import WORKDAYS, settings
from uthmarsh_facts import SEED

EARLY = {"name": "early", "days": WORKDAYS, "start": "06:00", "end": "14:00",
         "breaks": [["09:00", "09:15"], ["12:00", "12:30"]]}  # fmt: skip
LATE = {"name": "late", "days": WORKDAYS, "start": "14:00", "end": "22:00",
        "breaks": [["17:00", "17:15"], ["19:30", "20:00"]]}  # fmt: skip
SATURDAY = {"days": ["Sat"], "start": "06:00", "end": "12:00"}


def plant_settings() -> dict[str, Any]:
    """Return the settings as nested dictionaries."""
    return settings(
        "Uthmarsh Trialworks (invented)",
        calendar={"shifts": [EARLY, LATE], "overtime": [SATURDAY], "overtime_people": ["OP-E", "BEN-E"]},
        rules={"planning_factor": 1.1, "overtime_cap_h_per_week": 6.0, "subcontract_cap_h_per_week": 20.0,
               "dispatch": "due"},
        overflow={"subcontract_lead_days": 1.0, "subcontractor": "an invented neighbour",
                  "subcontract_confirmed_h_per_week": 20.0, "refuse": False},
        seed=SEED,
        remnants_kept=0.3,
        weeks=5.0,
        demand=[
            {"from_year": 1, "factor": 1.0, "signed": True},
            {"from_year": 2, "factor": 1.25, "signed": True},
        ],
        demand_levels=[0.8, 1.0, 1.25],
        demand_range=(1.05, 1.4),
    )  # fmt: skip
