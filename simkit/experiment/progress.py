"""Progress of a run on stderr: a bar on a terminal, a few plain lines elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

Item = TypeVar("Item")

PLAIN_LINES = 5
"""About how many lines a run prints where there is no terminal."""


def shown(items: Iterable[Item], total: int, what: str, *, quiet: bool = False) -> Iterator[Item]:
    """Pass ``items`` on and show on stderr how many of ``total`` are done."""
    if quiet:
        yield from items
        return
    console = Console(stderr=True)
    yield from (_on_bar if console.is_terminal else _as_lines)(items, total, what, console)


def _on_bar(items: Iterable[Item], total: int, what: str, console: Console) -> Iterator[Item]:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        yield from bar.track(items, total=total, description=what)


def _as_lines(items: Iterable[Item], total: int, what: str, console: Console) -> Iterator[Item]:
    step = max(1, total // PLAIN_LINES)
    for done, item in enumerate(items, 1):
        if done % step == 0 or done == total:
            console.print(f"{what}: replication {done} of {total} done", highlight=False, soft_wrap=True)
        yield item
