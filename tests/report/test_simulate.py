"""The simulate step on the small plant: which scenarios, the same bytes for the same seed, no run twice."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest

from simkit.analysis.package import FIRST_REPLICATION
from simkit.base.messages import BadInput
from simkit.experiment.cache import Cache, Run, RunKey
from simkit.plant.options import OnceLine
from simkit.plant.tables import MachineRow
from simkit.report import simulate
from simkit.report.folder import MARKER
from simkit.report.moneystudy import money_of
from simkit.report.render import render_studies
from simkit.report.study import open_study
from simkit.report.studydata import read_study
from tests.report.option_plant import option_plant, write_option_plant
from tests.small_plant import small_plant, write_small_plant

NUMBERS = {"replications": 2, "weeks": 1.0, "workers": 1}


def simulate_study(plant: Path, out: Path, **more):
    """Simulate with kept runs in the report's own folder: a copy of it knows what the first one ran, and no other."""
    return simulate.simulate_study(plant, out, keep=out / "runs", **more)


def with_package(folder: Path) -> Path:
    """The option plant, in which N1 and N2 pay at once: what they replace is sold. No year reads demand 1.6."""
    sold = {"N1": 1500.0, "N2": 9000.0}
    options = tuple(
        option.model_copy(update={"once": (OnceLine(line="what it replaces, sold", amount=sold[option.id]),)})
        if option.id in sold else option
        for option in option_plant().options
    )  # fmt: skip
    settings = option_plant().settings
    run = settings.run.model_copy(update={"demand_levels": (1.0, 1.6)})
    plant = dataclasses.replace(option_plant(), options=options, settings=settings.model_copy(update={"run": run}))
    changes = {field.name: getattr(plant, field.name) for field in dataclasses.fields(plant)}
    return write_small_plant(folder, **changes)


@pytest.fixture(scope="module")
def studied(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("simulate")
    plant = with_package(folder / "plant")
    simulate_study(plant, folder / "out", say=lambda _: None, **NUMBERS)
    return plant, folder / "out"


def test_every_bought_set_stands_without_and_with_the_package(studied):
    study = read_study(studied[1] / "results")
    scenarios = study.run.scenarios
    package = set(scenarios[study.run.package])
    assert package == {"N1", "N2"}
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


def test_demand_that_no_year_reads_is_simulated_for_today_and_the_package_alone(studied):
    """The years read 1 and 1.25; 1.6 is only a level of the studies."""
    results = read_study(studied[1] / "results").results
    assert results.demand_factors == (1.0, 1.25, 1.6)
    assert [name for name in results.scenarios if results.has(name, "hours_needed", 1.6)] == ["today", "N1+N2"]


def test_hoped_demand_is_simulated_for_the_sets_whose_risk_is_told(studied, tmp_path):
    plant = repriced(studied, tmp_path, "factor = 1.25, signed = true", "factor = 1.25, signed = false", "plant.toml")
    simulate_study(plant, tmp_path / "out", say=lambda _: None, **NUMBERS)
    study = read_study(tmp_path / "out" / "results")
    hoped = [name for name in study.results.scenarios if study.results.has(name, "hours_needed", 1.25)]
    assert study.run.leading
    assert hoped == ["today", "N1+N2", *study.run.leading]


def test_a_set_that_is_named_is_simulated_at_every_demand_that_money_reads(studied, tmp_path):
    plant, out = studied
    shutil.copytree(out, tmp_path / "out")
    simulate_study(plant, tmp_path / "out", say=lambda _: None, sets=[("A1", "C2")], **NUMBERS)
    study = read_study(tmp_path / "out" / "results")
    package = study.run.scenarios[study.run.package]
    for options in ({"A1", "C2"}, {*package, "A1", "C2"}):
        name = study.run.named(frozenset(options))
        assert name is not None
        assert all(study.results.has(name, "hours_needed", level) for level in (1.0, 1.25))
    assert "C2+A1" in money_of(open_study(plant, tmp_path / "out" / "results")).results


def test_a_named_set_that_is_not_legal_is_told_before_anything_is_written(studied, tmp_path):
    with pytest.raises(BadInput, match="C9"):
        simulate_study(studied[0], tmp_path / "out", say=lambda _: None, sets=[("A1", "C9")], **NUMBERS)
    assert not (tmp_path / "out").exists()


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


def repriced(studied: tuple[Path, Path], tmp_path: Path, before: str, after: str, file: str = "options.toml") -> Path:
    """A copy of plant and report in which one text of a file of the plant is another one."""
    shutil.copytree(studied[0], tmp_path / "plant")
    shutil.copytree(studied[1], tmp_path / "out")
    path = tmp_path / "plant" / file
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after), encoding="utf-8")
    return tmp_path / "plant"


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted((folder / "results").iterdir())}


@pytest.fixture
def no_runs(monkeypatch):
    def refuse(*_: object) -> None:
        raise AssertionError("simulated or searched again")

    monkeypatch.setattr("simkit.experiment.task.simulate", refuse)


