"""The oracle's material: packs at machines and in the store. Shares only the stock-keeping, which knows no clock."""

from __future__ import annotations

from simkit.cell.orders import Job
from tests.oracle.crew import Crew


class Supplies(Crew):
    """Waits for material; ``m`` is the oracle's machine."""

    def exchanged(self, job: Job) -> float:
        return self.store.book(self.env.now, self.facts.once_s["store_exchange"][job.members[0]])

    def prepared(self, m, job: Job) -> Job:
        """What is brought for an order as soon as it is chosen."""
        if self.facts.in_store(job, m.material):
            m.store_ready_s = self.exchanged(job)
        if staged := self.facts.staged_of(job, m.material):
            job.staged, job.staging = True, self.aside(job, staged)
        if m.tools.magazine.ahead:
            known = self.orders.known_queue(self.env.now, m.material, m.tools.tools_in_turret)
            queue = [self.orders.needs[job.program], *known]
            moves, seconds = m.tools.magazine.plan(queue, m.tools.turret)
            if moves:
                m.tools.load_magazine(queue, moves, self.aside(job, seconds))
        return job

    def first_piece(self, m, job: Job):
        """The machine waits for the release; tells whether there was one to wait for."""
        seconds = self.facts.first_piece_s(job, self.attended(), self.night())
        yield from self.by(m, self.facts.who["first_piece"], "first_piece", seconds, job, "release")
        return seconds > 0

    def released(self, m, beside):
        """Unattended, no sheet starts before the first piece is measured."""
        if beside and not beside.done.processed and not self.attended():
            yield from self.wait_by_night_too(m, "waiting_person", beside.done, "release")

    def measured_beside(self, job: Job, more: bool):
        """The first piece of a proven program as a task beside the machine, in attended time, if a sheet is left."""
        facts, rules, who = self.facts, self.s.rules, self.facts.who["first_piece"]
        entered = facts.guarded(job) and not self.s.removal.sample_drawer
        seconds = facts.first_piece_s(job, attended=True, night=False)
        if rules.first_piece_beside == "none" or not facts.programs[job.program].proven or who == "machine":
            return None
        if not more or not self.attended() or seconds <= 0 or entered:
            return None
        return self.ask(who, seconds, job, lifted=False)

    def take_pack(self, m, job: Job) -> None:
        material = self.facts.material[job.program]
        self.store.take(material, self.aside(job, self.facts.restock_of(job)))
        m.packs.open(material)

    def stored_pack(self, m, job: Job):
        """Wait for a full pack if none is open; the exchanger comes again after such a wait."""
        material = self.facts.material[job.program]
        if not m.packs.is_open(material):
            empty = not self.store.has_pack(material)
            while not self.store.has_pack(material):
                coming = self.store.next_filled(material).done
                yield from self.wait_by_night_too(m, "waiting_material", coming, "material")
            m.store_ready_s = self.exchanged(job) if empty else m.store_ready_s
            self.take_pack(m, job)
        yield from self.alone(m, "waiting_material", m.store_ready_s - self.env.now)

    def bring_material(self, m, job: Job):
        """At a change of material: by the store, or staged and fetched."""
        facts = self.facts
        stored, different = facts.in_store(job, m.material), facts.material[job.program] != m.material
        m.material = facts.material[job.program]
        if stored:
            yield from self.stored_pack(m, job)
        elif different:
            for request in job.staging:
                if not request.done.processed:
                    yield from self.wait_by_night_too(m, "waiting_material", request.done, "material")
            yield from self.fetched(m, "material_change", job)
            if not m.packs.is_open(m.material):
                m.packs.open(m.material)

    def next_pack(self, m, job: Job):
        """Before a sheet: the pack on its way, or a new one for one used up."""
        if m.packs.is_open(m.material):
            yield from self.alone(m, "waiting_material", m.pack_ready_s - self.env.now)
        elif m.material in self.facts.stored:
            m.store_ready_s = self.exchanged(job) if self.store.has_pack(m.material) else 0.0
            yield from self.stored_pack(m, job)
        else:
            yield from self.fetched(m, "pack_change", job)
            m.packs.open(m.material)

    def fetched(self, m, what: str, job: Job):
        first, facts = job.members[0], self.facts
        seconds, shared = facts.once_s[what][first], facts.helped_s[what][first]
        yield from self.by(m, self.facts.who[what], "changeover", seconds, job, "material", shared=shared)

    def use_sheet(self, m, job: Job, more: bool) -> None:
        m.packs.use(m.material)
        empty = more and not m.packs.is_open(m.material) and m.material in self.facts.stored
        if empty and self.store.has_pack(m.material):
            m.pack_ready_s = self.exchanged(job)
            self.take_pack(m, job)

    def all_tools(self, m, job: Job):
        """Wait until no other machine uses the last copy of a tool of the order, or another order can begin."""
        while not m.tools.sharing.ask(m.row, m.tools.wanted(job)):
            if not self.begins(m):
                m.nights += [(self.env.now, "tool")] * self.night()
                while not (m.tools.to_be_had(job) or self.begins(m)):
                    m.tools_free = self.env.event()
                    yield from self.wait(m, "waiting_material", m.tools_free)
                yield from self.until_open(m)
            able = not m.tools.to_be_had(job) and self.begins(m)
            if able:
                m.tools.sharing.leave(m.row)
                self.tools_changed()
                self.orders.put_back(job)
                job = self.next_of(m, [other for other in self.orders.waiting if other not in able])
        return job

    def begins(self, m) -> list[Job]:
        """What could begin at a machine in place of the order whose tools it waits for."""
        orders = [job for job in self.orders.waiting if job not in self.for_later(m)]
        if self.night() and self.s.rules.night_queue != "as_ranked":
            orders = [job for job in orders if self.view(m).ready(job)]
        return [job for job in orders if m.tools.to_be_had(job, anew=True)]

    def tools_changed(self) -> None:
        """Machines that wait for tools look again."""
        for m in self.machines:
            if m.tools_free is not None and not m.tools_free.triggered:
                m.tools_free.succeed()
