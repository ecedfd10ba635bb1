"""A plant without its prices: what is simulated from it cannot depend on any of them.

The simulate step of a report works on this plant once it knows the low-capital package, which is chosen by value, and
the sets whose risk is told. It is the proof, by construction, that a change of a price, a wage rate, a tax rule or a
capital sum that leaves these as they are needs no new simulation.
"""

from __future__ import annotations

import dataclasses
import re

from simkit.plant.options import Option, Range, capital_of
from simkit.plant.plant import Plant
from simkit.plant.settings import Settings
from simkit.plant.settings_money import Finance, Financing, Money
from simkit.plant.settings_risk import Risk

NAMED = re.compile(r"\b(plant\.(money|finance|financing|risk)|overtime_premium|night_premium|price|price_per_kg)\b")
"""Names of what is taken out, as they stand in the paths of edits."""


def without_prices(plant: Plant) -> Plant:
    """Return the plant with every price that only finance reads at one neutral value.

    Kept are the path of demand and the ramp, which say what is simulated; persons' own rates, which cases of a
    study copy into the persons they add; and credits for scrap, which checks compare. Of the capital of the
    options the order is kept: 1 for the cheapest. An edit or an override of a machine that names a price might
    choose rows by it; then the plant is returned as it is.
    """
    if _edits_name_prices(plant):
        return plant
    return dataclasses.replace(
        plant,
        settings=_settings(plant.settings),
        options=_options(plant.options),
        tools=tuple(dataclasses.replace(row, price=0.0) for row in plant.tools),
        materials=tuple(dataclasses.replace(row, price_per_kg=0.0) for row in plant.materials),
    )


def _edits_name_prices(plant: Plant) -> bool:
    paths = [edit.path for option in plant.options for edit in option.edits]
    return any(NAMED.search(text) for text in (*paths, *(row.overrides for row in plant.machines)))


def _settings(settings: Settings) -> Settings:
    finance = settings.finance
    kept = Finance(demand=finance.demand, ramp_start=finance.ramp_start, ramp_months=finance.ramp_months)
    people = settings.people.model_copy(update={"overtime_premium": 0.0, "night_premium": 0.0})
    neutral = {"money": Money(), "finance": kept, "financing": Financing(), "risk": Risk(), "people": people}
    return settings.model_copy(update=neutral)


def _options(options: tuple[Option, ...]) -> tuple[Option, ...]:
    steps = sorted({capital_of([option]) for option in options})
    ranks = [1.0 + steps.index(capital_of([option])) for option in options]
    return tuple(
        Option(
            id=option.id, name=option.name, kind=option.kind, needs=option.needs, excludes=option.excludes,
            overrides=option.overrides, edits=option.edits, capital=Range(low=rank, quoted=rank, high=rank),
        )
        for option, rank in zip(options, ranks, strict=True)
    )  # fmt: skip
