"""Tables of times: from a program's data to its seconds, estimate beside measured, what elements rest on, limits."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.analysis.responses import Probe, time_probes
from simkit.analysis.sheet_times import ProgramTime, family_times, has_motion, most_hours, program_times, timings
from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.vocabulary import BASES, BENCH, HANDLING_STATES
from simkit.desk.notebook_display import titled
from simkit.desk.simulated import HALF, Simulated
from simkit.experiment.glossary import NEEDED
from simkit.finance.riskinputs import RiskInput
from simkit.plant.conditions import facts_of, split_unit
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element, Program
from simkit.process.elements import chosen_rows
from simkit.process.estimate import run_name
from simkit.process.lasernotes import book_flow, speed_checks
from simkit.process.pressnotes import press_uses
from simkit.process.programs import SHEET_DRIVERS, program_tables
from simkit.process.runningpower import estimated_running_kw
from simkit.report import sentences_times as say

if TYPE_CHECKING:
    from simkit.desk.plants import Scenario

BY_HAND = (*HANDLING_STATES, BENCH)
"""States of what happens to a sheet before and after its run."""
MOST_FORCES = 3
"""Press forces that are shown: those nearest to the capacity."""
MOST, ADDED = 10, 3
"""Inputs that are shown, and how many of them may be rows that only options add: common practice, no source."""


def program_table(scenario: Scenario, program: str = "") -> pd.DataFrame:
    """From a program's data to the seconds of its sheet; by default that with the most hours of the book.

    Raises BadInput with the nearest name for an unknown program.
    """
    plant = scenario.made.plant
    times = program_times(plant)
    known = {row.program.program_id: row for row in times}
    if program and program not in known:
        raise BadInput([Finding("programs", "there is no such program", nearest(program, known), value=program)])
    chosen = known[program] if program else next(iter(most_hours(times, 1)), times[0])
    frame = pd.DataFrame([*_of_run(plant, chosen), *_by_hand(plant, chosen.program)])
    at_machine = frame[frame["where"] != say.WHERE[BENCH]]
    total_s = float(at_machine["seconds_s"].sum())
    frame.insert(5, "of_the_machine_time_share", at_machine["seconds_s"] / total_s if total_s else np.nan)
    most = at_machine.sort_values("seconds_s").tail(1)
    return titled(
        frame, *say.program(chosen, plant, total_s, list(zip(most["element"], most["seconds_s"], strict=True)))
    )


def _rows_of(plant: PlantInputs, program: Program) -> dict[str, Element]:
    """The rows of elements that are for a program, by name."""
    return chosen_rows(plant.elements, facts_of(plant, program, plant.sheet_kg(program)))


def _of_run(plant: PlantInputs, row: ProgramTime) -> Iterator[dict[str, Any]]:
    """Elements of the run as simulated runs use them; those of a measured run are stretched alike to it."""
    bases: dict[str, list[str]] = {}
    for element in _rows_of(plant, row.program).values():
        bases.setdefault(run_name(split_unit(element.unit)[1]), []).append(element.basis)
    estimate = row.estimate
    stretch = estimate.run_s / (sum(e.run_s for e in estimate.elements) or 1.0)
    for e in estimate.elements:
        seconds = e.run_s * stretch
        yield {
            "where": say.WHERE["run"], "element": e.element, "count_per_sheet": e.count,
            "each_s": seconds / e.count if e.count else np.nan, "seconds_s": seconds,
            "rests_on": say.row_of(dict.fromkeys(bases[e.element])) if e.has_row and e.element in bases else e.source,
            "by_motion_s": np.nan if e.motion_s is None else e.motion_s,
        }  # fmt: skip


def _by_hand(plant: PlantInputs, program: Program) -> Iterator[dict[str, Any]]:
    """What happens to a sheet before and after its run, at the machine and at the bench."""
    tables = program_tables(plant)
    number = tables.index[program.program_id]
    basis = {row.element: row.basis for row in (*plant.elements, *_rows_of(plant, program).values())}
    for use in tables.uses:
        count = float(use.count[number]) if use.driver in SHEET_DRIVERS else 0.0
        if use.state in BY_HAND and count * use.law.mean > 0:
            yield {
                "where": say.WHERE[use.state], "element": use.name.replace("_", " "),
                "count_per_sheet": count, "each_s": use.law.mean, "seconds_s": count * use.law.mean,
                "rests_on": say.row_of([basis[use.name]]), "by_motion_s": np.nan,
            }  # fmt: skip


def run_time_table(scenario: Scenario) -> pd.DataFrame:
    """Every program of the book: seconds a sheet that the runs use, estimated by motion, and measured."""
    plant = scenario.made.plant
    rows = [
        {
            "program": row.program.program_id, "family": row.program.family, "sheets": row.estimate.sheets,
            "runs_use_s": row.estimate.run_s, "estimated_s": row.estimate.motion_s,
            "measured_s": np.nan if row.estimate.measured_s is None else row.estimate.measured_s,
            "estimated_over_used": row.estimate.ratio, "in_the_book_h": row.hours, "apart_h": row.gap_h,
        }
        for row in most_hours(program_times(plant), len(plant.programs))
    ]  # fmt: skip
    columns = ["program", "family", "sheets", "runs_use_s", "estimated_s", "measured_s", "estimated_over_used",
               "in_the_book_h", "apart_h"]  # fmt: skip
    frame = pd.DataFrame(rows, columns=columns)
    measured = frame["measured_s"].notna()
    hours = frame["in_the_book_h"]
    told = say.run_times(len(frame), int(measured.sum()), hours[measured].sum(), hours.sum(),
                         by_motion=has_motion(plant))  # fmt: skip
    return titled(frame, *told)


def family_table(scenario: Scenario) -> pd.DataFrame:
    """Measured beside estimated run times by family of programs, over the sheets of the book."""
    own, rows = run_time_table(scenario), []
    for family in family_times(program_times(scenario.made.plant)):
        group = own[own["family"] == family.family]
        timed = group[group["measured_s"].notna()]
        rows.append({
            "family": family.family or "no family", "programs": family.programs, "sheets": family.sheets,
            "in_the_book_h": family.hours, "cutting_share": family.laser_share, "runs_use_s": family.run_s,
            "estimated_s": _mean(group, "estimated_s"), "timed_programs": len(timed),
            "measured_s": _mean(timed, "measured_s"),
            "estimated_over_measured": _mean(timed, "estimated_s") / _mean(timed, "measured_s"),
        })  # fmt: skip
    frame = pd.DataFrame(rows)
    ratios = frame["estimated_over_measured"].dropna() if rows else pd.Series(dtype=float)
    if not len(ratios):
        frame = frame.drop(columns=["measured_s", "estimated_over_measured"], errors="ignore")
    span = (float(ratios.min()), float(ratios.max())) if len(ratios) else None
    return titled(frame, *say.families(span))


def _mean(programs: pd.DataFrame, column: str) -> float:
    """Mean of a column over the sheets of the book."""
    return float(np.average(programs[column], weights=programs["sheets"])) if len(programs) else float("nan")


def element_table(scenario: Scenario, by_hand: bool = False) -> pd.DataFrame:
    """Time elements, all or those of people: how long, their range, what they rest on, cycles still to be timed."""
    plant = scenario.made.plant
    needed = {id(timing.row): timing for timing in timings(plant)}
    rows = [
        {
            "element": row.element.replace("_", " "), "for": row.applies_to or "all", "who": say.who(row.task_of),
            "typical": row.typical, "low": row.low, "high": row.high, "unit": say.unit(row.unit), "rests_on": row.basis,
            "cycles_seen": row.n, "cycles_to_time": needed[id(row)].missing if id(row) in needed else 0,
        }
        for row in plant.elements
        if not by_hand or (row.task_of != "machine" and row.typical > 0)
    ]  # fmt: skip
    frame = pd.DataFrame(rows)
    counts = {basis: sum(row["rests_on"] == basis for row in rows) for basis in BASES}
    seen = int(frame["cycles_seen"].sum()) if rows else 0
    return titled(frame, *say.elements(counts, seen, by_hand=by_hand))


def limit_table(scenario: Scenario) -> pd.DataFrame:
    """Press forces, cutting speeds and gas of the plant beside the limits of physics, with what to look at first."""
    plant = scenario.made.plant
    frame = pd.DataFrame(
        [*_forces(plant), *_speeds(plant), *_gas(plant), *_power(plant)],
        columns=["about", "of", "value", "least", "most", "unit", "found"],
    )
    order = frame["found"].map(lambda found: found == say.WITHIN)
    frame = frame.assign(order=order).sort_values("order", kind="stable", ignore_index=True).drop(columns="order")
    return titled(frame, *say.limits(len(frame), int((~order).sum())))


def _forces(plant: PlantInputs) -> Iterator[tuple[Any, ...]]:
    for use in press_uses(plant)[:MOST_FORCES]:
        what = f"{use.tool.tool_id} ({use.figure.how}) in {use.material.material_id}"
        found = say.TOO_STRONG if use.check.exceeded else say.WITHIN
        yield ("press force", what, float(use.check.required_kn), np.nan, plant.settings.machine.press_capacity_kn,
               "kN", found)  # fmt: skip


def _speeds(plant: PlantInputs) -> Iterator[tuple[Any, ...]]:
    """Speeds that raise a question, else the one nearest to what melting allows."""
    checks = [(row, check, check.finding(row.material_id)) for row, check in speed_checks(plant)]
    asked = [each for each in checks if each[2] is not None]
    limited = [each for each in checks if each[1].limit_m_min]
    nearest_one = max(limited, key=lambda each: each[1].speed_m_min / (each[1].limit_m_min or 1.0), default=None)
    for row, check, finding in asked or ([nearest_one] if nearest_one else []):
        limit = np.nan if check.limit_m_min is None else check.limit_m_min
        found = say.WITHIN if finding is None else check.verdict
        yield "cutting speed", f"{row.material_id} with {row.gas}", check.speed_m_min, np.nan, limit, "m/min", found


def _gas(plant: PlantInputs) -> Iterator[tuple[Any, ...]]:
    """The plant's gas an hour beside what the nozzles let through, over the cutting time of the book."""
    flow = book_flow(plant)
    if flow is not None:
        figure, low, high = plant.settings.machine.gas_m3_per_h, flow.low_m3n_h, flow.high_m3n_h
        yield ("assist gas while cutting", f"nozzles of {len(flow.flows)} materials", figure, low, high, "m³/h",
               say.WITHIN if low <= figure <= high else say.GAS_APART)  # fmt: skip


