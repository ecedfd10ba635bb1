"""Usual ranges of numbers, by table and column or by section and key: what lies outside is a note, never an error.

A range says what a plant of this trade usually writes; a number outside it may be right. Where no source is named, the
range is common practice, no source. An explicit 0 is an answer and is never noted.
"""

from __future__ import annotations

from dataclasses import dataclass

from simkit.base.messages import plain
from simkit.base.units import OTHER_UNITS
from simkit.base.vocabulary import NO_SOURCE

FRACTION = "fraction"
"""Unit of a share, never shown: it tells as what else the number may have been meant."""


@dataclass(frozen=True)
class Usual:
    """A usual range, its unit, and who says so."""

    low: float
    high: float
    unit: str = ""
    source: str = NO_SOURCE

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high

    def __str__(self) -> str:
        """Return the range in words."""
        return f"{plain(self.low)} to {self.with_unit(self.high)} ({self.source})"

    def with_unit(self, value: float) -> str:
        """Return a number with the unit of the range."""
        return f"{plain(value)} {self.unit}" if self.unit not in ("", FRACTION) else plain(value)

    def readings(self, value: float) -> str:
        """Return as which other unit a number outside the range would be usual, in words, or nothing."""
        found = [
            f"if {plain(value)} is in {unit}, it is {self.with_unit(value * factor)}"
            for unit, factor in OTHER_UNITS.get(self.unit, {}).items()
            if value * factor in self
        ]
        return "; ".join(found)


SHEAR = "trade chart, aluminium 1100-O to medium-carbon steel"
LASERS = "CO2 0.05 to 0.12, fibre up to 0.4 and 0.45; one page and memory"
MEMORY = "handbook values from memory: magnesium 1740, copper 8940"
CV = Usual(0.02, 1.5, FRACTION)

