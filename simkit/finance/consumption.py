"""What the cell consumes with an option and without: material, scrap credit, energy, gas, tools.

Consumption is compared for the same mass of parts made in house. What more work in house consumes is
netted in the price of hours given out and in the margin, not here. Material and scrap are compared metal
by metal, because orders given out are rarely of the average metal. Sheets lost to stops and wrong tools
are part of the sheet material and of the scrap, so they are counted there and nowhere else.
"""

from __future__ import annotations

from simkit.finance.benefits import hour_gains
from simkit.finance.pairs import Gain, Pair
from simkit.finance.timeline import YearDemand

IN_SPAN = ("energy_kwh", "gas_m3")
"""Measures taken in the released span alone; they are compared for the same sheets of that span."""


class GainsByDemand:
    """Gains of a pair, hours first and consumption second: each demand is computed once, however many years read it."""

    def __init__(self, pair: Pair) -> None:
        self.pair = pair
        self._known: dict[tuple[float, float, bool], tuple[tuple[Gain, ...], tuple[Gain, ...]]] = {}

    def of(self, demand: YearDemand) -> tuple[tuple[Gain, ...], tuple[Gain, ...]]:
        """Gains of a full year of use at the demand of a year."""
        key = (demand.factor, demand.signed_factor, demand.signed)
        if not all(isinstance(part, float | int) for part in key):  # many cases at once are not compared
            return hour_gains(self.pair, demand), consumption_gains(self.pair, demand.factor)
        if key not in self._known:
            self._known[key] = hour_gains(self.pair, demand), consumption_gains(self.pair, demand.factor)
        return self._known[key]


def consumption_gains(pair: Pair, factor: float) -> tuple[Gain, ...]:
    """Gains (or costs) of a full year of use at one demand factor."""
    prices, money, unit = pair.prices, pair.prices.money, pair.prices.currency
    single = [
        ("energy", "energy_kwh", "kWh/week", money.energy_per_kwh, f"{unit}/kWh"),
        ("gas", "gas_m3", "m3/week", money.gas_per_m3, f"{unit}/m3"),
        ("regrinds", "tools_reground", "regrinds/week", money.regrind_cost, f"{unit}/regrind"),
        ("tools", "tool_lives", "tool lives/week", prices.tool_life_price, f"{unit}/life of the mean tool"),
    ]
    rows = [_used(pair, factor, *one) for one in single]
    broken, words = _at_expectation(pair, "tools_broken", "tools_broken_expected")
    rows.append(_used(pair, factor, "tools", broken, f"tools broken/week{words}", prices.tool_price,
                      f"{unit}/tool, the mean tool", item="tools_broken"))  # fmt: skip
    today, option = pair.today, pair.option
    life, tool = _or(today.tool_life_price, prices.tool_life_price), _or(today.tool_price, prices.tool_price)
    rows.append(_dearer(pair, factor, "tools", "tool_lives", life, option.tool_life_price))
    rows.append(_dearer(pair, factor, "tools", broken, tool, option.tool_price, item="tools_broken"))
    for metal, materials in prices.materials_of.items():
        rows += _metal(pair, factor, metal)
        rows.append(_other_credit(pair, factor, metal))
        for name in materials:
            sheet = today.sheet_per_kg.get(name, prices.sheet_per_kg[name])
            rows.append(_dearer(pair, factor, "material", f"material_kg_{name}", sheet, option.sheet_per_kg.get(name)))
    rows += [_scrapped_parts(pair, factor), _rework(pair, factor)]
    return tuple(row for row in rows if row is not None)


def _at_expectation(pair: Pair, counted: str, expected: str) -> tuple[str, str]:
    """A measure of rare events at its expectation where both scenarios know it, else as counted; words for the text."""
    known = pair.today.has(expected) and pair.option.has(expected)
    return (expected, ", expected") if known else (counted, "")


def _used(
    pair: Pair, factor: float, line: str, measure: str, unit: str, price: float, price_unit: str, item: str = ""
) -> Gain | None:
    used = pair.both(measure, factor)
    if used is None:
        return None
    ratio = pair.same_span_work(factor) if measure in IN_SPAN else pair.same_parts(factor)
    return Gain(line, (_less(used, ratio, unit), pair.weeks_factor, (price, price_unit)), item=item or measure)


def _or(own: float | None, otherwise: float) -> float:
    return otherwise if own is None else own


def _dearer(
    pair: Pair, factor: float, line: str, measure: str, price: float, own: float | None, item: str = ""
) -> Gain | None:
    """All that an option uses of something at the option's own price instead of today's: a cost where it is dearer."""
    if own is None or own == price or not pair.option.has(measure):
        return None
    used = (pair.option.per_week(measure, factor), f"{measure} per week with it")
    less = (price - own, f"{pair.prices.currency} less each ({own:g} instead of {price:g})")
    return Gain(line, (used, pair.weeks_factor, less), item=f"{item or measure}, price")


