"""Tables about tools say what measures and records of the same runs say."""

from __future__ import annotations

import pandas as pd
import pytest

import simkit as sk
from simkit.desk import tool_tables
from simkit.desk.tool_tables import PlantTools
from tests.report.option_plant import write_option_plant

RUN = {"replications": 3, "weeks": 2.0, "demand": 1.0, "workers": 1, "progress": False, "keep": False}
WEEKS = 2.0


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return sk.read_plant(write_option_plant(tmp_path_factory.mktemp("tools") / "plant"))


@pytest.fixture(scope="module")
def study(plant):
    return sk.simulate(plant.tools.fixes(["N1", "N2"]), **RUN)


@pytest.fixture(scope="module")
def sizes(plant):
    return sk.simulate(plant.tools.sizes((0.0, 0.5, 1.0)), **RUN | {"replications": 2, "weeks": 1.0})


def total(study, scenario, measure):
    return float(study.results.estimate(scenario, measure).mean)


def test_what_is_free_stands_first_and_the_package_last(plant):
    names = [case.name for case in plant.tools.fixes(["N1", "N2"])]
    assert names[0] == "Today"
    assert names[1] == "Order of work searched anew"
    assert names[-5:] == ["Sequencing rule", "Setup cart", "Tool magazine", "Package", "Package and magazine"]
    assert plant.tools.fixes()[-1].name == "Tool magazine"


def test_changes_reach_the_free_cases_too(plant):
    cases = plant.tools.fixes(changes={"elements[tool_search].typical": 9.0})
    typical = {row.element: row.typical for row in cases[1].made.plant.elements}
    assert typical["tool_search"] == 9.0


def test_hours_freed_are_the_differences_a_week(study):
    table = study.tools.fixes().set_index("scenario")
    found = study.differences(measures=["hours_needed"]).set_index("scenario")
    for name in study.names[1:]:
        assert table.at[name, "freed_h_per_week"] == pytest.approx(-found.at[name, "mean"] / WEEKS)
        assert table.at[name, "freed_h_per_week_half_width"] == pytest.approx(found.at[name, "half_width"] / WEEKS)
        assert table.at[name, "how_sure"] == found.at[name, "sign"]
        assert table.at[name, "standing_h_per_week"] == pytest.approx(total(study, name, "exchange_visible_h") / WEEKS)
    assert table.at["Tool magazine", "capital"] == 185_000.0
    assert "Today" not in study.tools.fixes().attrs["title"]


def test_minutes_of_tools_add_up_to_the_hours_of_exchange(study):
    table = study.tools.exchanges()
    assert table["standing_min_per_week"].sum() == pytest.approx(
        60 * total(study, "Today", "exchange_visible_h") / WEEKS
    )
    assert table["standing_share"].sum() == pytest.approx(1.0)
    assert table["tools_loaded_per_week"].sum() == pytest.approx(total(study, "Today", "tool_loads") / WEEKS)
    assert table["dies_changed_per_week"].sum() == pytest.approx(total(study, "Today", "die_changes") / WEEKS)
    assert list(table["standing_min_per_week"]) == sorted(table["standing_min_per_week"], reverse=True)


def test_dies_changed_for_clearance_are_those_of_tools_used_at_two(study):
    """TL-001 alone is used at two clearances in the small plant, and it alone changes dies."""
    table = study.tools.clearances()
    assert list(table["tool"]) == ["round 6 (TL-001)"]
    assert table["dies_changed_per_week"].sum() == pytest.approx(total(study, "Today", "die_changes") / WEEKS)
    assert table["most_frequent_pair"][0] == "0.2 mm and 0.3 mm"


def test_the_size_that_is_enough_is_marked_once_and_said(sizes):
    table = sizes.tools.sizes()
    assert list(table["places"]) == [0, 18, 35]
    assert list(table["enough"]) == [False, True, False]
    own = sizes.differences(measures=["hours_needed"]).set_index("scenario")
    assert table["more_h_per_week"][0] == pytest.approx(own.at["No magazine", "mean"])
    title = table.attrs["title"]
    assert title.startswith("18 magazine places are enough of the 35 on offer: with none the cell needs ")
    by_hand = sum(total(sizes, "No magazine", m) for m in ("tool_loads", "die_changes", "angle_changes"))
    assert table["by_hand_per_week"][0] == pytest.approx(by_hand)


def test_what_belongs_into_the_magazine_covers_its_share(sizes):
    table = sizes.tools.contents()
    assert table["in_magazine"].all()
    assert 0 < table["exchange_share"].sum() <= 1.0
    assert "none of the" in table.attrs["title"]


