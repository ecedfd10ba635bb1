"""Tidy tables of the counts by tool, by family, and by fault: means over replications with 95 % half-widths."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from simkit.experiment.intervals import t_interval
from simkit.experiment.results import Results
from simkit.experiment.toolcounts import FAMILY, SPAN, USE, counted

WEEKS = 4
"""All tables give amounts of so many weeks."""

ALL, HITS = "all", "hits"
"""Rows of a tool beside those of each kind of exchange: all kinds together, and its hits, which take no minutes.
``all`` is also the name of the row of all families together."""

TOOL_COLUMNS = (
    "scenario", "tool_id", "exchange", "count_per_4_weeks", "visible_min", "hidden_min", "count_half_width",
    "visible_half_width", "hidden_half_width",
)  # fmt: skip
FAMILY_COLUMNS = (
    "scenario", "family", "visible_min", "hidden_min", "punch_min", "cut_min", "fixed_min", "orders",
    "visible_half_width", "hidden_half_width", "fixed_half_width",
)  # fmt: skip

FAULT_COLUMNS = ("scenario", "fault", "found", "count_per_4_weeks", "count_half_width")
FAMILY_QUANTITIES = ("visible", "hidden", "punch", "cut", "fixed", "orders")

Values = dict[tuple[str, str, str], np.ndarray]
"""Amounts of four weeks, one per replication, by quantity, group, and tool or family."""


class ToolTables(NamedTuple):
    """Tables by tool, by family of programs, and by fault of a load, with the columns above."""

    tools: pd.DataFrame
    families: pd.DataFrame
    faults: pd.DataFrame


def tool_tables(counts: Results, demand_factor: float = 1.0) -> ToolTables:
    """Make the tables of results that the model of tool counts measured."""
    tools: list[tuple[object, ...]] = []
    families: list[tuple[object, ...]] = []
    faults: list[tuple[object, ...]] = []
    for scenario in counts.scenarios:
        values = _values(counts, scenario, demand_factor)
        tools += [(scenario, *row) for row in _tool_rows(values)]
        families += [(scenario, *row) for row in _family_rows(values)]
        faults += [(scenario, *row) for row in _fault_rows(values)]
    return ToolTables(
        pd.DataFrame(tools, columns=list(TOOL_COLUMNS)),
        pd.DataFrame(families, columns=list(FAMILY_COLUMNS)),
        pd.DataFrame(faults, columns=list(FAULT_COLUMNS)),
    )


def _values(counts: Results, scenario: str, demand_factor: float) -> Values:
    """What a replication does not mention did not happen in it."""
    frame = counts.frame
    own = frame[(frame["scenario"] == scenario) & (frame["demand_factor"] == demand_factor)]
    wide = own.pivot(index="replication", columns="measure", values="value").fillna(0.0)
    scale = WEEKS / wide[SPAN].to_numpy()
    return {what: wide[name].to_numpy() * scale for name in wide.columns if (what := counted(str(name)))}


def _tool_rows(values: Values) -> Iterator[tuple[object, ...]]:
    kinds = sorted({(name, group) for quantity, group, name in values if quantity == "count"})
    for tool in dict.fromkeys(name for name, _ in kinds):
        groups = [group for name, group in kinds if name == tool]
        for group in groups:
            yield tool, group, *_three([values[q, group, tool] for q in ("count", "visible", "hidden")])
        sums = [np.sum([values[q, g, tool] for g in groups], axis=0) for q in ("count", "visible", "hidden")]
        yield tool, ALL, *_three(sums)
    for quantity, group, tool in sorted(values):
        if (quantity, group) == (HITS, USE):
            zero = np.zeros_like(values[quantity, group, tool])
            yield tool, HITS, *_three([values[quantity, group, tool], zero, zero])


def _family_rows(values: Values) -> Iterator[tuple[object, ...]]:
    size = next(iter(values.values())).shape if values else (0,)
    names = sorted({name for _, group, name in values if group == FAMILY})
    amounts = {name: {q: values.get((q, FAMILY, name), np.zeros(size)) for q in FAMILY_QUANTITIES} for name in names}
    if names:
        amounts[ALL] = {q: np.sum([amounts[name][q] for name in names], axis=0) for q in FAMILY_QUANTITIES}
    for family, own in amounts.items():
        halves = (_half(own[quantity]) for quantity in ("visible", "hidden", "fixed"))
        yield family, *(float(amount.mean()) for amount in own.values()), *halves


def _fault_rows(values: Values) -> Iterator[tuple[object, ...]]:
    for quantity, where, fault in sorted(values):
        if quantity == "faults":
            amount = values[quantity, where, fault]
            yield fault, where, float(amount.mean()), _half(amount)


def _three(amounts: Sequence[np.ndarray]) -> tuple[float, ...]:
    return (*(float(amount.mean()) for amount in amounts), *map(_half, amounts))


def _half(amount: np.ndarray) -> float:
    """Half-width of the mean; not a number with one replication."""
    half_width = t_interval(amount).half_width
    return half_width if np.isfinite(half_width) else float("nan")
