"""The change-over between two orders: tools, nozzle, gas, clamps and what an order always takes; then its material."""

from __future__ import annotations

from collections.abc import Generator

import simpy

from simkit.base.vocabulary import CHANGEOVER
from simkit.cell.facts import Facts, SetUp
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.orders import Job, Orders
from simkit.cell.outside import OutsideWork
from simkit.cell.sheetsupply import SheetSupply
from simkit.cell.toolwork import ToolChange, ToolWork
from simkit.tooling.toolroom import Need


class ChangeOver:
    """What a machine changes for an order."""

    def __init__(
        self, time: MachineTime, facts: Facts, tools: ToolWork, supply: SheetSupply, orders: Orders,
        outside: OutsideWork,
    ) -> None:  # fmt: skip
        self.time, self.facts, self.tools, self.supply = time, facts, tools, supply
        self.orders, self.outside, self.set_up = orders, outside, SetUp(facts)

    def change_to(self, job: Job) -> Generator[simpy.Event, None, ToolChange]:
        """Change over to an order; return what its tools needed."""
        time, facts, first = self.time, self.facts, job.members[0]
        change = self.tools.change_to(job, self.known_queue())
        job.loads += change.loads
        self.outside.ask(job, change.outside_s)
        self.outside.ask(job, facts.outside_of(job))
        by_hand_s, automatic_s, helped_s = self.set_up.change_to(job)
        fixed_s, fixed_helped_s = facts.once_s["fixed"][first], facts.helped_s["fixed"][first]
        if time.open_hours.in_night(time.now):
            self.outside.ask(job, {"preparation": fixed_s})
            fixed_s = fixed_helped_s = 0.0
        automatic_s += change.gripper_s + facts.once_s["fixed_machine"][first]
        yield from time.alone(CHANGEOVER, automatic_s)
        limit = "tool" if change.hand_s > 0 else "material"
        want = "tool_by_hand" if change.hand_s > 0 else "set_up" if by_hand_s > 0 else "left_by_shift"
        yield from time.by_person("changeover", CHANGEOVER, fixed_s + change.hand_s + by_hand_s, job, limit, want,
                                  helped_s=fixed_helped_s + change.helped_s + helped_s)  # fmt: skip
        yield from self.supply.change_to(job)
        return change

    def known_queue(self) -> list[tuple[Need, ...]]:
        """Needs of the waiting orders as the dispatch rule ranks them for this machine, where a rule reads them."""
        return self.orders.known_queue(self.time.now, self.supply.material, self.tools.tools_in_turret)

    def swap(self, job: Job, change: ToolChange) -> Steps:
        """In an order longer than a tool's limit the tool is swapped between two sheets."""
        self.outside.ask(job, change.outside_s)
        yield from self._by_hand(job, change.hand_s, change.helped_s, "worn_tool")

    def exchange(self, job: Job, hand_s: float, gripper_s: float, helped_s: float) -> Steps:
        """Tools are exchanged in the middle of a sheet."""
        yield from self.time.alone(CHANGEOVER, gripper_s)
        yield from self._by_hand(job, hand_s, helped_s, "tool_by_hand")

    def _by_hand(self, job: Job, seconds: float, helped_s: float, want: str) -> Steps:
        yield from self.time.by_person("changeover", CHANGEOVER, seconds, job, "tool", want, helped_s=helped_s)
