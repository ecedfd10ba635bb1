"""Tables of differences: against today, against the low-capital package, and what two options do together."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.experiment.results import Results


def level_table(
    results: Results, measures: Sequence[str], demand_factor: float = 1.0, scenarios: Sequence[str] | None = None
) -> pd.DataFrame:
    """Mean, interval and 8-in-10 range of each scenario and measure, one row each, in the order of the run."""
    rows = []
    for scenario in scenarios or results.scenarios:
        for measure in measures:
            weeks = results.spread(scenario, measure, demand_factor)
            row = _row(results.estimate(scenario, measure, demand_factor), scenario=scenario, measure=measure)
            refused = results.refusal(scenario, measure, demand_factor)
            rows.append(row | {"verdict": refused, "weeks_low": weeks.low, "weeks_high": weeks.high})
    return pd.DataFrame(rows)


def difference_table(
    results: Results,
    against: str,
    measures: Sequence[str] = (NEEDED,),
    demand_factor: float = 1.0,
    scenarios: Sequence[str] | None = None,
) -> pd.DataFrame:
    """Paired differences of scenarios (default: all others) from ``against``, one row per scenario and measure.

    The intervals of one measure hold together at 95 % (Bonferroni). ``verdict`` says in words whether
    the sign is sure, or why the difference must not be shown.
    """
    rows = []
    for measure in measures:
        differences = results.simultaneous(against, measure, demand_factor, scenarios)
        refused_base = results.refusal(against, measure, demand_factor)
        for scenario, estimate in differences.items():
            row = _row(estimate, scenario=scenario, against=against, measure=measure)
            refused = refused_base or results.refusal(scenario, measure, demand_factor)
            rows.append(row | {"verdict": refused or estimate.verdict})
    return pd.DataFrame(rows)


def _row(estimate: Estimate, **names: str) -> dict[str, object]:
    numbers = {"mean": estimate.mean, "half_width": estimate.half_width, "unit": estimate.unit, "n": estimate.n}
    return {**names, **numbers, "tells": estimate.tells}