@pytest.mark.usefixtures("no_runs")
def test_a_change_of_money_simulates_and_searches_nothing_again(studied, tmp_path, monkeypatch):
    plant = repriced(studied, tmp_path, "quoted = 185000.0", "quoted = 180000.0")
    shutil.copytree(tmp_path / "out" / "runs", tmp_path / "anew" / "runs")
    shutil.copy(tmp_path / "out" / MARKER, tmp_path / "anew")
    said: list[str] = []
    card = simulate_study(plant, tmp_path / "out", say=said.append, **NUMBERS)
    assert said[1:] == ["nothing that is simulated has changed: the tables of the earlier report hold"]
    before = read_study(studied[1] / "results").run
    assert card.cases == before.cases
    assert card.physics_hashes == before.physics_hashes
    assert card.money_hashes != before.money_hashes
    monkeypatch.setattr("simkit.report.simulate.card_that_holds", lambda *_: None)
    simulate_study(plant, tmp_path / "anew", say=said.append, **NUMBERS)
    assert len(said) > 2
    assert contents(tmp_path / "out") == contents(tmp_path / "anew")


def test_a_price_that_changes_the_package_runs_only_what_is_missing(studied, tmp_path, monkeypatch):
    """N1 no longer pays: what stands on N1 and N2 gives way to what stands on N2. The search runs nothing, each new set
    once per replication at the two levels that years read, and of what was known only N2 at the side level."""
    plant = repriced(studied, tmp_path, "amount = 1500.0", "amount = 500.0")
    made: list[RunKey] = []
    original = Cache.store

    def counted(cache: Cache, key: RunKey, run: Run) -> None:
        made.append(key)
        original(cache, key, run)

    monkeypatch.setattr(Cache, "store", counted)
    simulate_study(plant, tmp_path / "out", say=lambda _: None, **NUMBERS)
    before, after = (read_study(folder / "out" / "results") for folder in (studied[1].parent, tmp_path))
    assert (before.run.package, after.run.package) == ("N1+N2", "N2")
    known = {*before.run.physics_hashes.values(), *_cases(before.run)}
    hashes = after.run.physics_hashes
    new = [name for name in after.run.scenarios if hashes[name] not in known]
    assert new
    assert all("N2" in after.run.scenarios[name] and "N1" not in after.run.scenarios[name] for name in new)
    assert len(made) == len(set(made))
    assert not any(key.replication >= FIRST_REPLICATION for key in made)
    assert {(key.physics, key.demand_factor) for key in made if key.physics in known} == {(hashes["N2"], 1.6)}
    twice = [(level, replication) for level in (1.0, 1.25) for replication in (0, 1)]
    for name in new:
        assert sorted((key.demand_factor, key.replication) for key in made if key.physics == hashes[name]) == twice


def _cases(run):
    return [case.physics_hash for group in run.cases.values() for case in group.values()]


@pytest.mark.parametrize("change", ["a table by hand", "a table gone", "a card by hand", "another package", "a time"])
def test_a_study_that_does_not_answer_is_made_anew(studied, tmp_path, change):
    texts = {
        "another package": ("amount = 1500.0", "amount = 500.0", "options.toml"),
        "a time": ("seed = ", "seed = 1", "plant.toml"),
    }.get(change, ("185000.0", "185000.0", "options.toml"))
    plant = repriced(studied, tmp_path, *texts)
    folder = tmp_path / "out" / "results"
    if change == "a table by hand":
        results = folder / "results.csv"
        results.write_text(results.read_text(encoding="utf-8").replace("1.0", "1.5", 1), encoding="utf-8")
    elif change == "a table gone":
        (folder / "responses.csv").unlink()
    elif change == "a card by hand":
        (folder / "run.json").write_text("{", encoding="utf-8")
    said: list[str] = []
    simulate_study(plant, tmp_path / "out", say=said.append, **NUMBERS)
    assert not any("nothing that is simulated has changed" in line for line in said)
    if change not in ("another package", "a time"):
        assert contents(tmp_path / "out") == contents(studied[1])


@pytest.mark.parametrize("change", ["no options", "no tools", "two machines"])
def test_a_plant_without_options_or_tools_or_with_two_machines_is_studied_and_rendered(tmp_path, change):
    changes = {
        "no options": {},
        "no tools": {"tools": (), "program_tools": (), "programs": punchless()},
        "two machines": {"machines": (MachineRow(machine_id="M1"), MachineRow(machine_id="M2"))},
    }[change]
    folder = write_small_plant(tmp_path / "plant", **changes)
    card = simulate_study(folder, tmp_path / "out", say=lambda _: None, **NUMBERS)
    assert card.scenarios
    (page,) = render_studies(folder, tmp_path / "out", ["nights"], say=lambda _: None)
    assert page.failure is None


def punchless():
    """The small plant's programs, cut by laser alone."""
    return tuple(dataclasses.replace(p, hits_per_sheet=0, forming_hits_per_sheet=0) for p in small_plant().programs)
