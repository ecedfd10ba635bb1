"""The register of checks across tables: what single cells cannot show.

Each check takes a draft and yields findings: errors stop a run, notes are worth knowing. A check runs
only when all tables that it reads are clean, so that one bad cell does not start an avalanche.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from simkit.base.messages import Finding
from simkit.plant.drafts import Draft

Check = Callable[[Draft], Iterator[Finding]]
CHECKS: list[tuple[tuple[str, ...], bool, Check]] = []
"""(tables read, settings read, check) in the order of their messages."""


def reads(*tables: str, settings: bool = False) -> Callable[[Check], Check]:
    """Register a check with the tables it reads."""

    def register(check: Check) -> Check:
        CHECKS.append((tables, settings, check))
        return check

    return register
