"""Invariants of every run, on the demo plant's scenarios and on small plants at random."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from simkit.base.units import TIME_GRID_PER_S
from simkit.base.vocabulary import SKILLS
from simkit.cell.run import simulate
from simkit.cell.trace import STATE_CODE
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Stop
from simkit.process.draws import make_draws
from simkit.process.workload import make_workload
from tests.cell.bench_plant import machines, order, person, plant, program, run, story
from tests.invariants.legal import check_all
from tests.oracle.compare import difference, records_of_cell
from tests.oracle.plants import plants, workload_of
from tests.small_plant import small_elements, small_plant

DEMO = Path(__file__).parents[2] / "data" / "tarnholt"
FEW = settings(max_examples=40, derandomize=True, deadline=None, database=None,
               suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip


@pytest.fixture(scope="module")
def demo() -> PlantInputs:
    return read_plant(DEMO, calibrated=False)


@pytest.mark.parametrize("combination", ["", "N2+N9", "N3+N6", "A1+A4+A5b", "C1+A1+A5b+A8", "C2+A8"])
def test_demo_scenarios(demo: PlantInputs, combination: str) -> None:
    overrides = ("plant.run.weeks=2", "plant.run.demand_factor=1.25")
    scenario = make_scenario(demo, combination.split("+") if combination else (), overrides)
    work = make_workload(scenario, make_draws(make_scenario(demo, (), overrides).plant, 3, 0))
    check_all(simulate(work), work)


@FEW
@given(plants())
def test_small_plants(plant: PlantInputs) -> None:
    work = workload_of(plant)
    check_all(simulate(work), work)


def test_mass_of_sheets_is_parts_and_scrap() -> None:
    work = workload_of(small_plant())
    measures = measure_run(simulate(work), work)
    assert measures["material_kg"] == pytest.approx(measures["parts_kg"] + measures["scrap_kg"], rel=1e-12)
    assert measures["parts"] == sum(
        work.tables.flows[program].parts * sheets
        for program, sheets in zip(work.program, work.draws.book.sheets, strict=True)
    )


def test_mass_is_conserved_where_remnants_are_kept() -> None:
    left = tuple(dataclasses.replace(row, remnant_share=0.1) for row in small_plant().programs)
    work = workload_of(small_plant(programs=left, store={"remnants_kept": 0.5}))
    trace = simulate(work)
    check_all(trace, work)
    assert measure_run(trace, work)["remnant_kg"] > 0


def test_seconds_with_people_are_the_same_seen_from_machines_and_from_people() -> None:
    by_hand = tuple(row for row in small_elements() if row.state != "outside")
    trace = run(small_plant(elements=by_hand, stops=(), machines=machines("ab")))
    attended = {STATE_CODE[s] for s in ("changeover", "loading", "unloading", "first_piece", "upkeep")}
    at_machines = sum(
        end - start
        for log in trace.machines
        for state, start, end in zip(log.state, log.start_s, log.end_s, strict=True)
        if state in attended
    )
    tasks = trace.tasks
    bench = SKILLS.index("bench")
    by_people = sum(
        end - start for task, start, end in zip(tasks.task, tasks.start_s, tasks.end_s, strict=True) if task != bench
    )
    assert at_machines == by_people > 0


# --- horizon, scale, luck -------------------------------------------------------------------------


@pytest.mark.parametrize(("minutes", "state"), [(5, "changeover"), (25, "stopped"), (15, "run")])
def test_the_horizon_clips_what_is_going_on(minutes: int, state: str) -> None:
    jam = {"stops": (Stop(cause="jam", exposure="running_hour", rate=1.0, repair_min=30, file="f"),),
           "sequences": {"f": (0.2, 100.0), "f:repair": (30.0,)}}  # fmt: skip
    trace = run(plant(times={"fixed": 10.0}, orders=(order("1", "A", 5),), **jam,
                      run={"source": "replay", "horizon_s": (360 + minutes) * 60.0}))  # fmt: skip
    assert story(trace)[-1] == (state, float(minutes))
    assert trace.end_s == (360 + minutes) * 60.0


def test_twice_all_times_is_twice_all_moments() -> None:
    def scaled(factor: float) -> list[tuple[str, float]]:
        people = (person("OP", shift="always"), person("BE", "bench", shift="always"))
        times = {"fixed": 8.0 * factor, "load": 2.0 * factor, "unload": 1.0 * factor, "bench": 30.0 * factor}
        all_day = {"name": "day", "days": ("Mon", "Tue"), "start": "00:00", "end": "00:00"}
        cell = plant(
            programs=(program("A", 10.0 * factor),), orders=(order("1", "A", 9),), times=times, people=people,
            program_parts=(), bench={"places": 1}, run={"source": "saturated", "horizon_s": 36000.0 * factor},
            calendar={"shifts": (all_day,)},
        )  # fmt: skip
        log = simulate(workload_of(cell)).machines[0]
        return [(state, end / factor) for state, end in zip(log.state, log.end_s, strict=True)]

    assert len(scaled(1.0)) > 20
    assert scaled(2.0) == scaled(1.0)


def test_a_rate_of_zero_is_no_row() -> None:
    idle = tuple(dataclasses.replace(row, rate=0.0) for row in small_plant().stops)
    with_rows, without = (records_of_cell(run(small_plant(stops=stops))) for stops in (idle, ()))
    assert difference(with_rows, without) == ""


def test_the_same_seed_gives_the_same_run_and_another_does_not() -> None:
    often = small_plant(stops=(Stop(cause="jam", exposure="running_hour", rate=2.0, repair_min=3.0),))
    one, two, other = (records_of_cell(simulate(workload_of(often, seed))) for seed in (1, 1, 2))
    assert difference(one, two) == ""
    assert difference(one, other) != ""


def test_luck_that_nothing_uses_does_not_matter() -> None:
    """A cause that never strikes and care that is never due leave the luck of the others alone."""
    plain = small_plant()
    never = Stop(cause="never", exposure="hit", rate=0.0, repair_min=9, repair_law="gamma", repair_cv=0.5)
    assert difference(records_of_cell(run(plain)), records_of_cell(run(small_plant(stops=(*plain.stops, never))))) == ""


def test_a_replication_does_not_depend_on_the_others() -> None:
    alone = records_of_cell(simulate(workload_of(small_plant(), 1, 1)))
    for replication in (0, 1, 2):
        last = records_of_cell(simulate(workload_of(small_plant(), 1, replication)))
        if replication == 1:
            assert difference(alone, last) == ""


def test_all_moments_lie_on_the_grid() -> None:
    log = run(small_plant()).machines[0]
    ticks = np.array([*log.start_s, *log.end_s]) * TIME_GRID_PER_S
    assert (ticks == np.rint(ticks)).all()


# --- monotone where it must be --------------------------------------------------------------------


CREW = (person("OP", "load", "unload"), person("BE", "bench"))


def finished(**changes: object) -> list[float]:
    """Moments at which the sheets of one long order leave the machine."""
    cell = {"orders": (order("1", "A", 25),), "times": {"load": 2.0, "unload": 1.0, "bench": 14.0}} | changes
    return list(run(plant(**cell)).machines[0].made_at_s)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "better",
    [
        {"bench": {"places": 6}},
        {"people": (*CREW, person("BE2", "bench"))},
        {"times": {"load": 1.0, "unload": 1.0, "bench": 14.0}},
        {"times": {"load": 2.0, "unload": 1.0, "bench": 12.0}},
        {"programs": (program("A", 9.0), program("B", 9.0))},
    ],
    ids=["larger bench", "another person", "shorter loading", "shorter bench work", "shorter run"],
)
def test_more_of_anything_never_delays_a_sheet(better: dict[str, object]) -> None:
    base = {"bench": {"places": 2}, "people": CREW}
    before, after = finished(**base), finished(**base | better)
    assert len(before) == len(after) == 25
    assert all(late >= soon for late, soon in zip(before, after, strict=True))
    assert sum(before) > sum(after)
