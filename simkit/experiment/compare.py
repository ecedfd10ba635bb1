"""Tables of differences: against today, against the low-capital package, and what two options do together."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from simkit.experiment.best import behind_the_best
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


def interaction(
    results: Results,
    both: str,
    first: str,
    second: str,
    base: str,
    measure: str = NEEDED,
    demand_factor: float = 1.0,
    *,
    family: int = 1,
) -> Estimate:
    """What two options do together beyond the sum of both: ``both - first - second + base``.

    Zero if their effects add up. For hours, above zero means that they partly save the same hours. The interval is one
    of ``family``.
    """
    weights = {both: 1.0, first: -1.0, second: -1.0, base: 1.0}
    return results.combined(weights, measure, demand_factor, family=family)


def ranking(
    results: Results,
    demand_factor: float = 1.0,
    measure: str = NEEDED,
    scenarios: Sequence[str] | None = None,
) -> pd.DataFrame:
    """Scenarios from the fewest hours to the most, each with how far it lies behind the best of the others.

    ``may_be_best`` says which cannot be told apart from the best; all intervals (``behind_low`` to ``behind_high``)
    hold together at 95 %, see :mod:`simkit.experiment.best`.
    """
    names = list(scenarios or results.scenarios)
    found = behind_the_best(
        {name: results.values(name, measure, demand_factor) for name in names},
        fitted=results.fitted(names[0], demand_factor, measure),
    )
    means = {name: results.estimate(name, measure, demand_factor) for name in names}
    return pd.DataFrame(
        {"rank": rank} | _row(means[name], scenario=name) | {
            "behind": found[name].mean, "behind_low": found[name].low, "behind_high": found[name].high,
            "may_be_best": found[name].may_be_best,
        }
        for rank, name in enumerate(sorted(names, key=lambda name: means[name].mean), 1)
    )  # fmt: skip


def _row(estimate: Estimate, **names: str) -> dict[str, object]:
    numbers = {"mean": estimate.mean, "half_width": estimate.half_width, "unit": estimate.unit, "n": estimate.n}
    return {**names, **numbers, "tells": estimate.tells}
