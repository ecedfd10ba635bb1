"""The register of assumptions: every input once, ranked by what it moves, with what to measure next."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import simkit as sk
from simkit.analysis.tornado import explained_share
from simkit.desk.register_tables import GUESSES, TO_COME, Register
from simkit.report.sentences_register import BY_OPTION
from tests.report.option_plant import write_option_plant

RUN = {"workers": 1, "progress": False}


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    plant = sk.read_plant(write_option_plant(tmp_path_factory.mktemp("register") / "plant"))
    sets = {"Today": [], "Setup cart": ["N2"], "Magazine": ["A1"]}
    return sk.simulate(plant.scenarios(sets), replications=3, weeks=1, **RUN)


@pytest.fixture(scope="module")
def register(study) -> Register:
    return study.register("Magazine", **RUN)


def test_every_input_of_the_plant_stands_in_it_once(register):
    table, plant = register.table(), register.plant
    assert not table["input"].duplicated().any()
    rows = [*plant.elements, *plant.stops, *plant.load_faults, *plant.upkeep, *plant.quality]
    money = [one for one in register._swings if not one.input.name.startswith("time ")]
    assert len(table) == len(money) + len(rows)
    assert {"operator_wage", "capital A1", "fault wrong die"} <= set(table["input"])
    assert (table["owner"] != "").all()


def test_ranks_go_with_the_value_moved(register):
    ranked = register.table().dropna(subset="rank")
    assert ranked["rank"].tolist() == list(range(1, len(ranked) + 1))
    assert ranked["moves"].is_monotonic_decreasing
    assert (ranked["moves"] > 0).all()


def test_the_share_of_guesses_is_by_value_and_not_by_count(register):
    table = register.table()
    guesses = table["rests_on"].isin(GUESSES)
    by_value = table.loc[guesses, "moves"].sum() / table["moves"].sum()
    assert register.guessed_share == pytest.approx(by_value)
    assert by_value != pytest.approx(guesses.mean(), abs=0.01)
    assert f"{100 * by_value:.0f}" in table.attrs["title"]
    shares = register.by_basis()
    assert shares["of_what_moves_share"].sum() == pytest.approx(1)
    assert int(shares["inputs"].sum()) == len(table)


def test_what_to_measure_next_are_guesses_that_can_be_measured_and_narrow_the_value(register):
    table = register.next()
    assert 1 <= len(table) <= 3
    assert set(table["rests_on"]) <= set(GUESSES)
    assert not set(table["input"]) & set(TO_COME)
    assert table["variance_share"].is_monotonic_decreasing
    assert table["range_left_share"].is_monotonic_decreasing
    drawn, values = register._samples
    share = explained_share([drawn[name] for name in table["input"]], values)
    assert table["range_left_share"].iloc[-1] == pytest.approx(np.sqrt(1 - share))
    assert "wide" in table.attrs["title"]


def test_a_time_that_an_option_sets_is_measured_no_more(study):
    made = study.scenarios[0].made.plant
    (row,) = [row for row in made.elements if row.element == "tool_search"]
    for factor, basis in ((1.0, "measured"), (0.5, BY_OPTION)):
        timed = dataclasses.replace(row, basis="measured", n=40)
        set_anew = dataclasses.replace(timed, typical=factor * row.typical)
        today, plant = (
            dataclasses.replace(made, elements=tuple(new if one is row else one for one in made.elements))
            for new in (timed, set_anew)
        )
        table = Register(today, plant, "", None).table().set_index("title")
        assert table.loc["tool search", "rests_on"] == basis


def test_without_a_case_nothing_is_ranked_and_it_says_so(study):
    alone = sk.simulate(study.scenarios[0], replications=2, weeks=1, **RUN).register()
    table = alone.table()
    assert table["rank"].isna().all()
    assert len(table) >= len(alone.plant.elements)
    assert "No case is valued here" in table.attrs["note"]
    assert "No case is valued here" in alone.next().attrs["title"]
    assert "No case is valued here" in alone.by_basis().attrs["title"]
