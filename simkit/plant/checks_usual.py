"""Numbers and amounts outside what is usual, with the usual range and with what they would be in another unit.

Money has no scale of its own, so prices are held against the median wage of an hour.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from simkit.base.messages import Finding, note, plain, some
from simkit.base.units import TIME_UNIT_S
from simkit.base.vocabulary import NO_SOURCE
from simkit.plant.check_register import reads
from simkit.plant.conditions import RATIO
from simkit.plant.drivers import NEEDS
from simkit.plant.options import CapitalLine, Option, Range, ShareRange, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element, place_of
from simkit.plant.usual_ranges import COLUMNS, INTERVALS, OPTIONS, RATES, SETTINGS, Usual

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


def _odd(
    place: str, column: str, value: Any, usual: Usual, row: int = 0, name: str = "", beyond: Usual | None = None
) -> Iterator[Finding]:
    """Notes about the numbers in a value that are outside ``beyond``, else outside the usual range.

    Of a list each is looked at; flags are no numbers, and an explicit zero is an answer.
    """
    for number in value if isinstance(value, tuple | list) else (value,):
        counts = isinstance(number, int | float) and not isinstance(number, bool) and number != 0
        if counts and number not in (beyond or usual):
            yield _outside(place, column, number, usual, row, name)


def _outside(place: str, column: str, number: float, usual: Usual, row: int, name: str) -> Finding:
    readings = usual.readings(number)
    who = f"{name}: " if name else ""
    why = f"{who}{usual.with_unit(number)} is outside what is usual, {usual}{f'; {readings}' if readings else ''}"
    mend = "Correct the number or its unit, or leave it if it is right here"
    return note(place, why, mend, row=row, column=column, value=plain(number))


def _told(odd: list[Finding]) -> list[Finding]:
    """The notes, or one for all where there are many."""
    if len(odd) <= FEW:
        return odd
    first, *more = odd
    return [replace(first, why=f"{first.why}; so it is in {len(more)} more rows ({some([one.row for one in more])})")]


# ---- tables ----


def usual_column(table: str, name: str, usual: Usual, plant: PlantInputs) -> Iterator[Finding]:
    """Numbers of a column."""
    place, rows = place_of(table), getattr(plant, table)
    yield from _told([f for row in rows for f in _odd(place, name, getattr(row, name), usual, plant.line(row))])


for _path, _usual in COLUMNS.items():
    _table, _name = _path.split(".")
    reads(_table)(partial(usual_column, _table, _name, _usual))


def usual_by_exposure(table: str, name: str, known: dict[str, Usual], plant: PlantInputs) -> Iterator[Finding]:
    """Rates of stops and intervals of care, by what they are counted per."""
    for row in getattr(plant, table):
        for found in _odd(place_of(table), name, getattr(row, name), known[row.exposure], plant.line(row)):
            yield replace(found, why=f"{found.why}, counted per {row.exposure}")


reads("stops")(partial(usual_by_exposure, "stops", "rate", RATES))
reads("upkeep")(partial(usual_by_exposure, "upkeep", "interval", INTERVALS))


@reads("elements")
def usual_times(plant: PlantInputs) -> Iterator[Finding]:
    """Mean times and the ends of their ranges, by what they are counted per; a row may be a small part of a time."""
    for row in plant.elements:
        usual = time_range(row)
        if usual is None:
            continue
        stretched = replace(usual, low=usual.low / PART_SLACK, high=usual.high * TIME_SLACK)
        for name in ("typical", "low", "high"):
            value = getattr(row, name)
            yield from _odd("elements.csv", name, value, usual, plant.line(row), row.element, stretched)


@reads("elements")
def usual_sums(plant: PlantInputs) -> Iterator[Finding]:
    """All rows of a driver and a state together, each element at its largest, are no less than usual."""
    sums: dict[tuple[str, str], dict[str, Element]] = {}
    for row in plant.elements:
        if row.driver in EVERYWHERE and row.typical > 0:
            largest = sums.setdefault((row.driver, row.state), {})
            largest[row.element] = max(largest.get(row.element, row), row, key=_seconds)
    for largest in sums.values():
        row = max(largest.values(), key=_seconds)
        total = sum(map(_seconds, largest.values())) / TIME_UNIT_S[row.unit.partition("/")[0]]
        usual = time_range(row)
        if usual is not None and total < usual.low / TIME_SLACK:
            yield _outside("elements.csv", "typical", total, usual, plant.line(row), " + ".join(largest))


def _seconds(row: Element) -> float:
    return row.typical * TIME_UNIT_S[row.unit.partition("/")[0]]


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


@reads("settings")
def usual_settings(plant: PlantInputs) -> Iterator[Finding]:
    """Numbers of plant.toml."""
    for path, usual in SETTINGS.items():
        values = values_at(plant.settings, path.split("."))
        yield from _told([found for value in values for found in _odd("plant.toml", path, value, usual)])


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
            yield from _odd("options.toml", f"option {option.id} {key}", ends, usual)


# ---- amounts ----


IN_WAGES: dict[str, tuple[float, float]] = {
    "plant.money.energy_per_kwh": (0.0005, 0.05),
    "plant.money.gas_per_m3": (0.0005, 0.1),
    "plant.money.subcontract_per_h": (0.7, 20),
    "plant.money.margin_per_h": (0.3, 30),
    "plant.money.bench_rate_per_h": (0.25, 4),
    "plant.money.setter_rate_per_h": (0.25, 4),
    "plant.money.programmer_rate_per_h": (0.25, 4),
    "plant.money.operator_rate_per_h": (0.25, 4),
    "plant.money.regrind_cost": (0.02, 10),
    "plant.money.rework_cost_per_part": (0.001, 10),
    "plant.scrap.mixed_per_kg": (0.0003, 1),
    "plant.finance.training": (3, 5000),
    "plant.finance.capital_budgets": (30, 1e6),
    "materials.price_per_kg": (0.003, 3),
    "materials.scrap_price_per_kg": (0.0003, 1),
    "tools.price": (0.3, 300),
    "people.rate_per_h": (0.25, 4),
}
"""Usual amounts in hours of the median wage: common practice, no source."""

CAPITAL_WAGES, LINE_WAGES, YEARLY_WAGES = (2, 100_000), (0.3, 30_000), (0.5, 10_000)
"""The same for capital, capital lines and yearly cost of an option."""
SPREAD = 20.0
"""High over low of a price beyond which the two are no range of one price. Common practice, no source."""
LEAST_BOUGHT, FAR_FROM_OTHERS = 3, 200
"""Bought options from which on their capital is compared, and how many times the median of the others is far from it.
Common practice, no source."""


def median_wage(plant: PlantInputs) -> float:
    """The wage that amounts are held against: the median of persons' rates, else the operator's; 0: none is known."""
    known = [person.rate_per_h for person in plant.people if person.rate_per_h > 0]
    return statistics.median(known) if known else plant.settings.money.operator_rate_per_h


@reads("people", "materials", "tools", "settings")
def amounts_in_wages(plant: PlantInputs) -> Iterator[Finding]:
    """Prices and rates are of the size that an hour's wage lets expect."""
    wage = median_wage(plant)
    for path, span in IN_WAGES.items():
        first, _, key = path.partition(".")
        if first == "plant":
            for value in values_at(plant.settings, key.split(".")):
                for amount in value if isinstance(value, tuple) else (value,):
                    yield from _odd_amount("plant.toml", key, amount, span, wage)
        else:
            for row in getattr(plant, first):
                yield from _odd_amount(place_of(first), key, getattr(row, key), span, wage, plant.line(row))


