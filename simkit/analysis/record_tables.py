"""Tidy tables of what runs recorded of tools and parts: means over replications with 95 % half-widths.

What a replication does not mention did not happen in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from simkit.experiment.intervals import t_interval
from simkit.experiment.results import Results
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import Scenario

WEEKS = 4
"""Tables of tools, families and faults give amounts of so many weeks; that of parts gives those of a whole run."""

BENCH_HOUR, STACK_HOUR, MORNING, PICK = "bench_hour", "stack_hour", "morning", "pick"
NIGHT_PLACES, NIGHT_SHEETS, NIGHT_SKELETONS = "night_places", "night_sheets", "night_skeletons"
"""Quantities of parts. ``bench_hour`` and ``stack_hour`` are mean sheets at the bench and on the whole-sheet stack in
an hour of the day (0 to 23); ``morning`` counts days on which so many sheets waited when people came; the quantities of
nights count allowed nights in which at most so many places for stacks were taken at once, so many whole sheets lay on
the stack, and so many skeletons were put down. Of ``pick``: see :class:`simkit.experiment.partmeasures.Picks`."""
PICKED, STOPPED, EXPECTED = "sheets", "stopped", "expected"
OF_NIGHT = {NIGHT_PLACES: "most_places", NIGHT_SHEETS: "most_stack_sheets", NIGHT_SKELETONS: "skeletons"}

Read = Callable[[str], pd.DataFrame]
"""The records of a scenario by the name of their table."""


@dataclass(frozen=True)
class RecordTable:
    """A table of means: what its rows are named by, the amounts of each, and how they come from which records."""

    names: tuple[str, ...]
    amounts: tuple[str, ...]
    records: tuple[str, ...]
    rows: Callable[[Read], pd.DataFrame]
    per_weeks: bool = True

    @property
    def columns(self) -> tuple[str, ...]:
        """Scenario, names, amounts, and the half-width of each."""
        return ("scenario", *self.names, *self.amounts, *(f"{amount}_half_width" for amount in self.amounts))

    def of(self, counts: Results, demand_factor: float) -> pd.DataFrame:
        """The table of results that hold its records."""
        runs, names = np.sort(counts.frame["replication"].unique()), list(self.names)
        found: list[tuple[object, ...]] = []
        for scenario in counts.scenarios:
            rows = self.rows(lambda name, scenario=scenario: counts.rows(name, scenario, demand_factor))  # type: ignore[misc]
            scale = WEEKS / counts.raw(scenario, "span_weeks", demand_factor) if self.per_weeks else np.ones(len(runs))
            for key, own in rows.groupby([*names, "replication"])[list(self.amounts)].sum().groupby(names):
                amounts = own.droplevel(list(self.names)).reindex(runs, fill_value=0.0).to_numpy(float) * scale[:, None]
                halves = (t_interval(column).half_width for column in amounts.T)
                found.append((scenario, *key, *(float(column.mean()) for column in amounts.T),
                              *(half if np.isfinite(half) else float("nan") for half in halves)))  # fmt: skip
        return pd.DataFrame(found, columns=list(self.columns))


def _parts(read: Read) -> pd.DataFrame:
    hours, mornings, picks = read("hours"), read("mornings"), read("picks")
    nights, hour = read("nights").drop_duplicates(["replication", "night"]), hours["hour"].map("{:02d}".format)
    return pd.concat([
        _long(hours, BENCH_HOUR, hour, hours["bench"]),
        _long(hours, STACK_HOUR, hour, hours["stack"]),
        _long(mornings, MORNING, (mornings["bench"] + mornings["stack"]).astype(str), 1.0),
        *(_long(nights, quantity, nights[column].astype(str), 1.0) for quantity, column in OF_NIGHT.items()),
        *(_long(picks, PICK, column, picks[column]) for column in (PICKED, STOPPED, EXPECTED)),
    ])  # fmt: skip


def _long(frame: pd.DataFrame, quantity: str, which: pd.Series | str, mean: pd.Series | float) -> pd.DataFrame:
    return frame[["replication"]].assign(quantity=quantity, which=which, mean=mean)


TABLES = {
    "parts": RecordTable(
        ("quantity", "which"), ("mean",), ("hours", "mornings", "nights", "picks"), _parts, per_weeks=False
    ),
}  # fmt: skip
"""Every table by name."""


def counted_tables(
    names: Iterable[str], today: Scenario, scenarios: Sequence[Scenario], demand_factor: float, **run: Any
) -> dict[str, pd.DataFrame]:
    """Tables of these names of scenarios at one demand; ``run`` goes to the runner."""
    tables = {name: TABLES[name] for name in names}
    records = {record for table in tables.values() for record in table.records}
    counts = run_scenarios(today, scenarios, demand_factors=[demand_factor], records=sorted(records), **run)
    return {name: table.of(counts, demand_factor) for name, table in tables.items()}
