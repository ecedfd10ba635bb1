"""Figures: each function takes plain data and returns an Exhibit (drawing, title sentence, description)."""

from simkit.report.figures.bars import difference_bars, stacked_hours, time_in_state
from simkit.report.figures.lines import cumulative_cash, hours_against_demand
from simkit.report.figures.nights import (
    Nights,
    NightStep,
    ends_of_nights,
    hours_of_nights,
    lateness_bars,
    night_ends,
    night_hours,
    steps_of_nights,
)
from simkit.report.figures.ribbon import week_ribbon
from simkit.report.figures.risk import demand_wage_map, tornado, value_distribution

__all__ = [
    "NightStep",
    "Nights",
    "cumulative_cash",
    "demand_wage_map",
    "difference_bars",
    "ends_of_nights",
    "hours_against_demand",
    "hours_of_nights",
    "lateness_bars",
    "night_ends",
    "night_hours",
    "stacked_hours",
    "steps_of_nights",
    "time_in_state",
    "tornado",
    "value_distribution",
    "week_ribbon",
]
