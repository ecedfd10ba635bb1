"""Findings: what is wrong in an input, where, why, and how to mend it. All of them at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

SHOWN_OF_A_KIND = 5
"""Findings of one kind that a message lists before it counts the rest."""

_PARTICULAR = re.compile(r"'[^']*'|\"[^\"]*\"|\d[\d.,:-]*|\b[A-Z][\w.]*-[\w.-]+")
"""What differs between two findings of one kind: quoted names, numbers, identifiers with a hyphen."""
INVISIBLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff\ufff9-\ufffb"
    "\U000e0001\U000e0020-\U000e007f]"
)
"""Control characters, signs without width and bytes that are no text: nobody sees them, and they tell texts apart."""
LONGEST_VALUE = 120


@dataclass(frozen=True)
class Finding:
    """One problem or note about an input.

    ``severity`` is ``error`` (nothing can run) or ``note`` (worth knowing, the run goes on).
    ``row`` counts lines of the file as an editor shows them, 0 where no line applies.
    """

    place: str
    why: str
    mend: str
    row: int = 0
    column: str = ""
    value: str = ""
    severity: str = "error"

    def __str__(self) -> str:
        """Return ``place row column "value": why. How to mend.``"""
        parts = [self.place]
        if self.row:
            parts.append(f"row {self.row}")
        if self.column:
            parts.append(self.column)
        if self.value:
            cut = self.value[LONGEST_VALUE:] and "…"
            parts.append(f'"{self.value[:LONGEST_VALUE]}{cut}"')
        end = "" if self.mend.endswith("?") else "."
        return visible(f"{' '.join(parts)}: {self.why}. {self.mend}{end}")

    @property
    def kind(self) -> tuple[str, str, str, str]:
        """What it shares with others of its kind: how bad, file, column, and the reason without its particulars."""
        return self.severity, self.place.split()[0] if self.place else "", self.column, _PARTICULAR.sub("…", self.why)

    @property
    def whys(self) -> str:
        """Why, of every problem, in one line."""
        return "; ".join(finding.why for finding in self.findings)

    def __reduce__(self) -> tuple[type[BadInput], tuple[tuple[Finding, ...]]]:
        """Keep the findings when the error crosses a process border."""
        return BadInput, (self.findings,)


def refuse_to_replace(path: Path) -> None:
    """Raise BadInput if a file is there already: nothing of the user's is written over."""
    if path.exists():
        raise BadInput([Finding(str(path), "exists, and nothing is written over", "Name a new file")])


class ScenarioFailed(RuntimeError):
    """A run broke off; the message names the scenario's inputs, so that it can be run again alone."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return ``did you mean 'x'?`` for the nearest known name, or the list of known names."""
    names = sorted(known)
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"did you mean '{close[0]}'?"
    return f"known names: {', '.join(names)}"
