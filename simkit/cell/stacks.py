"""Where picked parts and skeletons go: places for stacks of parts, and a pallet of skeletons at each machine."""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from simkit.base.vocabulary import BLOCKED
from simkit.cell.bench import Places
from simkit.cell.orders import Job
from simkit.cell.people import Request
from simkit.cell.piles import NIGHT_COMES, NO_PLACE, Pile, SkeletonPallet

if TYPE_CHECKING:
    from simkit.cell.leaving import Leaving
    from simkit.cell.run import Cell


class PartStacks:
    """Places for stacks, shared by all machines; people take full stacks away. Counted by why they went."""

    def __init__(self, cell: Cell) -> None:
        self.cell = cell
        self.level: list[tuple[float, int]] = []
        self.places = Places(cell.clock, cell.settings.removal.stack_places, self._note)
        self.piles = [Pile(own.plant.settings.removal) for own in cell.workload.by_machine]
        self.last_job: dict[int, Job] = {}
        self.taken: dict[str, int] = {}

    def room_for(self, machine: Leaving, job: Job) -> Generator[simpy.Event, None, None]:
        """Hold places for a sheet's parts before it starts; full stacks are taken away first."""
        steps = machine.facts.flows[job.program].stacks
        if not steps:
            return
        pile = self.piles[machine.row]
        self.last_job[machine.row] = job
        why = pile.why_full(steps)
        if why:
            self._take_away(machine, job, why)
        wanted = pile.wanted(steps, self.places.count)
        if pile.held and wanted and not self.places.at_hand(wanted):
            self._take_away(machine, job, NO_PLACE)
            wanted = pile.wanted(steps, self.places.count)
        if wanted:
            taken = self.places.take(machine.row, wanted)
            if taken is not None:
                yield from machine.wait(BLOCKED, taken, "output", "stacks_full")
        pile.add(steps, wanted)

    def order_done(self, machine: Leaving, job: Job) -> None:
        """An order's last sheet is out: its stacks go, or its kit stays open."""
        if machine.facts.flows[job.program].stacks:
            why = self.piles[machine.row].why_done(len(job.members))
            if why:
                self._take_away(machine, job, why)

    def no_work(self, machine: Leaving) -> None:
        """Nothing waits for the machine: an open kit does not stand in the way of others."""
        why = self.piles[machine.row].why_idle()
        if why:
            self._take_away(machine, self.last_job[machine.row], why)

    def before_night(self, machine: Leaving, job: Job) -> None:
        """Open stacks are taken away before the people leave."""
        self._take_away(machine, job, NIGHT_COMES)

    def _take_away(self, machine: Leaving, job: Job, why: str) -> None:
        """Each open stack waits to be taken away, then its place is free."""
        seconds = float(machine.facts.orders.stack_exchange_s[job.members[0]])
        held = self.piles[machine.row].empty()
        self.taken[why] = self.taken.get(why, 0) + held
        for _ in range(held):
            if seconds <= 0:
                self.places.give()
            else:
                self.cell.pool.ask("pallet", seconds, -1, job.number, rush=job.rush, done=lambda _: self.places.give())

    def _note(self) -> None:
        self.level.append((self.cell.clock.now, self.places.count - self.places.free))


class Skeletons:
    """A pallet of skeletons at each machine; somebody exchanges it when it is full."""

    def __init__(self, cell: Cell) -> None:
        self.cell = cell
        self.pallets = [SkeletonPallet(own.plant.settings.removal.skeleton_places) for own in cell.workload.by_machine]
        self.exchanges: dict[int, Request] = {}

    def in_exchange(self, row: int) -> Request | None:
        """The exchange that a machine's next skeleton waits for, if any."""
        request = self.exchanges.get(row)
        return None if request is None or request.event.processed else request

    def put(self, machine: Leaving, job: Job) -> None:
        """A skeleton lies on the pallet; a full one is exchanged as soon as somebody can."""
        if self.pallets[machine.row].put():
            self._ask(machine, job)

    def exchange(self, machine: Leaving, job: Job) -> None:
        """The pallet is exchanged though it is not full."""
        self.pallets[machine.row].take()
        self._ask(machine, job)

    def _ask(self, machine: Leaving, job: Job) -> None:
        seconds = float(machine.facts.orders.skeleton_exchange_s[job.members[0]])
        if seconds > 0:
            ask = self.cell.pool.ask
            self.exchanges[machine.row] = ask("pallet", seconds, -1, job.number, rush=job.rush)
