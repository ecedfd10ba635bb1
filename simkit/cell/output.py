"""Where a finished sheet goes: to the bench, on the whole-sheet stack, or its skeleton on a pallet."""

from __future__ import annotations

from simkit.base.vocabulary import BLOCKED, UNLOADING
from simkit.cell.bench import Bench
from simkit.cell.facts import Facts
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.orders import Job
from simkit.cell.stacks import PartStacks, Skeletons


class Output:
    """The way out of one machine."""

    def __init__(self, time: MachineTime, facts: Facts, bench: Bench, stacks: PartStacks, skeletons: Skeletons) -> None:
        self.time, self.facts, self.bench = time, facts, bench
        self.stacks, self.skeletons = stacks, skeletons

    def hand_over(self, job: Job, sheet: int) -> Steps:
        """A finished sheet leaves the machine, once there is room for it."""
        facts, bench, time = self.facts, self.bench, self.time
        seconds = facts.unload_s[sheet]
        aims = bench.stack_places > 0 and facts.goes_on_stack(job, time.attended())
        if not facts.to_bench[job.program]:
            yield from self._without_bench(job, seconds)
            bench.beside(job, sheet)
        elif aims and bench.stack_has_room():
            yield from self._pull_out(job, seconds, True, "")
            bench.put_on_stack(job, sheet)
        else:
            taken = bench.places.take(time.row)
            if taken is not None:
                yield from time.wait(BLOCKED, taken, "output", "stack_full" if aims else "bench_full")
            yield from self._pull_out(job, seconds, False, "stack_full" if aims else "unloading_by_hand")
            bench.put(job, sheet)

    def _without_bench(self, job: Job, seconds: float) -> Steps:
        by_device, time = self.facts.by_device[job.program], self.time
        exchange = self.skeletons.in_exchange(time.row) if by_device else None
        if exchange is not None:
            yield from time.wait(BLOCKED, time.after(exchange), "output", "skeletons_full")
        yield from self._pull_out(job, seconds, by_device, "unloading_by_hand")
        if by_device:
            self.skeletons.put(time.row, self.facts, job)

    def _pull_out(self, job: Job, seconds: float, automatic: bool, want: str) -> Steps:
        who = self.facts.who["unload"]
        if automatic or who == "machine":
            yield from self.time.alone(UNLOADING, seconds)
        else:
            yield from self.time.by_person(who, UNLOADING, seconds, job, "output", want, self.facts.unload_skills(job))
