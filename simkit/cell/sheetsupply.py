"""Sheets at a machine: bringing the material of an order, the next pack when one is used up, loading."""

from __future__ import annotations

from simkit.base.vocabulary import CHANGEOVER, LOADING, WAITING_MATERIAL
from simkit.cell.facts import Facts
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.orders import Job
from simkit.cell.outside import OutsideWork
from simkit.cell.packs import Packs, Store

_NONE = -1


class SheetSupply:
    """The material that stands at a machine, and how more of it comes."""

    def __init__(self, time: MachineTime, facts: Facts, store: Store, outside: OutsideWork) -> None:
        self.time, self.facts, self.store, self.outside = time, facts, store, outside
        self.material = _NONE
        self.packs = Packs(facts.per_pack)
        self._store_ready_s = self._pack_ready_s = 0.0

    def prepare(self, job: Job) -> None:
        """The material of a chosen order starts to be brought now, by the store or by whoever stages it."""
        facts = self.facts
        if facts.in_store(job, self.material):
            self._store_ready_s = self._store_exchange(job)
        staged = facts.staged_of(job, self.material)
        if staged:
            job.staged, job.staging = True, self.outside.ask(job, staged)

    def change_to(self, job: Job) -> Steps:
        """The order's material takes the place of the one before."""
        facts, time, wanted = self.facts, self.time, self.facts.material[job.program]
        if wanted == self.material:
            return
        in_store = facts.in_store(job, self.material)
        self.material = wanted
        if in_store:
            yield from self._open_stored_pack(job)
            yield from time.alone(WAITING_MATERIAL, max(self._store_ready_s - time.clock.now, 0.0))
            return
        for request in job.staging:
            if not request.done:
                yield from time.wait(WAITING_MATERIAL, time.after(request), "material", "material_fetch")
        yield from self.fetch("material_change", job, "material_fetch")
        if not self.packs.is_open(wanted):
            self.packs.open(wanted)

    def is_ready(self) -> bool:
        """Whether a sheet of an open pack can be taken now."""
        return self._pack_ready_s <= self.time.clock.now and self.packs.is_open(self.material)

    def next_pack(self, job: Job) -> Steps:
        """A used-up pack gives way to the next one: from the store, where it waits already, or fetched by hand."""
        facts, time = self.facts, self.time
        if self.packs.is_open(self.material):
            yield from time.alone(WAITING_MATERIAL, self._pack_ready_s - time.clock.now)
            return
        if self.material in facts.stored:
            self._store_ready_s = self._store_exchange(job) if self.store.has_pack(self.material) else 0.0
            yield from self._open_stored_pack(job)
            yield from time.alone(WAITING_MATERIAL, max(self._store_ready_s - time.clock.now, 0.0))
            return
        yield from self.fetch("pack_change", job, "pack_change")
        self.packs.open(self.material)

    def load(self, job: Job, sheet: int, *, more: bool) -> Steps:
        """A sheet is loaded; ``more`` of the order come after it."""
        who, seconds = self.facts.who["load"], self.facts.load_s[sheet]
        if who == "machine":
            yield from self.time.alone(LOADING, seconds)
        else:
            skills = self.facts.load_skills(job)
            yield from self.time.by_person(who, LOADING, seconds, job, "material", "loading_by_hand", skills)
        self._use_sheet(job, more=more)

    def fetch(self, driver: str, job: Job, want: str) -> Steps:
        """Material comes to the machine, by hand or without anybody."""
        facts, task, first = self.facts, self.facts.who[driver], job.members[0]
        seconds = facts.once_s[driver][first]
        if task == "machine":
            yield from self.time.alone(CHANGEOVER, seconds)
        else:
            yield from self.time.by_person(task, CHANGEOVER, seconds, job, "material", want,
                                           helped_s=facts.helped_s[driver][first])  # fmt: skip

    def _store_exchange(self, job: Job) -> float:
        """The store brings a pack as soon as it is free; return when it is there."""
        return self.store.book(self.time.clock.now, self.facts.once_s["store_exchange"][job.members[0]])

    def _open_stored_pack(self, job: Job) -> Steps:
        """If no pack of the order's material is open, wait until the store has a full one, and take it."""
        material, time = self.facts.material[job.program], self.time
        if self.packs.is_open(material):
            return
        waited = False
        while not self.store.has_pack(material):
            waited = True
            filled = time.after(self.store.next_filled(material))
            yield from time.wait(WAITING_MATERIAL, filled, "material", "store_empty")
        if waited:
            self._store_ready_s = self._store_exchange(job)
        self._take_stored_pack(job)

    def _take_stored_pack(self, job: Job) -> None:
        material = self.facts.material[job.program]
        self.store.take(material, self.outside.ask(job, self.facts.restock_of(job)))
        self.packs.open(material)

    def _use_sheet(self, job: Job, *, more: bool) -> None:
        """With the last sheet of a pack the store starts to bring the next one, if the order goes on."""
        packs, store, material = self.packs, self.store, self.material
        packs.use(material)
        if more and not packs.is_open(material) and material in self.facts.stored and store.has_pack(material):
            self._pack_ready_s = self._store_exchange(job)
            self._take_stored_pack(job)
