"""From data to seconds: sums of a sheet, run times by family, what times rest on, limits, and which times matter."""

from __future__ import annotations

import dataclasses

import pytest

import simkit as sk
from simkit.analysis.sheet_times import program_times
from tests.report.option_plant import write_option_plant

HOW = {"replications": 2, "workers": 1, "progress": False, "weeks": 1.0, "demand": 1.0}


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return sk.read_plant(write_option_plant(tmp_path_factory.mktemp("times") / "plant")).scenario("Today")


def changed(plant, **programs):
    """The plant with other values of its first program."""
    held = plant.made.plant
    first = dataclasses.replace(held.programs[0], **programs)
    return with_plant(plant, dataclasses.replace(held, programs=(first, *held.programs[1:])))


def with_plant(scenario, plant):
    """The scenario of another plant."""
    return dataclasses.replace(scenario, made=dataclasses.replace(scenario.made, plant=plant))


def test_seconds_of_a_sheet_are_counts_times_seconds_each_and_sum_to_what_runs_use(plant):
    for row in program_times(plant.made.plant):
        table = plant.program(row.program.program_id)
        run = table[table["where"] == "run of the machine"]
        assert run["seconds_s"].sum() == pytest.approx(row.estimate.run_s)
        counted = table[table["count_per_sheet"] > 0]
        assert (counted["count_per_sheet"] * counted["each_s"]).tolist() == pytest.approx(counted["seconds_s"].tolist())
        assert table["of_the_machine_time_share"].sum() == pytest.approx(1.0)


def test_loading_and_bench_of_a_sheet_stand_beside_its_run(plant):
    table = plant.program().set_index("element")
    assert table.loc["load", "where"] == "before it"
    assert table.loc["load", "seconds_s"] == pytest.approx(1.9 * 60)
    assert set(table["where"]) == {"run of the machine", "before it", "after it", "at the bench"}


def test_a_measured_run_stretches_its_elements_and_is_told(plant):
    name = plant.made.plant.programs[0].program_id
    timed = changed(plant, measured_run_s=500.0)
    table = timed.program(name)
    assert table[table["where"] == "run of the machine"]["seconds_s"].sum() == pytest.approx(500.0)
    assert "The run was measured" in table.attrs["note"]
    runs = timed.run_times().set_index("program")
    assert runs.loc[name, "measured_s"] == runs.loc[name, "runs_use_s"] == 500.0
    assert "1 of" in timed.run_times().attrs["title"]
    family = timed.families().iloc[0]
    assert family["estimated_over_measured"] == pytest.approx(runs.loc[name, "estimated_s"] / 500.0)
    assert "measured_s" not in plant.families()


def test_an_unknown_program_is_answered_with_the_nearest(plant):
    with pytest.raises(sk.BadInput, match="did you mean 'P-1'"):
        plant.program("P-11")


def test_elements_are_counted_by_what_they_rest_on(plant):
    table, rows = plant.elements(), plant.made.plant.elements
    assert len(table) == len(rows)
    guessed = sum(row.basis in ("estimated", "default") for row in rows)
    assert f"{guessed} are estimated or defaults" in table.attrs["title"]
    by_hand = plant.elements(by_hand=True)
    assert len(by_hand) == sum(row.task_of != "machine" and row.typical > 0 for row in rows)
    assert "the machine" not in set(by_hand["who"])
    assert (table["cycles_to_time"] >= 0).all()


def test_limits_stand_beside_the_values_of_the_plant(plant):
    table = plant.limits()
    forces = table[table["about"] == "press force"]
    capacity = plant.made.plant.settings.machine.press_capacity_kn
    assert set(forces["most"]) <= {capacity}
    settings = plant.made.plant.settings
    machine = settings.machine.model_copy(update={"press_capacity_kn": 1.0})
    held = dataclasses.replace(plant.made.plant, settings=settings.model_copy(update={"machine": machine}))
    over = with_plant(plant, held).limits()
    assert (over[over["about"] == "press force"]["found"] == "above the capacity").all()
    assert "raise" in over.attrs["title"]
    machine = settings.machine.model_copy(update={"laser_efficiency": 0.4, "running_kw": 1.0})
    held = dataclasses.replace(plant.made.plant, settings=settings.model_copy(update={"machine": machine}))
    power = with_plant(plant, held).limits().set_index("about").loc["running power"]
    assert power["value"] == 1.0 < power["least"]
    assert power["found"] == "less than the laser draws"


def test_inputs_at_their_ends_move_the_hours_by_the_difference_of_the_scenarios(tmp_path):
    plant = sk.read_plant(sk.example_plant(tmp_path / "plant"))
    today = plant.scenario("Today")
    inputs = sk.simulate(today, **HOW).inputs(2)
    ends = {row[end]: {row["path"]: row[end[3:]]} for row in inputs.to_dict("records") for end in ("at_low", "at_high")}
    study = sk.simulate([today, *(plant.scenario(name, changes=change) for name, change in ends.items())], **HOW)
    effects = study.effects(inputs).set_index("element")
    gaps = study.differences(measures="hours_needed").set_index("scenario")["mean"]
    for row in inputs.to_dict("records"):
        assert effects.loc[row["element"], "at_high_h_per_week"] == pytest.approx(gaps[row["at_high"]])
        assert effects.loc[row["element"], "at_low_h_per_week"] == pytest.approx(gaps[row["at_low"]])
    said = sk.answer(study, about="times")
    assert said.head == f"{today.program().attrs['title']}."
    assert f"{study.effects(inputs).attrs['title']}." in said.text


def test_a_plant_without_ranges_has_no_time_to_vary(plant):
    study = sk.simulate(plant, **HOW)
    effects = study.effects(study.inputs())
    assert effects.empty
    assert effects.attrs["title"] == "No time has a range to vary"
    assert [text.get_text() for text in sk.plot.effects(effects).texts] == ["nothing to draw"]
