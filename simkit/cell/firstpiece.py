"""The first piece of an order: measured while the machine waits for its release, or beside the running machine."""

from __future__ import annotations

from collections.abc import Generator

import simpy

from simkit.base.vocabulary import FIRST_PIECE, WAITING_PERSON
from simkit.cell.facts import Facts
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.orders import Job
from simkit.cell.requests import Request
from simkit.cell.troubles import Troubles


class FirstPiece:
    """First pieces at one machine: measured and released."""

    def __init__(self, time: MachineTime, facts: Facts, troubles: Troubles) -> None:
        self.time, self.facts, self.troubles = time, facts, troubles
        self.settings = facts.settings

    def release(self, job: Job) -> Generator[simpy.Event, None, bool]:
        """The first whole sheet is measured and released; in a guarded cell somebody has to enter it."""
        time, facts, who = self.time, self.facts, self.facts.who["first_piece"]
        seconds = facts.first_piece_s(job, time.attended(), time.open_hours.in_night(time.clock.now))
        if who == "machine":
            yield from time.alone(FIRST_PIECE, seconds)
        else:
            if not self.settings.removal.sample_drawer:
                self.troubles.note_entry(job, seconds)
            want = "first_piece" if facts.programs[job.program].proven else "unproven_program"
            yield from time.by_person(who, FIRST_PIECE, seconds, job, "release", want)
        return seconds > 0

    def measured_beside(self, job: Job, *, more: bool) -> Request | None:
        """The first piece is measured while the machine runs on, where the plant does so and a sheet is left to make.

        Not in a night, not by the machine itself, and not where somebody would have to enter its guarded cell. Nothing
        waits for it, so that a rush order does not lift it.
        """
        facts = self.facts
        wanted = self.settings.rules.first_piece_beside == "proven" and facts.programs[job.program].proven and more
        who = facts.who["first_piece"]
        if not wanted or who == "machine" or not self.time.attended():
            return None
        if facts.guarded(job) and not self.settings.removal.sample_drawer:
            return None
        seconds = facts.first_piece_s(job, attended=True, night=False)
        return self.time.pool.ask(who, seconds, -1, job.number) if seconds > 0 else None

    def wait_for(self, beside: Request) -> Steps:
        """When the people have gone before the first piece is measured, no further sheet starts until it is."""
        if not beside.done and not self.time.attended():
            yield from self.time.wait(WAITING_PERSON, self.time.after(beside), "release", "first_piece")
