"""Options of ``options.toml``: a named set of edits to the plant, plus money. Nothing else."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from simkit.plant.settings_base import Amount, Section, Share, SignedAmount

Topic = Literal[
    "installation", "floor", "power_and_air", "fire_and_guarding", "software", "training", "tools", "carriers",
    "program_rework", "yield_loss", "service", "spares", "installation_stop", "ramp_up", "night_attendance",
    "insurance", "scrap_price", "standing_energy", "removal", "own_project_time",
]  # fmt: skip
"""Costs that are usually left out, by name; their meaning stands in :mod:`simkit.plant.left_out_costs`."""


class Edit(Section):
    """One change of the plant.

    ``path`` is ``plant.section.key`` or ``table[key].field``; ``table[*].field`` edits every row, and
    ``table[field=value].field`` the rows that match. ``add_row`` and ``remove_row`` take ``table`` and
    ``table[key]``.
    """

    path: str = Field(description="what is changed")
    op: Literal["set", "multiply", "add", "add_row", "remove_row"] = Field(default="set", description="how")
    value: Any = Field(default=None, description="new value, factor, summand, or the row's columns")


class Range(Section):
    """Low, quoted and high of a price."""

    low: Amount = Field(description="low end")
    quoted: Amount = Field(description="as quoted or expected; the study's value")
    high: Amount = Field(description="high end")


class ShareRange(Section):
    """Low, expected and high of a share."""

    low: Share = Field(description="low end, a share")
    quoted: Share = Field(description="as expected, a share; the study's value")
    high: Share = Field(description="high end, a share")


class CapitalLine(Section):
    """A part of the capital that is usually left out; an explicit zero is an answer."""

    line: str = Field(description="what is paid for")
    low: Amount = Field(default=0.0, description="low end, money")
    quoted: Amount = Field(description="as quoted, money; 0 if there is truly none")
    high: Amount = Field(default=0.0, description="high end, money")
    per: Literal["option", "bundle"] = Field(
        default="option", description="bundle: paid once, however many options need it"
    )
    topics: tuple[Topic, ...] = Field(default=(), description="what of the list of usual omissions it answers")


class YearlyLine(Section):
    """A yearly cost of an option on a budget of its own; an explicit zero is an answer."""

    line: str = Field(description="what is paid for")
    budget: Literal["service", "software", "spares", "insurance", "standing_energy", "yearly_cost"] = Field(
        default="yearly_cost", description="line of the cash-flow table it stands on"
    )
    low: Amount = Field(default=0.0, description="low end, money per year")
    quoted: Amount = Field(description="as quoted, money per year; 0 if there is truly none")
    high: Amount = Field(default=0.0, description="high end, money per year")
    topics: tuple[Topic, ...] = Field(default=(), description="what of the list of usual omissions it answers")


class OnceLine(Section):
    """An amount in a single year: counted stock that is released, space that is let, a machine that is sold."""

    line: str = Field(description="what it is, and who counted it")
    amount: SignedAmount = Field(description="money received; negative: paid")
    year: int = Field(default=1, ge=0, le=40, description="year of use in which it falls; 0: with the first payment")
    what: Literal["stock", "other"] = Field(default="other", description="stock: not taxed, it changes its place")
    owner: str = Field(default="", description="who answers for it")


OPTION_ID = re.compile(r"[^\W_][\w.-]{0,39}")
TODAY = "today"
"""Name of the scenario without options; no option has it."""


def _option_id(text: str) -> str:
    """Refuse what cannot stand in a set of options, as in A1+N2."""
    if not OPTION_ID.fullmatch(text):
        raise ValueError("is not an option's id: at most 40 letters, digits, . _ and -, a letter or digit first")
    if text.casefold() in (TODAY, "base"):
        raise ValueError("is the name of the plant without options")
    return text


class Option(Section):
    """A named set of edits, and what it costs."""

    id: Annotated[str, AfterValidator(_option_id)] = Field(
        description="short name used on the command line: letters, digits, . _ and -, a letter or digit first"
    )
    name: str = Field(description="what it is, in the trade's words")
    short: str = Field(default="", description="name of at most three words for figures and sets; none: the name")
    kind: Literal["low_capital", "calendar", "bought"] = Field(description="class of the option")
    capital: Range = Field(default=Range(low=0, quoted=0, high=0), description="money at order, delivery, acceptance")
    capital_lines: tuple[CapitalLine, ...] = Field(default=(), description="installation, power, training and the like")
    yearly_cost: Amount = Field(default=0.0, description="service, software and the like, money per year")
    yearly_lines: tuple[YearlyLine, ...] = Field(
        default=(), description="yearly costs by budget, besides yearly_cost: service, software, spares and the like"
    )
    nothing_for: tuple[Topic, ...] = Field(
        default=(), description="usual omissions that truly cost nothing here: the explicit zero"
    )
    grant_share: Share = Field(
        default=0.0,
        description="grant as a share of the capital without its lines, paid with each stage; it lowers what is "
        "written off too",
    )
    working_capital: SignedAmount = Field(
        default=0.0, description="stock bound while in use, money; negative: freed; undone at the horizon"
    )
    once: tuple[OnceLine, ...] = Field(default=(), description="amounts of a single year, as stock released")
    yearly_labour_h: float = Field(
        default=0.0, ge=0, le=100_000, description="hours of named people that the model does not contain"
    )
    lead_weeks: float = Field(default=0.0, ge=0, le=520, description="weeks from order to use")
    stop_days: float = Field(default=0.0, ge=0, le=365, description="working days the cell stands for installation")
    life_years: float | None = Field(default=None, ge=0.25, le=100, description="life; none: as long as it is kept up")
    owner: str = Field(default="", description="who answers for it")
    persistence: ShareRange = Field(
        default=ShareRange(low=1, quoted=1, high=1), description="share of the gain kept after a year"
    )
    needs: tuple[str | tuple[str, ...], ...] = Field(default=(), description="options it needs; a list inside: any one")
    excludes: tuple[str, ...] = Field(default=(), description="options it cannot be combined with")
    overrides: tuple[str, ...] = Field(default=(), description="options whose set edits it replaces")
    edits: tuple[Edit, ...] = Field(default=(), description="what it changes")
    bundle_adjustment: SignedAmount = Field(
        default=0.0, description="capital added when combined with another bought option"
    )
    valid_until: str = Field(default="", description="date until which the price holds")
    price_source: str = Field(default="", description="who gave the price; invented in the demo")
    note: str = Field(default="", description="what stays, what is usually forgotten")

    @property
    def every_year(self) -> float:
        """All that it costs in a year as quoted, before prices grow."""
        return self.yearly_cost + sum(line.quoted for line in self.yearly_lines)

    @property
    def called(self) -> str:
        """Its short name, or the whole one where there is none."""
        return self.short or self.name


PriceCase = Literal["low", "quoted", "high"]


@dataclass(frozen=True)
class Outlay:
    """A part of what is paid first for a set of options: its line of the cash-flow table, what it is, for which option.

    ``shared`` marks a line of a bundle, which no single option bears.
    """

    line: Literal["capital", "capital_line", "bundle_adjustment"]
    text: str
    amount: float
    option: Option
    shared: bool = False


def price_in(of: Range | CapitalLine | YearlyLine, case: PriceCase) -> float:
    """Low, quoted or high price; an end that a line does not name is its quoted price."""
    found: float = getattr(of, case)
    return found if isinstance(of, Range) or case == "quoted" or found else of.quoted


def outlays(options: Sequence[Option], case: PriceCase = "quoted") -> tuple[Outlay, ...]:
    """All that is paid first for a set: capital, capital lines, and what combining bought options adds.

    A line of a bundle is paid once, at the dearest of its prices.
    """
    own = [Outlay("capital", case, price_in(option.capital, case), option) for option in options]
    lines: dict[tuple[str, int], Outlay] = {}
    for option in options:
        for line in option.capital_lines:
            shared = line.per == "bundle"
            found = Outlay("capital_line", line.line, price_in(line, case), option, shared)
            key = (line.line, 0 if shared else len(lines) + 1)
            known = lines.get(key)
            if known is None or (found.amount is not known.amount and found.amount > known.amount):
                lines[key] = found
    bought = [option for option in options if option.kind == "bought"]
    text = "when combined with another bought option"
    extra = [Outlay("bundle_adjustment", text, option.bundle_adjustment, option) for option in bought]
    return (*own, *lines.values(), *(extra if len(bought) > 1 else ()))


def capital_of(options: Sequence[Option], case: PriceCase = "quoted") -> float:
    """What is paid first for a set of options, money: the one sum of its capital."""
    return sum(outlay.amount for outlay in outlays(options, case))