COLUMNS: dict[str, Usual] = {
    "orders.sheets": Usual(1, 500, "sheets"),
    "programs.sheet_length_mm": Usual(500, 4500, "mm"),
    "programs.sheet_width_mm": Usual(300, 2100, "mm"),
    "programs.hits_per_sheet": Usual(1, 10_000, "hits"),
    "programs.forming_hits_per_sheet": Usual(1, 2000, "hits"),
    "programs.cut_length_mm": Usual(50, 400_000, "mm"),
    "programs.contours": Usual(1, 3000),
    "programs.repositions": Usual(1, 12),
    "programs.remnant_share": Usual(0.02, 0.8, FRACTION),
    "programs.measured_run_s": Usual(10, 7200, "s"),
    "programs.mean_pitch_mm": Usual(1, 600, "mm"),
    "programs.rapid_mm": Usual(5, 1500, "mm"),
    "program_parts.per_sheet": Usual(1, 1000, "parts"),
    "program_parts.length_mm": Usual(10, 4500, "mm"),
    "program_parts.width_mm": Usual(5, 2100, "mm"),
    "program_parts.mass_kg": Usual(0.002, 100, "kg"),
    "program_parts.form_height_mm": Usual(0.2, 80, "mm"),
    "program_parts.flat_area_mm2": Usual(100, 5e6, "mm2"),
    "program_parts.clear_circle_mm": Usual(5, 2000, "mm"),
    "program_parts.tabs": Usual(1, 40),
    "program_tools.hits_per_sheet": Usual(1, 8000, "hits"),
    "tools.length_mm": Usual(0.5, 250, "mm"),
    "tools.width_mm": Usual(0.5, 250, "mm"),
    "tools.station_size_mm": Usual(6, 200, "mm"),
    "tools.form_height_mm": Usual(0.2, 40, "mm"),
    "tools.clearances": Usual(0.03, 4, "mm"),
    "tools.copies": Usual(1, 10),
    "tools.life_hits": Usual(2000, 1e6, "hits"),
    "tools.life_cv": CV,
    "tools.regrind_limit_hits": Usual(2000, 1e6, "hits"),
    "tools.grind_life": Usual(1, 60),
    "materials.thickness_mm": Usual(0.4, 13, "mm"),
    "materials.density_kg_m3": Usual(1700, 9000, "kg/m3", MEMORY),
    "materials.cutting_speed_m_min": Usual(0.3, 80, "m/min"),
    "materials.pierce_s": Usual(0.03, 6, "s"),
    "materials.shear_strength_mpa": Usual(62, 552, "MPa", SHEAR),
    "materials.tensile_mpa": Usual(60, 1700, "MPa"),
    "materials.wear_factor": Usual(0.2, 10),
    "materials.nozzle_mm": Usual(0.8, 5, "mm"),
    "materials.gas_pressure_bar": Usual(0.3, 35, "bar"),
    "materials.sheets_per_pack": Usual(5, 500, "sheets"),
    "elements.cv": CV,
    "people.absence_share": Usual(0.005, 0.3, FRACTION),
    "people.elsewhere_min": Usual(1, 480, "min"),
    "people.elsewhere_per_h": Usual(0.02, 12, "calls/h"),
    "people.elsewhere_cv": CV,
    "start.clearance_mm": Usual(0.03, 4, "mm"),
    "start.hits": Usual(1, 1e6, "hits"),
    "start.grinds": Usual(1, 60),
    "start.sheets": Usual(1, 500, "sheets"),
    "start.due_in_days": Usual(1, 120, "days"),
    "history.sheets": Usual(1, 500, "sheets"),
    "history.scrap": Usual(1, 100, "sheets"),
    "stops.retries": Usual(1, 10),
    "stops.retry_success": Usual(0.05, 1, FRACTION),
    "stops.retry_s": Usual(1, 600, "s"),
    "stops.repair_min": Usual(0.1, 1440, "min"),
    "stops.repair_cv": Usual(0.02, 3, FRACTION),
    "stops.sheets_scrapped": Usual(0.005, 10, "sheets"),
    "stops.break_share": Usual(0.005, 1, FRACTION),
    "stops.early_factor": Usual(0.3, 20),
    "stops.settle_weeks": Usual(0.5, 60, "weeks"),
    "load_faults.rate": Usual(0.00001, 0.1, FRACTION),
    "load_faults.break_share": Usual(0.01, 1, FRACTION),
    "load_faults.found_first_piece": Usual(0.05, 1, FRACTION),
    "load_faults.found_after_sheets": Usual(1, 60, "sheets"),
    "load_faults.repair_min": Usual(1, 480, "min"),
    "load_faults.repair_cv": CV,
    "upkeep.duration_min": Usual(0.1, 480, "min"),
    "upkeep.duration_cv": CV,
    "upkeep.isolation_min": Usual(0.05, 60, "min"),
    "quality.rate": Usual(0.0005, 0.3, FRACTION),
    "quality.rework_min": Usual(0.1, 120, "min"),
    "quality.scrap_share": Usual(0.01, 1, FRACTION),
    "observed.attended_h": Usual(10, 168, "h"),
    "observed.sheets": Usual(10, 10_000, "sheets"),
    "observed.parts": Usual(20, 500_000, "parts"),
    "observed.orders_finished": Usual(2, 1000),
    "observed.setup_h": Usual(0.5, 168, "h"),
    "observed.handling_h": Usual(0.5, 168, "h"),
    "observed.process_h": Usual(1, 168, "h"),
    "observed.stopped_h": Usual(0.1, 168, "h"),
    "observed.tool_loads": Usual(2, 5000),
    "observed.die_changes": Usual(2, 5000),
}
"""By table and column."""

RATES: dict[str, Usual] = {
    "running_hour": Usual(0.0005, 30, "stops/h"), "calendar_hour": Usual(0.0002, 10, "stops/h"),
    "sheet": Usual(1e-5, 0.3), "part": Usual(1e-6, 0.05), "pick": Usual(1e-5, 0.1), "hit": Usual(1e-9, 0.001),
    "contour": Usual(1e-7, 0.02), "tool_load": Usual(1e-4, 0.1),
}  # fmt: skip
"""Stops by exposure."""

