"""What a plant's settings leave without a price: the effect stands in no amount, and is said instead of a figure."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from simkit.base.messages import Finding, note
from simkit.finance.inputs import prices_of
from simkit.finance.roster import roster_of
from simkit.finance.use import counts
from simkit.plant.plant import Plant


class Gap(NamedTuple):
    """An effect that is counted in no amount: what it is, what is missing, and the field to fill in."""

    effect: str
    missing: str
    field: str

    def __str__(self) -> str:
        """Return ``subcontracted hours: no price of an hour bought outside (money.subcontract_per_h)``."""
        return f"{self.effect}: {self.missing} ({self.field})"


def unvalued(plant: Plant) -> tuple[Gap, ...]:
    """Effects of the plant's own overflow rules that have no price: none was entered, or 0."""
    return tuple(_unvalued(plant))


def not_valued(plant: Plant) -> str:
    """A sentence that names what is in no amount for want of a price; empty where nothing is."""
    gaps = "; ".join(map(str, unvalued(plant)))
    return f"Not valued, and in no amount: {gaps}." if gaps else ""


def _unvalued(plant: Plant) -> Iterator[Gap]:
    money, overflow, finance = plant.settings.money, plant.settings.overflow, plant.settings.finance
    paid = roster_of(plant).crew_rate_per_h or money.operator_rate_per_h
    if counts(finance, "overtime") and prices_of(plant).overtime_allowed and not paid:
        yield Gap("overtime", "nobody who comes has an hourly cost", "rate_per_h of people.csv")
    if counts(finance, "subcontract") and overflow.subcontract and not money.subcontract_per_h:
        yield Gap("subcontracted hours", "no price of an hour bought outside", "money.subcontract_per_h")
    if counts(finance, "sales") and overflow.refuse and not money.margin_per_h:
        yield Gap("orders refused", "no margin of an hour sold", "money.margin_per_h")


def idle_rates(plant: Plant) -> Iterator[Finding]:
    """Notes of prices that value nothing, because nothing in this plant ever sets them off, and of the opposite."""
    settings = plant.settings
    money, overflow = settings.money, settings.overflow
    for gap in unvalued(plant):
        why = f"{gap.effect}: {gap.missing}, so that no amount holds it"
        yield note("plant.toml", why, "Fill it in", column=gap.field)
    for rule, field, price in (
        ("subcontract", "subcontract_per_h", money.subcontract_per_h), ("refuse", "margin_per_h", money.margin_per_h),
    ):  # fmt: skip
        if price and not getattr(overflow, rule):
            why = f"is a price of what never happens here, overflow.{rule} is false: freed hours save none of it"
            mend = f"Set overflow.{rule}, if the plant does so"
            yield note("plant.toml", why, mend, column=f"money.{field}", value=f"{price:g}")
    if overflow.overtime and not settings.calendar.overtime:
        why = "there is no window in which it could be worked (calendar.overtime)"
        yield note("plant.toml", why, "Add one, or set it to false", column="overflow.overtime", value="true")