def _power(plant: PlantInputs) -> Iterator[tuple[Any, ...]]:
    """The plant's running power beside the least that laser and idle power draw; drives and chiller come on top."""
    least = estimated_running_kw(plant)
    if least is not None:
        figure = plant.settings.machine.running_kw
        found = say.WITHIN if figure >= least else say.TOO_LITTLE_POWER
        yield "running power", "laser by its efficiency, idle power", figure, least, np.nan, "kW", found


def levers(study: Simulated, most: int = MOST) -> tuple[RiskInput, ...]:
    """Inputs that move the answer most: those whose range times how often the book meets them is widest.

    ``name`` is the path of a change; one that ends in ``*`` is a factor on all rows of its name.

    Among them are up to :data:`ADDED` of the rows that only the options of the study's scenarios add.
    """
    found: dict[str, dict[str, RiskInput]] = {"own": {}, "added": {}}
    own = {row.element for row in study.scenarios[0].made.plant.elements}
    for scenario in study.scenarios:
        plant = scenario.made.plant
        rows = Counter(row.element for row in plant.elements)
        for probe in time_probes(plant, study.results, scenario.name, study.numbers.level, (), most):
            name = probe.path.removeprefix("elements[").removesuffix("].typical")
            if scenario is study.scenarios[0] or name not in own:
                found["own" if name in own else "added"].setdefault(name, _lever(probe, rows[name] > 1))
    added = list(found["added"].values())[:ADDED]
    return (*list(found["own"].values())[: most - len(added)], *added)


