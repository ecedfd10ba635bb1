from __future__ import annotations

import dataclasses

import pytest

from simkit.base.messages import BadInput
from simkit.base.vocabulary import STATES
from simkit.report import cautions
from simkit.report.study import open_study
from simkit.report.studydata import TODAY, read_study, write_study
from tests.report.fake_results import ATTENDED_H, WEEK_H


def test_weekly_amounts_are_totals_over_the_span(study):
    assert study.total(TODAY, "attended_h").mean == pytest.approx(4 * ATTENDED_H)
    assert study.per_week(TODAY, "attended_h").mean == pytest.approx(ATTENDED_H)


def test_shares_are_not_divided_by_the_weeks(study):
    assert study.per_week(TODAY, "late_share") == study.total(TODAY, "late_share")
    assert study.per_week(TODAY, "people_wait_mean_s") == study.total(TODAY, "people_wait_mean_s")


def test_states_sum_to_the_week_in_every_scenario(study):
    hours = study.state_hours(study.scenarios)
    assert set(hours.columns) == set(STATES)
    assert hours.sum(axis="columns").to_list() == pytest.approx([WEEK_H] * len(study.scenarios))


def test_classes_of_scenarios(study):
    assert study.low_capital == ("N1", "N2", "N1+N2")
    assert study.calendar == ("C2",)
    assert "A4+C1" in study.bought
    assert TODAY not in (*study.low_capital, *study.calendar, *study.bought)


def test_the_package_goes_by_its_word(study):
    assert study.named(TODAY) == "Today"
    assert study.named("N1+N2") == "Package"
    assert study.named("N1+N2+A1+A4") == "Package + A1+A4"
    assert study.named("A1") == "A1"
    assert study.with_package("A1") == "N1+N2+A1"
    assert study.package_note.startswith("Package: N1 Sequencing rule")


def test_without_a_package_nothing_is_called_one(study):
    run = dataclasses.replace(study.run, package=TODAY)
    bare = dataclasses.replace(study, run=run)
    assert bare.package == TODAY
    assert bare.named("N1+N2+A1") == "N1+N2+A1"
    assert bare.package_note == ""


def test_capital_is_that_of_the_cash_flow_table(study):
    assert study.capital("N1+N2") == pytest.approx(6500)
    assert study.capital("A4") == pytest.approx(305e3 + 9e3)


def test_gaps_hold_together(study):
    gaps = study.gaps(TODAY)
    alone = study.results.paired("N2", TODAY, "hours_needed", 1.0)
    assert set(gaps) == set(study.scenarios) - {TODAY}
    assert gaps["N2"].mean == pytest.approx(alone.mean)
    assert gaps["N2"].half_width > alone.half_width


def test_an_uncalibrated_study_is_marked_on_every_page(study):
    assert study.marks == (cautions.UNCALIBRATED,)


def test_changed_inputs_are_refused_or_marked_where_somebody_looks_back(simulated, tmp_path):
    plant_folder, out_dir = simulated
    data = read_study(out_dir / "results")
    other = dataclasses.replace(data, run=dataclasses.replace(data.run, inputs_sha256="0" * 64))
    write_study(tmp_path / "results", other)
    with pytest.raises(BadInput, match="inputs have changed since"):
        open_study(plant_folder, tmp_path / "results")
    assert cautions.STALE in open_study(plant_folder, tmp_path / "results", as_it_was=True).marks


def test_results_of_another_plant_are_refused(simulated, tmp_path):
    plant_folder, out_dir = simulated
    data = read_study(out_dir / "results")
    write_study(tmp_path / "results", dataclasses.replace(data, run=dataclasses.replace(data.run, plant="Elsewhere")))
    with pytest.raises(BadInput, match="Elsewhere"):
        open_study(plant_folder, tmp_path / "results")


def test_a_demand_that_was_not_simulated_is_refused(simulated):
    plant_folder, out_dir = simulated
    with pytest.raises(BadInput, match=r"levels are 1 and 1\.25"):
        open_study(plant_folder, out_dir / "results", 2.0)
