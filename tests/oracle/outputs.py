"""The oracle's outputs: bench, whole-sheet stack, stacks of parts, skeletons. Shares only what knows no clock."""

from __future__ import annotations

from simkit.cell.orders import Job
from tests.oracle.crew import PEOPLE
from tests.oracle.supplies import Supplies


class Outputs(Supplies):
    """Where sheets, parts and skeletons go; ``m`` is the oracle's machine."""

    def hand_over(self, m, job: Job, sheet: int):
        facts, to_bench = self.facts, self.facts.to_bench[job.program]
        room = len(self.pile) - self.beside < self.s.stack.places
        to_pile = to_bench and room and facts.goes_on_stack(job, self.attended())
        if to_bench and not to_pile:
            yield from self.place(m, self.bench, 1)
            self.note_level()
        by_device = facts.by_device[job.program]
        if by_device and m.exchange and not m.exchange.processed:
            yield from self.wait_by_night_too(m, "blocked", m.exchange, "output")
        who = "machine" if to_pile or by_device else facts.who["unload"]
        yield from self.by(m, who, "unloading", facts.unload_s[sheet], job, "output", facts.unload_skills(job))
        if to_pile:
            self.pile.append((job, sheet))
            self.note_level()
            self.env.process(self.draw_later())
        elif to_bench:
            self.to_bench(job, sheet)
        else:
            if by_device:
                self.skeleton_down(m, job)
            who, seconds = facts.who["bench"], facts.hand_s[sheet]
            self.after(who, seconds, job, lambda: self.finish_if_out(job, 1))

    def draw_later(self):
        yield from self.until(self.attended)
        yield self.turn(PEOPLE)
        self.draw_from_pile()

    def draw_from_pile(self) -> None:
        while self.pile and self.bench.level and not self.bench.get_queue and self.attended():
            self.bench.get(1)
            job, sheet = self.pile.pop(0)
            self.beside = max(0, self.beside - 1)
            self.note_level()
            self.to_bench(job, sheet)
        if self.pile and not self.attended():
            self.env.process(self.draw_later())

    def to_bench(self, job: Job, sheet: int) -> None:
        self.after(self.facts.who["bench"], self.facts.hand_s[sheet], job, lambda: self.off_bench(job))

    def off_bench(self, job: Job) -> None:
        self.bench.put(1)
        self.note_level()
        self.finish_if_out(job, 1)
        self.draw_from_pile()

    def after(self, task: str, seconds: float, job: Job, then) -> None:
        """Do something when others have done their work, at once if there is none."""
        if seconds > 0:
            self.env.process(self.later(task, seconds, job, then))
        else:
            then()

    def later(self, task: str, seconds: float, job: Job, then):
        yield self.env.timeout(seconds) if task == "machine" else self.ask(task, seconds, job).done
        yield self.turn(PEOPLE)
        then()

    def note_level(self) -> None:
        self.levels[self.env.now] = (self.bench.capacity - self.bench.level, len(self.pile))

    def room_for_parts(self, m, job: Job):
        steps, all_places = self.facts.flows[job.program].stacks, self.s.removal.stack_places
        if steps:
            m.stacked = job
            self.clear_stacks(m, m.pile.why_full(steps))
            wanted = m.pile.wanted(steps, all_places)
            if m.pile.held and wanted and (self.stacks.get_queue or self.stacks.level < wanted):
                self.clear_stacks(m, "places")
                wanted = m.pile.wanted(steps, all_places)
            if wanted:
                yield from self.place(m, self.stacks, wanted)
            m.pile.add(steps, wanted)

    def order_out(self, m, job: Job) -> None:
        if self.facts.flows[job.program].stacks:
            self.clear_stacks(m, m.pile.why_done(len(job.members)))

    def clear_stacks(self, m, why: str, job: Job | None = None) -> None:
        held = m.pile.empty() if why else 0
        if held:
            self.taken[why] = self.taken.get(why, 0) + held
        for _ in range(held):
            order = job or m.stacked
            seconds = self.facts.once_s["stack_exchange"][order.members[0]]
            self.after("pallet", seconds, order, lambda: self.stacks.put(1))

    def skeleton_down(self, m, job: Job) -> None:
        seconds = self.facts.once_s["skeleton_exchange"][job.members[0]]
        if m.pallet.put() and seconds > 0:
            m.exchange = self.ask("pallet", seconds, job).done