def _lever(probe: Probe, several: bool) -> RiskInput:
    """The input of a row; of several rows of one name, a factor on all of them."""
    one, title = probe.input, probe.input.title.removeprefix("time of ")
    if not several:
        return dataclasses.replace(one, name=probe.path, title=title)
    low, typical, high = (value / (one.typical or 1.0) for value in (one.low, one.typical, one.high))
    unit = "times the plant's"
    return dataclasses.replace(one, name=f"{probe.path}*", title=title, unit=unit, low=low, typical=typical, high=high)


def input_table(study: Simulated, most: int = 8) -> pd.DataFrame:
    """Time elements with the widest range in the book: path, low, typical, high, what they rest on, and names for
    scenarios at either end."""
    rows = [
        {
            "element": lever.title, "rests_on": lever.basis, "low": lever.low, "typical": lever.typical,
            "high": lever.high, "unit": say.unit(lever.unit),
            "path": lever.name, "at_low": f"{lever.title}: low", "at_high": f"{lever.title}: high",
        }
        for lever in levers(study, most)
    ]  # fmt: skip
    columns = ["element", "rests_on", "low", "typical", "high", "unit", "path", "at_low", "at_high"]
    return titled(pd.DataFrame(rows, columns=columns), say.inputs(len(rows)))


def effect_table(study: Simulated, inputs: pd.DataFrame, measure: str = NEEDED) -> pd.DataFrame:
    """What each of :meth:`Study.inputs` changes a week at its low and its high, from scenarios named as there."""
    gaps = study.gaps((), "", measure)
    frame = inputs[["element", "rests_on", "low", "typical", "high", "unit"]].copy()
    for end in ("at_low", "at_high"):
        found = [gaps[study.scenario(name).name] for name in inputs[end]]
        frame[f"{end}_h_per_week"] = [gap.mean for gap in found]
        frame[f"{end}_h_per_week{HALF}"] = [gap.half_width for gap in found]
    ends = frame[["at_low_h_per_week", "at_high_h_per_week"]]
    widest = (ends.max(axis=1) - ends.min(axis=1)).sort_values(ascending=False, kind="stable").index
    frame = frame.loc[widest].reset_index(drop=True)
    return titled(frame, *say.effects(frame))
