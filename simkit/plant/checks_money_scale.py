"""Amounts that are far from the wages of the plant, or from one another: a slip of a factor, in any currency.

Money has no scale of its own, so prices are held against the median wage of an hour.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence

from simkit.base.messages import Finding
from simkit.base.vocabulary import NO_SOURCE
from simkit.plant.checking import reads
from simkit.plant.checks_usual import values_at
from simkit.plant.drafts import Draft, note, place_of
from simkit.plant.options import CapitalLine, Option, Range, YearlyLine
from simkit.plant.plant import Plant
from simkit.plant.usual import plain

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


def median_wage(rates: Sequence[float], money_rate: float) -> float:
    """The wage that amounts are held against: the median of persons' rates, else the operator's; 0: none is known."""
    known = [rate for rate in rates if rate > 0]
    return statistics.median(known) if known else money_rate


@reads("people", "materials", "tools", settings=True)
def amounts_in_wages(draft: Draft) -> Iterator[Finding]:
    """Prices and rates are of the size that an hour's wage lets expect."""
    wage = median_wage([row.rate_per_h for row in draft.sheets["people"].rows],
                       draft.settings.money.operator_rate_per_h)  # fmt: skip
    for path, span in IN_WAGES.items():
        first, _, key = path.partition(".")
        if first == "plant":
            for value in values_at(draft.settings, key.split(".")):
                for amount in value if isinstance(value, tuple) else (value,):
                    yield from _odd("plant.toml", key, amount, span, wage)
        else:
            for row, line in draft.sheets[first]:
                yield from _odd(place_of(first), key, getattr(row, key), span, wage, line)


@reads("materials")
def scrap_below_price(draft: Draft) -> Iterator[Finding]:
    """Scrap earns less than new sheet costs."""
    for row, line in draft.sheets["materials"]:
        if row.price_per_kg and row.scrap_price_per_kg > row.price_per_kg:
            why = f"{row.material_id}: scrap earns more than a new sheet costs, {plain(row.price_per_kg)} a kg"
            value = plain(row.scrap_price_per_kg)
            yield note(
                "materials.csv", why, "Correct one of the two", row=line, column="scrap_price_per_kg", value=value
            )


def _odd(
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


def option_amounts(plant: Plant, option: Option) -> Iterator[Finding]:
    """Amounts of an option: the ends of a price belong together, and are of the size that a wage lets expect."""
    where = f"option {option.id}"
    prices: list[tuple[str, Range | CapitalLine | YearlyLine, tuple[float, float]]]
    prices = [(f"{where} capital", option.capital, CAPITAL_WAGES)]
    prices += [(f"{where} capital line '{line.line}'", line, LINE_WAGES) for line in option.capital_lines]
    prices += [(f"{where} yearly line '{line.line}'", line, YEARLY_WAGES) for line in option.yearly_lines]
    wage = median_wage([row.rate_per_h for row in plant.people], plant.settings.money.operator_rate_per_h)
    yield from _odd("options.toml", f"{where} yearly_cost", option.yearly_cost, YEARLY_WAGES, wage)
    for column, price, span in prices:
        yield from _spread(column, price)
        yield from _odd("options.toml", column, price.quoted, span, wage)


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
