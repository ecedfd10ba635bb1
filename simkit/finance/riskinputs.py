"""The register of uncertain inputs of a cash flow: low, typical, high, basis, owner and law of each.

Ranges of capital and persistence come from options.toml, of times from elements.csv, of prices and terms from
``risk.ranges``; where the plant gives none, the kit's own default range (common practice, no source) is taken and
marked ``default``. :func:`with_values` puts values into prices, terms and totals; one value or one per case.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from pydantic import Field

from simkit.base.arrays import Floats
from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.vocabulary import NO_SOURCE
from simkit.finance.casearrays import PerCase
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.risklaws import quantiles
from simkit.plant.options import CapitalLine, Option, Range, ShareRange, YearlyLine, price_in
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import People
from simkit.plant.settings_base import Section
from simkit.plant.settings_money import DemandYear, Finance, Money
from simkit.plant.settings_risk import RangeLaw, RiskRange
from simkit.plant.toml_files import validate

DEFAULT = "default"
WAGES = ("operator_rate_per_h", "setter_rate_per_h", "programmer_rate_per_h", "bench_rate_per_h")
LAST_SIGNED = "demand"
Priced = TypeVar("Priced", Range, CapitalLine, YearlyLine)


@dataclass(frozen=True)
class RiskInput:
    """One uncertain input: its range in ``unit``, what the range rests on, who answers, and its law."""

    name: str
    title: str
    unit: str
    low: float
    typical: float
    high: float
    basis: str
    owner: str = ""
    source: str = ""
    law: RangeLaw = "triangular"

    @property
    def fixed(self) -> bool:
        """Whether the range has no width."""
        return self.low == self.high

    def at(self, share: Floats) -> Floats:
        """Values at cumulative shares 0 to 1 of its law."""
        return quantiles(self.law, self.low, self.typical, self.high, share)


class _Times(Section):
    """A range in multiples of today's value."""

    factor: float = Field(ge=0, le=10, description="factor on today's value")


@dataclass(frozen=True)
class _Spec:
    """A price or term: title, unit, default range, and the setting that it is and whose limits its range keeps.

    The range is given as factors on the typical value, or as summands.
    """

    title: str
    unit: str
    low: float
    high: float
    section: type[Section] = _Times
    field: str = "factor"
    summands: bool = False


PRICES: dict[str, _Spec] = {
    "operator_wage": _Spec("wage of an operator, the others in proportion", "{c}/h", 0.9, 1.1, Money,
                           "operator_rate_per_h"),
    "overtime_premium": _Spec("overtime premium", "share of the rate", 0.8, 1.2, People, "overtime_premium"),
    "energy": _Spec("energy price", "{c}/kWh", 0.7, 1.4, Money, "energy_per_kwh"),
    "gas": _Spec("assist gas price", "{c}/m3", 0.8, 1.3, Money, "gas_per_m3"),
    "sheet": _Spec("sheet price of all materials", "times today's", 0.8, 1.25),
    "scrap": _Spec("scrap credit of all metals", "times today's", 0.6, 1.3),
    "subcontract": _Spec("price of a subcontracted hour", "{c}/h", 0.85, 1.15, Money, "subcontract_per_h"),
    "regrind": _Spec("one regrind", "{c}", 0.75, 1.25, Money, "regrind_cost"),
    "yearly_cost": _Spec("service and other yearly cost", "times the quoted", 0.9, 1.25),
    "wage_growth": _Spec("growth of wages", "fraction a year", -0.01, 0.01, Finance, "wage_growth", summands=True),
    "price_growth": _Spec("growth of prices", "fraction a year", -0.01, 0.01, Finance, "price_growth", summands=True),
    "production_weeks": _Spec("production weeks", "weeks a year", 0.96, 1.03, Finance, "production_weeks"),
    "residual": _Spec("residual value at the horizon", "share of capital", 0.0, 1.5, Finance, "residual_share"),
    "ramp_start": _Spec("benefit at acceptance", "share of the full", 0.7, 1.2, Finance, "ramp_start"),
    "ramp_months": _Spec("ramp until the full benefit", "months", 0.5, 2.0, Finance, "ramp_months"),
    "lead_time": _Spec("time from order to use", "times the quoted", 0.9, 1.5),
    "demand": _Spec("latest signed demand", "times the book", 0.8, 1.1, DemandYear, "factor"),
    "persistence": _Spec("low-capital gain kept after a year", "share", 1.0, 1.0, ShareRange, "quoted"),
}  # fmt: skip
"""Prices and terms of the register with their default ranges (common practice, no source)."""


