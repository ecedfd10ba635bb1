"""Tidy tables of the counts by tool, by family, and by fault: means over replications with 95 % half-widths."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from simkit.experiment.intervals import t_interval
from simkit.experiment.results import Results
from simkit.experiment.toolmeasures import HITS

RECORDS = ("tools", "families", "faults")
"""Tables of records that are counted."""

WEEKS = 4
"""All tables give amounts of so many weeks."""

ALL = "all"
"""The row of a tool with all kinds of exchange together, and the one of all families together."""

TOOL_COLUMNS = (
    "scenario", "tool_id", "exchange", "count_per_4_weeks", "visible_min", "hidden_min", "count_half_width",
    "visible_half_width", "hidden_half_width",
)  # fmt: skip
FAMILY_COLUMNS = (
    "scenario", "family", "visible_min", "hidden_min", "punch_min", "cut_min", "fixed_min", "orders",
    "visible_half_width", "hidden_half_width", "fixed_half_width",
)  # fmt: skip
FAULT_COLUMNS = ("scenario", "fault", "found", "count_per_4_weeks", "count_half_width")
TOOL_AMOUNTS = ["times", "visible_min", "hidden_min"]
FAMILY_AMOUNTS = ["visible_min", "hidden_min", "punch_min", "cut_min", "fixed_min", "orders"]

Values = dict[tuple[str, ...], np.ndarray]
"""Amounts of four weeks by what the first columns name: a row for each replication, a column for each amount."""


class ToolTables(NamedTuple):
    """Tables by tool, by family of programs, and by fault of a load, with the columns above."""

    tools: pd.DataFrame
    families: pd.DataFrame
    faults: pd.DataFrame


def tool_tables(counts: Results, demand_factor: float = 1.0) -> ToolTables:
    """Make the tables of results that hold :data:`RECORDS`."""
    tools: list[tuple[object, ...]] = []
    families: list[tuple[object, ...]] = []
    faults: list[tuple[object, ...]] = []
    for scenario in counts.scenarios:
        scale = WEEKS / counts.raw(scenario, "span_weeks", demand_factor)
        own = [counts.rows(name, scenario, demand_factor) for name in RECORDS]
        tools += [(scenario, *row) for row in _tool_rows(_values(own[0], ["tool_id", "exchange"], TOOL_AMOUNTS, scale))]
        families += [(scenario, *row) for row in _family_rows(_values(own[1], ["family"], FAMILY_AMOUNTS, scale))]
        for names, amounts in _values(own[2], ["found", "fault"], ["times"], scale).items():
            faults.append((scenario, *names[::-1], *_means(amounts), *_halves(amounts)))
    return ToolTables(
        pd.DataFrame(tools, columns=list(TOOL_COLUMNS)),
        pd.DataFrame(families, columns=list(FAMILY_COLUMNS)),
        pd.DataFrame(faults, columns=list(FAULT_COLUMNS)),
    )


def _values(rows: pd.DataFrame, names: list[str], amounts: list[str], scale: np.ndarray) -> Values:
    """What a replication does not mention did not happen in it."""
    found: Values = {}
    for key, own in rows.groupby(names):
        by_run = own.set_index("replication")[amounts].reindex(range(len(scale)), fill_value=0.0)
        found[tuple(map(str, key))] = by_run.to_numpy(float) * scale[:, None]
    return found


def _tool_rows(values: Values) -> Iterator[tuple[object, ...]]:
    exchanges = {key: own for key, own in values.items() if key[1] != HITS}
    for tool in dict.fromkeys(tool for tool, _ in exchanges):
        own = {kind: amounts for (name, kind), amounts in exchanges.items() if name == tool}
        for kind, amounts in (*own.items(), (ALL, np.sum(list(own.values()), axis=0))):
            yield tool, kind, *_means(amounts), *_halves(amounts)
    for (tool, kind), amounts in values.items():
        if kind == HITS:
            yield tool, HITS, *_means(amounts), *_halves(amounts)


def _family_rows(values: Values) -> Iterator[tuple[object, ...]]:
    every = {ALL: np.sum(list(values.values()), axis=0)} if values else {}
    halved = [FAMILY_AMOUNTS.index(amount) for amount in ("visible_min", "hidden_min", "fixed_min")]
    for family, amounts in ({name: own for (name,), own in values.items()} | every).items():
        yield family, *_means(amounts), *_halves(amounts[:, halved])


def _means(amounts: np.ndarray) -> Sequence[float]:
    return [float(column.mean()) for column in amounts.T]


def _halves(amounts: np.ndarray) -> Sequence[float]:
    """Half-widths of the means; not a number with one replication."""
    halves = (t_interval(column).half_width for column in amounts.T)
    return [half if np.isfinite(half) else float("nan") for half in halves]
