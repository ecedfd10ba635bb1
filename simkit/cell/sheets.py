"""Sheets at a machine: bringing the material of an order, and the next pack when one is used up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import simpy

from simkit.base.vocabulary import CHANGEOVER, WAITING_MATERIAL
from simkit.cell.facts import Facts
from simkit.cell.orders import Job
from simkit.cell.people import Request
from simkit.cell.stops import StopClocks
from simkit.cell.stretches import Steps
from simkit.cell.supply import Packs
from simkit.cell.toolwork import ToolWork
from simkit.cell.troubles import Troubles
from simkit.cell.upkeep import UpkeepClocks

if TYPE_CHECKING:
    from simkit.cell.run import Cell

_NONE = -1


class SheetSupply(Troubles):
    """A machine to which material is brought."""

    def __init__(
        self, cell: Cell, row: int, facts: Facts, tools: ToolWork, stops: StopClocks, upkeep: UpkeepClocks
    ) -> None:
        super().__init__(cell, row, facts, tools, stops, upkeep)
        self.material = _NONE
        self.packs = Packs(facts.per_pack)
        self.store_ready_s = self.pack_ready_s = 0.0

    def _change_material(self, job: Job) -> Steps:
        facts, wanted = self.facts, self.facts.material[job.program]
        if wanted == self.material:
            return
        in_store = facts.in_store(job, self.material)
        self.material = wanted
        if in_store:
            yield from self._open_stored_pack(job)
            yield from self.alone(WAITING_MATERIAL, max(self.store_ready_s - self.clock.now, 0.0))
            return
        for request in job.staging:
            if not request.event.processed:
                yield from self.wait(WAITING_MATERIAL, self._after(request), "material", "material_fetch")
        yield from self._fetch("material_change", job, "material_fetch")
        if not self.packs.is_open(wanted):
            self.packs.open(wanted)

    def _store_exchange(self, job: Job) -> float:
        """The store brings a pack as soon as it is free; return when it is there."""
        return self.cell.store.book(self.clock.now, float(self.facts.orders.store_exchange_s[job.members[0]]))

    def _open_stored_pack(self, job: Job) -> Steps:
        """If no pack of the order's material is open, wait until the store has a full one, and take it."""
        material, store = self.facts.material[job.program], self.cell.store
        if self.packs.is_open(material):
            return
        waited = False
        while not store.has_pack(material):
            waited = True
            yield from self.wait(WAITING_MATERIAL, self._after(store.next_filled(material)), "material", "store_empty")
        if waited:
            self.store_ready_s = self._store_exchange(job)
        self._take_stored_pack(job)

    def _take_stored_pack(self, job: Job) -> None:
        material = self.facts.material[job.program]
        self.cell.store.take(material, self.cell.ask_outside(job, self.facts.restock_of(job)))
        self.packs.open(material)

    def _next_pack(self, job: Job) -> Steps:
        """A used-up pack gives way to the next one: from the store, where it waits already, or fetched by hand."""
        facts = self.facts
        if self.packs.is_open(self.material):
            if self.pack_ready_s > self.clock.now:
                yield from self.alone(WAITING_MATERIAL, self.pack_ready_s - self.clock.now)
            return
        if self.material in facts.stored:
            self.store_ready_s = self._store_exchange(job) if self.cell.store.has_pack(self.material) else 0.0
            yield from self._open_stored_pack(job)
            yield from self.alone(WAITING_MATERIAL, max(self.store_ready_s - self.clock.now, 0.0))
            return
        yield from self._fetch("pack_change", job, "pack_change")
        self.packs.open(self.material)

    def _fetch(self, driver: str, job: Job, want: str) -> Steps:
        """Material comes to the machine, by hand or without anybody."""
        times, task, first = self.facts.orders, self.facts.who[driver], job.members[0]
        seconds = float(times.change_s[driver][first])
        if task == "machine":
            yield from self.alone(CHANGEOVER, seconds)
        else:
            yield from self.by_person(task, CHANGEOVER, seconds, job, "material", want,
                                      helped_s=float(times.change_helped_s[driver][first]))  # fmt: skip

    def _use_sheet(self, job: Job, *, more: bool) -> None:
        """With the last sheet of a pack the store starts to bring the next one, if the order goes on."""
        packs, store, material = self.packs, self.cell.store, self.material
        packs.use(material)
        if more and not packs.is_open(material) and material in self.facts.stored and store.has_pack(material):
            self.pack_ready_s = self._store_exchange(job)
            self._take_stored_pack(job)

    def _after(self, request: Request) -> simpy.Event:
        """An event of this machine's own, when somebody else's work is done."""
        done = simpy.Event(self.clock)
        request.event.callbacks.append(lambda _: self._wake(done))
        return done

    def _wake(self, event: simpy.Event) -> None:
        if not event.triggered:
            self.clock.fire_at(event, self.clock.now, self.rank)
