"""Slopes of totals by times: chosen by exposure, counted by hand, measured with the same luck."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from simkit.analysis.responses import COLUMNS, Probe, measure_responses, promise_probes, time_probes
from simkit.experiment.runner import run_experiment
from simkit.plant.options import Edit, Option
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from tests.small_plant import small_plant

RUN = {"replications": 2, "weeks": 1.0, "seed": 5, "workers": 1, "progress": False}


@pytest.fixture(scope="module")
def plant() -> Plant:
    """The small plant whose elements have a range of 10 % on both sides."""
    whole = small_plant()
    rows = tuple(dataclasses.replace(row, low=0.9 * row.typical, high=1.1 * row.typical) for row in whole.elements)
    return dataclasses.replace(whole, elements=rows)


def probe(plant: Plant, element: str) -> Probe:
    row = next(row for row in plant.elements if row.element == element)
    return Probe(f"time {element}", "time", element, row.unit, 0.9 * row.typical, row.typical, 1.1 * row.typical,
                 row.basis, row.owner, row.source, f"elements[{element}].typical", ((),))  # fmt: skip


def test_run_hours_respond_to_the_time_of_a_hit_by_the_number_of_hits(plant):
    """Hours of running a week per second of a hit are the hits of the week over 3600."""
    element = next(row.element for row in plant.elements if row.unit == "s/hit")
    table = measure_responses(plant, make_scenario(plant, ()), [probe(plant, element)], 1.0, **RUN)
    assert list(table.columns) == list(COLUMNS)
    slope = table.set_index("measure").loc["run_h", "per_unit"]
    base = run_experiment(plant, [()], demand_factors=[1.0], **RUN)
    more = run_experiment(plant, [()], demand_factors=[1.0], overrides=(f"elements[{element}].typical*=1.1",), **RUN)
    change = more.values("today", "run_h").mean() - base.values("today", "run_h").mean()
    typical = next(row.typical for row in plant.elements if row.element == element)
    assert slope > 0
    assert slope * 0.1 * typical == pytest.approx(change, rel=1e-6)


def test_the_elements_with_the_largest_exposure_are_chosen(plant):
    results = run_experiment(plant, [()], demand_factors=[1.0], **RUN)
    every = time_probes(plant, results, "today", 1.0, [()], most=99)
    few = time_probes(plant, results, "today", 1.0, [()], most=2)
    assert few == every[:2]
    wide = tuple(dataclasses.replace(row, low=0.0, high=99 * row.typical) if row.element == every[-1].name[5:] else row
                 for row in plant.elements)  # fmt: skip
    (first,) = time_probes(dataclasses.replace(plant, elements=wide), results, "today", 1.0, [()], most=1)
    assert first.name == every[-1].name
    narrow = tuple(dataclasses.replace(row, low=None, high=None) for row in plant.elements)
    assert time_probes(dataclasses.replace(plant, elements=narrow), results, "today", 1.0, [()]) == ()


def test_nothing_is_promised_by_a_set_without_a_device(plant):
    option = Option(id="N1", name="rule", kind="low_capital", edits=(Edit(path="plant.rules.window_orders", value=5),))
    assert promise_probes(dataclasses.replace(plant, options=(option,)), [("N1",)]) == ()
    empty = measure_responses(plant, make_scenario(plant, ()), [], 1.0, **RUN)
    assert isinstance(empty, pd.DataFrame)
    assert empty.empty


def test_failed_picks_are_promised_by_the_set_that_adds_them(plant):
    row = {"cause": "pick_failure", "exposure": "pick", "rate": 0.004, "repair_min": 4.0, "clears": "clear"}
    option = Option(id="A4", name="device", kind="bought", edits=(Edit(path="stops", op="add_row", value=row),))
    (found,) = promise_probes(dataclasses.replace(plant, options=(option,)), [(), ("A4",)])
    assert (found.typical, found.low, found.high) == (pytest.approx(4.0), pytest.approx(2.0), pytest.approx(6.0))
    assert found.scenarios == (("A4",),)
