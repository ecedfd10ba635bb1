"""What the cell consumes with an option and without: material, scrap credit, energy, gas, tools.

Consumption is compared for the same mass of parts made in house. What more work in house consumes is
netted in the price of hours given out and in the margin, not here. Material and scrap are compared metal
by metal, because orders given out are rarely of the average metal. Sheets lost to stops and wrong tools
are part of the sheet material and of the scrap, so they are counted there and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from simkit.finance.benefits import Gain, Pair
from simkit.finance.casearrays import PerCase, ratio
from simkit.finance.ledger import Factor

IN_SPAN = ("energy_kwh", "gas_m3")
"""Measures taken in the released span alone; they are compared for the same sheets of that span."""


class _Used(NamedTuple):
    """Something used: its line, measure, unit, price with its unit, and the price of the option if it has its own."""

    line: str
    measure: str
    unit: str
    price: PerCase
    per: str
    item: str = ""
    today: float | None = None
    option: float | None = None


def consumption_gains(pair: Pair) -> Iterator[Gain]:
    """Gains (or costs) of a full year of use at the demand of each year."""
    for used in _all_used(pair):
        if pair.knows(used.measure):
            same = pair.same_span_work if used.measure in IN_SPAN else pair.same_parts
            amounts = pair.before(used.measure), pair.after(used.measure)
            yield _compared(
                pair, used.line, amounts, same, used.unit, (used.price, used.per), used.item or used.measure
            )
        if used.option is not None:
            today = used.price if used.today is None else used.today
            yield from _dearer(pair, used.line, used.measure, today, used.option, used.item)
    for metal, materials in pair.prices.materials_of.items():
        yield from _metal(pair, metal)
        yield from _other_credit(pair, metal)
        for name in materials:
            price = pair.before.totals.sheet_per_kg.get(name, pair.prices.sheet_per_kg[name])
            own = pair.after.totals.sheet_per_kg.get(name, price)
            yield from _dearer(pair, "material", f"material_kg_{name}", price, own)
    yield from _scrapped_parts(pair)


def _all_used(pair: Pair) -> Iterator[_Used]:
    prices, money, unit, today, option = pair.prices, pair.prices.money, pair.prices.currency, *pair.totals
    broken, words = _at_expectation(pair, "tools_broken", "tools_broken_expected")
    yield _Used("energy", "energy_kwh", "kWh/week", money.energy_per_kwh, f"{unit}/kWh")
    yield _Used("gas", "gas_m3", "m3/week", money.gas_per_m3, f"{unit}/m3")
    yield _Used("regrinds", "tools_reground", "regrinds/week", money.regrind_cost, f"{unit}/regrind")
    yield _Used("tools", "tool_lives", "tool lives/week", prices.tool_life_price, f"{unit}/life of the mean tool",
                today=today.tool_life_price, option=option.tool_life_price)  # fmt: skip
    yield _Used("tools", broken, f"tools broken/week{words}", prices.tool_price, f"{unit}/tool, the mean tool",
                "tools_broken", today.tool_price, option.tool_price)  # fmt: skip
    if money.rework_cost_per_part:  # its hours are in those of people at the bench, and are counted there alone
        yield _Used("rework", "parts_reworked", "parts/week", money.rework_cost_per_part, f"{unit}/part")


def _at_expectation(pair: Pair, counted: str, expected: str) -> tuple[str, str]:
    """A measure of rare events at its expectation where both scenarios know it, else as counted; words for the text."""
    known = pair.before.has(expected) and pair.after.has(expected)
    return (expected, ", expected") if known else (counted, "")


def _compared(
    pair: Pair,
    line: str,
    amounts: tuple[PerCase, PerCase],
    same: PerCase,
    unit: str,
    price: tuple[PerCase, str],
    item: str,
    years: PerCase = True,
) -> Gain:
    """What is used less for the same work, at a price."""
    text = f"{unit} less ({{:.5g}} today, times {{:.4f}} for the same parts; {{:.5g}} with it)"
    less = Factor(amounts[0] * same - amounts[1], text, (amounts[0], same, amounts[1]))
    return Gain(line, (less, pair.weeks_factor, Factor(*price)), item, years=years)


def _dearer(pair: Pair, line: str, measure: str, price: PerCase, own: PerCase, item: str = "") -> Iterator[Gain]:
    """All that an option uses of something at the option's own price instead of today's: a cost where it is dearer."""
    if np.any(own != price) and pair.after.has(measure):
        used = Factor(pair.after(measure), f"{measure} per week with it")
        text = f"{pair.prices.currency} less each ({{:g}} instead of {{:g}})"
        less = Factor(price - own, text, (own, price))
        yield Gain(line, (used, pair.weeks_factor, less), f"{item or measure}, price")


def _metal(pair: Pair, metal: str) -> Iterator[Gain]:
    """Sheet material and scrap credit of one metal, for the same mass of its parts (sheets less scrap).

    Where the mass lost beyond the nests is measured (``lost_expected_kg_<metal>``, else ``lost_kg_<metal>``: scrapped
    sheets and yield loss), only that is compared: the nests of orders given out would otherwise look like a change of
    yield, and luck like a gain.
    """
    both, names = (pair.before, pair.after), [f"material_kg_{name}" for name in pair.prices.materials_of[metal]]
    lost, words = _at_expectation(pair, f"lost_kg_{metal}", f"lost_expected_kg_{metal}")
    sheets = tuple(weekly.total(names) for weekly in both)
    scrap = tuple(weekly.total([f"scrap_kg_{metal}"]) for weekly in both)
    parts = sheets[0] - scrap[0], sheets[1] - scrap[1]
    if all(weekly.has(lost) for weekly in both):
        sheets = scrap = (pair.before(lost), pair.after(lost))
    credit = -(pair.prices.scrap_per_kg[metal] + pair.before.totals.mixing_per_kg.get(metal, 0.0))
    for line, used, price, per in (
        ("material", sheets, _mean_price(pair, metal), ""), ("scrap", scrap, credit, " credit")
    ):  # fmt: skip
        yield _compared(
            pair, line, used, ratio(parts[1], parts[0]), f"kg/week{words}", (price, f"{pair.prices.currency}/kg{per}"),
            metal, years=(parts[0] > 0) & (parts[1] > 0),
        )  # fmt: skip


def _other_credit(pair: Pair, metal: str) -> Iterator[Gain]:
    """All scrap of a metal at the option's own credit instead of today's, as where a conveyor mixes grades."""
    (today, option), measure = pair.totals, f"scrap_kg_{metal}"
    apart = today.scrap_per_kg.get(metal, pair.prices.scrap_per_kg[metal])
    credit = apart + today.mixing_per_kg.get(metal, 0.0)
    own = option.scrap_per_kg.get(metal, apart) + option.mixing_per_kg.get(metal, 0.0)
    if np.any(own != credit) and pair.after.has(measure):
        kg = Factor(pair.after(measure), "kg/week of scrap with it")
        text = f"{pair.prices.currency}/kg more credit ({{:.4g}} instead of {{:.4g}})"
        dearer = Factor(own - credit, text, (own, credit))
        yield Gain("scrap", (kg, pair.weeks_factor, dearer), f"{metal}, credit")


def _scrapped_parts(pair: Pair) -> Iterator[Gain]:
    """Sheet value of scrapped parts less their scrap credit, at the mean mass and price of today's parts."""
    if not all(pair.knows(measure) for measure in ("parts_scrapped", "parts", "parts_kg")):
        return
    before, after, parts = pair.before("parts_scrapped"), pair.after("parts_scrapped"), pair.before("parts")
    text = "parts/week less scrapped ({:.5g} today, {:.5g} with it)"
    less = Factor(before * pair.same_parts - after, text, (before, after))
    mass = Factor(ratio(pair.before("parts_kg"), parts), "kg/part")
    price = Factor(_mean_price(pair), f"{pair.prices.currency}/kg mean sheet price")
    yield Gain("parts_scrapped", (less, mass, pair.weeks_factor, price), years=parts > 0)


def _mean_price(pair: Pair, metal: str = "") -> PerCase:
    """Sheet price weighted by today's consumption, of one metal or of all, money/kg."""
    prices = pair.prices
    kg = {name: pair.before.total([f"material_kg_{name}"])
          for name in (prices.materials_of[metal] if metal else prices.sheet_per_kg)}  # fmt: skip
    return ratio(sum(used * prices.sheet_per_kg[name] for name, used in kg.items()), sum(kg.values()))
