"""The decision: every choice on top of the cheap ones, its numbers those of the cash flow, its words without codes."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest

import simkit as sk
import simkit.desk.recommending
from tests.report.option_plant import write_option_plant


@pytest.fixture(scope="module")
def decided(tmp_path_factory):
    plant = sk.read_plant(write_option_plant(tmp_path_factory.mktemp("decide") / "plant"))
    return sk.recommend(plant, ["A1+A4"], replications=3, weeks=1, workers=1, progress=False)


def test_every_choice_of_the_plant_is_looked_at_and_the_one_asked_about(decided):
    options = {choice.options for choice in decided.choices}
    assert {("A1",), ("A4",), ("C2",), ("A1", "A4"), ("A4", "C1")} <= options
    assert {("N1",), ("N2",)} <= options | {decided.package}
    shown = decided.table()
    assert shown["choice"].iloc[-1] == "Do nothing"
    assert "Tool magazine + Part removal" in set(shown["choice"])
    assert (shown["npv"].dropna().diff().dropna() <= 0).all()


def test_a_choice_is_worth_what_the_cash_flow_says_beyond_the_rest(decided):
    cash = decided.cash.measures().set_index("scenario")["npv"]
    nothing = decided.study.base
    for choice in decided.choices:
        before = 0.0 if choice.against == nothing else cash[choice.against]
        assert choice.value.mean == pytest.approx(cash[choice.scenario] - before, abs=1e-6)
        hours = decided.study.differences(choice.against, ["hours_needed"]).set_index("scenario")["mean"]
        assert choice.hours_a_week.mean == pytest.approx(hours[choice.scenario] / decided.study.numbers.weeks)


def test_at_the_price_it_is_worth_at_most_a_choice_is_worth_nothing(decided):
    known = decided.plant.inputs.option_by_id
    single = [one for one in decided.choices if len(one.options) == 1 and not known[one.options[0]].capital_lines]
    priced = [one for one in single if one.worth_at_most and np.isfinite(one.worth_at_most)]
    assert priced
    for choice in priced[:3]:
        path = f"options[{choice.options[0]}].capital"
        changes = {f"{path}.{end}": choice.worth_at_most for end in ("low", "quoted", "high")}
        again = decided.study.money(changes).measures().set_index("scenario")["npv"]
        left = again[choice.scenario] - (0.0 if choice.against == decided.study.base else again[choice.against])
        assert left == pytest.approx(0.0, abs=0.01)


def test_the_answer_names_things_in_words(decided):
    text = decided.answer.text
    assert not re.search(r"\b[NAC]\d", text)
    assert "3 runs of 1 week" in text
    assert repr(decided).startswith("<Decision for ")


def test_causes_are_todays_hours_beside_those_of_the_best_choices(decided):
    causes = decided.causes()
    assert causes["scenario"].iloc[0] == decided.study.base
    split = decided.study.time_split().set_index(["scenario", "state"])["hours_per_week"]
    for row in causes.to_dict("records"):
        assert row["hours_per_week"] == split[row["scenario"], row["state"]]
    assert not {"closed", "cutting"} & set(causes["state"])


def test_pages_are_linked_by_the_names_of_choices(decided):
    frame = decided.table({"Tool magazine": "scenarios/tool-magazine.html"})
    assert frame.attrs["links"] == {"Tool magazine": "scenarios/tool-magazine.html"}


def test_an_unknown_option_is_refused_before_anything_runs(decided):
    with pytest.raises(sk.BadInput, match="A9"):
        sk.recommend(decided.plant, ["A9"], replications=1, weeks=1, workers=1, progress=False)


@pytest.mark.parametrize(
    ("run", "why"),
    [({"plant.run.source": "saturated", "plant.run.horizon_s": 36000.0}, "whole release weeks"),
     ({"plant.run.warmup_s": 3600.0}, "would not fit the weeks after the warm-up")],
)  # fmt: skip
def test_runs_whose_totals_are_no_yearly_amounts_are_refused(decided, run, why):
    with pytest.raises(sk.BadInput, match=why):
        sk.recommend(decided.plant, changes=run, replications=1, weeks=1, workers=1, progress=False)
    scenarios = decided.plant.scenarios({"Today": [], "Magazine": ["A1"]}, {"plant.run.warmup_s": 3600.0})
    study = sk.simulate(scenarios, replications=1, weeks=1, workers=1, progress=False)
    with pytest.raises(sk.BadInput, match="warm-up"):
        study.money()


@pytest.fixture(scope="module")
def further(tmp_path_factory):
    """The decision with few choices on its first page, and the same with every choice simulated at every demand."""
    folder = write_option_plant(tmp_path_factory.mktemp("further") / "plant")
    plant, runs = sk.read_plant(folder), tmp_path_factory.mktemp("runs")
    how = {"changes": {"plant.run.demand_levels": [1.0, 1.6]}, "replications": 3, "weeks": 1, "workers": 1}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("simkit.desk.recommending.MOST_CHOICES", 2)
        few = sk.recommend(plant, keep=runs / "few", progress=False, **how)
        patch.setattr("simkit.desk.recommending.MOST_CHOICES", 99)
        patch.setattr("simkit.desk.recommending.MOST_BOUGHT", 99)
        every = sk.recommend(plant, keep=runs / "every", progress=False, **how)
    return few, every


def test_demand_above_the_signed_is_simulated_where_it_can_change_an_answer_alone(further):
    few, every = further
    high = few.study.results.frame.query("demand_factor == 1.6")["scenario"].unique()
    assert few.study.base in high
    assert 0 < len(high) < len(few.study.names) == len(set(every.study.results.frame["scenario"]))
    assert set(every.study.results.frame.query("demand_factor == 1.6")["scenario"]) == set(every.study.names)
    assert few.study.numbers.levels == (1.0, 1.25)
    assert "Demand above 125 %" in few.all_choices().attrs["note"]


def test_values_and_verdicts_are_those_of_every_choice_at_every_demand(further):
    few, every = further
    numbers = ["capital", "freed_h_per_week", "cash_a_year", "payback_years", "npv", "npv_half_width", "worth_at_most"]
    left, right = (one.all_choices().set_index("choice") for one in (few, every))
    for name in (*numbers, "npv_with_signed_sales", "verdict", "why"):
        assert left[name].to_dict() == pytest.approx(right[name].to_dict(), nan_ok=True), name
    shown = [name for name in few.table()["choice"] if name in right.index]
    assert left.loc[shown, "turns"].to_dict() == right.loc[shown, "turns"].to_dict()


def test_the_workbook_holds_each_case_at_the_demands_it_was_simulated_at(further, tmp_path):
    few, _ = further
    few.cash.write(tmp_path)
    held = {name: one.factors for name, one in few.cash.totals.items()}
    assert {(1.0, 1.25), (1.0, 1.25, 1.6)} == set(held.values())
    for name in few.cash.results:
        assert few.cash.demand_of([name]) == (1.0, held[name][-1])


SMALL = {"replications": 2, "weeks": 1, "workers": 1, "progress": False}


@pytest.fixture(scope="module")
def asked_once(tmp_path_factory):
    """A recommendation whose runs and answer are kept, and the folder of the plant."""
    folder, keep = tmp_path_factory.mktemp("once") / "plant", tmp_path_factory.mktemp("kept")
    plant = sk.read_plant(write_option_plant(folder))
    return plant, keep, sk.recommend(plant, ["A1+A4"], changes=LOOKED_AT, keep=keep, **SMALL)


LOOKED_AT = {"plant.run.demand_levels": [1.0, 1.6]}


def searches(monkeypatch) -> list[int]:
    """Grows by one with every search of a package."""
    found, search = [], simkit.desk.recommending.best_package
    monkeypatch.setattr("simkit.desk.recommending.best_package", lambda *a, **k: found.append(1) or search(*a, **k))
    return found


def test_who_asks_the_same_again_gets_what_was_found(asked_once, monkeypatch):
    plant, keep, first = asked_once
    searched = searches(monkeypatch)
    again = sk.recommend(plant, ["A1+A4"], changes=LOOKED_AT, keep=keep, **SMALL)
    assert not searched
    assert (again.package, again.asked) == (first.package, first.asked)
    assert repr(again.choices) == repr(first.choices)  # what is no number does not equal itself
    for table in ("table", "all_choices", "causes"):
        pd.testing.assert_frame_equal(getattr(again, table)(), getattr(first, table)())
    pd.testing.assert_frame_equal(again.study.replications(), first.study.replications())
    pd.testing.assert_frame_equal(again.cash.lines, first.cash.lines)
    assert again.answer.text == first.answer.text


@pytest.mark.parametrize(
    "other",
    [{"changes": {**LOOKED_AT, "elements[load].typical*": 2.0}},
     {"changes": {**LOOKED_AT, "options[N2].capital.quoted": 5501.0}},
     {"changes": {**LOOKED_AT, "plant.finance.discount_rate": 0.2}}, {"changes": {"plant.run.demand_levels": [1.4]}},
     {"seed": 5}, {"demand": 1.1}, {"replications": 3}, {"options": ["A4+C1"]}],
)  # fmt: skip
def test_an_answer_is_kept_for_the_very_inputs_that_gave_it_alone(asked_once, other, monkeypatch):
    plant, keep, _ = asked_once
    searched = searches(monkeypatch)
    options = other.get("options", ["A1+A4"])
    how = {**SMALL, "changes": LOOKED_AT, **{key: value for key, value in other.items() if key != "options"}}
    sk.recommend(plant, options, keep=keep, **how)
    assert searched


def test_an_answer_of_other_code_or_a_damaged_one_is_found_anew(asked_once, monkeypatch, caplog):
    plant, keep, first = asked_once
    searched = searches(monkeypatch)
    with monkeypatch.context() as patch:
        patch.setattr("simkit.desk.answer_cache.code_hash", lambda rooms: "other")
        sk.recommend(plant, ["A1+A4"], changes=LOOKED_AT, keep=keep, **SMALL)
    assert len(searched) == 1
    for path in keep.rglob("*.answer"):
        path.write_bytes(path.read_bytes().replace(b"0.95", b"0.99"))
    again = sk.recommend(plant, ["A1+A4"], changes=LOOKED_AT, keep=keep, **SMALL)
    assert len(searched) == 2
    assert "damaged" in caplog.text
    assert repr(again.choices) == repr(first.choices)


def test_a_plant_is_read_once_until_a_file_of_it_changes(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    first = sk.read_plant(folder)
    assert sk.read_plant(folder) is first
    settings = folder / "plant.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace("currency = ", "currency  = "), encoding="utf-8")
    second = sk.read_plant(folder)
    assert second is not first
    (folder / "orders (2).csv").write_text("order_id\n", encoding="utf-8")
    with pytest.raises(sk.BadInput, match="resembles"):
        sk.read_plant(folder)
