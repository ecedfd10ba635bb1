"""How a plant stands to its observed weeks, as page and marks say it: never fitted, valid, failed, out of date."""

from __future__ import annotations

import shutil
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

import simkit as sk
from simkit.plant.calibration_file import CalibrationStanding, Check, Multiplier
from simkit.report import cautions
from simkit.report.sentences_calibration import likely_cause, mark
from tests.demo.calibrated import folder_of, write_into


@pytest.fixture(scope="module")
def guessed(tmp_path_factory):
    return folder_of(tmp_path_factory.mktemp("guessed") / "plant")


@pytest.fixture(scope="module")
def fitted(demo_fit, tmp_path_factory):
    return write_into(tmp_path_factory.mktemp("fitted") / "plant", demo_fit)


@pytest.fixture(scope="module")
def failed(failed_fit, tmp_path_factory):
    return write_into(tmp_path_factory.mktemp("failed") / "plant", failed_fit)


def test_of_a_valid_calibration_all_holds_and_before_stands_beside_after(fitted):
    plant = sk.read_plant(fitted)
    own = plant.calibration()
    assert (own.state, plant.calibrated) == ("valid", True)
    table = own.verdict().set_index("measure")
    assert not table["calibrated_off"].str.contains("misses").any()
    assert table.loc["order delay, mean", "first_guess_off"].endswith("misses")
    assert table.loc["stopped, share of attended time", "tolerance"] == "±3 points"
    assert len(own.misses()) == table["first_guess_off"].str.contains("misses").sum()
    assert own.factors().set_index("what").loc["set-up", "used"] > 1
    assert "load (mass_kg>25)" in set(own.laws()["what"])
    assert plant.marks == (mark(plant.inputs.standing),)
    assert plant.marks[0].startswith("Calibrated: ")
    assert "had not seen" in own.answer.text


def test_a_failed_one_names_the_measure_the_cause_and_keeps_the_first_guess(failed):
    plant = sk.read_plant(failed)
    own = plant.calibration()
    assert (own.state, plant.calibrated) == ("failed", False)
    assert plant.marks[0].startswith("Uncalibrated: on observed weeks the model fails. Stopped, share of attended time")
    misses = own.misses().set_index("measure")
    told = misses.loc["stopped, share of attended time", "likely_cause"]
    assert "The log has 479 stops by short_stop, which stops.csv does not name." in told
    assert told in own.answer.text
    assert "pale" in own.answer.text
    assert {"first guess", "calibrated"} == set(own.weeks()["model"])


def test_one_whose_inputs_have_changed_counts_no_more_and_the_guess_is_compared(fitted, tmp_path):
    folder = Path(shutil.copytree(fitted, tmp_path / "plant"))
    text = (folder / "elements.csv").read_text(encoding="utf-8")
    (folder / "elements.csv").write_text(text.replace("lognormal,1.3,", "lognormal,1.4,"), encoding="utf-8")
    plant = sk.read_plant(folder)
    own = plant.calibration(replications=2, workers=1)
    assert (own.state, plant.calibrated) == ("out of date", False)
    assert plant.marks[0].startswith("Uncalibrated: the calibration is out of date. What it rests on has changed: elem")
    assert "calibrated" not in own.verdict()
    assert set(own.weeks()["model"]) == {"first guess"}
    assert (len(own.factors()), len(own.laws()), len(own.left())) == (0, 0, 0)
    assert "elements" in own.answer.text


def test_one_that_nobody_made_compares_the_guess(guessed):
    plant = sk.read_plant(guessed)
    own = plant.calibration(replications=2, workers=1)
    assert (own.state, plant.marks) == ("never", (cautions.UNCALIBRATED,))
    assert "simkit fit" in own.answer.text
    assert {"stopped, share of attended time", "order delay, mean"} <= set(own.misses()["measure"])


def test_without_a_history_it_says_why_nothing_is_compared(guessed, tmp_path):
    folder = Path(shutil.copytree(guessed, tmp_path / "plant"))
    heads = (folder / "history.csv").read_text(encoding="utf-8").splitlines()[0]
    (folder / "history.csv").write_text(heads + "\n", encoding="utf-8")
    own = sk.read_plant(folder).calibration()
    assert own.verdict()["sheets"].tolist() == [245, 256, 279, 316]
    assert own.verdict().attrs["title"].endswith("history.csv holds no orders")
    assert "history.csv holds no orders" in own.answer.text
    sk.plot.observed_weeks(own.weeks())
    plt.close("all")


def test_the_picture_has_a_panel_a_measure_and_every_dot_where_it_was_observed(fitted):
    own = sk.read_plant(fitted).calibration()
    table = own.weeks()
    axes = sk.plot.observed_weeks(table)
    panels = axes.child_axes
    assert len(panels) == table["measure"].nunique() - 1  # set-up hours stand in the table
    sheets = next(panel for panel in panels if panel.get_title(loc="left") == "sheets")
    weeks = [week.sheets for week in sk.read_plant(fitted).inputs.observed]
    dots = [float(y) for part in sheets.collections if len(part.get_offsets()) > 1 for _, y in part.get_offsets()]
    assert sorted(dots) == sorted([*weeks, (weeks[2] + weeks[3]) / 2])
    plt.close("all")


def test_of_weeks_held_back_sums_stand_as_those_of_a_mean_week(fitted):
    table = sk.read_plant(fitted).calibration().weeks()
    own = table[(table["model"] == "calibrated") & (table["measure"] == "sheets")].set_index("week")
    assert own.loc[0, "observed"] == pytest.approx((own.loc[3, "observed"] + own.loc[4, "observed"]) / 2)
    assert own.loc[0, "tolerance"] == pytest.approx(0.05 * own.loc[0, "observed"])
    delay = table[(table["model"] == "calibrated") & (table["measure"] == "order delay, mean")].set_index("week")
    assert min(delay.loc[[3, 4], "observed"]) < delay.loc[0, "observed"] < max(delay.loc[[3, 4], "observed"])


def a_check(measure: str, difference: float) -> Check:
    return Check(run="replay", use="validate", week=0, measure=measure, unit="%", observed=5, simulated=5 + difference,
                 low=4, high=6, difference=difference, tolerance=3, holds=False)  # fmt: skip


@pytest.mark.parametrize("measure", ["sheets", "set-up, hours", "loading and pulling out, share of attended time",
                                     "process, share of attended time", "stopped, share of attended time",
                                     "order delay, 90 % below"])  # fmt: skip
def test_every_measure_has_a_likely_cause_to_either_side(measure):
    low, high = (likely_cause(a_check(measure, side)) for side in (-4.0, 4.0))
    assert low
    assert high
    assert low != high


def test_a_factor_at_its_bound_is_told_on_every_page(fitted):
    found = sk.read_plant(fitted).inputs.calibration
    assert found is not None
    bound = Multiplier(name="stops", value=1.6, low=2.0, high=3.0, wanted=2.5)
    standing = CalibrationStanding("failed", found.model_copy(update={"multipliers": (bound,)}))
    assert "Stops would need 2.50 times what was entered." in mark(standing)