def typical_values(plant: PlantInputs, option_ids: Iterable[str]) -> dict[str, float]:
    """Today's value of each price and term; those that a set of options does not have are left out."""
    settings = plant.settings
    fading = [one.persistence for one in map(plant.option_by_id.get, option_ids) if one and fades(one)]
    least = min(fading, key=lambda kept: kept.quoted, default=None)
    held = {Money: settings.money, People: settings.people, Finance: settings.finance, _Times: _Times(factor=1.0),
            DemandYear: last_signed(settings.finance), ShareRange: least}  # fmt: skip
    sections = ((name, held[spec.section], spec.field) for name, spec in PRICES.items())
    return {name: getattr(section, field) for name, section, field in sections if section is not None}


def last_signed(finance: Finance) -> Any:
    """The latest entry of signed demand."""
    return max((entry for entry in finance.demand if entry.signed), key=lambda entry: entry.from_year)


def fades(option: Option) -> bool:
    """Whether a part of an option's gain is lost after a year, as quoted or at the low end."""
    return min(option.persistence.low, option.persistence.quoted) < 1.0


def register(plant: PlantInputs, option_ids: Sequence[str], demand: tuple[float, float]) -> tuple[RiskInput, ...]:
    """Every uncertain input of money of a set of options, capital first.

    ``demand`` are the lowest and highest simulated demand factor; nothing is extrapolated beyond them. Raises
    :class:`BadInput` for a range that does not hold its typical value.
    """
    risk = plant.settings.risk
    options = [plant.option_by_id[name] for name in dict.fromkeys(option_ids)]
    found = [*_capital(options, plant.settings.currency, risk.law), *_lines(options, plant.settings.currency, risk.law)]
    problems: list[Finding] = []
    for name, typical in typical_values(plant, option_ids).items():
        made = _priced(plant, options, name, typical)
        if name == LAST_SIGNED:
            made = _within(made, *demand)
        problems += _outside(made)
        found.append(made)
    if problems:
        raise BadInput(problems)
    return tuple(one for one in found if not one.fixed)


def range_findings(plant: PlantInputs) -> tuple[Finding, ...]:
    """Ranges of the plant's own that do not hold the plant's own value, told before anything is simulated."""
    given = {row.input for row in plant.settings.risk.ranges}
    found = [finding for row in plant.settings.risk.ranges for finding in _beyond(row)]
    if given and any(year.signed for year in plant.settings.finance.demand):
        typical = typical_values(plant, [option.id for option in plant.options])
        made = [_priced(plant, plant.options, name, value) for name, value in typical.items() if name in given]
        found += [finding for one in made for finding in _outside(one)]
    return tuple(found)


def _beyond(row: RiskRange) -> Iterator[Finding]:
    """Ends of a range that the setting itself could not have: a percentage for a fraction, mostly."""
    section, name = PRICES[row.input].section, PRICES[row.input].field
    for end in (row.low, row.high):
        for where, fault in validate(section, {name: end})[1]:
            if where == (name,):
                yield Finding("plant.toml", fault.why, fault.mend, column=f"risk.ranges {row.input}", value=fault.value)


def _outside(made: RiskInput) -> list[Finding]:
    if made.low <= made.typical <= made.high:
        return []
    why = f"low {made.low:g} and high {made.high:g} do not hold the plant's own value {made.typical:g}"
    return [Finding("plant.toml", why, "Widen the range", column="risk.ranges", value=made.name)]


def _capital(options: Sequence[Option], currency: str, law: RangeLaw) -> list[RiskInput]:
    return [
        RiskInput(
            f"capital {o.id}", f"price of {o.called}", currency, min(o.capital.low, o.capital.quoted),
            o.capital.quoted, max(o.capital.high, o.capital.quoted), "quoted", o.owner, _priced_by(o), law,
        )
        for o in options
    ]  # fmt: skip


def _priced_by(option: Option) -> str:
    return f"{option.name}: {option.price_source or 'not named'}"


def _lines(options: Sequence[Option], currency: str, law: RangeLaw) -> list[RiskInput]:
    """Capital lines with a range; a line of a bundle once, whoever needs it, at the widest of its ranges."""
    found: dict[str, RiskInput] = {}
    for option in options:
        for line in option.capital_lines:
            name, low, high = line_name(option, line), price_in(line, "low"), price_in(line, "high")
            known = found.get(name)
            if known is not None:
                low, high = min(low, known.low), max(high, known.high)
            quoted = max(line.quoted, known.typical if known else 0.0)
            found[name] = RiskInput(
                name, f"{line.line} ({option.called})", currency, min(low, quoted), quoted, high, "quoted",
                option.owner, _priced_by(option), law,
            )  # fmt: skip
    return list(found.values())


