"""Tables of differences: against today, against the low-capital package, and what two options do together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

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


def two_base_table(
    results: Results, today: str, package: str, measure: str = NEEDED, demand_factor: float = 1.0
) -> pd.DataFrame:
    """Each scenario's level, and its paired difference from today and from the low-capital package."""
    levels = level_table(results, [measure], demand_factor).set_index("scenario")[["mean", "half_width", "unit"]]
    for name, base in (("today", today), ("package", package)):
        differences = difference_table(results, base, [measure], demand_factor).set_index("scenario")
        levels[f"from_{name}"] = differences["mean"]
        levels[f"from_{name}_half_width"] = differences["half_width"]
        levels[f"from_{name}_verdict"] = differences["verdict"]
    return levels.reset_index()


def interaction(
    results: Results,
    both: str,
    first: str,
    second: str,
    base: str,
    measure: str = NEEDED,
    demand_factor: float = 1.0,
) -> Estimate:
    """What two options do together beyond the sum of both: ``both - first - second + base``.

    Zero if their effects add up. For hours, above zero means that they partly save the same hours.
    """
    return results.combined({both: 1.0, first: -1.0, second: -1.0, base: 1.0}, measure, demand_factor)


def interaction_table(
    results: Results,
    pairs: Iterable[tuple[str, str]],
    names: Mapping[tuple[str, ...], str],
    measure: str = NEEDED,
    demand_factor: float = 1.0,
) -> pd.DataFrame:
    """Interaction of pairs of options; ``names`` maps option ids, ``()`` for today, to scenario names."""
    rows = []
    for one, two in pairs:
        scenarios = (names[one, two], names[one,], names[two,], names[()])
        estimate = interaction(results, *scenarios, measure=measure, demand_factor=demand_factor)
        rows.append(_row(estimate, first=one, second=two, measure=measure) | {"verdict": estimate.verdict})
    return pd.DataFrame(rows)


def ranking(
    results: Results,
    demand_factor: float = 1.0,
    measure: str = NEEDED,
    scenarios: Sequence[str] | None = None,
) -> pd.DataFrame:
    """Scenarios from the fewest hours to the most, each with its paired difference from the first.

    ``verdict`` says whether a scenario is surely behind the first; all intervals hold together at 95 %.
    """
    names = list(scenarios or results.scenarios)
    means = {name: results.estimate(name, measure, demand_factor) for name in names}
    order = sorted(names, key=lambda name: means[name].mean)
    behind = results.simultaneous(order[0], measure, demand_factor, order)
    rows = []
    for rank, name in enumerate(order, 1):
        row = {"rank": rank} | _row(means[name], scenario=name)
        gap = behind.get(name)
        row |= {"behind_first": gap.mean, "behind_first_half_width": gap.half_width} if gap else {"behind_first": 0.0}
        rows.append(row | {"verdict": gap.verdict if gap else ""})
    return pd.DataFrame(rows)


def _row(estimate: Estimate, **names: str) -> dict[str, object]:
    numbers = {"mean": estimate.mean, "half_width": estimate.half_width, "unit": estimate.unit, "n": estimate.n}
    return {**names, **numbers, "tells": estimate.tells}
