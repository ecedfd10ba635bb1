"""One object for what is equal, so that work done on it need not be done again.

A study makes hundreds of scenarios of one plant that differ in a few values. Tables that no edit touches stay
the very same tuple, and equal edited tables become one; hashes and checks are then worked out once for each.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable
from typing import Any, Generic, TypeVar

Value = TypeVar("Value")


class ByIdentity(Generic[Value]):
    """What was worked out for objects, found again for these very ones; what was not asked for longest is forgotten.

    The objects are held, so that their identity cannot become another one's. For frozen things only.
    """

    def __init__(self, most: int = 1024) -> None:
        self._most = most
        self._kept: OrderedDict[tuple[int, ...], tuple[Any, Value]] = OrderedDict()

    def of(self, work_out: Callable[..., Value], *things: Any) -> Value:
        """Return the value of some things, worked out when it is asked for the first time."""
        key = tuple(map(id, things))
        kept = self._kept.get(key)
        if kept is None:
            kept = self._kept[key] = (things, work_out(*things))
            if len(self._kept) > self._most:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return kept[1]


class EqualRows:
    """Edited rows and tables of one plant: equal ones are given out as one object."""

    def __init__(self, most: int = 4096) -> None:
        self._most = most
        self._rows: dict[str, Any] = {}
        self._tables: dict[tuple[int, ...], tuple[Any, ...]] = {}

    def row(self, row: Any) -> Any:
        """Return the first row that was equal to this one. Equal as written: 1 is not 1.0."""
        if len(self._rows) > self._most:
            self._rows.clear()
            self._tables.clear()
        return self._rows.setdefault(repr(row), row)

    def table(self, rows: Iterable[Any]) -> tuple[Any, ...]:
        """Return the first table that held these very rows in this order."""
        rows = tuple(rows)
        return self._tables.setdefault(tuple(map(id, rows)), rows)