INTERVALS: dict[str, Usual] = {
    "running_hour": Usual(0.5, 4000, "h"), "cutting_hour": Usual(0.5, 4000, "h"), "sheet": Usual(1, 50_000, "sheets"),
    "open_day": Usual(1, 370, "days"), "slug_kg": Usual(20, 5000, "kg"),
}  # fmt: skip
"""Intervals of upkeep by exposure."""

SETTINGS: dict[str, Usual] = {
    "calendar.handover_min": Usual(1, 30, "min"),
    "calendar.night.on_call_response_min": Usual(5, 180, "min"),
    "people.walk_s": Usual(1, 300, "s"),
    "people.utilisation_limit": Usual(0.5, 1, FRACTION),
    "people.overtime_premium": Usual(0.1, 1.5, FRACTION),
    "people.night_premium": Usual(0.05, 1.5, FRACTION),
    "people.standby_share": Usual(0.01, 0.6, FRACTION),
    "machine.stations.size_mm": Usual(6, 200, "mm"),
    "machine.stations.also_mm": Usual(6, 200, "mm"),
    "machine.stations.tools": Usual(1, 24),
    "machine.stations.count": Usual(1, 80),
    "machine.tall_form_mm": Usual(1, 40, "mm"),
    "machine.press_capacity_kn": Usual(80, 800, "kN"),
    "machine.laser_power_kw": Usual(0.5, 20, "kW"),
    "machine.one_person_kg": Usual(5, 60, "kg"),
    "machine.running_kw": Usual(2, 120, "kW"),
    "machine.idle_kw": Usual(0.2, 60, "kW"),
    "machine.gas_m3_per_h": Usual(1, 200, "m3/h"),
    "machine.stripping_share": Usual(0.05, 0.20, FRACTION, "teaching pages"),
    "machine.force_margin": Usual(1.1, 1.5),
    "machine.laser_efficiency": Usual(0.05, 0.45, FRACTION, LASERS),
    "machine.motion.x_speed_m_s": Usual(0.2, 4, "m/s"),
    "machine.motion.y_speed_m_s": Usual(0.2, 4, "m/s"),
    "machine.motion.x_accel_m_s2": Usual(0.5, 40, "m/s2"),
    "machine.motion.y_accel_m_s2": Usual(0.5, 40, "m/s2"),
    "machine.motion.jerk_m_s3": Usual(5, 5000, "m/s3"),
    "machine.motion.ram_s": Usual(0.01, 1, "s"),
    "machine.motion.forming_ram_s": Usual(0.05, 6, "s"),
    "machine.motion.settle_s": Usual(0.002, 0.5, "s"),
    "machine.motion.clamping_s": Usual(0.5, 30, "s"),
    "machine.motion.turret_step_s": Usual(0.02, 2, "s"),
    "machine.motion.turret_lock_s": Usual(0.05, 5, "s"),
    "machine.motion.rapid_m_s": Usual(0.2, 6, "m/s"),
    "machine.motion.rapid_m_s2": Usual(0.5, 60, "m/s2"),
    "machine.motion.height_sense_s": Usual(0.02, 4, "s"),
    "machine.motion.lead_in_mm": Usual(0.5, 25, "mm"),
    "store.shelves": Usual(1, 200),
    "store.packs": Usual(1, 50),
    "store.remnants_kept": Usual(0.02, 1, FRACTION),
    "removal.pickers": Usual(1, 4),
    "removal.max_removed_share": Usual(0.2, 1, FRACTION),
    "removal.max_mass_kg": Usual(1, 150, "kg"),
    "removal.min_side_mm": Usual(20, 400, "mm"),
    "removal.max_side_mm": Usual(300, 4500, "mm"),
    "removal.max_form_height_mm": Usual(1, 80, "mm"),
    "removal.min_flat_area_mm2": Usual(100, 200_000, "mm2"),
    "removal.min_clear_circle_mm": Usual(5, 300, "mm"),
    "removal.stack_places": Usual(1, 40),
    "removal.stack_height_mm": Usual(50, 1500, "mm"),
    "removal.stack_mass_kg": Usual(50, 5000, "kg"),
    "removal.skeleton_places": Usual(5, 500),
    "removal.kit_orders": Usual(1, 50),
    "removal.yield_loss": Usual(0.002, 0.2, FRACTION),
    "bench.places": Usual(1, 60, "sheets"),
    "stack.places": Usual(1, 300, "sheets"),
    "rules.window_orders": Usual(2, 100, "orders"),
    "rules.search_evaluations": Usual(10, 5000),
    "rules.due_guard_days": Usual(0.2, 10, "days"),
    "rules.merge_days": Usual(0.5, 30, "days"),
    "rules.lookahead_orders": Usual(1, 200, "orders"),
    "rules.lookahead_sheets": Usual(1, 50, "sheets"),
    "rules.late_share_limit": Usual(0.005, 0.3, FRACTION),
    "rules.overtime_cap_h_per_week": Usual(1, 40, "h"),
    "rules.subcontract_cap_h_per_week": Usual(1, 168, "h"),
    "rules.night_share_planned": Usual(0.02, 1, FRACTION),
    "rules.planning_factor": Usual(1, 2),
    "rules.planner_load_share": Usual(0.02, 1, FRACTION),
    "rules.planner_die_share": Usual(0.02, 1, FRACTION),
    "rules.other_losses": Usual(0.005, 0.4, FRACTION),
    "overflow.least_h": Usual(0.1, 40, "h"),
    "overflow.tolerance_days": Usual(0.1, 15, "days"),
    "overflow.overtime_block_h": Usual(0.25, 12, "h"),
    "overflow.subcontract_lead_days": Usual(0.5, 40, "days"),
    "overflow.subcontract_confirmed_h_per_week": Usual(1, 168, "h"),
    "finance.discount_rate": Usual(0.01, 0.3, FRACTION),
    "finance.inflation": Usual(0.002, 0.2, FRACTION),
    "finance.wage_growth": Usual(0.002, 0.2, FRACTION),
    "finance.price_growth": Usual(0.002, 0.2, FRACTION),
    "finance.tax_rate": Usual(0.02, 0.6, FRACTION),
    "finance.residual_share": Usual(0.01, 0.6, FRACTION),
    "finance.ramp_start": Usual(0.1, 1, FRACTION),
    "finance.ramp_months": Usual(0.5, 36, "months"),
    "finance.production_weeks": Usual(30, 53, "weeks"),
    "finance.stop_bundle_share": Usual(0.02, 1, FRACTION),
    "finance.demand.factor": Usual(0.2, 5),
    "financing.borrowing_rate": Usual(0.005, 0.3, FRACTION),
    "financing.loan_share": Usual(0.05, 1, FRACTION),
    "financing.loan_rate": Usual(0.005, 0.3, FRACTION),
    "financing.lease_rent_share": Usual(0.02, 0.6, FRACTION),
    "financing.lease_end_share": Usual(0.002, 0.6, FRACTION),
    "run.replications": Usual(2, 1000),
    "run.weeks": Usual(0.5, 60, "weeks"),
    "run.demand_factor": Usual(0.2, 5),
    "run.demand_levels": Usual(0.2, 5),
    "run.max_weeks": Usual(1, 200, "weeks"),
    "risk.samples": Usual(100, 100_000),
    "risk.payback_limit_years": Usual(0.5, 15, "years"),
}
"""By section and key of plant.toml."""

OPTIONS: dict[str, Usual] = {
    "yearly_labour_h": Usual(2, 4000, "h"),
    "lead_weeks": Usual(0.5, 104, "weeks"),
    "stop_days": Usual(0.25, 40, "days"),
    "life_years": Usual(2, 30, "years"),
    "grant_share": Usual(0.02, 0.6, FRACTION),
    "persistence": Usual(0.1, 1, FRACTION),
}
"""By key of an option."""
