"""All checks across tables, run together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from simkit.base.messages import Finding
from simkit.plant import (
    checks_book,
    checks_faults,
    checks_materials,
    checks_money_scale,
    checks_motion,
    checks_names,
    checks_nights,
    checks_parts,
    checks_people,
    checks_relations,
    checks_times,
    checks_tools,
    checks_usual,
    checks_work,
)
from simkit.plant.checking import CHECKS, Check
from simkit.plant.drafts import Draft, Sheet
from simkit.plant.settings import Settings

MODULES = (
    checks_names, checks_work, checks_book, checks_times, checks_people, checks_nights, checks_tools, checks_faults,
    checks_materials, checks_motion, checks_parts, checks_relations, checks_usual, checks_money_scale,
)  # fmt: skip
"""Where the checks are written; importing them registers them."""


MOST_KEPT = 24
"""Findings of one check that are kept, for as many states of what it reads."""


def run_checks(draft: Draft, memory: Memory | None = None) -> list[Finding]:
    """Return the findings of every check whose inputs could be read.

    With a ``memory``, a check is run only if something that it reads differs from every time before.
    """
    findings: list[Finding] = []
    for tables, settings, check in CHECKS:
        if draft.clean(*tables) and (draft.readable_settings or not settings):
            findings += check(draft) if memory is None else memory.findings(check, draft)
    return findings


@dataclass
class _Read:
    """What a check has read of a draft, and what it found."""

    sheets: dict[str, Sheet] = field(default_factory=dict)
    sections: dict[str, Any] = field(default_factory=dict)
    found: tuple[Finding, ...] = ()

    def still_holds(self, draft: Draft) -> bool:
        """Whether all that was read is the same in another draft: tables by identity, settings by value."""
        return all(draft.sheets[table].rows is sheet.rows for table, sheet in self.sheets.items()) and all(
            (now := getattr(draft.settings, name)) is value or now == value for name, value in self.sections.items()
        )


class Memory:
    """Findings of checks of drafts without lines that share options and value files: scenarios of one plant."""

    def __init__(self) -> None:
        self._kept: dict[Check, list[_Read]] = {}

    def findings(self, check: Check, draft: Draft) -> tuple[Finding, ...]:
        """Return what a check finds, from memory where nothing that it read has changed."""
        kept = self._kept.setdefault(check, [])
        known = next((read for read in kept if read.still_holds(draft)), None)
        if known is None:
            known = _Read()
            watched = Draft(
                cast(Settings, _Watched(draft.settings, known.sections)), _WatchedSheets(draft.sheets, known.sheets),
                draft.options, draft.sequences,
            )  # fmt: skip
            known.found = tuple(check(watched))
            kept.insert(0, known)
            del kept[MOST_KEPT:]
        return known.found


class _Watched:
    """Settings that note which of their sections are read."""

    def __init__(self, settings: Settings, seen: dict[str, Any]) -> None:
        self._settings, self._seen = settings, seen

    def __getattr__(self, name: str) -> Any:
        value = self._seen[name] = getattr(self._settings, name)
        return value


class _WatchedSheets(Mapping[str, Sheet]):
    """Tables that note which of them are read."""

    def __init__(self, sheets: Mapping[str, Sheet], seen: dict[str, Sheet]) -> None:
        self._sheets, self._seen = sheets, seen

    def __getitem__(self, table: str) -> Sheet:
        sheet = self._seen[table] = self._sheets[table]
        return sheet

    def __iter__(self) -> Iterator[str]:
        return iter(self._sheets)

    def __len__(self) -> int:
        return len(self._sheets)
