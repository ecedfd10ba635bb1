"""A note of physics: what stands out in a plant's tools, cutting and lifts, and how much it matters.

Notes never stop a run and never declare anything safe; ``simkit/report/cautions.py`` says to whom each topic defers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from simkit.base.messages import Finding, some

HIGH, MIDDLE, LOW = "look first", "look", "know"
LEVELS = (HIGH, MIDDLE, LOW)
"""How much a note matters, most first."""

PRESS, TOOLS, LASER, GAS, LIFTING = ("press force", "punching tools", "laser cutting", "assist gas", "lifting")
TOPICS = (PRESS, LIFTING, LASER, TOOLS, GAS)
"""Order of topics within a level."""


@dataclass(frozen=True)
class PhysicsNote:
    """One note: its level and topic, and the finding that says where, why and what to do."""

    level: str
    topic: str
    finding: Finding

    @property
    def rank(self) -> tuple[int, int]:
        """Place in a list that tells what matters most first."""
        return LEVELS.index(self.level), TOPICS.index(self.topic)


def physics_note(level: str, topic: str, place: str, why: str, mend: str, column: str = "") -> PhysicsNote:
    """Make a note; its finding never stops a run."""
    return PhysicsNote(level, topic, Finding(place, why, mend, column=column, severity="note"))


listed = partial(some, at_most=4)
"""The first names as text, and how many more there are."""
