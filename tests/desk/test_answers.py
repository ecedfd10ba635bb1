"""Answers against another scenario than the first, and in the very hours a week that tables show."""

from __future__ import annotations

import pytest

import simkit as sk
from tests.report.option_plant import write_option_plant


def test_what_an_option_adds_is_told_on_top_of_the_package(tmp_path):
    plant = sk.read_plant(write_option_plant(tmp_path / "plant"))
    made = plant.scenarios({"Today": [], "Package": ["N2"], "Both": ["N2", "A1"]})
    study = sk.simulate(made, replications=3, weeks=1, workers=1, progress=False)
    cash = study.money()
    said = sk.answer(study, cash, against="Package")
    assert said.head.startswith("Package needs ")
    assert {sentence.scenario for sentence in said.sentences} == {"Both"}
    hours, *_, worth = said.sentences
    gap = study.differences(against="Package", measures=["hours_needed"]).set_index("scenario")
    assert (hours.mean, hours.half_width) == (gap.loc["Both", "mean"], gap.loc["Both", "half_width"])
    on_top = cash.differences("Package").set_index("scenario").loc["Both"]
    whole = cash.measures().set_index("scenario")
    assert worth.mean == on_top["npv"] == pytest.approx(whole.loc["Both", "npv"] - whole.loc["Package", "npv"])
    assert worth.text.startswith("On top of Package it costs ")
    assert {sentence.scenario for sentence in sk.answer(study, cash).sentences} == {"Package", "Both"}
    with pytest.raises(sk.BadInput, match="did you mean 'Package'"):
        sk.answer(study, cash, against="Packag")


def test_an_answer_and_a_table_tell_the_same_hours_a_week(tmp_path):
    """One and a half weeks of orders are measured over two: both divide by two."""
    plant = sk.read_plant(write_option_plant(tmp_path / "plant"))
    made = plant.scenarios({"Today": [], "Cart": ["N2"]})
    study = sk.simulate(made, replications=3, weeks=1.5, workers=1, progress=False)
    assert study.replications("span_weeks")["value"].unique() == [2.0]
    told = sk.answer(study).sentences[0]
    shown = study.beside("hours_needed").iloc[0]
    assert told.mean == pytest.approx(shown["Cart"] - shown["Today"])
    assert told.mean == pytest.approx(study.differences(measures="hours_needed")["mean"][0] / 2)
