"""The simulate step on the small plant: which scenarios, the same bytes for the same seed, no run twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from simkit.base.messages import BadInput
from simkit.report.simulate import simulate_study
from simkit.report.studydata import read_study
from tests.report.option_plant import write_option_plant

NUMBERS = {"replications": 2, "weeks": 1.0, "workers": 1}


@pytest.fixture(scope="module")
def studied(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("simulate")
    plant = write_option_plant(folder / "plant")
    simulate_study(plant, folder / "out", say=lambda _: None, **NUMBERS)
    return plant, folder / "out"


def test_every_bought_set_stands_without_and_with_the_package(studied):
    study = read_study(studied[1] / "results")
    scenarios = study.run.scenarios
    package = set(scenarios[study.run.cheap_at(1.0)])
    assert package
    held = [frozenset(options) for options in scenarios.values()]
    bought = [options for options in held if {"A1", "A4"} & options and not package & options]
    assert {frozenset({"A1"}), frozenset({"A4"}), frozenset({"A1", "A4"})} <= set(bought)
    assert all(options | package in held for options in bought)
    for name in scenarios:
        if not set(scenarios[name]) & {"N1", "N2"} or package <= set(scenarios[name]):
            assert study.results.has(name, "hours_needed", 1.0)


def test_the_same_seed_gives_the_same_bytes_with_and_without_kept_runs(studied, tmp_path):
    plant, out = studied
    again = tmp_path / "again"
    simulate_study(plant, again, say=lambda _: None, **NUMBERS | {"workers": 2})
    kept = sorted(path.name for path in (again / "runs").rglob("*") if path.is_file())
    simulate_study(plant, again, say=lambda _: None, **NUMBERS)
    for name in ("results.csv", "ribbon.csv", "run.json"):
        assert (again / "results" / name).read_bytes() == (out / "results" / name).read_bytes()
    assert kept == sorted(path.name for path in (again / "runs").rglob("*") if path.is_file())


def test_another_seed_gives_other_numbers(studied, tmp_path):
    plant, out = studied
    simulate_study(plant, tmp_path / "other", say=lambda _: None, **NUMBERS | {"seed": 5})
    assert (tmp_path / "other" / "results" / "results.csv").read_bytes() != (
        out / "results" / "results.csv"
    ).read_bytes()


def test_a_warm_up_or_another_source_of_work_is_refused(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    text = (folder / "plant.toml").read_text(encoding="utf-8").replace("warmup_s = 0.0", "warmup_s = 600.0")
    (folder / "plant.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="warmup_s"):
        simulate_study(folder, tmp_path / "out", say=lambda _: None, **NUMBERS)
    assert not (tmp_path / "out").exists()
