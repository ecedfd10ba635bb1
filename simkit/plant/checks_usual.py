"""Numbers outside what is usual, as notes with the usual range and with what they would be in another unit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from operator import itemgetter
from typing import Any

from simkit.base.messages import Finding, some
from simkit.base.units import TIME_UNIT_S
from simkit.plant.checking import Check, reads
from simkit.plant.conditions import RATIO
from simkit.plant.drafts import Draft, note, place_of
from simkit.plant.drivers import NEEDS
from simkit.plant.options import Option, ShareRange
from simkit.plant.tables import Element
from simkit.plant.usual import COLUMNS, INTERVALS, OPTIONS, RATES, SETTINGS, Usual, plain

FEW = 3
"""Notes of one column above this number are one, with their rows."""
TIME_SLACK = 3.0
"""A mean time is noted beyond this factor outside the usual range of its driver: shops differ. Common practice, no
source."""
PART_SLACK = 30.0
"""And below it by this one, since rows of one driver add up. Common practice, no source."""
EVERYWHERE = {need.driver for need in NEEDS if need.everywhere}
"""Drivers whose rows are summed: a device's rows may stand ready for a device that an option brings."""
RATIOS = Usual(0.5, 2.0)
M_CUT = Usual(0.001, 0.5, "min")
"""Seconds added per metre of cut, as a film pass."""


@dataclass(frozen=True)
class Odd:
    """A number outside its usual range: where it stands, which row, and the range."""

    value: float
    usual: Usual
    row: int = 0
    name: str = ""

    def finding(self, place: str, column: str) -> Finding:
        """The note about it."""
        readings = self.usual.readings(self.value)
        who = f"{self.name}: " if self.name else ""
        why = f"{who}{self.usual.with_unit(self.value)} is outside what is usual, {self.usual}"
        why += f"; {readings}" if readings else ""
        mend = "Correct the number or its unit, or leave it if it is right here"
        return note(place, why, mend, row=self.row, column=column, value=plain(self.value))


def _numbers(value: Any) -> Iterator[float]:
    """Numbers in a value, of a list each; not flags, and no explicit zeros."""
    for one in value if isinstance(value, tuple | list) else (value,):
        if isinstance(one, int | float) and not isinstance(one, bool) and one != 0:
            yield float(one)


def _odd(value: Any, usual: Usual, row: int = 0, name: str = "") -> Iterator[Odd]:
    return (Odd(number, usual, row, name) for number in _numbers(value) if number not in usual)


def _told(place: str, column: str, odd: list[Odd]) -> Iterator[Finding]:
    """A note each, or one for all where there are many."""
    if len(odd) <= FEW:
        yield from (one.finding(place, column) for one in odd)
        return
    first = odd[0].finding(place, column)
    rows = some([one.row for one in odd[1:]])
    yield replace(first, why=f"{first.why}; so it is in {len(odd) - 1} more rows ({rows})")


# ---- tables ----


def _column(table: str, name: str, usual: Usual, draft: Draft) -> Iterator[Finding]:
    odd = [one for row, line in draft.sheets[table] for one in _odd(getattr(row, name), usual, line)]
    yield from _told(place_of(table), name, odd)


for _path, _usual in COLUMNS.items():
    _table, _name = _path.split(".")
    reads(_table)(partial(_column, _table, _name, _usual))


def _by_exposure(table: str, name: str, known: dict[str, Usual]) -> Check:
    def check(draft: Draft) -> Iterator[Finding]:
        for row, line in draft.sheets[table]:
            for one in _odd(getattr(row, name), known[row.exposure], line):
                found = one.finding(place_of(table), name)
                yield replace(found, why=f"{found.why}, counted per {row.exposure}")

    return check


reads("stops")(_by_exposure("stops", "rate", RATES))
reads("upkeep")(_by_exposure("upkeep", "interval", INTERVALS))


@reads("elements")
def usual_times(draft: Draft) -> Iterator[Finding]:
    """Mean times and the ends of their ranges, by what they are counted per; a row may be a small part of a time."""
    for row, line in draft.sheets["elements"]:
        usual = time_range(row)
        if usual is None:
            continue
        stretched = replace(usual, low=usual.low / PART_SLACK, high=usual.high * TIME_SLACK)
        for name in ("typical", "low", "high"):
            for one in _odd(getattr(row, name), stretched, line, row.element):
                yield replace(one, usual=usual).finding("elements.csv", name)


@reads("elements")
def usual_sums(draft: Draft) -> Iterator[Finding]:
    """All rows of a driver and a state together, each element at its largest, are no less than usual."""
    sums: dict[tuple[str, str], dict[str, tuple[float, Element, int]]] = {}
    for row, line in draft.sheets["elements"]:
        time_unit, _, driver = row.unit.partition("/")
        if driver in EVERYWHERE and row.typical > 0:
            elements = sums.setdefault((driver, row.state), {})
            seconds = row.typical * TIME_UNIT_S[time_unit]
            elements[row.element] = max(
                elements.get(row.element, (0.0, row, line)), (seconds, row, line), key=itemgetter(0)
            )
    for elements in sums.values():
        seconds, row, line = max(elements.values(), key=itemgetter(0))
        total = sum(value for value, *_ in elements.values()) / TIME_UNIT_S[row.unit.partition("/")[0]]
        usual = time_range(row)
        if usual is not None and total < usual.low / TIME_SLACK:
            yield Odd(total, usual, line, " + ".join(elements)).finding("elements.csv", "typical")


def time_range(row: Element) -> Usual | None:
    """Usual range of the time that an element is a part of, in its own unit; None where nothing is usual."""
    time_unit, _, driver = row.unit.partition("/")
    if time_unit == RATIO:
        return RATIOS
    usual = [
        (rule.low, rule.high, rule.unit.partition("/")[0]) for need in NEEDS if need.driver == driver
        for rule in need.usual if not need.states or row.state in need.states
    ]  # fmt: skip
    usual = usual or ([(M_CUT.low, M_CUT.high, M_CUT.unit)] if driver == "m_cut" else [])
    if not usual:
        return None
    scale = [TIME_UNIT_S[unit] / TIME_UNIT_S[time_unit] for *_, unit in usual]
    return Usual(min(low * by for (low, *_), by in zip(usual, scale, strict=True)),
                 max(high * by for (_, high, _), by in zip(usual, scale, strict=True)), time_unit)  # fmt: skip


# ---- settings and options ----


@reads(settings=True)
def usual_settings(draft: Draft) -> Iterator[Finding]:
    """Numbers of plant.toml."""
    for path, usual in SETTINGS.items():
        odd = [one for value in values_at(draft.settings, path.split(".")) for one in _odd(value, usual)]
        yield from _told("plant.toml", path, odd)


def values_at(section: Any, keys: list[str]) -> Iterator[Any]:
    """Values at a path of keys, those of each entry where a key holds several."""
    if not keys:
        yield section
        return
    for one in section if isinstance(section, tuple) else (section,):
        yield from values_at(getattr(one, keys[0]), keys[1:])


def usual_options(options: tuple[Option, ...]) -> Iterator[Finding]:
    """Numbers of the options, apart from money."""
    for option in options:
        for key, usual in OPTIONS.items():
            value = getattr(option, key)
            ends = (value.low, value.quoted, value.high) if isinstance(value, ShareRange) else value
            for one in _odd(ends, usual):
                yield one.finding("options.toml", f"option {option.id} {key}")
