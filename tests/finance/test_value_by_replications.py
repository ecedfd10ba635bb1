"""From drawn weeks to the interval of a value: few replications hold what many say, and balanced weeks say it closer.

The cell is replaced by two lines, hours by the planned hours drawn with luck of their own and hours given out above a
limit; weeks, adjustment, means, cash and interval are the kit's own.
"""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from simkit.experiment.intervals import Estimate, pseudo_values, t_interval
from simkit.experiment.replication import draw_luck
from simkit.experiment.results import Results, results_from
from simkit.finance.inputs import totals_from
from simkit.finance.riskmodel import RiskModel
from simkit.plant.options import Option, Range
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.scenarios import make_scenario
from tests.finance.hand import hand_plant, today
from tests.process.test_draws import book_of_weeks

OPTION = Option(id="A1", name="x", kind="bought", capital=Range(low=1e4, quoted=1e4, high=1e4))
UNITS = dict.fromkeys((*today().levels[1.0], "inhouse_h", "drawn_h", "drawn_mean_h"), "h")


@cache
def book(week_draw: str) -> PlantInputs:
    plant = book_of_weeks(5)
    run = plant.settings.run.model_copy(update={"week_draw": week_draw})
    return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"run": run}))


def simulated(seed: int, replications: int, weeks: int, week_draw: str) -> Results:
    """Hours of today and A1, which saves a tenth of them; above 90 % of a mean stretch they are given out."""
    plant = make_scenario(book(week_draw), ())
    noise = np.random.default_rng(seed).normal(1.0, 0.01, replications)
    rows = []
    for k in range(replications):
        draws = draw_luck(plant, seed, k, weeks, 1.0)
        for name, share in (("today", 1.0), ("A1", 0.9)):
            needed = share * draws.drawn_h * noise[k]
            out = max(needed - 0.9 * draws.drawn_mean_h, 0.0)
            hours = {"hours_needed": needed, "inhouse_h": needed - out, "subcontract_h": out}
            drawn = {"drawn_h": draws.drawn_h, "drawn_mean_h": draws.drawn_mean_h, "span_weeks": float(weeks)}
            rows.append((name, 1.0, k, {**today().levels[1.0], "overtime_h": 0.0, "unmet_h": 0.0, **hours, **drawn}))
    return results_from(rows, UNITS)


def value(results: Results) -> Estimate:
    """Value of the option with its interval."""
    plant = hand_plant(OPTION)
    totals = totals_from(results, [ScenarioInputs("today", plant), ScenarioInputs("A1", plant, ("A1",))])
    model = RiskModel(plant, totals, (), replications=results)
    values = pseudo_values(model.base("A1"), model.without_each(["A1"]).npv["A1"])
    return t_interval(values, fitted=model.fitted)


@pytest.mark.parametrize("weeks", [2, 5])
def test_the_value_at_eight_replications_holds_that_at_many(weeks):
    """40 studies of 8 replications at a nominal 95 %: 33 or fewer would come about once in 250."""
    many = value(simulated(1000, 200, weeks, "balanced"))
    few = [value(simulated(seed, 8, weeks, "balanced")) for seed in range(40)]
    assert sum(one.low <= many.mean <= one.high for one in few) > 33
    replaced = [value(simulated(seed, 8, weeks, "with_replacement")).mean for seed in range(40)]
    closer = np.std([one.mean for one in few]) / np.std(replaced)
    assert closer < (0.5 if weeks == 5 else 1.0)  # whole books leave only the noise; parts of one are dealt out
