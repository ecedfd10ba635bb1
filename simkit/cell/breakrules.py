"""What becomes of work at the end of a person's window: it pauses, is finished first, or is broken off and begun anew.

Work that is begun anew needs all of its seconds in one window of somebody who can do it. Where none is that long it
would be begun for ever, so it is refused when it is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence

from simkit.base.messages import CellError
from simkit.base.units import SECONDS_PER_MINUTE
from simkit.base.vocabulary import RULE_OF, SKILLS
from simkit.plant.settings import People
from simkit.process.breakfit import longest_window_s
from simkit.process.shifts import Span

Skills = frozenset[int]
SKILL_CODE = {skill: code for code, skill in enumerate(SKILLS)}
RUSH, RUSH_CODE = "rush", -2
"""In a pair of tasks: any task of a rush order."""


def pair_of_tasks(text: str) -> tuple[int, int]:
    """Codes of a pair of tasks, as in clear > bench: the first may interrupt the second."""
    first, _, second = (part.strip() for part in text.partition(">"))
    return RUSH_CODE if first == RUSH else SKILL_CODE[first], SKILL_CODE[second]


class BreakRules:
    """The plant's rule for each skill, and the longest windows of the people who have them.

    ``crew`` holds each person's skills (codes) and windows of work, overtime not counted.
    """

    def __init__(self, rules: People, crew: Sequence[tuple[Skills, Sequence[Span]]]) -> None:
        found = [rules.break_rules.get(RULE_OF.get(skill, skill), "pause") for skill in SKILLS]
        self.pauses = [rule != "finish" for rule in found]
        self.anew = [rule == "stop" for rule in found]
        self._crew = [(skills, tuple(windows)) for skills, windows in crew]
        self._longest_s: dict[tuple[int, ...], float] = {}

    def must_fit(self, skills: tuple[int, ...], seconds: float) -> None:
        """Raise :class:`CellError` if no crew with these skills has a window of so many seconds."""
        longest_s = self._longest_s.get(skills)
        if longest_s is None:
            longest_s = self._longest_s[skills] = longest_window_s(self._crew, skills)
        if seconds > longest_s:
            minutes, longest = seconds / SECONDS_PER_MINUTE, longest_s / SECONDS_PER_MINUTE
            raise CellError(
                f"work of {minutes:g} min for '{SKILLS[skills[0]]}' is begun anew after each break or shift end, but "
                f"nobody who can do it has more than {longest:g} min in one piece, so it would never be done; set "
                "people.break_rules for it to pause or finish, or give somebody a longer window"
            )
