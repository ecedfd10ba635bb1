"""Plants from which nothing, or much, is left to gain, and runs of the demo's options on them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from simkit.experiment.results import Results
from simkit.experiment.runner import run_scenarios
from simkit.finance.cashflow import build_cashflow
from simkit.finance.evaluate import MoneyResult, evaluate
from simkit.finance.inputs import totals_from
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings import Station
from simkit.plant.settings_money import DemandYear
from simkit.plant.tables import ProgramPart, StartRow
from tests.demo.described import described
from tests.small_plant import changed_settings

DEMO = Path(__file__).resolve().parents[2] / "data" / "tarnholt"
TODAY = "today"
Scene = tuple[str, Sequence[str], Sequence[str]]
"""Name, options, overrides."""


# ---- plants ----


@cache
def whole_demo() -> PlantInputs:
    """The demo as it is."""
    return read_plant(DEMO, calibrated=False)


@cache
def demo() -> PlantInputs:
    """The book of the description, for which there is time enough, without overtime, subcontract and refusal."""
    return settings(described(whole_demo()), overflow=dict.fromkeys(("overtime", "subcontract", "refuse"), False))


def settings(plant: PlantInputs, **sections: dict[str, Any]) -> PlantInputs:
    """The plant with keys of settings changed."""
    return dataclasses.replace(plant, settings=changed_settings(plant.settings, sections))


def rows(plant: PlantInputs, table: str, where: Callable[[Any], bool] = lambda _: True, **changes: Any) -> PlantInputs:
    """The plant with the rows of a table changed that fulfil a condition."""
    changed = (dataclasses.replace(row, **changes) if where(row) else row for row in getattr(plant, table))
    return dataclasses.replace(plant, **{table: tuple(changed)})


def element(plant: PlantInputs, **minutes: float) -> PlantInputs:
    """The plant with the typical time of elements changed."""
    for name, typical in minutes.items():
        plant = rows(plant, "elements", lambda row, name=name: row.element == name, typical=typical)
    return plant


def slower_bench(plant: PlantInputs, factor: float) -> PlantInputs:
    """The plant with all bench times multiplied."""
    slow = (dataclasses.replace(row, typical=factor * row.typical) if row.state == "bench" else row
            for row in plant.elements)  # fmt: skip
    return dataclasses.replace(plant, elements=tuple(slow))


def alike_tools(plant: PlantInputs) -> PlantInputs:
    """Every program uses the three tools of one, at one clearance; they stand in the turret and never wear."""
    uses = plant.tools_of["LOCK-004"]
    return dataclasses.replace(
        rows(rows(plant, "materials", clearance_mm=0.3), "tools", life_hits=None, regrind_limit_hits=None),
        program_tools=tuple(dataclasses.replace(use, program_id=p.program_id) for p in plant.programs for use in uses),
        start=tuple(StartRow(what="turret", item=use.tool_id, clearance_mm=0.3) for use in uses),
    )


def no_cutting(plant: PlantInputs) -> PlantInputs:
    """Programs that only punch."""
    without = tuple(row for row in plant.elements if row.state != "cutting")
    return dataclasses.replace(rows(plant, "programs", cut_length_mm=0.0, contours=0), elements=without)


def parts(plant: PlantInputs, **facts: Any) -> PlantInputs:
    """The plant with one kind of part on every sheet."""
    facts = {"length_mm": 600, "width_mm": 400, "mass_kg": 3, "flat_area_mm2": 90000, "tabs": 4, **facts}
    return dataclasses.replace(plant, program_parts=tuple(
        ProgramPart(program_id=program.program_id, part_id="A", **facts) for program in plant.programs
    ))  # fmt: skip


def one_material(plant: PlantInputs) -> PlantInputs:
    """Every program of one material, whose first fetch takes no time."""
    return element(rows(plant, "programs", material_id="MS-1.5"), material_fetch=0.0)


def no_forms(plant: PlantInputs) -> PlantInputs:
    """No forming tool, no formed and no sensitive part."""
    forming = {tool.tool_id for tool in plant.tools if tool.kind == "forming"}
    uses = tuple(use for use in plant.program_tools if use.tool_id not in forming)
    plant = dataclasses.replace(rows(plant, "programs", forming_hits_per_sheet=0), program_tools=uses)
    return rows(plant, "program_parts", surface_sensitive=False, form_height_mm=0.0)


def without_repeats(plant: PlantInputs) -> PlantInputs:
    """One order of each program, and nothing that waits."""
    once = tuple({order.program_id: order for order in plant.orders}.values())
    return dataclasses.replace(plant, orders=once, start=turret(plant))


def turret(plant: PlantInputs) -> tuple[StartRow, ...]:
    """What stands in the turret at the start."""
    return tuple(row for row in plant.start if row.what == "turret")


def due_at_once(plant: PlantInputs) -> PlantInputs:
    """Work in order of due dates, and every order due on the day it is released."""
    orders = tuple(dataclasses.replace(order, due=order.released) for order in plant.orders)
    plant = dataclasses.replace(settings(plant, rules={"dispatch": "due"}), orders=orders)
    return rows(plant, "start", lambda row: row.what == "backlog", due_in_days=0)


def wide_turret(plant: PlantInputs) -> PlantInputs:
    """A turret that holds every tool."""
    stations = [Station(size_mm=size, count=40, turning=True) for size in (16, 30, 55, 90)]
    plant = dataclasses.replace(plant, start=tuple(row for row in plant.start if row.what == "backlog"))
    return settings(plant, machine={"stations": stations})


def upkeep(plant: PlantInputs, name: str, **changes: Any) -> PlantInputs:
    """The plant with one care task changed."""
    return rows(plant, "upkeep", lambda row: row.task == name, **changes)


FAULTY_LOADS = 0.005
"""Share of the demo's loads by hand that go wrong, all kinds together."""