def test_look_ahead_hides_what_the_measure_counts(plant):
    study = sk.simulate(plant.tools.look_ahead(), **RUN)
    table = study.tools.look_ahead()
    assert study.names == ("With look-ahead", "Without look-ahead")
    hidden = total(study, "With look-ahead", "exchange_hidden_h")
    assert hidden > 0
    assert table["hidden_min_per_week"].sum() == pytest.approx(60 * hidden / WEEKS)
    assert total(study, "Without look-ahead", "exchange_hidden_h") == 0
    assert list(table["laser_share"]) == sorted(table["laser_share"], reverse=True)


def test_care_lists_today_and_what_surely_differs(study):
    table = study.tools.care().set_index("scenario")
    assert table.at["Today", "loaded_wrongly_per_week"] == pytest.approx(total(study, "Today", "tool_faults") / WEEKS)
    assert "Order of work searched anew" not in table.index
    assert "broken_per_week" not in table.columns


def test_the_set_up_that_stays_is_fixed_minutes_and_first_pieces(study):
    """Nine and a half minutes an order in the small plant, told by the records of the families."""
    table = study.tools.set_up().set_index("scenario")
    assert table.at["Today", "first_pieces_h_per_week"] == pytest.approx(
        total(study, "Today", "state_first_piece_h") / WEEKS
    )
    fixed = study.results.rows("families", "Today")["fixed_min"].sum() / 3 / 60 / WEEKS
    assert table.at["Today", "fixed_minutes_h_per_week"] == pytest.approx(fixed)
    assert study.tools.set_up().attrs["title"].startswith("Package and magazine: ")


def test_regrinds_need_tools_that_wear(study):
    assert study.tools.regrinds().empty
    assert study.tools.regrinds().attrs["title"] == "No tool comes due for a regrind in the weeks ahead"


def test_the_answer_names_fixes_places_and_what_stays(study, sizes):
    said = study.tools.answer(sizes.tools)
    subjects = list(said.table()["subject"])
    assert subjects == ["without a machine", "all", "on the package", "magazine places", "what no tool fix touches"]
    assert said.text.startswith("Tools cost ")
    assert "18 magazine places are enough" in said.text
    gap = study.differences(against="Package", measures=["hours_needed"]).set_index("scenario")
    row = said.table().set_index("subject").loc["on the package"]
    assert row["mean"] == pytest.approx(-gap.at["Package and magazine", "mean"] / WEEKS)


def test_a_plant_without_a_magazine_has_no_sizes(tmp_path):
    plant = sk.read_plant(sk.example_plant(tmp_path / "plant"))
    (today,) = plant.tools.sizes()
    study = sk.simulate([today], **RUN | {"weeks": 1.0})
    assert study.tools.sizes().empty
    assert study.tools.sizes().attrs["title"].startswith("No option of this plant brings a tool magazine")
    assert study.tools.look_ahead().empty
    assert study.tools.contents().empty
    assert [case.name for case in plant.tools.look_ahead()] == ["Today"]


def test_only_tools_that_come_due_are_listed_and_the_title_counts_all(tmp_path):
    """Of the example plant one tool comes due within eight weeks, twice."""
    plant = sk.read_plant(sk.example_plant(tmp_path / "plant"))
    study = sk.simulate(plant.scenario("Today"), **RUN | {"weeks": 1.0, "replications": 1})
    table = study.tools.regrinds()
    assert list(table["tool"]) == ["round 8 (T-02)"]
    assert (table["due"] != "").all()
    assert table.attrs["title"].startswith("2 tools come off for grinding in 8 weeks")


def test_a_layout_is_searched_once_for_the_same_cell_and_again_for_another(tmp_path, monkeypatch):
    searched = []
    search = tool_tables.find_layout
    monkeypatch.setenv("SIMKIT_RUNS", str(tmp_path / "runs"))
    monkeypatch.setattr(tool_tables, "find_layout", lambda plant: searched.append(1) or search(plant))
    folder = write_option_plant(tmp_path / "plant")
    first, again = (PlantTools(sk.read_plant(folder)).layout for _ in range(2))
    assert len(searched) == 1
    pd.testing.assert_frame_equal(first, again)
    assert first.attrs == again.attrs
    price = "plant.toml", "discount_rate = 0.09", "discount_rate = 0.08", 1
    seconds = "elements.csv", "min/tool_load,changeover,constant,1.6", "min/tool_load,changeover,constant,1.7", 2
    for file, old, new, count in (price, seconds):
        text = (folder / file).read_text(encoding="utf-8")
        (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
        PlantTools(sk.read_plant(folder)).layout  # noqa: B018
        assert len(searched) == count, file
