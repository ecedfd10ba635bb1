"""Tables of today's cell: their rows sum to the measures of the runs, and say what the plant's rules say."""

from __future__ import annotations

import dataclasses

import pytest

import simkit as sk
from simkit.experiment.intervals import Estimate
from simkit.process.bookweeks import week_hours
from simkit.report.sentences_cell import verdict
from tests.report.option_plant import write_option_plant

HOW = {"replications": 2, "workers": 1, "progress": False, "weeks": 2.0}
SHORT = {
    "plant.overflow.subcontract": True, "plant.overflow.refuse": True, "plant.overflow.subcontract_lead_days": 0.0,
    "plant.overflow.subcontractor": "a shop (invented)", "plant.overflow.subcontract_confirmed_h_per_week": 20.0,
    "plant.rules.subcontract_cap_h_per_week": 2.0, "elements[load].typical*": 30.0,
}  # fmt: skip
"""Changes with which the small plant has not the time for its book."""


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return sk.read_plant(write_option_plant(tmp_path_factory.mktemp("cell") / "plant"))


@pytest.fixture(scope="module")
def study(plant):
    return sk.simulate(plant.scenarios({"Today": [], "Nights": ["A4", "C1"]}), levels=[0.5], **HOW)


@pytest.fixture(scope="module")
def short(plant):
    return sk.simulate(plant.scenario("Today", changes=SHORT), demand=4.0, **HOW)


def total(study, *measures):
    """Sum of measures a week, from the values of the runs."""
    level = study.numbers.level
    return sum(study.results.raw(study.base, name, level).mean() for name in measures) / 2.0


def test_stops_by_cause_sum_to_the_hours_stopped(study, short):
    for each in (study, short):
        table = each.stops()
        assert table["stops_per_week"].sum() == pytest.approx(total(each, "stops"))
        assert table["stopped_h_per_week"].sum() == pytest.approx(total(each, "stop_h"))
    assert total(short, "stops") > 0


def test_set_up_by_kind_sums_to_the_hours_of_its_states(study):
    states = ("state_changeover_h", "state_first_piece_h", "state_waiting_material_h")
    table = study.set_up()
    assert table["stands_h_per_week"].sum() == pytest.approx(total(study, *states))
    loads = table.set_index("set_up").loc["tools fetched and fitted by hand"]
    assert loads["times_per_week"] == pytest.approx(total(study, "tool_loads"))
    assert loads["each_min"] == pytest.approx(4.0)  # 1.6 to find and 2.4 to fit, both without spread in this plant


def test_work_given_out_and_refused_is_told_by_weekday_and_by_days_to_due(short):
    table = short.given_out()
    by_day = table["when"].str.startswith("decided on")
    for rows in (table[by_day], table[~by_day]):
        assert rows["given_out_h_per_week"].sum() == pytest.approx(total(short, "subcontract_h"))
        assert rows["refused_h_per_week"].sum() == pytest.approx(total(short, "unmet_h"))
    assert total(short, "subcontract_h") > 0
    assert f"{11 - len(table)} row" in table.attrs["note"]


def test_book_observed_and_simulated_load_stand_side_by_side(plant, study):
    inputs = plant.inputs
    weeks = len(week_hours(inputs))
    sheets = study.load().set_index("in_a_week").loc["sheets"]
    assert sheets["book"] == pytest.approx(sum(order.sheets for order in inputs.orders) / weeks)
    assert sheets["observed"] == pytest.approx(sum(week.sheets for week in inputs.observed) / len(inputs.observed))
    assert sheets["simulated"] == pytest.approx(study.per_week("Today", "sheets").mean)
    doubled = sk.simulate(plant.scenario("Today"), demand=2.0, **HOW).load().set_index("in_a_week")
    assert doubled.loc["sheets", "book"] == pytest.approx(2 * sheets["book"])
    bare = dataclasses.replace(study, plant=dataclasses.replace(plant, inputs=dataclasses.replace(inputs, observed=())))
    assert "observed" not in bare.load()


def test_demands_hold_all_levels_of_all_scenarios(study, short):
    table = study.demands()
    assert list(table["demand"]) == [0.5, 1.0, 1.25] * 2
    assert set(table["makes_the_book"]) == {"yes"}
    assert "in its shifts" in table.attrs["title"]
    now = short.demands().iloc[0]
    assert now["makes_the_book"] != "yes"
    assert now["needed_h_per_week"] > now["attended_h_per_week"]


@pytest.mark.parametrize(
    ("fits", "overtime_h", "elsewhere_h", "expected"),
    [
        (None, 0.0, 0.0, "cannot tell"), (False, 0.0, 0.0, "no"), (True, 0.0, 0.0, "yes"), (True, 0.4, 0.2, "yes"),
        (True, 2.0, 0.4, "with overtime"), (True, 2.0, 1.0, "only with help"),
    ],
)  # fmt: skip
def test_a_book_is_made_by_the_cell_alone_or_with_what_stands_beside(fits, overtime_h, elsewhere_h, expected):
    """Hours with a half-width of 0.5 count where that interval excludes zero."""
    assert verdict(fits, Estimate(overtime_h, 0.5, 6), Estimate(elsewhere_h, 0.5, 6)) == expected


def test_waits_are_empty_while_the_backlog_grows(study):
    frame = study.results.frame.copy()
    frame.loc[frame["measure"] == "backlog_grows", "value"] = 1.0
    grown = dataclasses.replace(study, results=type(study.results)(frame, study.results.records))
    assert grown.waits()["waiting"].isna().all()
    assert "backlog grows" in grown.waits().attrs["note"]
    assert study.waits()["waiting"].notna().all()


def test_tasks_are_those_of_the_measures(study):
    table = study.tasks().set_index("task")["hours_per_week"]
    assert table["loading"] == pytest.approx(total(study, "person_load_h"))
    assert table.is_monotonic_decreasing


def test_the_answer_about_the_book_holds_the_numbers_of_the_tables(study, short):
    said = sk.answer(study, about="book")
    assert said.head == f"{study.demands().attrs['title']}."
    assert said.table().set_index("subject").loc["waiting", "mean"] == pytest.approx(
        total(study, "state_waiting_person_h")
    )
    assert "Nights" in set(said.table()["scenario"])
    assert "does not make the book" in sk.answer(short, about="book").head
    with pytest.raises(sk.BadInput, match="did you mean 'book'"):
        sk.answer(study, about="bok")


def test_a_wrong_level_is_refused_before_anything_runs(plant):
    with pytest.raises(sk.BadInput, match="levels is too small"):
        sk.simulate(plant.scenario("Today"), levels=[0.5, -1.0], **HOW)
    with pytest.raises(sk.BadInput, match="levels is more than"):
        sk.simulate(plant.scenario("Today"), levels=[11.0], **HOW)
