"""A tidy table of what was counted by hour, night and sheet: means over replications with 95 % half-widths."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from simkit.experiment.intervals import t_interval
from simkit.experiment.results import Results

RECORDS = ("hours", "mornings", "nights", "picks")
"""Tables of records that are counted."""
BENCH_HOUR, STACK_HOUR, MORNING, PICK = "bench_hour", "stack_hour", "morning", "pick"
NIGHT_PLACES, NIGHT_SHEETS, NIGHT_SKELETONS = "night_places", "night_sheets", "night_skeletons"
"""Quantities. ``bench_hour`` and ``stack_hour`` are mean sheets at the bench and on the whole-sheet stack in an hour of
the day (0 to 23); ``morning`` counts days on which so many sheets waited when people came; the quantities of nights
count allowed nights in which at most so many places for stacks were taken at once, so many whole sheets lay on the
stack, and so many skeletons were put down. Of ``pick``: see :class:`simkit.experiment.partmeasures.Picks`."""
PICKED, STOPPED, EXPECTED = "sheets", "stopped", "expected"
OF_NIGHT = {NIGHT_PLACES: "most_places", NIGHT_SHEETS: "most_stack_sheets", NIGHT_SKELETONS: "skeletons"}

PART_COLUMNS = ("scenario", "quantity", "which", "mean", "half_width")


def part_table(counts: Results, demand_factor: float = 1.0) -> pd.DataFrame:
    """Make the table of results that hold :data:`RECORDS`; what a run does not mention did not happen."""
    rows: list[tuple[object, ...]] = []
    for scenario in counts.scenarios:
        tables = {name: counts.rows(name, scenario, demand_factor) for name in RECORDS}
        runs = range(counts.replications)
        wide = {key: own.reindex(runs, fill_value=0.0) for key, own in _amounts(tables)}
        for quantity, which in sorted(wide, key="_".join):
            estimate = t_interval(wide[quantity, which].to_numpy(float))
            half_width = estimate.half_width if np.isfinite(estimate.half_width) else float("nan")
            rows.append((scenario, quantity, which, estimate.mean, half_width))
    return pd.DataFrame(rows, columns=list(PART_COLUMNS))


def _amounts(tables: dict[str, pd.DataFrame]) -> Iterator[tuple[tuple[str, str], pd.Series]]:
    """Amounts by replication, by quantity and which."""
    for hour, own in tables["hours"].set_index("replication").groupby("hour"):
        yield (BENCH_HOUR, f"{hour:02d}"), own["bench"]
        yield (STACK_HOUR, f"{hour:02d}"), own["stack"]
    mornings, nights = tables["mornings"], tables["nights"].drop_duplicates(["replication", "night"])
    counted = {MORNING: (mornings, mornings["bench"] + mornings["stack"])}
    counted |= {quantity: (nights, nights[column]) for quantity, column in OF_NIGHT.items()}
    for quantity, (frame, amount) in counted.items():
        for which, own in frame.groupby(amount):
            yield (quantity, str(which)), own.groupby("replication").size()
    for column in (PICKED, STOPPED, EXPECTED) if len(tables["picks"]) else ():
        yield (PICK, column), tables["picks"].groupby("replication")[column].sum()
