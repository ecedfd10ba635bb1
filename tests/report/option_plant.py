"""The small plant with low-capital, calendar and bought options, for the studies."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

from simkit.plant.options import CapitalLine, Edit, Option, Range, ShareRange
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import NightSettings, Shift, WeeklyWindow
from simkit.plant.settings_money import DemandYear, Finance
from simkit.plant.tables import LoadFault, ObservedWeek
from tests.small_plant import MONDAY, WORKDAYS, small_plant, write_small_plant

SCENARIOS: dict[str, tuple[str, ...]] = {
    "today": (), "N1": ("N1",), "N2": ("N2",), "N1+N2": ("N1", "N2"), "C2": ("C2",), "A1": ("A1",), "A4": ("A4",),
    "A1+A4": ("A1", "A4"), "A4+C1": ("A4", "C1"), "N1+N2+A1": ("N1", "N2", "A1"), "N1+N2+A4": ("N1", "N2", "A4"),
    "N1+N2+A1+A4": ("N1", "N2", "A1", "A4"), "N1+N2+A4+C1": ("N1", "N2", "A4", "C1"),
    "N1+N2+A1+A4+C1": ("N1", "N2", "A1", "A4", "C1"),
}  # fmt: skip


def _options() -> tuple[Option, ...]:
    search = "elements[tool_search].typical"
    half = ShareRange(low=0.5, quoted=0.8, high=1.0)
    return (
        Option(id="N1", name="Sequencing rule", kind="low_capital", capital=Range(low=0, quoted=1000, high=3000),
               owner="works manager", persistence=half, edits=(Edit(path="plant.rules.dispatch", value="grouped"),)),
        Option(id="N2", name="Setup cart", kind="low_capital", capital=Range(low=3000, quoted=5500, high=9000),
               owner="works manager", persistence=half, edits=(Edit(path=search, value=0.2),)),
        Option(id="C2", name="Second bench place", kind="calendar",
               edits=(Edit(path="plant.bench.places", op="add", value=1),)),
        Option(id="A1", name="Tool magazine", kind="bought", capital=Range(low=160e3, quoted=185e3, high=215e3),
               yearly_cost=9000, lead_weeks=30, stop_days=5, life_years=10,
               edits=(Edit(path="plant.magazine.places", value={"16": 20, "30": 10, "55": 5}),)),
        Option(id="A4", name="Part removal", kind="bought", capital=Range(low=260e3, quoted=305e3, high=380e3),
               capital_lines=(CapitalLine(line="fire detection", quoted=9000),), yearly_cost=14000, lead_weeks=36,
               stop_days=10, life_years=10, edits=(Edit(path="plant.removal.pickers", value=2),),
               note="First pieces still need a person."),
        Option(id="C1", name="Unattended evening", kind="calendar", needs=("A4",),
               capital=Range(low=5e3, quoted=8e3, high=12e3),
               edits=(Edit(path="plant.calendar.night.rule", value="allowed"),)),
    )  # fmt: skip


def _observed() -> tuple[ObservedWeek, ...]:
    common = {"attended_h": 72.5, "parts": 3600, "process_h": 25.0, "stopped_h": 2.5, "handling_h": 16.0}
    counts = {"tool_loads": 90, "die_changes": 117, "orders_finished": 45}
    return tuple(
        ObservedWeek(
            week=week, monday=MONDAY + dt.timedelta(weeks=week - 5), sheets=270 + week, setup_h=24.0 + week,
            use="calibrate" if week <= 2 else "validate", **common, **counts,
        )
        for week in (1, 2, 3, 4)
    )  # fmt: skip


def _faults() -> tuple[LoadFault, ...]:
    """A wrong die now and then, an assumed rate."""
    fault = LoadFault(
        fault="wrong die", exchanges=("tool_load", "die_change"), rate=0.01, found_first_piece=0.8,
        found_after_sheets=2.0, repair_min=20.0,
    )  # fmt: skip
    return (fault,)


def option_plant(*, assessed_by: str = "safety group") -> PlantInputs:
    """The small plant with options, observed weeks, a demand path and an assessed night."""
    plant = small_plant(options=_options(), observed=_observed(), load_faults=_faults())
    shifts = (Shift(name="early", days=WORKDAYS, start="06:00", end="14:00"),
              Shift(name="late", days=WORKDAYS, start="14:00", end="22:00"))  # fmt: skip
    night = NightSettings(
        windows=(WeeklyWindow(days=WORKDAYS, start="22:00", end="06:00"),),
        assessed_by=assessed_by, assessed_on="2026-01-02" if assessed_by else "",
    )  # fmt: skip
    finance = Finance(demand=(DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=1.25)))
    settings = plant.settings.model_copy(
        update={
            "calendar": plant.settings.calendar.model_copy(update={"night": night, "shifts": shifts}),
            "finance": finance,
            "money": plant.settings.money.model_copy(update={"margin_per_h": 95.0}),
        }
    )
    return dataclasses.replace(plant, settings=settings)


def write_option_plant(folder: Path) -> Path:
    """Write it as a plant folder."""
    plant = option_plant()
    changes = {field.name: getattr(plant, field.name) for field in dataclasses.fields(plant)}
    return write_small_plant(folder, **changes)
