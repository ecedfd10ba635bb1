"""A tidy table of what was counted by hour, night and sheet: means over replications with 95 % half-widths."""

from __future__ import annotations

import numpy as np
import pandas as pd

from simkit.experiment.intervals import t_interval
from simkit.experiment.partcounts import SPAN, apart
from simkit.experiment.results import Results

PART_COLUMNS = ("scenario", "quantity", "which", "mean", "half_width")


def part_table(counts: Results, demand_factor: float = 1.0) -> pd.DataFrame:
    """Make the table of results that the model of part counts measured; what a run does not mention did not happen."""
    rows: list[tuple[object, ...]] = []
    for scenario in counts.scenarios:
        frame = counts.frame
        own = frame[(frame["scenario"] == scenario) & (frame["demand_factor"] == demand_factor)]
        wide = own.pivot(index="replication", columns="measure", values="value").fillna(0.0)
        for name in sorted(str(column) for column in wide.columns):
            quantity, which = apart(name)
            if quantity != SPAN:
                estimate = t_interval(wide[name].to_numpy())
                half_width = estimate.half_width if np.isfinite(estimate.half_width) else float("nan")
                rows.append((scenario, quantity, which, estimate.mean, half_width))
    return pd.DataFrame(rows, columns=list(PART_COLUMNS))
