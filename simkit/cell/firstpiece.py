"""The first piece of an order: measured while the machine waits for its release, or beside the running machine."""

from __future__ import annotations

from collections.abc import Generator

import simpy

from simkit.base.vocabulary import FIRST_PIECE, WAITING_PERSON
from simkit.cell.orders import Job
from simkit.cell.people import Request
from simkit.cell.running import Running
from simkit.cell.stretches import Steps


class FirstPiece(Running):
    """A machine whose first pieces are measured and released."""

    def _first_piece(self, job: Job) -> Generator[simpy.Event, None, bool]:
        """The first whole sheet is measured and released; in a guarded cell somebody has to enter it."""
        opening, now, who = self.opening, self.clock.now, self.facts.who["first_piece"]
        seconds = self.facts.first_piece_s(job, opening.attended(now), opening.in_night(now))
        if who == "machine":
            yield from self.alone(FIRST_PIECE, seconds)
        else:
            if not self.facts.settings.removal.sample_drawer:
                self._note_entry(job, seconds)
            want = "first_piece" if self.facts.programs[job.program].proven else "unproven_program"
            yield from self.by_person(who, FIRST_PIECE, seconds, job, "release", want)
        return seconds > 0

    def _measured_beside(self, job: Job, more: bool) -> Request | None:
        """The first piece is measured while the machine runs on, where the plant does so and a sheet is left to make.

        Not in a night, not by the machine itself, and not where somebody would have to enter its guarded cell. Nothing
        waits for it, so that a rush order does not lift it.
        """
        facts, now = self.facts, self.clock.now
        wanted = self.rules.first_piece_beside == "proven" and facts.programs[job.program].proven and more
        who = facts.who["first_piece"]
        if not wanted or who == "machine" or not self.opening.attended(now):
            return None
        if facts.guarded(job) and not facts.settings.removal.sample_drawer:
            return None
        seconds = facts.first_piece_s(job, attended=True, night=False)
        return self.pool.ask(who, seconds, -1, job.number) if seconds > 0 else None

    def _released(self, beside: Request | None) -> Steps:
        """When the people have gone before the first piece is measured, no further sheet starts until it is."""
        if beside is not None and not beside.event.processed and not self.opening.attended(self.clock.now):
            yield from self.wait(WAITING_PERSON, self._after(beside), "release", "first_piece")