def _odd_amount(
    place: str, column: str, value: float, span: tuple[float, float], wage: float, row: int = 0
) -> Iterator[Finding]:
    """An amount outside its usual span of hours of the wage; nothing where no wage is known."""
    if value and wage and not span[0] * wage <= abs(value) <= span[1] * wage:
        why = (
            f"is {plain(float(f'{value / wage:.3g}'))} hours of the median wage, {plain(wage)}; usual are "
            f"{plain(span[0])} to {plain(span[1])} hours, so {span[0] * wage:.3g} to {span[1] * wage:.3g} ({NO_SOURCE})"
        )
        mend = "Correct the amount, its unit or currency, or leave it if it is right here"
        yield note(place, why, mend, row=row, column=column, value=plain(value))


def option_amounts(plant: PlantInputs, option: Option) -> Iterator[Finding]:
    """Amounts of an option: the ends of a price belong together, and are of the size that a wage lets expect."""
    where = f"option {option.id}"
    prices: list[tuple[str, Range | CapitalLine | YearlyLine, tuple[float, float]]]
    prices = [(f"{where} capital", option.capital, CAPITAL_WAGES)]
    prices += [(f"{where} capital line '{line.line}'", line, LINE_WAGES) for line in option.capital_lines]
    prices += [(f"{where} yearly line '{line.line}'", line, YEARLY_WAGES) for line in option.yearly_lines]
    wage = median_wage(plant)
    yield from _odd_amount("options.toml", f"{where} yearly_cost", option.yearly_cost, YEARLY_WAGES, wage)
    for column, price, span in prices:
        yield from _spread(column, price)
        yield from _odd_amount("options.toml", column, price.quoted, span, wage)


def _spread(column: str, price: Range | CapitalLine | YearlyLine) -> Iterator[Finding]:
    """The ends of a price that are no range of one price; 0 is no end, but an answer of its own."""
    ends = [value for value in (price.low, price.quoted, price.high) if value > 0]
    if ends and max(ends) > SPREAD * min(ends):
        value = " / ".join(plain(end) for end in (price.low, price.quoted, price.high))
        why = f"low, quoted and high are more than {SPREAD:g} times apart, which is no range of one price"
        yield Finding("options.toml", why, "Correct the one that is wrong", column=column, value=value)


def capital_beside_others(options: Sequence[Option]) -> Iterator[Finding]:
    """The capital of a bought option is of the size of the others'."""
    bought = [option for option in options if option.kind == "bought" and option.capital.quoted > 0]
    if len(bought) < LEAST_BOUGHT:
        return
    for option in bought:
        middle = statistics.median(other.capital.quoted for other in bought if other is not option)
        if not middle / FAR_FROM_OTHERS <= option.capital.quoted <= FAR_FROM_OTHERS * middle:
            why = f"is far from the capital of the other bought options, {plain(middle)} in the middle"
            yield Finding("options.toml", why, "Correct it: money, not thousands of it",
                          column=f"option {option.id} capital", value=plain(option.capital.quoted))  # fmt: skip