def fault_rate(plant: PlantInputs, share: float) -> PlantInputs:
    """The plant with another share of wrong tool loads, split over the kinds as before."""
    changed = (dataclasses.replace(row, rate=row.rate * share / FAULTY_LOADS) for row in plant.load_faults)
    return dataclasses.replace(plant, load_faults=tuple(changed))


# ---- runs ----


def simulated(plant: PlantInputs, *scenes: Scene, demand: float = 1.0) -> Results:
    """Two weeks, two replications, of today's plant and of others with the same luck."""
    today = make_scenario(plant)
    others = [make_scenario(plant, options, overrides, name=name) for name, options, overrides in scenes]
    return run_scenarios(
        today, [today, *others], replications=2, weeks=2, workers=1, progress=False, demand_factors=(demand,)
    )


def option(*names: str, overrides: Sequence[str] = ()) -> Scene:
    """A scene with the name of its options."""
    return "+".join(names), names, tuple(overrides)


def gained_h(results: Results, name: str, base: str = TODAY) -> Any:
    """Hours needed that a scenario saves, per replication."""
    return results.values(base, "hours_needed") - results.values(name, "hours_needed")


def differing(results: Results, name: str, base: str = TODAY) -> set[str]:
    """Measures that are not the same bit for bit; the busy hours of each person by one name, ``busy_h``."""
    factor = results.demand_factors[0]
    return {
        "busy_h" if measure.startswith("busy_h_") else measure for measure in results.measures
        if results.has(name, measure, factor) != results.has(base, measure, factor) or not np.array_equal(
            results.values(name, measure, factor), results.values(base, measure, factor))
    }  # fmt: skip


def money(plant: PlantInputs, name: str, demand: float = 1.0) -> MoneyResult:
    """What an option is worth at one demand."""
    today, other = make_scenario(plant), make_scenario(plant, (name,))
    totals = totals_from(simulated(plant, option(name), demand=demand), [today, other])
    path = (DemandYear(from_year=1, factor=demand),)
    finance = plant.settings.finance.model_copy(update={"demand": path})
    return evaluate(build_cashflow(plant, totals[TODAY], [totals[name]], finance=finance))[name]
