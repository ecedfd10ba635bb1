"""Progress of a run: a bar with the time left on a terminal and in a notebook, a few plain lines elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from importlib.util import find_spec
from typing import Any, TypeVar

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from tqdm import tqdm

Item = TypeVar("Item")

PLAIN_LINES = 5
"""About how many lines a run prints where there is no terminal."""


def shown(items: Iterable[Item], total: int, what: str, *, quiet: bool = False) -> Iterator[Item]:
    """Pass ``items`` on and show on stderr how many of ``total`` are done."""
    if quiet:
        yield from items
        return
    console = Console(stderr=True)
    way = _in_notebook if console.is_jupyter else _on_bar if console.is_terminal else _as_lines
    yield from way(items, total, what, console)


def _in_notebook(items: Iterable[Item], total: int, what: str, _: Console) -> Iterator[Item]:
    """A widget where there are widgets, else a line of text; either is gone when all is done."""
    bar = _widget_bar() if find_spec("ipywidgets") else tqdm
    yield from bar(items, total=total, desc=what, unit="replication", leave=False)


def _widget_bar() -> Any:
    from tqdm.notebook import tqdm as widget_bar  # loads all widgets: a command needs none

    return widget_bar


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
