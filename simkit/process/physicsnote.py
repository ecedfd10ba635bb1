"""A note of physics: what stands out in a plant's tools, cutting and lifts, how much it matters, and to whom it defers.

Notes never stop a run and never declare anything safe.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from simkit.base.messages import Finding, some
from simkit.process.lasercut import CAUTIONS as LASER_CAUTIONS

HIGH, MIDDLE, LOW = "look first", "look", "know"
LEVELS = (HIGH, MIDDLE, LOW)
"""How much a note matters, most first."""

PRESS, TOOLS, LASER, GAS, LIFTING = ("press force", "punching tools", "laser cutting", "assist gas", "lifting")
TOPICS = (PRESS, LIFTING, LASER, TOOLS, GAS)
"""Order of topics within a level."""

_PUNCHING = (
    "Figures for planning, no assessment of a press or a tool: the makers' limits, local law and competent persons "
    "decide (ISO 16092 presses, 29 CFR 1910.217 mechanical power presses, ANSI B11.1 to B11.3: from memory, check the "
    "edition and whether it covers turret punching)."
)
_LIFTING = (
    "Exposure for planning: a low figure declares no task safe, a high one needs an assessment on the spot by a "
    "competent person; local limits apply (ISO 11228-1 and EN 1005-2 manual handling, Directive 90/269/EEC: titles "
    "from memory, check the edition)."
)

CAUTIONS: dict[str, str] = {
    PRESS: _PUNCHING,
    TOOLS: _PUNCHING,
    LASER: f"{LASER_CAUTIONS[0][0]}: {LASER_CAUTIONS[0][1]}.",
    GAS: " ".join(f"{topic}: {text}." for topic, text in LASER_CAUTIONS[1:]),
    LIFTING: _LIFTING,
}
"""The caution that belongs beside the notes of a topic."""


@dataclass(frozen=True)
class PhysicsNote:
    """One note: its level and topic, and the finding that says where, why and what to do."""

    level: str
    topic: str
    finding: Finding

    @property
    def caution(self) -> str:
        """To whom the note defers."""
        return CAUTIONS[self.topic]

    @property
    def rank(self) -> tuple[int, int]:
        """Place in a list that tells what matters most first."""
        return LEVELS.index(self.level), TOPICS.index(self.topic)


def physics_note(level: str, topic: str, place: str, why: str, mend: str, column: str = "") -> PhysicsNote:
    """Make a note; its finding never stops a run."""
    return PhysicsNote(level, topic, Finding(place, why, mend, column=column, severity="note"))


listed = partial(some, at_most=4)
"""The first names as text, and how many more there are."""
