"""The package by value: real cash flows on a model whose subcontracted hours are a table by options."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from simkit.analysis.option_sets import Options, low_capital_options, why_illegal
from simkit.analysis.package import FIRST_REPLICATION, SetRuns, all_that_save, best_package
from simkit.analysis.set_search import search
from simkit.experiment.cache import Run
from simkit.experiment.replication import RunSteps
from simkit.finance.measures import npv
from simkit.plant.options import Option, Range, ShareRange
from simkit.plant.plant import PlantInputs, ScenarioInputs
from tests.experiment.fake import option, plant_with_options, runs_in
from tests.finance.hand import hand_plant

LEVELS = (1.0, 1.25)
GIVEN_OUT_H = 20.0
SAVED_H = {"N1": 6.0, "N2": 5.0, "N3": 5.0, "N4": 0.0, "N5": 1.0, "N6": 5.0, "R1": 12.0}
"""Hours a week that an option keeps in house."""
SHARED_H = {("N1", "N2"): 4.0, ("N1", "N3"): 4.0, ("N2", "N6"): 5.0}
"""Hours that two options save both, so once."""
HOUR_A_WEEK = npv(0.1, [0.0, *[50 * 110.0] * 4])
"""Value of an hour a week less given out: 50 weeks of four years at 110."""
UNITS = {"span_weeks": "weeks", "hours_needed": "h", "inhouse_h": "h", "overtime_h": "h", "subcontract_h": "h",
         "unmet_h": "h", "late_share": "share", "refused_share": "share"}  # fmt: skip


def draw(today: ScenarioInputs, seed: int, replication: int, weeks: float, demand_factor: float) -> dict[str, float]:
    luck = np.random.default_rng([seed, replication]).normal(1.0, 0.05)
    return {"luck": luck, "weeks": weeks, "demand": demand_factor}


def run(scenario: ScenarioInputs, draws: dict[str, float]) -> Run:
    held = set(scenario.option_ids)
    saved = sum(SAVED_H[name] for name in held) - sum(h for pair, h in SHARED_H.items() if set(pair) <= held)
    given_out = (GIVEN_OUT_H * draws["demand"] - saved * draws["luck"]) * draws["weeks"]
    needed = 80.0 * draws["weeks"] + given_out
    totals = {
        "span_weeks": draws["weeks"], "hours_needed": needed, "inhouse_h": needed - given_out, "overtime_h": 0.0,
        "subcontract_h": given_out, "unmet_h": 0.0, "refused_share": 0.0,
        "late_share": 0.5 * draws["luck"] if "R1" in held else 0.0,
    }  # fmt: skip
    return Run(totals, {})


def run_and_count(scenario: ScenarioInputs, draws: dict[str, float]) -> Run:
    Path(os.environ["SIMKIT_TEST_RUNS"], f"{len(os.listdir(os.environ['SIMKIT_TEST_RUNS']))}").touch()
    return run(scenario, draws)


def units() -> dict[str, str]:
    return UNITS


MODEL, COUNTED = RunSteps(draw, run, units), RunSteps(draw, run_and_count, units)


def cheap(name: str, search_factor: float, capital: float = 1000.0, **more: Any) -> Option:
    return option(name, "low_capital", search_factor, capital=Range(low=capital, quoted=capital, high=capital), **more)


def plant_of(*names: str, **more: Any) -> PlantInputs:
    """Options whose physics differ, except those of N2 and N6."""
    factors = {name: 0.99 - place / 100 for place, name in enumerate(SAVED_H)} | {"N6": 0.98}
    options = [cheap(name, factors[name], **more.get(name, {})) for name in names]
    return hand_plant(*options, option("A1", "bought", 0.5), value_rules=("subcontract",))


def best(plant: PlantInputs, **more: Any) -> Options:
    return best_package(plant, LEVELS, model=more.pop("model", MODEL), seed=7, weeks=2.0, workers=1, **more)


def runs_of(plant: PlantInputs, first: int = FIRST_REPLICATION, replications: int = 4) -> SetRuns:
    run = {"model": MODEL, "seed": 7, "weeks": 2.0, "workers": 1}
    return SetRuns(plant, LEVELS, replications, run, first)


def test_only_low_capital_options_are_candidates() -> None:
    assert low_capital_options(plant_with_options()) == ("N1", "N2", "N3", "N4")


def test_an_illegal_combination_says_why() -> None:
    assert why_illegal(plant_with_options(), ("N1", "N2")) == ""
    assert "N2" in why_illegal(plant_with_options(), ("N4",))


@pytest.fixture(scope="module")
def three() -> tuple[PlantInputs, SetRuns, Options]:
    """The plant, what was run for the choice, and the package, as ``best_package`` finds it."""
    plant = plant_of("N1", "N2", "N3", "N4", "N5", N5={"capital": 30_000.0})
    runs, names = runs_of(plant), low_capital_options(plant)
    package = search(runs, names, lambda: all_that_save(runs, names))
    assert best(plant) == package
    return plant, runs, package


def test_a_set_is_worth_what_its_hours_are_worth(three: tuple[PlantInputs, SetRuns, Options]) -> None:
    """Five hours a week less given out, less the capital of 1000."""
    runs = runs_of(three[0])
    runs.add([("N2",)])
    today = ScenarioInputs("today", three[0])
    luck = np.mean([draw(today, 7, FIRST_REPLICATION + k, 2.0, 1.0)["luck"] for k in range(4)])
    assert runs.score(("N2",)) == pytest.approx(5 * luck * HOUR_A_WEEK - 1000.0)
    assert runs.score(()) == 0.0
    assert runs.cost(("N2",)) == pytest.approx((1000.0, 102.5 - 5 * luck)), "80 h in house, 20 and 25 h over"


def test_forward_takes_a_member_that_backward_drops(three: tuple[PlantInputs, SetRuns, Options]) -> None:
    """N1 saves most alone, and beside N2 and N3 it makes two hours a week more be given out."""
    _, runs, package = three
    assert max((("N1",), ("N2",), ("N3",)), key=runs.score) == ("N1",)
    without = runs.gain(("N2", "N3"), ("N1", "N2", "N3"))
    assert without.mean == pytest.approx(2 * HOUR_A_WEEK + 1000.0, rel=0.1)
    assert package == ("N2", "N3")


def test_what_gains_nothing_or_costs_more_than_it_gains_stays_out(three: tuple[PlantInputs, SetRuns, Options]) -> None:
    _, runs, package = three
    assert not {"N4", "N5"} & set(package)
    assert runs.gain(("N5",), ()).mean == pytest.approx(HOUR_A_WEEK - 30_000.0, rel=0.1)


def test_an_option_that_costs_and_gains_nothing_is_not_taken() -> None:
    assert best(plant_of("N4", N4={"capital": 0.0})) == ()


def test_no_subset_that_was_run_and_no_single_member_is_worth_more(three: tuple[PlantInputs, SetRuns, Options]) -> None:
    """On the replications of the choice exactly, on others within the interval of the difference."""
    plant, runs, package = three
    subsets = [options for options in runs.known if set(options) < set(package)]
    assert {("N2",), ("N3",), ()} <= set(subsets)
    assert all(runs.score(options) < runs.score(package) for options in subsets)
    fresh = runs_of(plant, first=0, replications=6)
    fresh.add([package, *subsets])
    assert all(fresh.gain(options, package).low <= 0 for options in subsets)


def test_the_choice_has_replications_of_its_own(three: tuple[PlantInputs, SetRuns, Options]) -> None:
    runs = runs_of(three[0])
    assert sorted(runs.results.frame["replication"].unique()) == [FIRST_REPLICATION + k for k in range(4)]
    assert runs.results.demand_factors == LEVELS


def test_who_refuses_orders_or_is_late_does_not_compete() -> None:
    plant = plant_of("R1", "N2")
    assert best(plant) == ("N2",)
    runs = runs_of(plant)
    runs.add([("R1",), ("N2",)])
    assert runs.why_not(("R1",)).startswith("at demand 1, 50 % of orders late")
    assert runs.score(("R1",)) > runs.score(("N2",)), "it would win by value alone"


@pytest.mark.parametrize(("dear", "kept"), [("N2", "N6"), ("N6", "N2")])
def test_equal_scenarios_share_a_run_and_the_cheapest_is_named(
    dear: str, kept: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """N2 and N6 change the same: one run serves both, at two levels and on four replications."""
    monkeypatch.setenv("SIMKIT_TEST_RUNS", str(tmp_path))
    assert best(plant_of("N2", "N6", **{dear: {"capital": 2000.0}}), model=COUNTED) == (kept,)
    assert runs_in(tmp_path) == 3 * 2 * 4, "today, either of the two, and both together"


def test_prices_change_the_choice_and_only_missing_sets_are_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With N2 and N3 dear, N1 stays alone; all that is tried on the way was run before."""
    counted = tmp_path / "counted"
    counted.mkdir()
    monkeypatch.setenv("SIMKIT_TEST_RUNS", str(counted))
    first = best(plant_of("N1", "N2", "N3"), model=COUNTED, cache_dir=tmp_path / "runs")
    before = runs_in(counted)
    dear = {"capital": 80_000.0}
    other = best(plant_of("N1", "N2", "N3", N2=dear, N3=dear), model=COUNTED, cache_dir=tmp_path / "runs")
    assert (first, other) == (("N2", "N3"), ("N1",))
    assert runs_in(counted) == before


def test_what_others_bring_lasts_where_only_one_of_a_set_fades() -> None:
    """N2 fades to 0.8 after a year: the set reads what N2 brings alone, which is simulated for it."""
    faded = {"persistence": ShareRange(low=0.5, quoted=0.8, high=1.0)}
    runs = runs_of(plant_of("N2", "N3", N2=faded))
    runs.add([("N2", "N3")])
    assert ("N2",) in runs.known
    runs.add([("N3",)])
    assert runs.score(("N2", "N3")) == pytest.approx(runs.score(("N2",)) + runs.score(("N3",)))


def test_a_plant_without_cheap_options_has_no_package() -> None:
    assert best(plant_of()) == ()
