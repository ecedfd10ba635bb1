"""Checks of names: no two of them are told apart by case or blanks alone, and what is named exists."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Any

from simkit.base.messages import Finding, also_rows
from simkit.base.vocabulary import ALWAYS, ON_CALL
from simkit.plant.check_register import reads, row_error
from simkit.plant.fields import columns_of, key_columns
from simkit.plant.plant import DraftTable, PlantInputs
from simkit.plant.tables import TABLES, place_of
from simkit.plant.values import folded, near


def twins(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield (name, the earlier one) of names that differ in case or blanks only."""
    seen: dict[str, str] = {}
    for name in dict.fromkeys(names):
        other = seen.setdefault(folded(name), name)
        if other != name:
            yield name, other


def names_apart(table: str, columns: tuple[str, ...], plant: PlantInputs) -> Iterator[Finding]:
    """The names in these columns, taken together, differ by more than case and blanks."""
    rows: dict[str, Any] = {}
    for row in getattr(plant, table):
        rows.setdefault(" | ".join(getattr(row, name) for name in columns), row)
    for name, other in twins(rows):
        line = plant.line(rows[other])
        why = f"differs only in case or blanks from '{other}'{f' of row {line}' if line else ''}; both would count"
        yield row_error(plant, rows[name], " + ".join(columns), why, "Write one thing in one way", name)


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


@reads("settings")
def shift_names(plant: PlantInputs) -> Iterator[Finding]:
    """Shifts have names of their own."""
    names = [shift.name for shift in plant.settings.calendar.shifts]
    where: dict[str, Any] = {"place": "plant.toml", "column": "calendar.shifts"}
    for name in dict.fromkeys(name for name in names if not name.strip() or name in (ALWAYS, ON_CALL)):
        why = "stands for no shift in people.csv" if name.strip() else "is a shift without a name"
        yield Finding(why=why, mend="Give the shift another name", value=name, **where)
    for name, other in twins(names):
        why = f"differs only in case or blanks from the shift '{other}'"
        yield Finding(why=why, mend="Give each shift its own name", value=name, **where)


def references(table: str, name: str, target: str, plant: PlantInputs) -> Iterator[Finding]:
    """Every reference meets a row; one finding per missing name, with the rows that name it."""
    key = key_columns(TABLES[target])[0]
    file = plant.files.get(target, DraftTable())
    known = {getattr(row, key) for row in getattr(plant, target)} | file.keys
    if file.spoiled and not known:
        return
    missing: dict[str, list[Any]] = {}
    for row in getattr(plant, table):
        if getattr(row, name) not in known:
            missing.setdefault(getattr(row, name), []).append(row)
    names = sorted(known)
    for value, rows in missing.items():
        reach = _reach(plant, {row.program_id for row in rows})
        mend = f"Add it to {place_of(target)} or correct the name; {near(value, names)}"
        why = f"is not in {place_of(target)}{also_rows([plant.line(row) for row in rows])}{reach}"
        yield row_error(plant, rows[0], name, why, mend)


for _table, _row_type in TABLES.items():
    for _name, _spec in columns_of(_row_type).items():
        if _spec.refers_to:
            read = reads(_table, _spec.refers_to, "orders", faulty_too=True)
            read(partial(references, _table, _name, _spec.refers_to))


def _reach(plant: PlantInputs, programs: set[str]) -> str:
    """Return how many orders and sheets hang on programs."""
    count = sum(plant.orders_of[program_id] for program_id in programs)
    if not count:
        return ""
    sheets = sum(plant.sheets_of[program_id] for program_id in programs)
    return f"; {count} order{'s' if count > 1 else ''} with {sheets} sheets cannot run"


@reads("program_parts", "orders")
def orders_of_parts(plant: PlantInputs) -> Iterator[Finding]:
    """The order of a part in a mixed nest is in the book."""
    known = {order.order_id for order in plant.orders}
    for part in plant.program_parts:
        if part.order_id and part.order_id not in known:
            mend = f"Correct the number, or leave it empty; {near(part.order_id, sorted(known))}"
            yield row_error(plant, part, "order_id", "is not in orders.csv", mend)


@reads("measured", "elements")
def measured_elements(plant: PlantInputs) -> Iterator[Finding]:
    """What was measured is an element of the plant."""
    known = {(row.element, row.applies_to) for row in plant.elements}
    for row in plant.measured:
        if (row.element, row.applies_to) not in known:
            value = " for ".join(filter(None, (row.element, row.applies_to)))
            mend = f"Name a row of elements.csv; {near(row.element, sorted({name for name, _ in known}))}"
            yield row_error(plant, row, "element", "is no row of elements.csv", mend, value)
