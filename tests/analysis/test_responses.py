"""Slopes of totals by times: chosen by exposure, counted by hand, measured with the same luck."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.responses import Probe, entry_probes, promise_probes, response, time_probes
from simkit.experiment.runner import run_experiment, run_scenarios
from simkit.finance.riskinputs import RiskInput
from simkit.plant.options import Edit, Option
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Element
from tests.small_plant import small_plant

RUN = {"replications": 2, "weeks": 1.0, "seed": 5, "workers": 1, "progress": False}


@pytest.fixture(scope="module")
def plant() -> PlantInputs:
    """The small plant whose elements have a range of 10 % on both sides."""
    whole = small_plant()
    rows = tuple(dataclasses.replace(row, low=0.9 * row.typical, high=1.1 * row.typical) for row in whole.elements)
    return dataclasses.replace(whole, elements=rows)


def probe(plant: PlantInputs, element: str) -> Probe:
    row, today = next(row for row in plant.elements if row.element == element), make_scenario(plant, ())
    about = RiskInput(
        f"time {element}", element, row.unit, 0.9 * row.typical, row.typical, 1.1 * row.typical, row.basis
    )
    return Probe(about, "time", f"elements[{element}].typical", (today,))


def test_run_hours_respond_to_the_time_of_a_hit_by_the_number_of_hits(plant):
    """Hours of running a week per second of a hit are the hits of the week over 3600."""
    element = next(row.element for row in plant.elements if row.unit == "s/hit")
    one = probe(plant, element)
    ends = run_scenarios(make_scenario(plant, ()), list(one.ends(plant)), demand_factors=[1.0], **RUN)
    found = response(one, plant, ends, 1.0, "triangular")
    assert (found.input.low, found.input.high, found.input.law) == (one.input.low, one.input.high, "triangular")
    slope = found.slopes["today"]["run_h"]
    base = run_experiment(plant, [()], demand_factors=[1.0], **RUN)
    more = run_experiment(plant, [()], demand_factors=[1.0], overrides=(f"elements[{element}].typical*=1.1",), **RUN)
    change = more.values("today", "run_h").mean() - base.values("today", "run_h").mean()
    typical = next(row.typical for row in plant.elements if row.element == element)
    assert slope > 0
    assert slope * 0.1 * typical == pytest.approx(change, rel=1e-6)


def test_the_elements_with_the_largest_exposure_are_chosen(plant):
    results = run_experiment(plant, [()], demand_factors=[1.0], **RUN)
    every = time_probes(plant, results, "today", 1.0, (), most=99)
    few = time_probes(plant, results, "today", 1.0, (), most=2)
    assert few == every[:2]
    last = every[-1].input.name.removeprefix("time ")
    wide = tuple(dataclasses.replace(row, low=0.0, high=99 * row.typical) if row.element == last else row
                 for row in plant.elements)  # fmt: skip
    (first,) = time_probes(dataclasses.replace(plant, elements=wide), results, "today", 1.0, (), most=1)
    assert first.input.name == every[-1].input.name
    narrow = tuple(dataclasses.replace(row, low=None, high=None) for row in plant.elements)
    assert time_probes(dataclasses.replace(plant, elements=narrow), results, "today", 1.0, ()) == ()


def test_a_part_that_goes_down_the_chute_is_none_of_the_bench(plant):
    """Bench work by the part is not among the times that matter, where every part is sorted from the chute."""
    results = run_experiment(plant, [()], demand_factors=[1.0], **RUN)
    down = tuple(dataclasses.replace(program, handover="chute") for program in plant.programs)
    chute = dataclasses.replace(plant, programs=down)
    units = [{one.input.unit for one in time_probes(of, results, "today", 1.0, (), most=99)} for of in (plant, chute)]
    assert units[0] - units[1] == {"s/part"}


def test_nothing_is_promised_by_a_set_without_a_device(plant):
    option = Option(id="N1", name="rule", kind="low_capital", edits=(Edit(path="plant.rules.window_orders", value=5),))
    with_rule = dataclasses.replace(plant, options=(option,))
    assert promise_probes([make_scenario(with_rule, ("N1",))]) == ()


def test_the_range_of_an_entry_goes_with_the_sets_that_bring_it(plant):
    row = {"element": "entry", "task_of": "first_piece", "unit": "min/cell_entry", "state": "first_piece",
           "typical": 2.5, "low": 1.0, "high": 4.0}  # fmt: skip
    edits = (Edit(path="plant.removal.pickers", value=1), Edit(path="elements", op="add_row", value=row))
    option = Option(id="A4", name="device", kind="bought", edits=edits)
    fixed = Option(id="A5", name="no range", kind="bought", edits=(
        edits[0], Edit(path="elements", op="add_row", value={**row, "low": 2.5, "high": 2.5})))  # fmt: skip
    timed = (Element(element="hand", task_of="bench", unit="min/sheet", state="bench", typical=0.0),
             *(Element(element=unit, unit=f"s/{unit}", state="unloading", typical=0.0)
               for unit in ("pick", "pick_blocking", "skeleton")),
             Element(element="stack", task_of="pallet", unit="min/stack_exchange", state="outside",
                     typical=0.0))  # fmt: skip
    with_both = dataclasses.replace(plant, options=(option, fixed), elements=(*plant.elements, *timed))
    today, device, other = (make_scenario(with_both, names) for names in ((), ("A4",), ("A5",)))
    (found,) = entry_probes([today, device, other])
    assert (found.input.low, found.input.typical, found.input.high, found.scenarios) == (1.0, 2.5, 4.0, (device,))
    assert entry_probes([today, other]) == ()
    ends = [end.plant.elements[-1].typical for end in found.ends(with_both)]
    assert ends == pytest.approx([2.0, 3.0])


def test_failed_picks_are_promised_by_the_set_that_adds_them(plant):
    row = {"cause": "pick_failure", "exposure": "pick", "rate": 0.004, "repair_min": 4.0, "clears": "clear"}
    option = Option(id="A4", name="device", kind="bought", edits=(Edit(path="stops", op="add_row", value=row),))
    with_device = dataclasses.replace(plant, options=(option,))
    today, device = make_scenario(with_device, ()), make_scenario(with_device, ("A4",))
    (found,) = promise_probes([today, device])
    about = found.input
    assert (about.typical, about.low, about.high) == (pytest.approx(4.0), pytest.approx(2.0), pytest.approx(6.0))
    assert found.scenarios == (device,)
    ends = [end.plant.stops[-1].rate for end in found.ends(with_device)]
    assert ends == pytest.approx([0.002, 0.006])
