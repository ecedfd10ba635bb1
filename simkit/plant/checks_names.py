"""Checks of identifiers: no two of them are told apart by case or blanks alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Any

from simkit.base.messages import Finding
from simkit.base.vocabulary import ALWAYS, ON_CALL
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, place_of
from simkit.plant.fields import columns_of, key_columns
from simkit.plant.strays import folded
from simkit.plant.tables import TABLES


def twins(names: Iterable[tuple[str, int]]) -> Iterator[tuple[str, int, str, int]]:
    """Yield (name, its line, the earlier one, its line) of names that differ in case or blanks only."""
    first: dict[str, int] = {}
    for name, line in names:
        first.setdefault(name, line)
    seen: dict[str, str] = {}
    for name, line in first.items():
        other = seen.setdefault(folded(name), name)
        if other != name:
            yield name, line, other, first[other]


def names_apart(table: str, columns: tuple[str, ...], draft: Draft) -> Iterator[Finding]:
    """The names in these columns, taken together, differ by more than case and blanks."""
    names = ((" | ".join(getattr(row, name) for name in columns), line) for row, line in draft.sheets[table])
    for name, line, other, other_line in twins(names):
        where = f" of row {other_line}" if other_line else ""
        why = f"differs only in case or blanks from '{other}'{where}; both would count"
        yield Finding(place_of(table), why, "Write one thing in one way", line, " + ".join(columns), name)


def _columns_apart(row_type: type) -> Iterator[tuple[str, ...]]:
    """Columns whose names are compared: each of identifiers alone, and keys with a text beside the identifier."""
    columns = columns_of(row_type)
    yield from ((name,) for name, spec in columns.items() if spec.is_id or spec.refers_to)
    texts = tuple(name for name in key_columns(row_type) if columns[name].kind is str)
    if len(texts) > 1 and not all(columns[name].is_id or columns[name].refers_to for name in texts):
        yield texts


for _table, _row_type in TABLES.items():
    for _columns in _columns_apart(_row_type):
        reads(_table)(partial(names_apart, _table, _columns))


@reads(settings=True)
def shift_names(draft: Draft) -> Iterator[Finding]:
    """Shifts have names of their own."""
    names = [shift.name for shift in draft.settings.calendar.shifts]
    where: dict[str, Any] = {"place": "plant.toml", "column": "calendar.shifts"}
    for name in dict.fromkeys(name for name in names if not name.strip() or name in (ALWAYS, ON_CALL)):
        why = "stands for no shift in people.csv" if name.strip() else "is a shift without a name"
        yield Finding(why=why, mend="Give the shift another name", value=name, **where)
    for name, _, other, _ in twins((name, 0) for name in names):
        why = f"differs only in case or blanks from the shift '{other}'"
        yield Finding(why=why, mend="Give each shift its own name", value=name, **where)