def line_name(option: Option, line: CapitalLine) -> str:
    """Name of a capital line in the register."""
    return f"line {line.line}" if line.per == "bundle" else f"line {option.id} {line.line}"


def bundle_name(option: Option) -> str:
    """Name under which what combining an option adds is put into the options; its range is none of the register."""
    return f"bundle {option.id}"


def paid_first(options: Iterable[Option]) -> dict[str, float]:
    """All that is quoted to be paid first for these options, by name of the input; nothing that is 0."""
    found: dict[str, float] = {}
    for option in options:
        found[f"capital {option.id}"] = option.capital.quoted
        found |= {bundle_name(option): option.bundle_adjustment} if option.kind == "bought" else {}
        found |= {line_name(option, line): line.quoted for line in option.capital_lines}
    return {name: amount for name, amount in found.items() if amount}


def _priced(plant: PlantInputs, options: Sequence[Option], name: str, typical: float) -> RiskInput:
    """A price or term at the plant's range, an option's own, or the default range."""
    risk, spec = plant.settings.risk, PRICES[name]
    unit = spec.unit.format(c=plant.settings.currency)
    given = next((row for row in risk.ranges if row.input == name), None)
    if given is not None:
        law = given.law or risk.law
        return RiskInput(
            name, spec.title, unit, given.low, typical, given.high, given.basis, given.owner, given.source, law
        )
    if name == "persistence":
        fading = [o for o in options if fades(o)]
        low, high = (min(getattr(o.persistence, end) for o in fading) for end in ("low", "high"))
        owner = "; ".join(dict.fromkeys(o.owner for o in fading if o.owner))
        return RiskInput(name, spec.title, unit, min(low, typical), typical, max(high, typical), "estimated", owner,
                         "options.toml", risk.law)  # fmt: skip
    low, high = (typical + end if spec.summands else typical * end for end in (spec.low, spec.high))
    if name in ("ramp_start", "residual"):
        high = min(high, 1.0)
    return RiskInput(name, spec.title, unit, low, typical, high, DEFAULT, "", NO_SOURCE, risk.law)


def _within(made: RiskInput, lowest: float, highest: float) -> RiskInput:
    """Demand within what was simulated, which holds its typical value; the source says where the range was cut."""
    low, high = min(max(made.low, lowest), made.typical), max(min(made.high, highest), made.typical)
    cut = "" if (low, high) == (made.low, made.high) else f"; cut to the simulated demand {lowest:g} to {highest:g}"
    return dataclasses.replace(made, low=low, high=high, source=made.source + cut)


def input_names(plant: PlantInputs) -> tuple[str, ...]:
    """Every name that an input of the plant's register can have: prices, terms, capital, capital lines and times."""
    lines = (line_name(option, line) for option in plant.options for line in option.capital_lines)
    times = (f"time {row.element}" for row in plant.elements)
    return tuple(dict.fromkeys([*PRICES, *(f"capital {option.id}" for option in plant.options), *lines, *times]))


def pairs_of(plant: PlantInputs, names: Sequence[str] = ()) -> dict[tuple[str, str], float]:
    """Correlations by pair; ``names`` are inputs known beside those of the plant.

    Raises :class:`BadInput` for every name that is no input: it would correlate nothing.
    """
    known, pairs = (*input_names(plant), *names), plant.settings.risk.correlations
    named = dict.fromkeys(name for pair in pairs for name in (pair.first, pair.second))
    wrong = [Finding("plant.toml", "is no input of the register", nearest(name, known), column="risk.correlations",
                     value=name) for name in named if name not in known]  # fmt: skip
    if wrong:
        raise BadInput(wrong)
    return {(pair.first, pair.second): pair.coefficient for pair in pairs}


