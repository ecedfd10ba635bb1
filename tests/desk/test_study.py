"""Plants, scenarios and studies as an analyst holds them."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

import simkit as sk
from simkit.experiment.runner import run_experiment
from tests.report.option_plant import option_plant, write_option_plant

ONCE = {"replications": 3, "workers": 1, "progress": False}


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return sk.read_plant(write_option_plant(tmp_path_factory.mktemp("desk") / "plant"))


@pytest.fixture(scope="module")
def study(plant):
    loading = plant.scenario("Quicker loading", changes={"elements[load].typical*": 0.5})
    return sk.simulate([plant.scenario("Today"), loading, plant.scenario("Removal", "A4+C1")], **ONCE)


# ---- plants and scenarios ----


def test_nouns_say_in_one_line_what_they_are(plant, study):
    lines = [repr(plant), repr(study.scenario("Removal")), repr(study), repr(study.money())]
    assert lines[1] == "<Scenario Removal: options A4+C1; no changes>"
    assert all(len(line) < 200 and "\n" not in line for line in lines)
    for noun in (plant, study.scenario("Removal"), study, study.money(), sk.answer(study)):
        assert "<table" in noun._repr_html_()


def test_texts_of_a_plant_are_escaped(plant):
    odd = dataclasses.replace(plant, inputs=option_plant(), folder=plant.folder / "<b>")
    assert "<b>" not in odd._repr_html_()


@pytest.mark.parametrize(
    ("changes", "hint"),
    [
        ({"elements[lod].typical": 1.0}, "did you mean 'load'"),
        ({"plant.money.subcontrct_per_h": 1.0}, "did you mean 'subcontract_per_h'"),
        ({"elements[load].typcal": 1.0}, "did you mean 'typical'"),
        ({"elements[load].typical": "slow"}, "is not a number"),
        ({"elements[load].typical": float("nan")}, "is not a finite number"),
        ({"elements[load].typical": object()}, "is a object"),
    ],
)
def test_a_wrong_change_is_answered_before_anything_runs(plant, changes, hint):
    with pytest.raises(sk.BadInput, match=hint):
        plant.scenario("Wrong", changes=changes)


def test_all_problems_of_changes_and_options_are_told_at_once(plant):
    changes = {"elements[lod].typical": 1.0, "plant.rules.dispach": "due"}
    with pytest.raises(sk.BadInput) as caught:
        plant.scenario("Wrong", changes=changes)
    assert len(caught.value.findings) == 2
    with pytest.raises(sk.BadInput, match="A11"):
        plant.scenario("Wrong", options=["A11"])


@pytest.mark.parametrize(
    ("path", "value", "read", "expected"),
    [
        ("elements[tool_search].typical", np.float64(0.5), lambda p: _element(p, "tool_search"), 0.5),
        ("elements[tool_search].typical*", 2, lambda p: _element(p, "tool_search"), 3.2),
        ("people[OP-1].rate_per_h", 41, lambda p: p.people[0].rate_per_h, 41.0),
        ("people[OP-2].skills+", ["technician"], lambda p: "technician" in p.people[1].skills, True),
        ("materials[MS-1.5].price_per_kg", 2.5, lambda p: p.material_by_id["MS-1.5"].price_per_kg, 2.5),
        ("plant.rules.dispatch", "due", lambda p: p.settings.rules.dispatch, "due"),
        ("plant.bench.places", np.int64(7), lambda p: p.settings.bench.places, 7),
        ("plant.magazine.places", {"16": 4}, lambda p: p.settings.magazine.places, {"16": 4}),
    ],
)
def test_changes_reach_times_persons_prices_and_rules(plant, path, value, read, expected):
    made = plant.scenario("Changed", changes={path: value})
    found = read(made.made.plant)
    assert found == (pytest.approx(expected) if isinstance(expected, float) else expected)
    assert plant.scenario("Today").made.plant == plant.inputs


def _element(plant, name):
    return next(row.typical for row in plant.elements if row.element == name)


def test_changes_win_over_options(plant):
    made = plant.scenario("Cart, slower", ["N2"], {"elements[tool_search].typical": 0.9})
    assert _element(made.made.plant, "tool_search") == 0.9


# ---- studies ----


def test_values_are_those_of_the_experiment(plant, study):
    found = study.replications("hours_needed")
    known = run_experiment(plant.inputs, [()], demand_factors=[1.0], replications=3, workers=1, progress=False)
    own = found[(found["scenario"] == "Today") & (found["demand_factor"] == 1.0)]
    assert own["value"].tolist() == known.raw("today", "hours_needed").tolist()


def test_differences_are_paired_and_say_what_they_tell(study):
    found = study.differences(measures=["hours_needed", "tool_loads"]).set_index(["scenario", "measure"])
    values = study.at(1.0).replications("hours_needed").pivot_table(
        index="replication", columns=["demand_factor", "scenario"], values="value"
    )  # fmt: skip
    gap = values[1.0]["Quicker loading"] - values[1.0]["Today"]
    assert found.loc[("Quicker loading", "hours_needed"), "mean"] == pytest.approx(gap.mean())
    assert found.loc[("Quicker loading", "hours_needed"), "sign"] == "sure"
    assert found.loc[("Quicker loading", "tool_loads"), "sign"] == "the same"
    assert set(study.differences()["sign"]) <= {"sure", "cannot tell", "the same"}
    assert set(study.differences("Removal")["scenario"]) == {"Today", "Quicker loading"}


def test_one_replication_tells_nothing(plant):
    changed = plant.scenario("Quicker loading", changes={"elements[load].typical*": 0.5})
    found = sk.simulate([plant.scenario("Today"), changed], **{**ONCE, "replications": 1}).differences()
    assert set(found["sign"]) == {"cannot tell"}


def test_states_sum_to_the_calendar(study):
    hours = study.time_split().groupby("scenario")["hours_per_week"].sum()
    assert hours.to_numpy() == pytest.approx(168.0)


def test_a_week_is_one_of_the_measured_span(plant):
    warm = plant.scenario("Today", changes={"plant.run.warmup_s": 7 * 86400.0})
    study = sk.simulate(warm, **{**ONCE, "weeks": 2.0, "demand": 1.0})
    hours = study.time_split().set_index("state")["hours_per_week"]
    beside = study.beside([f"state_{state}_h" for state in hours.index])["Today"]
    assert hours.sum() == pytest.approx(168.0)
    assert beside.tolist() == pytest.approx(hours.tolist())


def test_tables_of_single_runs(study):
    week = study.week("Removal")
    assert {"calendar", "M1"} <= set(week["resource"])
    assert week["end_h"].max() <= 168.0
    orders = study.orders("Removal", replications=3)
    assert orders.groupby("replication").size().tolist() == [6, 6, 6]
    late = study.replications("orders_late")
    late = late[(late["scenario"] == "Removal") & (late["demand_factor"] == 1.0)]
    found = orders["late_days"].gt(0).groupby(orders["replication"]).sum()
    assert found.tolist() == late["value"].tolist()
    nights = study.nights("Removal", replications=3)
    run = study.replications("night_running_h")
    run = run[(run["scenario"] == "Removal") & (run["demand_factor"] == 1.0)]
    assert nights.groupby("replication")["running_h"].sum().tolist() == pytest.approx(run["value"].tolist())
    assert study.nights("Today").empty


def test_demand_is_one_level_or_the_whole_path(plant, study):
    assert study.numbers.levels == (1.0, 1.25)
    assert study.at(1.25).differences()["mean"].ne(study.differences()["mean"]).any()
    single = sk.simulate([plant.scenario("Today"), plant.scenario("Removal", ["A4"])], demand=1.5, **ONCE)
    assert single.numbers.levels == (1.5,)
    assert [entry.factor for entry in single.money().flow.finance.demand] == [1.5]
    with pytest.raises(sk.BadInput, match="was not simulated"):
        single.at(1.0)


def test_a_changed_book_is_drawn_anew_and_still_compared(plant):
    more = plant.scenario("More sheets", changes={"orders[1001].sheets": 30})
    found = sk.simulate([plant.scenario("Today"), more], demand=1.0, **ONCE).differences(measures=["sheets"])
    assert found["mean"].tolist() == [27.0]


def test_what_cannot_be_one_study_is_refused(plant, tmp_path):
    today = plant.scenario("Today")
    other = sk.read_plant(write_option_plant(tmp_path / "other")).scenario("Other")
    longer = plant.scenario("Longer", changes={"plant.run.weeks": 2})
    for scenarios, why in (([], "no scenario"), ([today, today], "this name"), ([today, other], "another plant"),
                           ([today, longer], "plant.run.weeks differs")):  # fmt: skip
        with pytest.raises(sk.BadInput, match=why):
            sk.simulate(scenarios, **ONCE)
    with pytest.raises(sk.BadInput) as caught:
        sk.simulate(today, replications=0, weeks=-1, demand=float("inf"), seed=1.5)  # type: ignore[arg-type]
    assert len(caught.value.findings) == 4


def test_unknown_names_are_answered_with_the_nearest(study):
    for ask, hint in ((lambda: study.table("hours_neded"), "hours_needed"), (lambda: study.week("Tody"), "Today")):
        with pytest.raises(sk.BadInput, match=f"did you mean '{hint}'"):
            ask()


# ---- old numbers are never shown under new inputs ----


def test_a_time_changed_in_the_folder_moves_the_numbers(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    plant = sk.read_plant(folder)
    before = sk.simulate(plant.scenario("Today"), demand=1.0, **ONCE).table("hours_needed")["mean"].item()
    table = folder / "elements.csv"
    text = table.read_text(encoding="utf-8")
    table.write_text(
        text.replace(
            "tool_search,,changeover,min/tool_load,changeover,constant,1.6",
            "tool_search,,changeover,min/tool_load,changeover,constant,16",
        ),
        encoding="utf-8",
    )
    assert table.read_text(encoding="utf-8") != text
    with pytest.raises(sk.BadInput, match="has changed since it was read"):
        sk.simulate(plant.scenario("Today"), demand=1.0, **ONCE)
    after = (
        sk.simulate(sk.read_plant(folder).scenario("Today"), demand=1.0, **ONCE).table("hours_needed")["mean"].item()
    )
    assert after > before + 0.5


def test_runs_are_kept_where_it_is_said_and_made_once(plant, tmp_path):
    folder = tmp_path / "kept"
    sk.simulate(plant.scenario("Today"), demand=1.0, keep=folder, **ONCE)
    files = {path: path.stat().st_mtime_ns for path in folder.rglob("*.run")}
    assert len(files) == 3
    sk.simulate([plant.scenario("Again"), plant.scenario("N1", "N1")], demand=1.0, keep=folder, **ONCE)
    now = {path: path.stat().st_mtime_ns for path in folder.rglob("*.run")}
    assert len(now) == 6
    assert files.items() <= now.items()
    (tmp_path / "file").write_text("")
    with pytest.raises(sk.BadInput, match="cannot be kept"):
        sk.simulate(plant.scenario("Today"), keep=tmp_path / "file", **ONCE)


# ---- money ----


def test_money_is_that_of_the_cash_flow(study):
    cash = study.money()
    measures = cash.measures().set_index("scenario")
    headline = cash.by_year()
    assert measures.loc["Removal", "capital"] == pytest.approx(322_000.0)
    assert headline[headline["scenario"] == "Removal"]["cash"].iloc[0] == pytest.approx(-322_000.0)
    assert measures.loc["Removal", "payback"].startswith("does not pay back")
    assert np.isnan(measures.loc["Removal", "payback_years"])
    gap = cash.differences("Quicker loading").set_index("scenario")
    assert gap.loc["Removal", "capital"] == pytest.approx(322_000.0)
    assert gap.loc["Removal", "npv"] == pytest.approx(
        measures.loc["Removal", "npv"] - measures.loc["Quicker loading", "npv"]
    )
    assert cash.differences("Today").set_index("scenario")["npv"].to_dict() == pytest.approx(measures["npv"].to_dict())


def test_a_change_of_prices_runs_no_cell_and_moves_the_money(study, monkeypatch):
    monkeypatch.setattr("simkit.desk.study.run_all", None)
    before, after = study.money(), study.money({"plant.finance.discount_rate": 0.02, "people[OP-1].rate_per_h": 60})
    assert not before.measures()["npv"].equals(after.measures()["npv"])
    assert study.money().measures().equals(before.measures())


def test_a_price_of_an_option_is_a_change_of_money(study):
    dear = study.money({"options[A4].capital.quoted": 610_000, "options[A4].life_years": None})
    assert dear.measures().set_index("scenario").loc["Removal", "capital"] == pytest.approx(627_000.0)
    assert dear.differences("Today").set_index("scenario").loc["Quicker loading", "capital"] == 0.0


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"elements[load].typical": 3.0}, "changes what the cell does"),
        ({"plant.money.subcntract_per_h": 3.0}, "did you mean 'subcontract_per_h'"),
    ],
)
def test_what_is_no_change_of_money_is_refused(study, changes, why):
    with pytest.raises(sk.BadInput, match=why):
        study.money(changes)


@pytest.mark.parametrize("path", ["plant.money.subcontract_per_h", "options[A4].capital.quoted"])
def test_prices_of_one_scenario_alone_are_refused(plant, path):
    dear = plant.scenario("Dear", "A4", {path: 300})
    study = sk.simulate([plant.scenario("Today"), dear], **ONCE)
    with pytest.raises(sk.BadInput, match=rf"{re.escape(path).split('.c')[0]}.* of its own"):
        study.money()


def test_a_base_with_options_is_refused_for_money(plant):
    study = sk.simulate([plant.scenario("Cart", "N2"), plant.scenario("Both", "N1+N2")], **ONCE)
    with pytest.raises(sk.BadInput, match="would count as nothing"):
        study.money()
    with pytest.raises(sk.BadInput, match="nothing to compare 'Today' with"):
        sk.simulate(plant.scenario("Today"), **ONCE).money()


def test_flips_are_of_the_inputs_that_a_scenario_has(study):
    found = study.money().flips("Removal")
    assert {"capital A4", "demand"} <= set(found["input"])
    assert "capital N1" not in set(found["input"])
    with pytest.raises(sk.BadInput, match="no value of its own"):
        study.money().flips("Today")


# ---- the answer ----


def test_the_answer_says_what_is_sure_and_what_is_not(study):
    said = sk.answer(study, study.money())
    text = said.text
    assert "fewer machine hours" in text
    assert "payback: never" in text
    assert "Uncalibrated" in text
    assert "no tax or investment advice" in text
    assert set(said.table()["scenario"]) == {"Quicker loading", "Removal"}
    assert text.startswith("Today needs ")
    assert sk.answer(dataclasses.replace(study, scenarios=study.scenarios[:1])).sentences == ()
    assert "cannot be told" in sk.answer(dataclasses.replace(study, results=_noisy(study))).text


def _noisy(study):
    frame = study.results.frame.copy()
    noise = frame["replication"].map({0: -50.0, 1: 0.0, 2: 50.0}).where(frame["scenario"] != "Today", 0.0)
    return type(study.results)(frame.assign(value=frame["value"] + noise))


def test_the_card_says_how_many_replications_would_be_enough(study):
    """Of two gaps each tells if it is larger than t(2, 0.9875) s / sqrt(3) = 3.582 s; the card names the others."""
    card = study.card().set_index("setting")["value"]
    today = study.results.values("Today", "hours_needed")
    (close,) = card[card.index.str.startswith("replications for ±1")]
    assert int(close) >= 2
    said = card["replications that would tell a case from the first, where these do not"]
    for name in ("Quicker loading", "Removal"):
        gap = study.results.values(name, "hours_needed") - today
        assert (f"{name}: " in said) == bool(6.205 * gap.std(ddof=1) / 3**0.5 > abs(gap.mean()) > 0)
    once = sk.simulate([study.scenarios[0]], replications=1, workers=1, progress=False)
    assert not once.card()["setting"].str.contains("would tell").any()


def test_observed_weeks_that_differ_by_more_than_chance(study):
    table = study.against_observed()
    assert set(table["by_more_than_chance"]) <= {"sure", "cannot tell", "the same"}
    far = table[(table["simulated"] < 0.5 * table["lowest"]) & (table["simulated_half_width"] == 0)]
    assert set(far["by_more_than_chance"]) <= {"sure"}
