"""The fast cell equals the plain one, bit for bit, on the demo plant and on small plants at random."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from simkit.cell import people
from simkit.cell.bench import Places
from simkit.cell.clock import Clock
from simkit.cell.eventnotes import Notes
from simkit.cell.openhours import OpenHours
from simkit.cell.orders import Orders
from simkit.cell.people import Pool
from simkit.cell.requests import NO_REQUEST
from simkit.cell.run import simulate
from simkit.cell.waitinglines import WaitingLines
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.draws import make_draws
from simkit.process.workload import Workload, make_workload
from tests.oracle.compare import difference, first_difference, records_of_cell, records_of_oracle
from tests.oracle.plants import crowded, plants, two_setters, workload_of
from tests.oracle.straight import Straight

DEMO = Path(__file__).parents[2] / "data" / "tarnholt"
BUSY = ("plant.run.demand_factor=1.5",)
COMBINATIONS = ("", "N2+N9", "N1", "A1", "A4", "A5b", "A1+A4+A5b", "A8+N4+N11", "N3+N6", "C1+A1+A5b+A8",
                "C1+A1+A5b+A4+A7", "C2+N7+N8")  # fmt: skip
FEW = settings(max_examples=100, derandomize=True, deadline=None, database=None,
               suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip


@pytest.fixture(scope="module")
def demo() -> PlantInputs:
    return read_plant(DEMO, calibrated=False)


def workload(demo: PlantInputs, combination: str, seed: int, overrides: tuple[str, ...] = BUSY) -> Workload:
    overrides = ("plant.run.weeks=2", *overrides)
    today = make_scenario(demo, (), overrides)
    scenario = make_scenario(demo, combination.split("+") if combination else (), overrides)
    return make_workload(scenario, make_draws(today.plant, seed, 0))


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("combination", COMBINATIONS)
def test_demo_plant(demo: PlantInputs, combination: str, seed: int) -> None:
    assert first_difference(workload(demo, combination, seed)) == ""


def test_the_demo_runs_reach_overtime_subcontracting_refusal_nights_and_stops(demo: PlantInputs) -> None:
    today = simulate(workload(demo, "", 1))
    assert today.overtime_spans
    assert {job.fate for job in today.jobs} == {"in_house", "subcontract", "refused"}
    assert any(log.stop_cause for log in today.machines)
    assert any(log.night_limit for log in simulate(workload(demo, "C1+A1+A5b+A8", 1)).machines)


@FEW
@given(plants())
def test_small_plants(plant: PlantInputs) -> None:
    assert first_difference(workload_of(plant)) == ""


@FEW
@given(crowded())
def test_machines_that_take_over_what_another_has_committed(plant: PlantInputs) -> None:
    assert first_difference(workload_of(plant)) == ""


@FEW
@given(two_setters())
def test_set_up_that_two_people_share(plant: PlantInputs) -> None:
    assert first_difference(workload_of(plant)) == ""


def test_the_random_plants_share_set_up() -> None:
    """Else the comparison would say nothing about it."""
    shared = []

    @settings(FEW, max_examples=20)
    @given(two_setters())
    def look(plant: PlantInputs) -> None:
        notes = Notes()
        simulate(workload_of(plant), notes=notes)
        shared.append(any(request.helps != NO_REQUEST for request in notes.requests.values()))

    look()
    assert sum(shared) > 2


@FEW
@given(plants())
def test_waits_without_events_change_nothing(plant: PlantInputs) -> None:
    work = workload_of(plant)
    assert difference(records_of_cell(simulate(work)), records_of_cell(simulate(work, by_events=True))) == ""


def jump(clock: Clock, moment_s: float, _: int) -> bool:
    clock.now = clock._now = moment_s
    return True


BREAKS = {
    "a break pauses nothing": (Pool, "_chunk_end", lambda self, request, persons, now_s: now_s + request.remaining_s),
    "a bench without end": (Places, "taken", lambda self, count=1: True),
    "always open": (OpenHours, "is_open", lambda self, now_s: True),
    "who asks last is served first": (people, "_first_key", lambda line: [-part for part in line[0].key]),
    "a machine takes people from under its rivals": (WaitingLines, "rival", lambda self, who, rank: False),
    "the clock jumps over what is due": (Clock, "reach", jump),
    "rush orders wait their turn": (Orders, "rush_waits", lambda self: False),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_cell_is_seen(name: str, demo: PlantInputs, monkeypatch: pytest.MonkeyPatch) -> None:
    busy = ("plant.bench.places=1", "plant.run.demand_factor=1.6")
    work = workload(demo, "N2+N6", 1, busy)  # N6 lets two people contend for the same tasks
    oracle = records_of_oracle(Straight(work).run())
    monkeypatch.setattr(*BREAKS[name])
    assert difference(records_of_cell(simulate(work)), oracle) != ""
