"""Where picked parts and skeletons go: places for stacks of parts, and a pallet of skeletons at each machine."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.base.vocabulary import BLOCKED
from simkit.cell.bench import Places
from simkit.cell.clock import Clock
from simkit.cell.facts import Facts
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.openstacks import NIGHT_COMES, NO_PLACE, OpenStacks, SkeletonPallet
from simkit.cell.orders import Job
from simkit.cell.people import Pool
from simkit.cell.requests import Request
from simkit.plant.settings_parts import Removal


class PartStacks:
    """Places for stacks, shared by all machines; people take full stacks away. Counted by why they went.

    ``removals`` are the settings of each machine.
    """

    def __init__(self, clock: Clock, pool: Pool, places: int, removals: Sequence[Removal]) -> None:
        self.clock, self.pool = clock, pool
        self.level: list[tuple[float, int]] = []
        self.places = Places(clock, places, self._note)
        self.piles = [OpenStacks(removal) for removal in removals]
        self.last_job: dict[int, Job] = {}
        self.taken: dict[str, int] = {}

    def room_for(self, time: MachineTime, facts: Facts, job: Job) -> Steps:
        """Hold places for a sheet's parts before it starts; full stacks are taken away first."""
        steps, row = facts.flows[job.program].stacks, time.row
        if not steps:
            return
        pile = self.piles[row]
        self.last_job[row] = job
        why = pile.why_full(steps)
        if why:
            self._take_away(row, facts, job, why)
        wanted = pile.wanted(steps, self.places.count)
        if pile.held and wanted and not self.places.at_hand(wanted):
            self._take_away(row, facts, job, NO_PLACE)
            wanted = pile.wanted(steps, self.places.count)
        if wanted:
            taken = self.places.take(row, wanted)
            if taken is not None:
                yield from time.wait(BLOCKED, taken, "output", "stacks_full")
        pile.add(steps, wanted)

    def order_done(self, row: int, facts: Facts, job: Job) -> None:
        """An order's last sheet is out: its stacks go, or its kit stays open."""
        if facts.flows[job.program].stacks:
            why = self.piles[row].why_done(len(job.members))
            if why:
                self._take_away(row, facts, job, why)

    def no_work(self, row: int, facts: Facts) -> None:
        """Nothing waits for the machine: an open kit does not stand in the way of others."""
        why = self.piles[row].why_idle()
        if why:
            self._take_away(row, facts, self.last_job[row], why)

    def before_night(self, row: int, facts: Facts, job: Job) -> None:
        """Open stacks are taken away before the people leave."""
        self._take_away(row, facts, job, NIGHT_COMES)

    def _take_away(self, row: int, facts: Facts, job: Job, why: str) -> None:
        """Each open stack waits to be taken away, then its place is free."""
        seconds = facts.once_s["stack_exchange"][job.members[0]]
        held = self.piles[row].empty()
        self.taken[why] = self.taken.get(why, 0) + held
        for _ in range(held):
            if seconds <= 0:
                self.places.give()
            else:
                self.pool.ask("pallet", seconds, -1, job.number, rush=job.rush, then=self.places.give)

    def _note(self) -> None:
        self.level.append((self.clock.now, self.places.count - self.places.free))


class Skeletons:
    """A pallet of skeletons at each machine; somebody exchanges it when it is full."""

    def __init__(self, pool: Pool, removals: Sequence[Removal]) -> None:
        self.pool = pool
        self.pallets = [SkeletonPallet(removal.skeleton_places) for removal in removals]
        self.exchanges: dict[int, Request] = {}

    def in_exchange(self, row: int) -> Request | None:
        """The exchange that a machine's next skeleton waits for, if any."""
        request = self.exchanges.get(row)
        return None if request is None or request.done else request

    def put(self, row: int, facts: Facts, job: Job) -> None:
        """A skeleton lies on the pallet; a full one is exchanged as soon as somebody can."""
        if self.pallets[row].put():
            self._ask(row, facts, job)

    def exchange(self, row: int, facts: Facts, job: Job) -> None:
        """The pallet is exchanged though it is not full."""
        self.pallets[row].take()
        self._ask(row, facts, job)

    def _ask(self, row: int, facts: Facts, job: Job) -> None:
        seconds = facts.once_s["skeleton_exchange"][job.members[0]]
        if seconds > 0:
            self.exchanges[row] = self.pool.ask("pallet", seconds, -1, job.number, rush=job.rush)
