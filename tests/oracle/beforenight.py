"""The oracle's last minutes before a night. Shares the choice of orders, which knows no clock."""

from __future__ import annotations

from simkit.cell.nightqueue import NightView, first_night_order, kept_back, night_order
from simkit.cell.orders import Job
from tests.oracle.outputs import Outputs


class BeforeNight(Outputs):
    """What people do before they leave, and which orders wait for the night; ``m`` is the oracle's machine."""

    def view(self, m) -> NightView:
        room = len(self.pile) - self.beside < self.s.stack.places
        return NightView(self.facts, m.tools, m.set_up, m.packs, self.store, m.material, room)

    def leaving(self):
        """Seconds until everybody is gone, and the night after that; nothing outside of the last minutes."""
        here = (*self.plan.attended, *self.overtime)
        end, minutes = self.env.now, self.s.rules.before_leaving_min
        while any(a <= end < b for a, b in here):
            end = max(b for a, b in here if a <= end < b)
        back = min((a for a, _ in here if a > end), default=float("inf"))
        nights = [night for night in self.plan.nights if night[1] > end and night[0] < back]
        soon = self.env.now < end <= self.env.now + minutes * 60
        return (end - self.env.now, nights[0]) if nights and soon and self.s.rules.before_leaving else None

    def for_night(self, m, committed: Job | None = None) -> Job | None:
        if self.night():
            return night_order(self.orders, self.view(m), committed)
        soon = self.leaving()
        if soon and "first_order" in self.s.rules.before_leaving:
            return first_night_order(self.orders, self.view(m), soon[0], committed)
        return None

    def for_later(self, m) -> list[Job]:
        nights = [night for night in self.plan.nights if night[0] > self.env.now]
        if self.s.rules.night_queue != "reserved" or not nights:
            return []
        share = self.planner.nights.share(self.env.now)
        expected = share * (nights[0][1] - nights[0][0]) * len(self.machines)
        return kept_back(self.orders, self.view(m), expected, nights[0][1] + self.orders.guard_s)

    def take_over(self, m) -> Job | None:
        """The oldest order that another machine has chosen ahead and that this one could begin."""
        night = self.night()
        anything = self.attended() or (night and self.s.rules.night_queue == "as_ranked")
        for owner in sorted((o for o in self.machines if o.next), key=lambda o: o.chosen_s):
            fits = anything or (night and self.view(m).ready(owner.next))
            if fits and m.tools.to_be_had(owner.next):
                job, owner.next = owner.next, None
                return self.prepared(m, job)

    def make_ready(self, m, job: Job):
        soon = self.leaving()
        if not soon:
            return
        if m.readied != soon[1]:
            m.readied, m.to_ready = soon[1], []
            for task in self.s.rules.before_leaving:
                m.to_ready += [(task, row) for row in m.upkeep.by_running] if task == "care" else [(task, None)]
        for task in list(m.to_ready):
            undone = yield from self.ready_one(m, job, *task)
            if not undone:
                m.to_ready.remove(task)

    def fits(self, task: str, seconds: float) -> bool:
        soon = self.leaving()
        return bool(soon) and seconds <= soon[0] and any(w.on and w.free and task in w.skills for w in self.workers)

    def ready_one(self, m, job: Job, task: str, row: int | None):
        """Do one thing if there is time and somebody for it; whether it stays to be done."""
        times, first = self.facts.once_s, job.members[0]
        if task == "care":
            if not self.fits("upkeep", m.upkeep.foreseen_s(row)):
                return True
            yield from self.do_upkeep(m, row)
        elif task == "material":
            seconds, who = times["pack_change"][first], self.facts.who["pack_change"]
            if m.packs.is_used(m.material) and m.material not in self.facts.stored and who != "machine":
                if not self.fits(who, seconds):
                    return True
                yield from self.fetched(m, "pack_change", job)
                m.packs.open(m.material)
        elif task == "magazine" and self.tool_facts.room.has_magazine:
            orders = [job, *self.view(m).lacking_tools(self.orders.waiting)]
            queue = [self.orders.needs[order.program] for order in orders]
            moves, seconds = m.tools.magazine.plan(queue, m.tools.turret)
            if moves:
                m.tools.load_magazine(queue, moves, self.aside(job, seconds))
        elif task == "output":
            return self.output_not_empty(m, job)
        return False

    def output_not_empty(self, m, job: Job) -> bool:
        times, first = self.facts.once_s, job.members[0]
        stack_s, skeletons_s, late = times["stack_exchange"][first], times["skeleton_exchange"][first], False
        if len(self.pile) > self.beside and not self.emptying and stack_s > 0:
            if self.fits("pallet", stack_s):
                self.emptying = True
                self.after("pallet", stack_s, job, self.emptied)
            else:
                late = True
        if m.pile.held:
            if self.fits("pallet", m.pile.held * stack_s):
                self.clear_stacks(m, "night", job)
            else:
                late = True
        if m.pallet.lying and skeletons_s > 0:
            if self.fits("pallet", skeletons_s):
                m.pallet.take()
                m.exchange = self.ask("pallet", skeletons_s, job).done
            else:
                late = True
        return late

    def emptied(self) -> None:
        self.emptying, self.beside = False, len(self.pile)
