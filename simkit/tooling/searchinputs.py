"""What the improvement search is told about orders: mean seconds of their changes, planner's time, time until due."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import OUTSIDE
from simkit.process.shifts import CoveredTime, crew_spans, plan_shifts
from simkit.process.workload import Workload
from simkit.tooling.improve import MachineStand, SearchedOrder
from simkit.tooling.sequence import WaitingOrder
from simkit.tooling.toolroom import Need

SET_UP_DRIVERS = ("material_change", "nozzle_change", "gas_change", "clamp_change")
"""What is set up apart from tools, in the order of :attr:`simkit.tooling.improve.SearchedOrder.set_up`."""


class SearchInputs:
    """Mean seconds per program, and the crew's time that passes until a due date.

    Means are those of the element rows; the luck of a replication is not known when orders are put in sequence.
    """

    def __init__(self, workload: Workload, needs: list[tuple[Need, ...]]) -> None:
        self.needs = needs
        self.machines = len(workload.plant.machines)
        self.hours, self.sheets = workload.planned_h, np.diff(workload.first_sheet)
        self.set_up_s = _set_up_s(workload)
        self.set_up = _set_up(workload)
        plan = plan_shifts(workload.plant, workload.draws.days)
        self.crew = CoveredTime(crew_spans(workload.plant.people, plan.person, plan.attended))

    def pieces(
        self, orders: Iterable[tuple[WaitingOrder, int, tuple[int, ...]]], now_s: float, stand: MachineStand
    ) -> list[SearchedOrder]:
        """Return the orders, each as (row, program, members), as the search sees them at this moment.

        With several machines each order counts with its share of the planner's time: the others work too.
        """
        found = []
        for row, program, members in orders:
            set_up_s = self.set_up_s[program]
            if row.material in stand.at_hand:
                set_up_s = (0.0, *set_up_s[1:])
            hours = sum(float(self.hours[order]) for order in members)
            found.append(SearchedOrder(
                row, self.needs[program], sum(int(self.sheets[order]) for order in members), self.set_up[program],
                set_up_s, hours * SECONDS_PER_HOUR / self.machines, self.crew.between_s(now_s, row.due_s),
            ))  # fmt: skip
        return found


def _set_up_s(workload: Workload) -> list[tuple[float, ...]]:
    """Per program, the mean seconds of each change while the machine stands."""
    seconds = np.zeros((len(workload.tables.programs), len(SET_UP_DRIVERS)))
    for use in workload.tables.uses:
        if use.driver in SET_UP_DRIVERS and use.state != OUTSIDE:
            seconds[:, SET_UP_DRIVERS.index(use.driver)] += use.law.mean * (use.count > 0)
    return [tuple(row) for row in seconds.tolist()]


def _set_up(workload: Workload) -> list[tuple[int, str, str, float]]:
    """Per program: material row, nozzle, gas, sheet width."""
    materials = workload.plant.materials
    return [
        (row, materials[row].nozzle, materials[row].gas, program.sheet_width_mm)
        for row, program in zip(workload.tables.material.tolist(), workload.tables.programs, strict=True)
    ]
