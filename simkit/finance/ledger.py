"""The entries of one scenario: amounts by year and case, each with the factors that it is the product of.

A factor says what it is in words, so that every amount of the table can be read back from its basis.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import prod
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.finance.casearrays import PerCase, first_case
from simkit.finance.inputs import Prices
from simkit.finance.lines import COST, price_level
from simkit.finance.timeline import deflator
from simkit.plant.options import Option, PriceCase
from simkit.plant.settings_money import Finance


class Factor(NamedTuple):
    """A value and what it is, with its unit; ``text`` has a place for each of the values ``shown``, if there are any.

    A share of the whole may be ``left_out_at_1``, where it says nothing.
    """

    value: PerCase
    text: str
    shown: tuple[PerCase, ...] = ()
    left_out_at_1: bool = False


@dataclass(frozen=True)
class CashRow:
    """One amount: who, when, which line and class, how it came about (``basis``), who answers for it.

    ``item`` names the option, person or material it is about. Money of the year; positive is received.
    """

    scenario: str
    year: int
    line: str
    benefit_class: str
    amount: float
    basis: str
    owner: str
    item: str = ""


def product(factors: Sequence[Factor]) -> PerCase:
    """Product of the values of factors."""
    return prod(factor.value for factor in factors) + 0.0  # a negative zero becomes zero


def basis_text(factors: Sequence[Factor], year: int, note: str = "") -> str:
    """Return ``18 h/week x 47 weeks x 77 CU/h; note``: each number of a year with its unit, in order.

    Numbers stand with twelve digits, so that their product is the amount; pages may shorten them. What a plant's own
    words could add to these marks is written otherwise, so that the product can be read back.
    """
    pieces = []
    for factor in factors:
        value = first_case(factor.value, year)
        if value == 1.0 and factor.left_out_at_1:
            continue
        shown = tuple(first_case(one, year) for one in factor.shown)
        unit = factor.text.format(*shown) if shown else factor.text
        pieces.append(f"{value + 0.0:.12g} {unit.replace(' x ', ' by ').replace(';', ',')}")
    text = " x ".join(pieces)
    return f"{text}; {note}" if note else text


@dataclass(frozen=True, eq=False)
class Entry:
    """Amounts of a line and class, shape (years, cases), year 0 first, in money of their year; positive is received.

    ``present`` tells the years that have a row. ``item`` names the option, person or material it is about.
    """

    line: str
    benefit_class: str
    amounts: Floats
    present: NDArray[np.bool_]
    factors: Sequence[Factor]
    owner: str
    item: str = ""
    note: str = ""

    def rows(self, scenario: str, finance: Finance) -> Iterator[CashRow]:
        """Rows of the tidy table, of the first case, in money of the table."""
        for year in np.flatnonzero(self.present).tolist():
            amount, factors = float(self.amounts[year, 0]), list(self.factors)
            if finance.rate_basis == "real":
                factors.append(Factor(deflator(finance, year), "in money of year 0"))
                amount *= deflator(finance, year)
            basis = basis_text(factors, year, self.note)
            yield CashRow(scenario, year, self.line, self.benefit_class, amount, basis, self.owner, self.item)


@dataclass(frozen=True, eq=False)
class Ledger:
    """Where the entries of a set of options are written, with the terms and prices that all of them share."""

    options: tuple[Option, ...]
    prices: Prices
    finance: Finance
    case: PriceCase
    entries: list[Entry] = field(default_factory=list)

    @property
    def unit(self) -> str:
        """The plant's currency."""
        return self.prices.currency

    @cached_property
    def owners(self) -> str:
        """Owners of the options, each once."""
        return "; ".join(dict.fromkeys(option.owner for option in self.options if option.owner))

    @cached_property
    def years(self) -> NDArray[np.int64]:
        """Years 0 to the horizon, shape (years, 1)."""
        return np.arange(self.finance.horizon_years + 1)[:, None]

    def level(self, line: str) -> PerCase:
        """Price of a line in each year over that of the as-of date."""
        return price_level(self.finance, line, self.years)

    def add(
        self, line: str, factors: Sequence[Factor | tuple[PerCase, str]], when: PerCase, *, kind: str = COST,
        owner: str | None = None, item: str = "", note: str = "",
    ) -> None:  # fmt: skip
        """Write the product of factors where ``when`` (by year and case) holds; nothing if it never does."""
        present = when.any(axis=1)
        if present.any():
            known = [Factor(*one) for one in factors]
            amounts = np.where(when, product(known), 0.0)
            self.entries.append(
                Entry(line, kind, amounts, present, known, self.owners if owner is None else owner, item, note)
            )

    def single(self, line: str, year: PerCase, factors: Sequence[Factor | tuple[PerCase, str]], **more: str) -> None:
        """Write an amount of a single year, which may differ from case to case."""
        self.add(line, factors, self.years == year, **more)

    def yearly(self, line: str, factors: Sequence[Factor | tuple[PerCase, str]], **more: str) -> None:
        """Write an amount of every year from 1 on."""
        self.add(line, factors, self.years >= 1, **more)
