"""A machine with overrides of its own works by them; the others do not."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.base.messages import BadInput
from simkit.cell.run import simulate
from simkit.cell.trace import RUN
from simkit.experiment.measures import measure_run
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import MachineRow
from simkit.process.draws import make_draws
from simkit.process.workload import make_workload
from tests.oracle.plants import workload_of
from tests.small_plant import small_plant, write_small_plant


def test_a_machine_twice_as_fast_cuts_twice_the_sheets() -> None:
    slow = MachineRow(machine_id="slow", overrides="elements[hit].typical=4")
    fast = MachineRow(machine_id="fast", overrides="elements[hit].typical=2")
    plant = small_plant(machines=(slow, fast))
    scenario = make_scenario(plant)
    work = make_workload(scenario, make_draws(plant, 1, 0))
    punch = [own.sheets.punch_s[0] for own in work.by_machine]
    hits = work.tables.programs[int(work.sheets.program[0])].hits_per_sheet
    assert punch[0] - punch[1] == pytest.approx(2.0 * hits)
    trace = simulate(work)
    made = {row: log.made for row, log in enumerate(trace.machines)}
    assert made[0]
    assert made[1]
    for row, log in enumerate(trace.machines):
        runs = [
            end - start for state, start, end in zip(log.state, log.start_s, log.end_s, strict=True) if state == RUN
        ]
        assert sum(runs) >= sum(work.by_machine[row].sheets.run_s[sheet] for sheet in made[row]) - 1e-6
    assert measure_run(trace, work)["sheets"] == len(made[0]) + len(made[1])


def test_what_belongs_to_the_cell_cannot_differ_by_machine(tmp_path) -> None:
    folder = write_small_plant(tmp_path / "plant")
    (folder / "machines.csv").write_text("machine_id,overrides\nM1,plant.bench.places=5\n", encoding="utf-8")
    with pytest.raises(
        BadInput, match=r"machines\.csv row 2 overrides .plant\.bench\.places=5.*one machine can differ"
    ):
        read_plant(folder)


def test_without_overrides_every_machine_sees_the_same_workload() -> None:
    plant = small_plant()
    two = dataclasses.replace(plant, machines=(*plant.machines, MachineRow(machine_id="second")))
    work = workload_of(two)
    assert all(own is work for own in work.by_machine)
