"""Whether a scenario can be recommended: what it does to due dates, refused and given-out work, and to the roster.

This never changes an amount of money. Only recommendable scenarios compete where a report names a best one, and the
reasons stand in words beside the money of the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.experiment.intervals import Estimate, paired_difference
from simkit.experiment.results import Results
from simkit.finance.roster import roster_of, roster_problem
from simkit.plant.plant import PlantInputs, ScenarioInputs

PER_WEEK = {"unmet_h": "refused", "subcontract_h": "subcontracted"}
"""Hours of orders that the cell does not make."""


@dataclass(frozen=True)
class ServiceCheck:
    """Whether a scenario is recommendable, and why not: one sentence without a full stop for each reason."""

    reasons: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.reasons

    @property
    def text(self) -> str:
        """The verdict in words."""
        return "recommendable" if self.ok else f"not recommendable: {'; '.join(self.reasons)}"


def recommendable(
    results: Results, today: ScenarioInputs, scenario: ScenarioInputs, demands: Sequence[float]
) -> ServiceCheck:
    """Judge a scenario against today at every simulated demand given, paired with today's luck.

    It must not surely (95 %) have more orders late or refused, refuse more hours or give out more hours than today;
    subcontracted hours may be more where a named subcontractor of the scenario confirms as many as it gives out. Orders
    that today refuses may be late with it, up to the plant's limit of late orders. Minimum attendance and cover of
    skills must be kept. Raises ``KeyError`` for a demand or scenario that was not simulated.
    """
    reasons = [reason for demand in demands for reason in _worse(results, today, scenario, demand)]
    least = today.plant.settings.people.minimum_attendance
    problem = roster_problem(roster_of(today.plant), roster_of(scenario.plant), least)
    return ServiceCheck((*reasons, *([problem] if problem else [])))


def late_or_refused(results: Results, scenario: str, demand: float = 1.0) -> NDArray[np.float64]:
    """Share of the released orders that were late or refused, by replication: no due date is kept by saying no."""
    late, refused = (results.values(scenario, measure, demand) for measure in ("late_share", "refused_share"))
    return refused + late * (1 - refused)


def _worse(results: Results, today: ScenarioInputs, scenario: ScenarioInputs, demand: float) -> Iterator[str]:
    before, after = (late_or_refused(results, one.name, demand) for one in (today, scenario))
    unserved = paired_difference(after, before, "1")
    late = results.paired(scenario.name, today.name, "late_share", demand)
    share = results.estimate(scenario.name, "late_share", demand).mean
    limit = today.plant.settings.rules.late_share_limit
    if _surely_more(unserved):
        yield (
            f"at demand {demand:g}, {100 * after.mean():.2g} % of orders late or refused, "
            f"{100 * unserved.mean:.2g} points more than today"
        )
    elif _surely_more(late) and share > limit:
        yield (
            f"at demand {demand:g}, {100 * share:.2g} % of orders late, {100 * late.mean:.2g} points more than today "
            f"and above the limit of {100 * limit:g} %"
        )
    for measure, words in PER_WEEK.items():
        before, after = (_weekly(results, one.name, measure, demand) for one in (today, scenario))
        more = paired_difference(after, before, "h", fitted=results.fitted(scenario.name, demand))
        if not _surely_more(more):
            continue
        name, confirmed_h = named_subcontractor(scenario.plant)
        text = f"at demand {demand:g}, {more.mean:.2g} h a week more {words} than today"
        if measure != "subcontract_h":
            yield text
        elif not name:
            yield f"{text}, and no subcontractor is named"
        elif after.mean() > confirmed_h:
            yield f"{text}: {after.mean():.3g} h, and {name} confirms {confirmed_h:g}"


def _surely_more(difference: Estimate) -> bool:
    return difference.tells and difference.mean > 0


def _weekly(results: Results, scenario: str, measure: str, demand: float) -> NDArray[np.float64]:
    return results.values(scenario, measure, demand) / results.values(scenario, "span_weeks", demand)


def named_subcontractor(plant: PlantInputs) -> tuple[str, float]:
    """Name of the subcontractor of a plant and the hours a week that he confirms; no name: nobody is bound."""
    overflow = plant.settings.overflow
    return overflow.subcontractor, overflow.subcontract_confirmed_h_per_week
