"""Risk of a cash flow: laws, samples, what they say, and how well; cases against worked and exact answers."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pandas as pd
import pytest
from scipy.stats import kstest, norm, spearmanr
from scipy.stats import t as student

from simkit.base.messages import BadInput
from simkit.experiment.intervals import pseudo_values, t_interval
from simkit.experiment.results import Results
from simkit.finance import riskmodel
from simkit.finance.cashflow import build_cashflow
from simkit.finance.guards import money_findings
from simkit.finance.inputs import ScenarioTotals, prices_of, totals_from
from simkit.finance.measures import npv
from simkit.finance.riskinputs import (
    PRICES,
    RiskInput,
    pairs_of,
    range_findings,
    register,
    typical_values,
    with_values,
)
from simkit.finance.risklaws import correlated, correlation_matrix, even_points, quantiles, shared_luck
from simkit.finance.riskmodel import RiskModel
from simkit.finance.riskoptimism import UPLIFTS, past_ratios
from simkit.finance.risksummary import (
    condition,
    default_share,
    expected_shortfall,
    half_difference,
    percentiles,
    sample,
    summary,
)
from simkit.plant.options import CapitalLine, Option, Range, ShareRange, capital_of
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.settings_risk import Correlation, PastProject, Risk, RiskRange
from simkit.plant.tables import Element
from tests.finance.hand import CHEAP, CREW, hand_plant, today, totals

DEMAND = (1.0, 1.0)
NOTHING = {name: RiskRange(input=name, low=0, high=0) for name in ()}


def fixed(plant: PlantInputs, option_ids: tuple[str, ...], *kept: RiskRange) -> tuple[RiskRange, ...]:
    """Ranges without a width for every price and term but those given."""
    named = {row.input for row in kept}
    values = typical_values(plant, option_ids)
    rest = [RiskRange(input=n, low=v, high=v) for n, v in values.items() if n not in named]  # type: ignore[arg-type]
    return (*kept, *rest)


def with_risk(plant: PlantInputs, **risk: object) -> PlantInputs:
    return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"risk": Risk(**risk)}))  # type: ignore[arg-type]


def two_uniform(**more: object) -> RiskModel:
    """D38: -(90000 + 30000 v) + (20000 + 20000 u) x annuity of 5 years at 10 %, u and v uniform.

    8 h a week given out, 50 weeks, 50 to 100 an hour; capital of 90 000 to 120 000.
    """
    option = Option(id="A1", name="x", kind="bought", capital=Range(low=90_000, quoted=105_000, high=120_000))
    plant = hand_plant(option, horizon_years=5, depreciation_years=5)
    money = plant.settings.money.model_copy(update={"subcontract_per_h": 75.0})
    plant = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"money": money}))
    own = RiskRange(input="subcontract", low=50, high=100, basis="quoted")
    settings = {"law": "uniform", "samples": 8192, **more}
    plant = with_risk(plant, ranges=fixed(plant, ("A1",), own), **settings)
    both = {"today": today(), "A1": totals(subcontract_h=0.0)}
    return RiskModel(plant, both, register(plant, ("A1",), DEMAND))


# ---- laws and points ----


@pytest.mark.parametrize("law", ["triangular", "pert", "uniform"])
def test_a_law_reaches_from_low_to_high_and_has_its_mean(law):
    share = (np.arange(20_000) + 0.5) / 20_000
    values = quantiles(law, 2.0, 3.0, 8.0, share)
    assert np.all(np.diff(values) >= 0)
    assert quantiles(law, 2.0, 3.0, 8.0, np.array([0.0, 1.0])).tolist() == pytest.approx([2.0, 8.0])
    mean = {"triangular": 13 / 3, "pert": (2 + 12 + 8) / 6, "uniform": 5.0}[law]
    assert values.mean() == pytest.approx(mean, abs=1e-3)


def test_a_range_of_no_width_and_one_that_does_not_ascend():
    assert quantiles("triangular", 4.0, 4.0, 4.0, np.array([0.1, 0.9])).tolist() == [4.0, 4.0]
    with pytest.raises(ValueError, match="do not ascend"):
        quantiles("triangular", 4.0, 3.0, 5.0, np.array([0.5]))


def test_points_are_even_repeatable_and_keep_their_law_when_correlated():
    points = even_points(512, 3, seed=4)
    assert np.array_equal(points, even_points(512, 3, seed=4))
    assert not np.array_equal(points, even_points(512, 3, seed=5))
    assert [len(np.unique((points[:, i] * 512).astype(int))) for i in range(3)] == [512] * 3
    moved = correlated(points, correlation_matrix(["a", "b", "c"], {("a", "b"): 0.8}))
    assert np.corrcoef(moved[:, 0], moved[:, 1])[0, 1] == pytest.approx(0.786, abs=0.04)
    assert abs(spearmanr(moved[:, 0], moved[:, 2]).statistic) < 0.1
    assert all(kstest(moved[:, i], "uniform").pvalue > 0.01 for i in range(3))


def test_full_correlation_makes_two_inputs_one():
    moved = correlated(even_points(64, 2, seed=1), correlation_matrix(["a", "b"], {("a", "b"): 1.0}))
    assert moved[:, 0] == pytest.approx(moved[:, 1], abs=1 / 64)


def test_impossible_correlations_are_refused():
    with pytest.raises(BadInput, match="negative eigenvalue"):
        correlation_matrix(["a", "b", "c"], {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9})


@pytest.mark.parametrize(("runs", "degrees"), [(2, 1), (4, 3), (8, 7), (20, 18)])
def test_shared_luck_has_no_mean_and_the_tails_of_students_t(runs, degrees):
    luck = shared_luck(even_points(40_000, runs + 1, seed=3), degrees)
    assert luck.shape == (40_000, runs)
    assert luck.mean(axis=0) == pytest.approx(0.0, abs=1e-12)
    law = student(degrees) if degrees > 2 else norm()
    assert np.quantile(luck.sum(axis=1) / np.sqrt(runs), 0.975) == pytest.approx(law.ppf(0.975), rel=0.03)


# ---- the register ----


def test_the_register_names_ranges_bases_and_owners():
    lines = (CapitalLine(line="floor", low=1.0, quoted=2.0, high=3.0), CapitalLine(line="none", quoted=0.0))
    option = Option(id="A1", name="x", kind="bought", owner="buyer", capital=Range(low=9, quoted=10, high=12),
                    capital_lines=lines, yearly_cost=5.0)  # fmt: skip
    plant = with_risk(hand_plant(option, CHEAP), ranges=[RiskRange(input="energy", low=0.1, high=0.3, basis="quoted")])
    found = {one.name: one for one in register(plant, ("A1",), (0.9, 1.05))}
    assert (found["capital A1"].low, found["capital A1"].high, found["capital A1"].owner) == (9, 12, "buyer")
    assert found["line A1 floor"].high == 3.0
    assert "line A1 none" not in found
    assert (found["energy"].typical, found["energy"].basis) == (0.2, "quoted")
    assert (found["gas"].basis, found["gas"].source) == ("default", "common practice, no source")
    assert (found["demand"].low, found["demand"].high) == (0.9, 1.05)
    assert "cut to the simulated demand" in found["demand"].source
    assert "persistence" not in found


def test_a_demand_that_was_simulated_alone_is_no_uncertain_input():
    """The usual range of demand is 0.9 to 1.1 of it: at 1 alone nothing beyond can be read, however far it goes."""
    for own in ((), [RiskRange(input="demand", low=0.8, high=1.3)]):
        names = [one.name for one in register(with_risk(hand_plant(CHEAP), ranges=own), ("N2",), (1.0, 1.0))]
        assert "demand" not in names
        assert names


def test_a_line_of_a_bundle_stands_once():
    line = CapitalLine(line="alarm", low=1.0, quoted=2.0, high=3.0, per="bundle")
    both = [Option(id=i, name=i, kind="bought", capital_lines=(line,)) for i in ("A1", "A2")]
    names = [one.name for one in register(hand_plant(*both), ("A1", "A2"), DEMAND)]
    assert names.count("line alarm") == 1


def test_a_range_beside_its_typical_value_and_unknown_pairs_are_refused():
    plant = with_risk(hand_plant(CHEAP), ranges=[RiskRange(input="energy", low=0.3, high=0.4)])
    with pytest.raises(BadInput, match=r"do not hold the plant's own value 0\.2"):
        register(plant, ("N2",), DEMAND)


@pytest.mark.parametrize(
    ("wrong", "meant"), [("energie", "energy"), ("capital A7", "capital A1"), ("line alarms", "line alarm"),
                         ("time fitt", "time fit")]
)  # fmt: skip
def test_a_correlated_name_that_is_no_input_is_refused_before_anything_is_simulated(wrong, meant):
    line = CapitalLine(line="alarm", quoted=4000, low=3000, high=6000, per="bundle")
    fit = Element(element="fit", unit="s/order", state="changeover", typical=60.0)
    plant = dataclasses.replace(hand_plant(Option(id="A1", name="A1", kind="bought", capital_lines=(line,))),
                                elements=(fit,))  # fmt: skip
    right = with_risk(plant, correlations=[Correlation(first=meant, second="gas", coefficient=0.5)])
    assert pairs_of(right) == {(meant, "gas"): 0.5}
    bad = with_risk(plant, correlations=[Correlation(first=wrong, second="gas", coefficient=0.5)])
    (finding,) = [f for f in money_findings(bad) if f.column == "risk.correlations"]
    assert (finding.value, finding.mend) == (wrong, f"did you mean '{meant}'?")
    with pytest.raises(BadInput, match=f"did you mean '{meant}'"):
        pairs_of(bad)


def every_input() -> RiskModel:
    """A set that has every price and term of the register."""
    fade = ShareRange(low=0.5, quoted=0.8, high=1.0)
    option = Option(id="A1", name="x", kind="bought", capital=Range(low=9e3, quoted=1e4, high=2e4), yearly_cost=500.0,
                    lead_weeks=20.0, life_years=9.0, persistence=fade, yearly_labour_h=10.0)  # fmt: skip
    finance = {"wage_growth": 0.03, "price_growth": 0.02, "residual_share": 0.1, "ramp_start": 0.5, "ramp_months": 6.0}
    plant = hand_plant(option, **finance)
    small = plant.materials[0].metal
    kg = {f"material_kg_{m.material_id}": 100.0 for m in plant.materials} | {f"scrap_kg_{small}": 30.0}
    more = {"energy_kwh": 90.0, "gas_m3": 50.0, "tools_reground": 4.0}
    less = {"energy_kwh": 60.0, "gas_m3": 20.0, "tools_reground": 1.0, f"scrap_kg_{small}": 20.0}
    hours = {**today().levels[1.0], **kg}
    before = ScenarioTotals("today", {f: {**hours, **more, "overtime_h": 6 * f} for f in (1.0, 2.0)}, (), CREW)
    with_it = {f: {**hours, **less, "overtime_h": f, "subcontract_h": 2.0} for f in (1.0, 2.0)}
    after = ScenarioTotals("A1", with_it, ("A1",), CREW)
    return RiskModel(plant, {"today": before, "A1": after}, register(plant, ("A1",), (1.0, 2.0)))


def test_every_price_and_term_changes_the_value():
    """An input that changes nothing would be a name that leads nowhere."""
    model = every_input()
    base = model.base("A1")
    unchanged = [
        one.name
        for one in model.inputs
        if abs(model.values({one.name: np.array([one.high])}, ["A1"]).npv["A1"][0] - base) < 1e-6
    ]
    assert unchanged == []
    assert {one.name for one in model.inputs} == {"capital A1", *PRICES}


def test_typical_values_put_in_place_change_nothing():
    plant = hand_plant(Option(id="A1", name="x", kind="bought", yearly_cost=5.0, lead_weeks=3.0))
    values = {one.name: one.typical for one in register(plant, ("A1",), DEMAND)}
    prices, finance, found = with_values(prices_of(plant), plant.settings.finance, [totals()], values)
    same = build_cashflow(plant, today(), found, finance=finance, prices=prices)
    assert same.rows == build_cashflow(plant, today(), [totals()]).rows


def test_all_samples_of_all_inputs_are_one_building_of_the_table(monkeypatch):
    """500 cases that differ in every price and term, lead time and demand too, and each is what it is alone."""
    built = []
    monkeypatch.setattr(riskmodel, "build_cashflow", lambda *a, **k: built.append(1) or build_cashflow(*a, **k))
    model = every_input()
    shares = np.random.default_rng(3).random((500, len(model.inputs)))
    cases = {one.name: one.at(shares[:, place]) for place, one in enumerate(model.inputs)}
    values = model.values(cases, ["A1"]).npv["A1"]
    assert (len(built), len(np.unique(values))) == (1, 500)
    for case in range(0, 500, 25):
        alone = model.values({name: drawn[[case]] for name, drawn in cases.items()}, ["A1"]).npv["A1"]
        assert values[case] == pytest.approx(alone[0], rel=1e-9)


# ---- samples against exact answers ----


def test_two_uniform_inputs_against_the_exact_law():
    """D38, exact: mean 8 723.6, chance of gain 0.615063, P10 -22 856.0, P50 8 723.6, P90 40 303.2."""
    model = two_uniform()
    found = summary(sample(model, ["A1"], model.plant.settings.risk), "A1", 3.0)
    assert found.mean == pytest.approx(8_723.603, abs=120)
    assert 1 - found.chance_of_loss == pytest.approx(0.615063, abs=0.006)
    three = (found.p10, found.p50, found.p90)
    assert three == pytest.approx((-22_856.0, 8_723.6, 40_303.2), abs=350)
    assert found.half_difference < 700
    assert found.samples == 8192


def test_fully_correlated_inputs_against_the_exact_law():
    """With u = v the value is linear in one uniform input: P10, P50, P90 lie at u = 0.1, 0.5, 0.9."""
    pair = Correlation(first="subcontract", second="capital A1", coefficient=1.0)
    model = two_uniform(correlations=[pair])
    found = summary(sample(model, ["A1"], model.plant.settings.risk), "A1")
    exact = [npv(0.1, [-(90_000 + 30_000 * u), *[20_000 + 20_000 * u] * 5]) for u in (0.1, 0.5, 0.9)]
    assert (found.p10, found.p50, found.p90) == pytest.approx(exact, abs=30)
    assert found.half_difference < 30


def test_zero_ranges_give_a_point_and_wider_ranges_widen():
    model = two_uniform()

    def width(scale: float) -> float:
        narrow = tuple(
            dataclasses.replace(one, low=one.typical - scale * (one.typical - one.low),
                                high=one.typical + scale * (one.high - one.typical))
            for one in model.inputs
        )  # fmt: skip
        found = summary(sample(dataclasses.replace(model, inputs=narrow), ["A1"], model.plant.settings.risk), "A1")
        return found.p90 - found.p10

    widths = [width(scale) for scale in (0.0, 0.25, 0.5, 1.0)]
    assert widths[0] == 0.0
    assert widths == sorted(widths)
    assert widths[3] == pytest.approx(4 * widths[1], rel=1e-6)
    still = sample(dataclasses.replace(model, inputs=()), ["A1"], model.plant.settings.risk)
    assert np.unique(still.outcome.npv["A1"]).tolist() == [pytest.approx(model.base("A1"))]


LIVES = {3: 0.05, 4: 0.10, 5: 0.30, 6: 0.25, 7: 0.15, 8: 0.10, 9: 0.03, 10: 0.02}
FLOWS = {1000: 0.02, 1500: 0.03, 2000: 0.15, 2500: 0.15, 3000: 0.30, 3500: 0.20, 4000: 0.15}


def discrete(law: dict[int, float], share: np.ndarray) -> np.ndarray:
    return np.array(list(law))[np.searchsorted(np.cumsum(list(law.values())) - 1e-12, share)]


def test_a_discrete_example_by_exact_enumeration_and_by_points():
    """D37, 56 combinations: mean -573.21, sd 3934.86, chance of gain .4850, P10 -5418.4, P50 -710.9, P90 4421.0."""
    value = {(a, n): npv(0.1, [-13_000.0, *[float(a)] * n]) for a, n in itertools.product(FLOWS, LIVES)}
    chance = {(a, n): FLOWS[a] * LIVES[n] for a, n in value}
    mean = sum(chance[k] * value[k] for k in value)
    assert mean == pytest.approx(-573.21, abs=0.01)
    assert sum(chance[k] * (value[k] - mean) ** 2 for k in value) ** 0.5 == pytest.approx(3934.86, abs=0.01)
    assert sum(chance[k] for k in value if value[k] > 0) == pytest.approx(0.4850, abs=1e-4)
    points = even_points(20_000, 2, seed=11)
    pairs = zip(discrete(FLOWS, points[:, 0]), discrete(LIVES, points[:, 1]), strict=True)
    sampled = np.array([value[int(a), int(n)] for a, n in pairs])
    assert abs(sampled.mean() - mean) < 4 * 3934.86 / np.sqrt(20_000)
    assert (sampled > 0).mean() == pytest.approx(0.4850, abs=0.01)
    low, middle, high = percentiles(sampled)
    assert (low, high) == pytest.approx((-5418.4, 4421.0), abs=0.1)
    assert sum(chance[k] for k in value if value[k] < -710) == pytest.approx(0.5)  # so P50 is this value or the next
    assert round(middle, 1) in (-710.9, -320.5)
    assert expected_shortfall(sampled) == pytest.approx(
        sum(chance[k] * value[k] for k in value if value[k] < 0) / sum(chance[k] for k in value if value[k] < 0), abs=60
    )


def test_numbers_of_a_few_values():
    values = np.array([-4.0, -2.0, 1.0, 3.0])
    assert expected_shortfall(values) == -3.0
    assert expected_shortfall(values, -9.0) == 0.0
    assert half_difference(np.array([1.0, 1.0, 3.0, 3.0])) == 2.0
    assert percentiles(np.array([1.0, np.inf, 2.0, 3.0]))[2] == np.inf


# ---- the error of simulation ----


def measured(seed: int, runs: int = 8) -> Results:
    """Hours of today and A1 that share their luck."""
    generator = np.random.default_rng(seed)
    rows = []
    for run in range(runs):
        luck = generator.normal(0, 2.0)
        for name, hours in (("today", 8.0 + luck), ("A1", 2.0 + luck + generator.normal(0, 0.3))):
            for measure, value in {**today().levels[1.0], "subcontract_h": hours, "late_share": 0.0}.items():
                rows.append((name, 1.0, run, measure, value, "h"))
    columns = ["scenario", "demand_factor", "replication", "measure", "value", "unit"]
    return Results(pd.DataFrame(rows, columns=columns))


def test_the_error_of_simulation_agrees_with_the_jackknife_and_shared_luck_cancels():
    option = Option(id="A1", name="x", kind="bought", capital=Range(low=1e4, quoted=1e4, high=1e4))
    plant = hand_plant(option)
    scenarios = [ScenarioInputs("today", plant), ScenarioInputs("A1", plant, ("A1",))]
    results = measured(2)
    found = totals_from(results, scenarios)
    plant = with_risk(plant, ranges=fixed(plant, ("A1",)), samples=8192)
    model = RiskModel(plant, found, register(plant, ("A1",), DEMAND), replications=results)
    sampled = sample(model, ["A1"], plant.settings.risk)
    drawn, base = sampled.outcome.npv["A1"], model.base("A1")
    known = t_interval(pseudo_values(base, model.without_each(["A1"]).npv["A1"]))
    hours = results.paired("A1", "today", "subcontract_h").half_width
    assert known.half_width == pytest.approx(hours * 50 * 110 * 3.169865446)
    assert np.quantile(drawn, [0.025, 0.975]) == pytest.approx([known.low, known.high], rel=0.02)
    found = summary(sampled, "A1")
    assert (found.mean, found.simulation_share) == (pytest.approx(base), pytest.approx(1.0))


def test_the_share_that_is_error_of_the_simulation_and_the_rest_make_the_whole():
    """Capital 10,000 +- 10,000 evenly, variance 1e8 / 3, beside an error of known variance."""
    option = Option(id="A1", name="x", kind="bought", capital=Range(low=0.0, quoted=1e4, high=2e4))
    plant = hand_plant(option)
    scenarios = [ScenarioInputs("today", plant), ScenarioInputs("A1", plant, ("A1",))]
    results = measured(2, runs=30)
    totals_found = totals_from(results, scenarios)
    inputs = (RiskInput("capital A1", "capital", "CU", 0.0, 1e4, 2e4, "quoted", law="uniform"),)
    model = RiskModel(plant, totals_found, inputs, replications=results)
    found = summary(sample(model, ["A1"], with_risk(plant, samples=8192).settings.risk), "A1")
    values = pseudo_values(model.base("A1"), model.without_each(["A1"]).npv["A1"])
    error = values.var(ddof=1) / 30 * 29 / 27  # the variance of Student's t with 29 degrees of freedom
    assert found.simulation_share == pytest.approx(error / (error + 1e8 / 3), rel=0.05)
    assert summary(sample(dataclasses.replace(model, replications=None), ["A1"], plant.settings.risk), "A1"
                   ).simulation_share is None  # fmt: skip


def test_a_lopsided_range_moves_the_expected_value():
    """Capital 0.9 to 1.5 times its typical 10,000, triangular: its mean is 11,333, so 1,333 more is paid."""
    option = Option(id="A1", name="x", kind="bought", capital=Range(low=9e3, quoted=1e4, high=15e3))
    plant = hand_plant(option)
    both = {"today": today(), "A1": totals(subcontract_h=2.0)}
    capital = RiskInput("capital A1", "capital", "CU", 9e3, 1e4, 15e3, "quoted")
    even = RiskInput("subcontract", "a subcontracted hour", "CU/h", 100.0, 110.0, 120.0, "quoted")
    model = RiskModel(plant, both, (even, capital))
    drawn = summary(sample(model, ["A1"], plant.settings.risk), "A1")
    assert drawn.mean - model.base("A1") == pytest.approx(-4_000 / 3, abs=30)


def test_times_of_elements_act_through_their_slopes():
    """Half an hour a week more given out per minute, 2 minutes longer: 1 h x 50 weeks x 110 a year."""
    plant = hand_plant(Option(id="A1", name="x", kind="bought"))
    one = RiskInput("time fit", "fitting", "min", 1.0, 2.0, 4.0, "estimated")
    slopes = {"time fit": {"A1": {"subcontract_h": 0.5}}}
    model = RiskModel(plant, {"today": today(), "A1": totals(subcontract_h=2.0)}, (one,), slopes=slopes)
    values = model.values({"time fit": np.array([2.0, 4.0])}, ["A1"]).npv["A1"]
    assert values[0] - values[1] == pytest.approx(50 * 110 * 3.169865446)


def test_a_slope_that_leads_past_a_whole_takes_its_part_along():
    """At 1 kg less scrap a week per minute nothing is left of 2 kg after 2 minutes: none of it can be lost sheets."""
    plant = hand_plant(Option(id="A1", name="x", kind="bought"))
    one = RiskInput("time fit", "fitting", "min", 1.0, 2.0, 4.0, "estimated")
    base = {"scrap_kg_MS": 2.0, "lost_kg_MS": 1.0}
    slopes = {"time fit": {"A1": {"scrap_kg_MS": -1.0}}}
    model = RiskModel(plant, {"today": today(**base), "A1": totals(**base)}, (one,), slopes=slopes)
    assert np.isfinite(model.values({"time fit": np.array([2.0, 4.0, 40.0])}, ["A1"]).npv["A1"]).all()


# ---- under which condition ----


def test_the_chance_of_loss_stands_with_its_condition():
    guess, quoted = (RiskInput("a", "a", "", 0, 1, 2, basis) for basis in ("default", "quoted"))
    assert default_share([(guess, -30.0), (quoted, 70.0)]) == pytest.approx(0.3)
    assert condition(True, 0.0, False) == "as far as the ranges of the inputs go"
    assert "uncalibrated" in condition(False, 0.0, True)
    assert "31 % of the swing" in condition(True, 0.31, True)
    assert "error of the simulated hours" in condition(True, 0.31, True)


def test_the_published_uplifts_and_the_plants_own_projects():
    assert [(u.capital_upper, u.capital_lower) for u in UPLIFTS[-1:]] == [(2.0, 0.1)]
    projects = [
        PastProject(name="a", year=2020, capital_planned=100, capital_paid=120, benefit_planned=50, benefit_reached=40),
        PastProject(name="b", year=2022, capital_planned=200, capital_paid=200, weeks_planned=20, weeks_taken=30),
    ]
    found = past_ratios(projects)
    assert found is not None
    assert (found.capital, found.benefit, found.weeks) == (pytest.approx(1.1), 0.8, 1.5)
    assert past_ratios([]) is None


def test_a_range_that_does_not_hold_the_plants_own_value_is_told_before_anything_is_simulated():
    plant = with_risk(hand_plant(CHEAP), ranges=[RiskRange(input="energy", low=0.3, high=0.4)])
    (finding,) = range_findings(plant)
    assert (finding.place, finding.column, finding.value) == ("plant.toml", "risk.ranges", "energy")
    assert finding in money_findings(plant)
    held = with_risk(hand_plant(CHEAP), ranges=[RiskRange(input="energy", low=0.2, high=0.2)])
    assert range_findings(held) == ()


@pytest.mark.parametrize(
    ("name", "low", "high", "why"),
    [
        ("persistence", 0.5, 80.0, "80 means 8000 %; 0.8 is 80 %"),
        ("wage_growth", -1.0, 4.0, "4 means 400 % a year; 0.04 is 4 % a year"),
        ("residual", 0.0, 15.0, "15 means 1500 %; 0.15 is 15 %"),
        ("sheet", 0.9, 120.0, "120 means 12000 %; 1.2 is 120 %"),
        ("demand", 0.9, 130.0, "130 means 13000 %; 1.3 is 130 %"),
        ("energy", -0.1, 0.4, "greater than or equal to 0"),
    ],
)
def test_a_range_keeps_the_limits_of_the_setting_it_varies(name, low, high, why):
    found = range_findings(with_risk(hand_plant(CHEAP), ranges=[RiskRange(input=name, low=low, high=high)]))
    assert any(why in f"{finding.why} {finding.mend}" for finding in found)


def test_twice_the_capital_is_twice_of_all_that_is_paid_at_first():
    """Capital of 10 and 20, a line of 3 and 1 for combining both: 34, and 68 with every amount doubled."""
    line = CapitalLine(line="floor", quoted=3.0)
    one = Option(id="A1", name="x", kind="bought", capital=Range(low=10, quoted=10, high=10), capital_lines=(line,))
    two = Option(id="A4", name="y", kind="bought", capital=Range(low=20, quoted=20, high=20), bundle_adjustment=1.0)
    names = {"capital A1": 20.0, "capital A4": 40.0, "line A1 floor": 6.0, "bundle A4": 2.0, "bundle A1": 0.0}
    plant = hand_plant(one, two)
    prices, _, _ = with_values(prices_of(plant), plant.settings.finance, [], names)
    assert capital_of((one, two)) == 34
    assert capital_of(tuple(prices.options.values())) == 68
