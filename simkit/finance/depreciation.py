"""Depreciation: shares of a cost by year of service. Money, not cash; it acts through tax alone. No tax advice.

Every schedule is a tuple of shares of the cost, year of service 1 first. :func:`charged` lays one on the calendar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simkit.base.messages import BadInput, Finding, nearest

_MACRS = "United States, Publication 946, table A-1, half-year convention; read in secondary copies that agree"


@dataclass(frozen=True)
class PublishedTable:
    """A table of depreciation as printed: percent of the cost by year of service, and who prints it."""

    name: str
    percent: tuple[float, ...]
    source: str


TABLES: dict[str, PublishedTable] = {
    table.name: table
    for table in (
        PublishedTable("macrs_3", (33.33, 44.45, 14.81, 7.41), _MACRS),
        PublishedTable("macrs_5", (20, 32, 19.20, 11.52, 11.52, 5.76), _MACRS),
        PublishedTable("macrs_7", (14.29, 24.49, 17.49, 12.49, 8.93, 8.92, 8.93, 4.46), _MACRS),
        PublishedTable("macrs_10", (10, 18, 14.40, 11.52, 9.22, 7.37, 6.55, 6.55, 6.56, 6.55, 3.28), _MACRS),
    )
}
"""Published tables, shipped as data: computing them misses the last digits of the print by up to 0.01 points."""


def straight_line_shares(life_years: int) -> tuple[float, ...]:
    """Equal shares over the life. Source: textbook standard; checked against D23."""
    return (1.0 / life_years,) * life_years


def declining_balance_shares(life_years: int, factor: float = 2.0, switch: bool = True) -> tuple[float, ...]:
    """Shares of ``factor / life`` of what is left; with ``switch``, straight line over the rest once that is more.

    Without the switch a part of the cost is never written off. Source: textbook standard; checked against D23.
    """
    left, shares = 1.0, []
    for year in range(life_years):
        share = left * min(factor / life_years, 1.0)
        if switch:
            share = max(share, left / (life_years - year))
        shares.append(share)
        left -= share
    return tuple(shares)


def sum_of_years_shares(life_years: int) -> tuple[float, ...]:
    """Shares in proportion to the years left, first year most. Source: textbook standard; checked against D23."""
    total = life_years * (life_years + 1) / 2
    return tuple((life_years - year) / total for year in range(life_years))


def table_shares(name: str) -> tuple[float, ...]:
    """Shares of a published table by its name. Raises :class:`BadInput` with the nearest known name."""
    if name not in TABLES:
        raise BadInput(
            [Finding("plant.toml finance.depreciation_table", "no such table", nearest(name, TABLES), value=name)]
        )
    return tuple(percent / 100.0 for percent in TABLES[name].percent)


def charged(capital: float, bought_in: int, shares: Sequence[float], horizon: int) -> tuple[float, ...]:
    """Depreciation of years 0 to ``horizon`` from the year after ``bought_in``; the horizon takes what is left.

    The shares need not sum to one: what no year has taken is written off at the horizon, so that depreciation always
    sums to the capital.
    """
    series = [0.0] * (horizon + 1)
    for year, share in enumerate(shares, bought_in + 1):
        if year <= horizon:
            series[year] = capital * share
    series[horizon] += capital - sum(series)
    return tuple(series)
