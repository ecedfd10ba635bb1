"""Indicators in the manner of ISO 22400-2 from the hours of simulated cases.

Which hours of the kit stand for which element of the standard is a choice, printed with the values: see
:data:`BOOKED`. The intervals are those of the replications.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import STATES
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.kpis import Kpi, evaluate_all, time_model
from simkit.experiment.results import Results
from simkit.plant.plant import Plant
from simkit.process.programs import program_tables, run_shares
from simkit.process.quantities import Floats

PRODUCTION = ("punching", "forming", "cutting")
SETUP = ("changeover", "first_piece")
DELAY = ("loading", "unloading", "waiting_person", "waiting_material", "blocked", "stopped")
NOT_ON_ORDERS = ("clear", "upkeep", "technician", "programming")
"""Tasks of people that are not work on orders."""

BOOKED: tuple[tuple[str, str], ...] = (
    ("PBT", "all machine hours that are neither closed nor upkeep: allowed unattended hours count"),
    ("APT", "hours of punching, forming and cutting"),
    ("AUST", "hours of changeover and first pieces"),
    (
        "ADET",
        "hours of loading, pulling out, waiting, blocked and stopped; with loading as production it would be less",
    ),
    ("ADOT", "hours without work"),
    ("PRI", "planned run time of a part: mean of the order book by today's rows and measured times"),
    ("PQ", "parts made, those on scrapped sheets included at the mean number of a sheet"),
    ("GQ", "parts made, less scrapped and reworked ones, which are expected values"),
    ("SQ", "parts scrapped, those on scrapped sheets included"),
    ("RQ", "parts reworked, expected value"),
    ("APWT", "people's hours, less clearing, upkeep, repairs and programming"),
    ("APAT", "people's busy hours over their share of busy time: the hours of their windows"),
    ("CMT", "hours stopped; a wait for whoever clears a stop is in it"),
    ("PMT", "hours of upkeep at the machine"),
)
"""Which hours and counts stand for each element."""
NOT_SHOWN = (
    "Not shown: mean time between failures, mean time to restoration and inherent availability need the single "
    "failures, of which results keep sums only."
)


@dataclass(frozen=True)
class Indicator:
    """An indicator with its record, its value in each case, and notes on elements that contradict each other."""

    kpi: Kpi
    values: dict[str, Estimate]
    notes: tuple[str, ...]


def indicators(plant: Plant, cases: Sequence[str], weekly: Results, demand_factor: float) -> tuple[Indicator, ...]:
    """Every indicator whose elements are known, for each case; ``weekly`` holds amounts a week.

    A value that is not defined in some replication (its denominator is zero) has no number, and says so as nan.
    """
    found: dict[str, Indicator] = {}
    for case in cases:
        for value in evaluate_all(elements_of(plant, case, weekly, demand_factor)):
            known = found.setdefault(value.kpi.name, Indicator(value.kpi, {}, ()))
            estimate = t_interval(value.value, value.kpi.unit) if np.isfinite(value.value).all() else _no_value(weekly)
            found[value.kpi.name] = Indicator(
                known.kpi, known.values | {case: estimate}, tuple(dict.fromkeys((*known.notes, *value.notes)))
            )
    return tuple(found.values())


def _no_value(weekly: Results) -> Estimate:
    return Estimate(float("nan"), float("nan"), weekly.replications)


def elements_of(plant: Plant, case: str, weekly: Results, demand_factor: float) -> dict[str, Floats]:
    """Elements of the indicators by their names in the standard, one value per replication, hours and parts a week."""

    def total(*measures: str) -> Floats:
        values = [weekly.raw(case, m, demand_factor) for m in measures if weekly.has(case, m, demand_factor)]
        return np.sum(values, axis=0) if values else np.zeros(weekly.replications)

    def hours(*states: str) -> Floats:
        return total(*(f"state_{state}_h" for state in states))

    made, sheets = total("parts"), total("sheets")
    lost = np.divide(total("sheets_scrapped") * made, sheets, out=np.zeros(len(sheets)), where=sheets > 0)
    model = time_model(hours(*PRODUCTION), hours(*SETUP), hours(*DELAY), hours("no_work"))
    busy, share = total("person_busy_h"), total("people_utilisation")
    return {
        "PBT": hours(*(state for state in STATES if state not in ("closed", "upkeep"))),
        "APT": hours(*PRODUCTION), "AUST": hours(*SETUP), "ADET": hours(*DELAY), "ADOT": hours("no_work"),
        "AUPT": model.AUPT, "AUBT": model.AUBT, "AOET": model.AOET,
        "PRI": np.full(len(sheets), planned_part_h(plant)),
        "PQ": made + lost, "GQ": np.maximum(made - total("parts_scrapped") - total("parts_reworked"), 0.0),
        "SQ": total("parts_scrapped") + lost, "RQ": total("parts_reworked"),
        "APWT": np.maximum(busy - total(*(f"person_{task}_h" for task in NOT_ON_ORDERS)), 0.0),
        "APAT": np.divide(busy, share, out=np.zeros(len(busy)), where=share > 0),
        "CMT": hours("stopped"), "PMT": hours("upkeep"),
    }  # fmt: skip


def planned_part_h(plant: Plant) -> float:
    """Planned run time of a part, h: run time of the book's sheets over their parts; 0 without parts."""
    tables = program_tables(plant)
    sheets = np.zeros(len(plant.programs))
    for order in plant.orders:
        sheets[tables.index[order.program_id]] += order.sheets
    run_s = float(sum(shares @ sheets for shares in run_shares(tables)))
    parts = float(sheets @ np.array([flow.parts for flow in tables.flows], float))
    return run_s / parts / SECONDS_PER_HOUR if parts else 0.0
