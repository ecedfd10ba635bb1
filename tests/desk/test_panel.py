"""The panel without a browser: what it stands at, what it answers, and what it writes where."""

from __future__ import annotations

import pytest

import simkit as sk
from simkit.desk.panel import QUICK
from tests.report.option_plant import write_option_plant

LOAD = "elements[load].typical*"


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    folder = write_option_plant(tmp_path_factory.mktemp("panel") / "plant")
    table = folder / "elements.csv"
    head, *rows = table.read_text(encoding="utf-8").splitlines()
    low, high = head.split(",").index("low"), head.split(",").index("high")
    for number, row in enumerate(rows):
        cells = row.split(",")
        if cells[0] in ("load", "hit"):
            typical = float(cells[head.split(",").index("typical")])
            cells[low], cells[high] = str(typical / 2), str(8 * typical)
            rows[number] = ",".join(cells)
    table.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return sk.read_plant(folder)


@pytest.fixture(scope="module")
def study(plant):
    scenarios = plant.scenarios({"Manual": [], "Removal": "A4+C1"})
    return sk.simulate(scenarios, replications=2, weeks=1, demand=1.0, workers=1, progress=False)


@pytest.fixture
def panel(study):
    return sk.what_if(study)


def test_it_begins_where_the_plant_stands(panel):
    assert panel.changes == {}
    assert panel.ticked == []
    assert {lever.name for lever in panel.levers} == {LOAD, "elements[hit].typical"}
    assert [lever.typical for lever in panel.levers if lever.name.endswith("*")] == [1.0], (
        "two rows of one name move together"
    )
    assert "Quick answer" in panel.told.value
    assert "the same in every replication" in panel.told.value


def test_a_moved_slider_is_what_the_desk_says_of_the_same_changes(panel, plant):
    slider = panel.sliders[LOAD]
    slider.value = slider.max
    assert panel.changes == {LOAD: slider.max}
    same = sk.simulate(
        (plant.scenario("Manual"), plant.scenario("Chosen", [], panel.changes)),
        demand=1.0, workers=1, progress=False, **QUICK,
    )  # fmt: skip
    wanted = same.differences(measures=["hours_needed"])["mean"].item()
    assert wanted > 0
    assert panel.answer.differences(measures=["hours_needed"])["mean"].item() == wanted
    assert "more machine hours" in panel.told.value


def test_what_cannot_go_together_is_said_and_the_panel_lives_on(panel):
    panel.options["C1"].value = True
    assert "needs" in panel.told.value
    assert panel.answer is None
    panel.options["A4"].value = True
    assert panel.answer is not None


def test_demand_and_options_are_part_of_the_answer(panel):
    panel.demand.value = 1.3
    assert panel.answer.numbers.level == 1.3
    panel.options["A1"].value = True
    assert panel.answer.scenarios[1].options == ("A1",)


def test_the_choice_goes_into_a_notebook_as_it_stands(panel, plant, study):
    slider = panel.sliders[LOAD]
    slider.value = slider.min
    panel.options["A1"].value = True
    panel.copy.click()
    *cell, _, parameters = panel.text.value.splitlines()
    found = {"sk": sk, "cell": plant, "scenarios": study.scenarios}
    exec("\n".join(cell[:-1]), found)
    assert (found["chosen"].options, dict(panel.changes)) == (("A1",), {LOAD: slider.min})
    assert found["chosen"].made.physics_hash == panel.chosen.made.physics_hash
    exec(parameters.removeprefix("# "), found)
    assert (found["options"], found["changes"], found["demand"]) == (["A1"], panel.changes, 1.0)


def test_options_are_written_into_a_copy_one_after_another(panel, plant, tmp_path):
    before = {path.name: path.read_bytes() for path in plant.folder.iterdir()}
    panel.folder.value = str(tmp_path / "copy")
    panel.write.click()
    assert "there is none" in panel.text.value, "nothing was moved yet"
    slider = panel.sliders[LOAD]
    slider.value = slider.min
    panel.write.click()
    slider.value = slider.max
    panel.write.click()
    copied = sk.read_plant(tmp_path / "copy")
    assert {"X1", "X2"} == set(copied.options) - set(plant.options)
    again = copied.scenario("again", ["X2"])
    times = [row.typical for row in again.made.plant.elements if row.element == "load"]
    assert times == pytest.approx([1.9 * slider.max, 2.6 * slider.max])
    assert {path.name: path.read_bytes() for path in plant.folder.iterdir()} == before


def test_nothing_of_somebody_elses_is_written_over(plant, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear", encoding="utf-8")
    changes = {"elements[load].typical": 0.5}
    with pytest.raises(sk.BadInput, match="no copy of this plant"):
        sk.write_option(plant, tmp_path / "mine", "X1", "Mine", changes)
    with pytest.raises(sk.BadInput, match="no copy of this plant"):
        sk.write_option(plant, plant.folder, "X1", "Mine", changes)
    with pytest.raises(sk.BadInput, match="has this id already"):
        sk.write_option(plant, tmp_path / "new", "A1", "Mine", changes)
    with pytest.raises(sk.BadInput, match="did you mean 'load'"):
        sk.write_option(plant, tmp_path / "new", "X1", "Mine", {"elements[lod].typical": 0.5})
    assert not (tmp_path / "new").exists()
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["letter.txt"]


def test_changes_reach_the_scenarios_that_have_the_row(plant):
    made = plant.scenarios({"Manual": [], "Removal": ["A4"]}, {"elements[load].typical": 0.5})
    assert [scenario.changes for scenario in made] == [("elements[load].typical=0.5",)] * 2
    with pytest.raises(sk.BadInput, match="did you mean 'load'"):
        plant.scenarios({"Manual": [], "Removal": ["A4"]}, {"elements[lod].typical": 0.5})