def _less(used: tuple[float, float], ratio: float, unit: str) -> tuple[float, str]:
    text = f"{unit} less ({used[0]:.5g} today, times {ratio:.4f} for the same parts; {used[1]:.5g} with it)"
    return used[0] * ratio - used[1], text


def _metal(pair: Pair, factor: float, metal: str) -> list[Gain]:
    """Sheet material and scrap credit of one metal, for the same mass of its parts (sheets less scrap).

    Where the mass lost beyond the nests is measured (``lost_expected_kg_<metal>``, else ``lost_kg_<metal>``: scrapped
    sheets and yield loss), only that is compared: the nests of orders given out would otherwise look like a change of
    yield, and luck like a gain.
    """
    names = [f"material_kg_{material}" for material in pair.prices.materials_of[metal]]
    sheets = (_sum(pair, 0, names, factor), _sum(pair, 1, names, factor))
    scrap_name = [f"scrap_kg_{metal}"]
    lost, words = _at_expectation(pair, f"lost_kg_{metal}", f"lost_expected_kg_{metal}")
    scrap = (_sum(pair, 0, scrap_name, factor), _sum(pair, 1, scrap_name, factor))
    parts = (sheets[0] - scrap[0], sheets[1] - scrap[1])
    if parts[0] <= 0 or parts[1] <= 0:
        return []
    if pair.today.has(lost) and pair.option.has(lost):
        sheets = scrap = (_sum(pair, 0, [lost], factor), _sum(pair, 1, [lost], factor))
    ratio, unit = parts[1] / parts[0], f"{pair.prices.currency}/kg"
    price = _mean_price(pair, factor, metal)
    credit = -(pair.prices.scrap_per_kg[metal] + pair.today.mixing_per_kg.get(metal, 0.0))
    return [
        Gain("material", (_less(sheets, ratio, f"kg/week{words}"), pair.weeks_factor, (price, unit)), item=metal),
        Gain(
            "scrap", (_less(scrap, ratio, f"kg/week{words}"), pair.weeks_factor, (credit, f"{unit} credit")), item=metal
        ),
    ]


def _other_credit(pair: Pair, factor: float, metal: str) -> Gain | None:
    """All scrap of a metal at the option's own credit instead of today's, as where a conveyor mixes grades."""
    measure, apart = f"scrap_kg_{metal}", pair.today.scrap_per_kg.get(metal, pair.prices.scrap_per_kg[metal])
    credit = apart + pair.today.mixing_per_kg.get(metal, 0.0)
    own = pair.option.scrap_per_kg.get(metal, apart) + pair.option.mixing_per_kg.get(metal, 0.0)
    if own == credit or not pair.option.has(measure):
        return None
    kg = (pair.option.per_week(measure, factor), "kg/week of scrap with it")
    dearer = (own - credit, f"{pair.prices.currency}/kg more credit ({own:.4g} instead of {credit:.4g})")
    return Gain("scrap", (kg, pair.weeks_factor, dearer), item=f"{metal}, credit")


def _sum(pair: Pair, which: int, measures: list[str], factor: float) -> float:
    """Weekly sum over measures of today (0) or the option (1); a material that is not used counts as 0."""
    totals = (pair.today, pair.option)[which]
    return sum(totals.per_week(name, factor) for name in measures if totals.has(name))


def _scrapped_parts(pair: Pair, factor: float) -> Gain | None:
    """Sheet value of scrapped parts less their scrap credit, at the mean mass and price of today's parts."""
    scrapped, parts = pair.both("parts_scrapped", factor), pair.both("parts", factor)
    mass = pair.both("parts_kg", factor)
    if scrapped is None or parts is None or mass is None or parts[0] <= 0:
        return None
    less = scrapped[0] * pair.same_parts(factor) - scrapped[1]
    per_kg = _mean_price(pair, factor)
    text = f"parts/week less scrapped ({scrapped[0]:.5g} today, {scrapped[1]:.5g} with it)"
    factors = (
        (less, text),
        (mass[0] / parts[0], "kg/part"),
        pair.weeks_factor,
        (per_kg, f"{pair.prices.currency}/kg mean sheet price"),
    )
    return Gain("parts_scrapped", factors)


def _rework(pair: Pair, factor: float) -> Gain | None:
    """What reworked parts cost besides hours; the hours are bench hours and are counted there alone."""
    price = pair.prices.money.rework_cost_per_part
    if price == 0.0:
        return None
    return _used(pair, factor, "rework", "parts_reworked", "parts/week", price, f"{pair.prices.currency}/part")


def _mean_price(pair: Pair, factor: float, metal: str = "") -> float:
    """Sheet price weighted by today's consumption, of one metal or of all, money/kg."""
    prices = pair.prices
    names = prices.materials_of[metal] if metal else tuple(prices.sheet_per_kg)
    kg = {name: _sum(pair, 0, [f"material_kg_{name}"], factor) for name in names}
    total = sum(kg.values())
    return sum(used * prices.sheet_per_kg[name] for name, used in kg.items()) / total if total > 0 else 0.0
