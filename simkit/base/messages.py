"""Findings: what is wrong in an input, where, why, and how to mend it. All of them at once."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


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
            parts.append(f'"{self.value}"')
        end = "" if self.mend.endswith("?") else "."
        return f"{' '.join(parts)}: {self.why}. {self.mend}{end}"


class BadInput(Exception):
    """Raised once with every problem of an input; its text is the message for the user."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        count = len(self.findings)
        head = f"{count} problem{'s' if count != 1 else ''} in the input:"
        super().__init__("\n".join([head, *(f"  {i}. {f}" for i, f in enumerate(self.findings, 1))]))

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
    names = list(known)
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"did you mean '{close[0]}'?"
    return f"known names: {', '.join(names)}"
