"""The prepared queue of a night: of the orders that wait and need nobody, the one that runs longest. Pure, no clock.

An order is ready if, by what is known at the moment, nothing of it needs a person: its program needs no release, its
tools stand in turret or magazine, nozzle, gas and clamps stand or change by themselves, its material is on the machine
or full in the store, and its sheets leave by a device or onto a stack that has room now. Whether people load the sheets
is the same for all orders and not asked.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

from simkit.cell.facts import Facts, SetUp
from simkit.cell.orders import Job, Orders
from simkit.cell.supply import Packs, Store
from simkit.cell.toolwork import ToolWork
from simkit.process.workload import GRIPPER_EXCHANGES
from simkit.tooling.exchange import plan_exchange


@dataclass(frozen=True)
class NightView:
    """How a machine stands in a night: what an order would find there. ``stack_room``: a whole sheet finds room."""

    facts: Facts
    tools: ToolWork
    set_up: SetUp
    packs: Packs
    store: Store
    material: int
    stack_room: bool

    def ready(self, job: Job) -> bool:
        """Whether an order needs nobody, as far as is known now."""
        return (
            self.facts.first_piece_s(job, attended=False, night=True) <= 0
            and copy(self.set_up).change_to(job)[0] <= 0
            and self._material_there(job)
            and self._leaves(job)
            and self._tools_there(job)
        )

    def _material_there(self, job: Job) -> bool:
        wanted = self.facts.material[job.program]
        if wanted == self.material and self.packs.is_open(wanted):
            return True
        return wanted in self.facts.stored and (self.packs.is_open(wanted) or self.store.has_pack(wanted))

    def _leaves(self, job: Job) -> bool:
        by_device = self.facts.by_device[job.program] or self.facts.who["unload"] == "machine"
        on_stack = self.stack_room and self.facts.goes_on_stack(job, attended=False)
        return on_stack if self.facts.to_bench[job.program] else by_device

    def _tools_there(self, job: Job) -> bool:
        self.tools.magazine.settle(self.tools.turret)
        needs, room = self.tools.book.needs[job.program], self.tools.magazine.room
        plan = plan_exchange(room, self.tools.turret, needs, (), self.tools.counter, sheets=len(job.sheets))
        exchanges = (*plan.exchanges, *plan.mid_program, *plan.mid_back)
        return not plan.missing and all(exchange.kind in GRIPPER_EXCHANGES for exchange in exchanges)


def night_order(orders: Orders, view: NightView, committed: Job | None = None) -> Job | None:
    """The order to take off the board for a night; None where the rule, a rush order or want of a ready one says so.

    ``committed`` is an order chosen before the night: only if it is not ready another one is taken in its place.
    """
    if orders.rules.night_queue != "prepared" or orders.rush_waits():
        return None
    if committed is not None and (committed.rush or view.ready(committed)):
        return None
    run_s = view.facts.run_s
    longest_first = sorted(orders.waiting, key=lambda job: (-sum(run_s[sheet] for sheet in job.sheets), job.number))
    return next((job for job in longest_first if view.ready(job)), None)