def with_values(
    prices: Prices, finance: Finance, totals: Iterable[ScenarioTotals], values: Mapping[str, PerCase]
) -> tuple[Prices, Finance, list[ScenarioTotals]]:
    """Prices, terms and totals with these values of inputs in place; inputs that are not named stay as they are."""
    own = {name: value for name, value in values.items() if not name.startswith("time ")}
    if not own:
        return prices, finance, list(totals)
    scale = _scales(prices, own)
    wages = {name: getattr(prices.money, name) * scale["wage"] for name in WAGES}
    shift = _persistence_shift([option for option in prices.options.values() if fades(option)], own)
    changed = dataclasses.replace(
        prices,
        money=prices.money.model_copy(update={**_fields(Money, own), **wages}),
        people=prices.people.model_copy(update=_fields(People, own)),
        sheet_per_kg=_times(prices.sheet_per_kg, scale["sheet"]),
        scrap_per_kg=_times(prices.scrap_per_kg, scale["scrap"]),
        options={name: _option(option, own, scale, shift) for name, option in prices.options.items()},
    )
    last = last_signed(finance)
    signed = last.model_copy(update=_fields(DemandYear, own))
    demand = tuple(signed if entry is last else entry for entry in finance.demand)
    finance = finance.model_copy(update={**_fields(Finance, own), "demand": demand})
    return changed, finance, [_priced_totals(one, scale) for one in totals]


def _times(prices: Mapping[str, PerCase], factor: PerCase) -> dict[str, PerCase]:
    return {name: price * factor for name, price in prices.items()}


def _scales(prices: Prices, own: Mapping[str, PerCase]) -> dict[str, PerCase]:
    """Factors on all wages, sheet prices, scrap credits, yearly costs and lead times."""
    wage = prices.money.operator_rate_per_h
    found = {name: own.get(name, 1.0) for name in ("sheet", "scrap", "yearly_cost", "lead_time")}
    return {**found, "wage": own["operator_wage"] / wage if "operator_wage" in own and wage else 1.0}


def _fields(section: type[Section], own: Mapping[str, PerCase]) -> dict[str, PerCase]:
    """Settings of a section that inputs are."""
    return {spec.field: own[name] for name, spec in PRICES.items() if name in own and spec.section is section}


def _persistence_shift(fading: Sequence[Option], own: Mapping[str, PerCase]) -> tuple[PerCase, PerCase]:
    """How far below and above the typical persistence, as shares of the way to the low and the high end."""
    if "persistence" not in own or not fading:
        return 0.0, 0.0
    low, typical, high = (min(getattr(o.persistence, end) for o in fading) for end in ("low", "quoted", "high"))
    down = (typical - np.minimum(own["persistence"], typical)) / (typical - low) if typical > low else 0.0
    up = (np.maximum(own["persistence"], typical) - typical) / (high - typical) if high > typical else 0.0
    return down, up


def _option(
    option: Option, own: Mapping[str, PerCase], scale: Mapping[str, PerCase], shift: tuple[PerCase, PerCase]
) -> Option:
    """An option at these amounts; what is not named is as quoted."""
    lead_weeks, kept = option.lead_weeks, option.persistence
    if fades(option):
        moved = kept.quoted - shift[0] * (kept.quoted - kept.low) + shift[1] * (kept.high - kept.quoted)
        kept = kept.model_copy(update={"quoted": moved})
    return option.model_copy(update={
        "capital": _at(option.capital, own.get(f"capital {option.id}", option.capital.quoted)),
        "bundle_adjustment": own.get(bundle_name(option), option.bundle_adjustment),
        "capital_lines": tuple(_at(one, own.get(line_name(option, one), one.quoted)) for one in option.capital_lines),
        "yearly_cost": option.yearly_cost * scale["yearly_cost"],
        "yearly_lines": tuple(_at(one, one.quoted * scale["yearly_cost"]) for one in option.yearly_lines),
        "lead_weeks": lead_weeks * scale["lead_time"] if lead_weeks else lead_weeks,
        "persistence": kept,
    })  # fmt: skip


def _at(priced: Priced, amount: PerCase) -> Priced:
    """An amount of an option at another price."""
    return priced.model_copy(update={"quoted": amount})


def _priced_totals(totals: ScenarioTotals, scale: Mapping[str, PerCase]) -> ScenarioTotals:
    """Totals whose roster is paid, and whose own prices stand, at the scaled wages and prices."""
    posts = tuple(dataclasses.replace(post, rate_per_h=post.rate_per_h * scale["wage"]) for post in totals.roster.posts)
    return dataclasses.replace(
        totals,
        roster=dataclasses.replace(totals.roster, posts=posts),
        scrap_per_kg=_times(totals.scrap_per_kg, scale["scrap"]),
        mixing_per_kg=_times(totals.mixing_per_kg, scale["scrap"]),
        sheet_per_kg=_times(totals.sheet_per_kg, scale["sheet"]),
    )
