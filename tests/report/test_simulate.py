"""The simulate step on the small plant: which scenarios, the same bytes for the same seed, no run twice."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest

from simkit.analysis.calendar_pairs import combinations_of_pairs
from simkit.analysis.tool_cases import BLIND, MAGAZINE
from simkit.analysis.tool_tables import ALL
from simkit.base.messages import BadInput
from simkit.plant.tables import MachineRow
from simkit.report.folder import MARKER
from simkit.report.moneystudy import money_of
from simkit.report.render import render_studies
from simkit.report.sections.tool_magazine import NO_MAGAZINE
from simkit.report.sections.tools import NO_TOOLS
from simkit.report.simulate import simulate_study
from simkit.report.study import open_study
from simkit.report.studydata import read_study
from tests.report.option_plant import write_option_plant
from tests.small_plant import small_plant, write_small_plant

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


def test_bought_options_with_calendar_ones_are_simulated_at_one_demand(studied):
    study = read_study(studied[1] / "results")
    pairs = [pair for pair in study.run.calendar_pairs if not pair.refused]
    assert {(pair.bought, pair.calendar) for pair in pairs} == {(b, c) for b in ("A1", "A4") for c in ("C1", "C2")}
    assert all(pair.physics_hash for pair in pairs)
    package = study.run.scenarios[study.run.cheap_at(1.0)]
    named = [("+".join(options) or "today") for options in combinations_of_pairs(pairs)]
    assert all(study.results.has(name, "hours_needed", 1.0) for name in named)
    alone = [name for name in named if name not in study.run.scenarios]
    assert "C2+A1" in alone
    assert "+".join((*package, "C2", "A1")) in alone
    assert not any(study.results.has(name, "hours_needed", 1.25) for name in alone)


def test_a_set_that_is_named_is_simulated_at_every_demand_that_money_reads(studied, tmp_path):
    plant, out = studied
    shutil.copytree(out, tmp_path / "out")
    simulate_study(plant, tmp_path / "out", say=lambda _: None, sets=[("A1", "C2")], **NUMBERS)
    study = read_study(tmp_path / "out" / "results")
    package = study.run.scenarios[study.run.cheap_at(1.0)]
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


def test_the_cases_of_tools_are_simulated_beside_the_scenarios(studied):
    study = read_study(studied[1] / "results")
    groups = [case.group for case in study.run.tool_cases.values()]
    assert (groups.count(MAGAZINE), groups.count(BLIND)) == (5, 1)
    for name, case in study.run.tool_cases.items():
        assert name not in study.run.scenarios
        assert case.physics_hash
        assert study.results.has(name, "hours_needed", study.run.tool_demand)


def test_exchanges_by_tool_add_up_to_the_hours_of_the_same_runs(studied):
    study = read_study(studied[1] / "results")
    spans = study.results.values("today", "span_weeks")
    hours = study.results.values("today", "exchange_visible_h")
    rows = study.tools[(study.tools["scenario"] == "today") & (study.tools["exchange"] == ALL)]
    assert rows["visible_min"].sum() == pytest.approx((hours / spans * 4 * 60).mean())
    families = study.families[(study.families["scenario"] == "today") & (study.families["family"] == ALL)]
    assert families["visible_min"].sum() == pytest.approx(rows["visible_min"].sum())


def test_magazine_and_package_are_counted_too(studied):
    study = read_study(studied[1] / "results")
    package = study.run.cheap_at(1.0)
    counted = set(study.tools["scenario"])
    assert {"today", package, "A1", "A1 without look-ahead"} <= counted


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
    monkeypatch.setattr("simkit.experiment.toolcounts.simulate", refuse)
    monkeypatch.setattr("simkit.report.simulate_tools.find_layout", refuse)


@pytest.mark.usefixtures("no_runs")
def test_a_change_of_money_simulates_and_searches_nothing_again(studied, tmp_path, monkeypatch):
    plant = repriced(studied, tmp_path, "quoted = 185000.0", "quoted = 180000.0")
    shutil.copytree(tmp_path / "out" / "runs", tmp_path / "anew" / "runs")
    shutil.copy(tmp_path / "out" / MARKER, tmp_path / "anew")
    said: list[str] = []
    card = simulate_study(plant, tmp_path / "out", say=said.append, **NUMBERS)
    assert said == ["nothing that is simulated has changed: the tables of the earlier report hold"]
    before = read_study(studied[1] / "results").run
    assert card.tool_cases == before.tool_cases
    assert card.physics_hashes == before.physics_hashes
    assert card.money_hashes != before.money_hashes
    monkeypatch.setattr("simkit.report.simulate.card_that_holds", lambda *_: None)
    simulate_study(plant, tmp_path / "anew", say=said.append, **NUMBERS)
    assert len(said) > 2
    assert contents(tmp_path / "out") == contents(tmp_path / "anew")


@pytest.mark.parametrize(
    "change", ["a table by hand", "a table gone", "a card by hand", "the order of prices", "a time"]
)
def test_a_study_that_does_not_answer_is_made_anew(studied, tmp_path, change):
    texts = {
        "the order of prices": ("quoted = 8000.0", "quoted = 5200.0", "options.toml"),
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
    assert "nothing that is simulated has changed" not in said[0]
    if change not in ("the order of prices", "a time"):
        assert contents(tmp_path / "out") == contents(studied[1])


@pytest.mark.parametrize("change", ["no options", "no tools", "two machines"])
def test_a_plant_without_magazine_or_tools_or_with_two_machines_is_studied_and_rendered(tmp_path, change):
    changes = {
        "no options": {},
        "no tools": {"tools": (), "program_tools": (), "programs": punchless()},
        "two machines": {"machines": (MachineRow(machine_id="M1"), MachineRow(machine_id="M2"))},
    }[change]
    folder = write_small_plant(tmp_path / "plant", **changes)
    card = simulate_study(folder, tmp_path / "out", say=lambda _: None, **NUMBERS)
    groups = {case.group for case in card.tool_cases.values()}
    assert not groups & {MAGAZINE, BLIND}
    (page,) = render_studies(folder, tmp_path / "out", ["tools"], say=lambda _: None)
    assert page.failure is None
    words = page.page.read_text(encoding="utf-8")
    assert (NO_TOOLS if change == "no tools" else NO_MAGAZINE) in words


def punchless():
    """The small plant's programs, cut by laser alone."""
    return tuple(dataclasses.replace(p, hits_per_sheet=0, forming_hits_per_sheet=0) for p in small_plant().programs)
