"""Workload: a scenario's view of the draws, every sheet's times, mass and parts as plain arrays.

All durations are seconds on the time grid. Sheets are numbered 0, 1, ... through the orders of the
drawn book in order of release; the luck of each is keyed by its number in the draws, so the same sheet
meets the same luck in every scenario; so do the whole shifts that a person misses, by (person, day).
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from simkit.base.arrays import Floats, Ints
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import ALWAYS, BENCH, FIRST_PIECE, LOADING, OUTSIDE, UNLOADING
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.tables import MachineRow, Person
from simkit.process.drawntimes import (
    CHANGE_DRIVERS,
    NeedTimes,
    SheetTimes,
    Times,
    identity,
    need_times,
    order_times,
    sheet_times,
    sheets_needed,
)
from simkit.process.draws import Draws
from simkit.process.pickluck import PickLuck
from simkit.process.planner import at_mean_rate, planner_hours
from simkit.process.programs import ProgramTables, program_tables
from simkit.process.shifts import ShiftPlan, Span, plan_shifts, without


@dataclass(frozen=True)
class Workload:
    """Everything the cell needs to know of one replication of one scenario."""

    scenario: ScenarioInputs
    draws: Draws
    tables: ProgramTables
    plan: ShiftPlan
    sheets: SheetTimes
    first_sheet: Ints
    orders: Times
    needs: NeedTimes
    program: Ints
    planned_h: Floats
    groups: tuple[tuple[int, ...], ...]
    who: dict[str, str]

    @property
    def plant(self) -> PlantInputs:
        """The scenario's plant."""
        return self.scenario.plant

    @cached_property
    def by_machine(self) -> tuple[Workload, ...]:
        """This workload as each machine sees it: with its own overrides of machines.csv, the same draws and orders."""
        if not self.scenario.machine_plants:
            return (self,) * len(self.plant.machines)
        pairs = zip(self.plant.machines, self.scenario.machine_plants, strict=True)
        return tuple(_of_machine(self, row, own) if row.overrides else self for row, own in pairs)

    @cached_property
    def pick_luck(self) -> PickLuck | None:
        """Luck of every pick; None where no device picks or none of its picks fails by itself."""
        flows = self.tables.flows
        if not any(flow.picked for flow in flows):
            return None
        found = PickLuck(self.plant, self.draws, self.sheets.program, self.sheets.uid,
                         tuple(flow.filled for flow in flows))  # fmt: skip
        return found if found.causes else None

    @cached_property
    def shared_h(self) -> Floats:
        """The planner's hours of each order on a machine of the mean rate."""
        unlike = self.scenario.machine_plants
        return at_mean_rate([own.planned_h for own in self.by_machine]) if unlike else self.planned_h

    @cached_property
    def span_s(self) -> float:
        """End of the measured span: the horizon, or the end of the release weeks."""
        horizon = self.plant.settings.run.horizon_s
        if horizon is not None:
            return horizon
        return self.plan.day_start[min(7 * int(np.ceil(self.draws.weeks)), len(self.plan.day_start) - 1)]


def make_workload(scenario: ScenarioInputs, draws: Draws) -> Workload:
    """Turn the draws into this scenario's times."""
    plant, book = scenario.plant, draws.book
    tables = program_tables(plant)
    program = tables.of_orders(plant.orders)[book.row]
    needed = sheets_needed(tables, draws, program)
    first = np.concatenate([[0], np.cumsum(needed)]).astype(np.int64)
    order_of = np.repeat(np.arange(len(book)), needed)
    uid = identity(draws, order_of, np.arange(first[-1]) - first[order_of])
    return Workload(
        scenario=scenario, draws=draws, tables=tables,
        plan=with_absences(plan_shifts(plant, draws.days), plant, draws),
        sheets=sheet_times(plant, tables, draws, program[order_of], uid), first_sheet=first,
        orders=order_times(tables, draws, program, needed), needs=need_times(plant, tables, draws, program),
        program=program, planned_h=planner_hours(plant, tables, program, book.sheets),
        groups=_merge(plant, draws, program), who=_who(tables),
    )  # fmt: skip


def _of_machine(workload: Workload, row: MachineRow, plant: PlantInputs) -> Workload:
    """The workload with one machine's overrides; what the cell keeps of it is kept apart from the scenario's."""
    scenario = workload.scenario
    name = f"{scenario.physics_hash}:{row.machine_id}" if scenario.physics_hash else ""
    own = dataclasses.replace(scenario, plant=plant, machine_plants=(), physics_hash=name)
    return make_workload(own, workload.draws)


def _merge(plant: PlantInputs, draws: Draws, program: Ints) -> tuple[tuple[int, ...], ...]:
    """Orders worked as one: repeats of a program released within ``rules.merge_days`` of the first of them."""
    window_s = plant.settings.rules.merge_days * 24 * SECONDS_PER_HOUR
    book, groups = draws.book, []
    open_group: dict[int, list[int]] = {}
    for order in range(len(book)):
        key = int(program[order])
        group = open_group.get(key)
        if window_s > 0 and group and book.released_s[order] - book.released_s[group[0]] <= window_s:
            group.append(order)
            continue
        open_group[key] = group = [order]
        groups.append(group)
    return tuple(tuple(group) for group in groups)


def _who(tables: ProgramTables) -> dict[str, str]:
    """Who does each stage: the skill named by its rows, or machine where every row needs nobody."""
    stages = {"load": LOADING, "unload": UNLOADING, "first_piece": FIRST_PIECE, "bench": BENCH}
    found = dict.fromkeys((*stages, *CHANGE_DRIVERS, "cell_entry", "stack_exchange"), "machine")
    for use in tables.uses:
        task, driver = use.task_of, use.driver
        if task == "machine" or use.state == OUTSIDE:
            continue
        for stage, state in stages.items():
            if use.state == state and driver not in ("skeleton", *found):
                found[stage] = task
        if driver in found:
            found[driver] = task
    return found


def with_absences(plan: ShiftPlan, plant: PlantInputs, draws: Draws) -> ShiftPlan:
    """The calendar without the shifts that people miss (of those who are always there: whole days).

    A person whose ``absence_share`` is a misses each shift with chance a, by one uniform number per day on which the
    shift starts; a larger share misses the same shifts and more. On such a day the person works no overtime either; on
    a day without a shift, overtime is missed by that day's number.
    """
    if not any(person.absence_share for person in plant.people):
        return plan
    absent, windows = [], []
    for person, own in zip(plant.people, plan.person, strict=True):
        luck = draws.uniform(f"absence:{person.person_id}", len(plan.day_start) - 1)
        absent.append(frozenset(np.flatnonzero(luck < person.absence_share).tolist()))
        windows.append(without(own, _missed(person, absent[-1], plan)))
    return replace(plan, person=tuple(windows), person_absent=tuple(absent))


def _missed(person: Person, absent: frozenset[int], plan: ShiftPlan) -> list[Span]:
    last = len(plan.day_start) - 2
    if person.shift == ALWAYS:
        spans = list(zip(plan.day_start, plan.day_start[1:], strict=False))
    else:
        spans = [(a, b) for name, a, b in plan.shift_spans if name == person.shift]
    return [span for span in spans if min(plan.day_of(span[0]), last) in absent]
