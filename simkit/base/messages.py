"""Findings: what is wrong in an input, where, why, and how to mend it. All of them at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

SHOWN_OF_A_KIND = 5
"""Findings of one kind that a message lists before it counts the rest."""

_PARTICULAR = re.compile(r"'[^']*'|\"[^\"]*\"|\d[\d.,:-]*|\b[A-Z][\w.]*-[\w.-]+")
"""What differs between two findings of one kind: quoted names, numbers, identifiers with a hyphen."""
_SEVERAL, _ALSO = re.compile(r"…(?:,? …)*(?: and … more)?"), re.compile(r" \(also rows? …\)")
_PLURAL = re.compile(r"(… \w+?)s\b")
"""And how many of them there are: 'is missing (also rows 4, 5); 2 orders' is of one kind with 'is missing; 1 order'."""
INVISIBLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff\ufff9-\ufffb"
    "\U000e0001\U000e0020-\U000e007f]"
)
"""Control characters, signs without width and bytes that are no text: nobody sees them, and they tell texts apart."""
LONGEST_VALUE = 300
"""Longer values are cut in messages."""


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
        why = _SEVERAL.sub("…", _PARTICULAR.sub("…", self.why))
        return self.severity, (self.place.split() or [""])[0], self.column, _PLURAL.sub(r"\1", _ALSO.sub("", why))


def note(place: str, why: str, mend: str, **where: Any) -> Finding:
    """Return a finding that does not stop a run."""
    return Finding(place, why, mend, severity="note", **where)


def visible(text: str) -> str:
    """Return a text on one line, its invisible signs by their numbers: nothing that a terminal would obey."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\n", "⏎").replace("\t", " ")
    return INVISIBLE.sub(lambda sign: f"<U+{ord(sign[0]):04X}>", text)


def in_short(findings: Iterable[Finding], shown: int | None = SHOWN_OF_A_KIND) -> list[tuple[Finding, int]]:
    """Findings sorted and grouped by kind, errors first: each with how many more of its kind are left out after it.

    Findings that say the same of several values become one that lists them. ``shown`` None leaves none out.
    """
    kinds: dict[tuple[str, str, str, str], list[Finding]] = {}
    for finding in sorted(findings, key=lambda one: one.severity != "error"):
        kinds.setdefault(finding.kind, []).append(finding)
    found: list[tuple[Finding, int]] = []
    for same in kinds.values():
        listed = _joined(same) if shown is not None else same
        first = listed[:shown]
        found += [(finding, 0) for finding in first[:-1]]
        found.append((first[-1], len(listed) - len(first)))
    return found


def _joined(findings: list[Finding]) -> list[Finding]:
    """Findings in the order of rows; those that differ in nothing but value and row are one, at its first row."""
    alike: dict[Finding, list[Finding]] = {}
    for finding in sorted(findings, key=lambda one: one.row):
        alike.setdefault(replace(finding, row=0, value=""), []).append(finding)
    return [_at_once(same) for same in alike.values()]


def _at_once(alike: list[Finding]) -> Finding:
    """Findings that differ in value and row as one: a value that comes again is named once."""
    rows: dict[str, list[int]] = {}
    for one in alike:
        rows.setdefault(one.value, []).append(one.row)
    if len(rows) == 1:
        return replace(alike[0], why=f"{alike[0].why}{also_rows(rows[alike[0].value])}")
    named = [f"{value} ({len(where)} times)" if len(where) > 1 else value for value, where in rows.items()]
    return replace(alike[0], value=some(named, 40))


def also_rows(lines: Sequence[int]) -> str:
    """Return `` (also rows 4, 5)`` for the lines after the first, or nothing."""
    rest = [line for line in lines[1:] if line]
    if not rest:
        return ""
    return f" (also row{'s' if len(rest) > 1 else ''} {some(rest)})"


def some(items: Sequence[Any], at_most: int = 6) -> str:
    """Return the first few items as text and how many more there are."""
    more = f" and {len(items) - at_most} more" if len(items) > at_most else ""
    return ", ".join(map(str, items[:at_most])) + more


def plain(value: float) -> str:
    """Return a number as people write it: at most six digits, without a power of ten."""
    return f"{Decimal(f'{value:.6g}'):f}"


class BadInput(Exception):
    """Raised once with every problem of an input; its text is the message for the user."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(dict.fromkeys(findings))
        count = len(self.findings)
        lines = [f"{count} problem{'s' if count != 1 else ''} in the input:"]
        for number, (finding, more) in enumerate(in_short(self.findings), 1):
            lines.append(f"  {number}. {finding}")
            lines += [f"     and {more} more of this kind: simkit check --all lists them"] if more else []
        super().__init__("\n".join(lines))

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


class CellError(RuntimeError):
    """The plant asks for something the cell cannot do; the text says what."""


class ScenarioFailed(RuntimeError):
    """A run broke off; the message names the scenario's inputs, so that it can be run again alone."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return ``did you mean 'x'?`` for the nearest known name, or the list of known names."""
    names = sorted(known)
    if not names:
        return "there are none"
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"did you mean '{close[0]}'?"
    return f"known names: {', '.join(names)}"
