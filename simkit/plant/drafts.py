"""What could be read of a plant so far: rows with their lines in the file, and what is spoiled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from simkit.base.messages import Finding
from simkit.plant.options import Option
from simkit.plant.plant import Plant, sheets_by_program
from simkit.plant.settings import Settings
from simkit.plant.tables import TABLES


@dataclass(frozen=True)
class Sheet:
    """The rows of one table and, for each, its line in the file (0 when it came from no file).

    ``keys`` are the texts of the first key column of all rows, faulty rows included, so that a row with
    one bad cell does not make every reference to it look wrong. ``spoiled``: some row could not be read. ``heads`` are
    the columns of the file.
    """

    table: str
    rows: tuple[Any, ...] = ()
    lines: tuple[int, ...] = ()
    keys: frozenset[str] = frozenset()
    spoiled: bool = False
    heads: tuple[str, ...] = ()

    def __iter__(self) -> Any:
        """Iterate (row, line) pairs."""
        return iter(zip(self.rows, self.lines, strict=True))


@dataclass(frozen=True)
class Draft:
    """A plant that has been read but not yet checked as a whole; ``readable_settings`` is None when they are not."""

    readable_settings: Settings | None
    sheets: Mapping[str, Sheet]
    options: tuple[Option, ...] = ()
    sequences: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, plant: Plant) -> Draft:
        """Return a plant in memory as a draft without line numbers."""
        sheets = {}
        for table in TABLES:
            rows = getattr(plant, table)
            sheets[table] = Sheet(table, rows, (0,) * len(rows))
        return cls(plant.settings, sheets, plant.options, plant.sequences)

    @property
    def settings(self) -> Settings:
        """The settings; raises ValueError when they could not be read."""
        if self.readable_settings is None:
            raise ValueError("the settings could not be read")
        return self.readable_settings

    def plant(self) -> Plant:
        """Return the draft as a plant; needs readable settings."""
        rows: dict[str, Any] = {table: sheet.rows for table, sheet in self.sheets.items()}
        return Plant(settings=self.settings, options=self.options, sequences=dict(self.sequences), **rows)

    def clean(self, *tables: str) -> bool:
        """Whether all rows of these tables could be read."""
        return not any(self.sheets[table].spoiled for table in tables)

    def column(self, table: str, name: str) -> set[Any]:
        """Return the values of a column."""
        return {getattr(row, name) for row in self.sheets[table].rows}

    @cached_property
    def orders_of(self) -> Counter[str]:
        """How many orders run each program."""
        return Counter(row.program_id for row in self.sheets["orders"].rows)

    @cached_property
    def sheets_of(self) -> Counter[str]:
        """How many sheets the orders of each program make."""
        return sheets_by_program(self.sheets["orders"].rows)


def place_of(table: str) -> str:
    """Return the file of a table, as messages name it."""
    return f"{table}.csv"


def note(place: str, why: str, mend: str, **where: Any) -> Finding:
    """Return a finding that does not stop a run."""
    return Finding(place, why, mend, severity="note", **where)
