"""Tables of a cash flow as a controller asks for them: each number against the cash flow itself, or worked by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt
from math import prod

import numpy as np
import pytest

import simkit as sk
from simkit.analysis.responses import Response
from simkit.desk import money_risk
from simkit.desk.money_tables import price_state
from simkit.experiment.intervals import pseudo_values, t_interval
from simkit.experiment.results import Results
from simkit.finance.buying import buying_paths, offers_of
from simkit.finance.cashflow import build_cashflow
from simkit.finance.evaluate import evaluate
from simkit.finance.financing import ways_for
from simkit.finance.inputs import totals_from
from simkit.finance.ratios import supplementary
from simkit.finance.riskinputs import RiskInput
from simkit.plant.settings_money import Finance
from tests.finance.hand import hours_of
from tests.report.workbook_cases import (
    DEMO,
    DEMO_LEVELS,
    DEMO_SCENARIOS,
    cash_of,
    demo_cash,
    finance_of,
    option_values,
    rebuilt,
    with_plant,
)

ON_TOP = "N1+N2+A1"


@pytest.fixture(scope="module")
def cash():
    return demo_cash()


@pytest.fixture(scope="module")
def plain():
    """Without amounts of rare things, so that totals are those of the results."""
    return cash_of(DEMO, DEMO_SCENARIOS, DEMO_LEVELS)


def with_given_out(cash: sk.CashFlow, hours: float, scenario: str) -> sk.CashFlow:
    """The same study where a scenario gives out so many hours a week more."""
    frame = cash.study.results.frame.copy()
    row = (frame["scenario"] == scenario) & (frame["measure"] == "subcontract_h")
    frame.loc[row, "value"] += 4.0 * hours * frame.loc[row, "demand_factor"]
    return dataclasses.replace(cash.study, results=Results(frame)).money()


# ---- what the amounts are made of ----


@pytest.mark.parametrize("name", ["N1+N2", ON_TOP])
def test_steps_add_up_to_the_three_figures(cash, name):
    steps, result = cash.steps(name), cash.results[name]
    sums = dict(steps.loc[steps["is_sum"], ["step", "amount"]].itertuples(index=False))
    assert sums["Headline"] == pytest.approx(result.npv)
    assert list(sums.values())[-1] == pytest.approx(result.npv_with_signed_sales)
    assert steps.loc[~steps["is_sum"], "amount"].sum() == pytest.approx(result.npv_with_signed_sales)
    axes = sk.plot.waterfall(steps)
    assert [label.get_text().replace("\n", " ") for label in axes.get_yticklabels()] == list(steps["step"])


def test_steps_beyond_another_case_are_the_differences(cash):
    found = cash.steps(ON_TOP, against="N1+N2").set_index("step")["amount"]
    gap = cash.results[ON_TOP].npv - cash.results["N1+N2"].npv
    assert found["Headline"] == pytest.approx(gap)
    assert found["Purchase"] == pytest.approx(-cash.plant.option_by_id["A1"].capital.quoted)
    sk.plot.waterfall(cash.steps(ON_TOP, against="N1+N2"))


def test_a_sum_that_is_none_is_refused(cash):
    with pytest.raises(sk.BadInput, match="add up to"):
        sk.plot.waterfall(cash.steps(ON_TOP).iloc[1:])


def test_the_lines_of_a_year_add_up_to_its_headline(cash):
    table, result = cash.yearly(ON_TOP), cash.results[ON_TOP]
    years = [f"year_{year}" for year in range(9)]
    counted = table[table["benefit_class"].isin(["cash_releasing", "one_time", "cost"])
                    | table["line"].str.contains("reduces the headline")]  # fmt: skip
    assert counted[years].sum().tolist() == pytest.approx(list(result.flows))
    assert table.iloc[-1]["line"] == "Headline"
    assert table.iloc[-1]["present_value"] == pytest.approx(result.npv)


def test_an_amount_leads_back_to_the_hours_of_the_runs(plain):
    found = plain.trace(ON_TOP)
    factors = found[found["what"].str.startswith("×")]
    amount = found[found["what"].str.startswith("=")]["value"].item()
    assert prod(factors["value"]) == pytest.approx(amount)
    lines = plain.lines
    assert amount in lines.loc[lines["scenario"] == ON_TOP, "amount"].tolist()
    level = float(found["where"].iloc[0].split("demand ")[1].split(";")[0])
    for place, name in enumerate(["today", ON_TOP]):
        hours = plain.study.results.values(name, "subcontract_h", level) / 4.0
        assert found["value"][place] == pytest.approx(hours.mean())
        assert found["value_half_width"][place] == pytest.approx(t_interval(hours).half_width)
    assert found["value"].iloc[-1] == pytest.approx(plain.results[ON_TOP].npv)


def test_owners_stand_beside_benefits_and_prices(cash):
    found = cash.owners(ON_TOP)
    prices = found[found["what"].str.startswith("Price of")]
    assert prices["amount"].sum() == pytest.approx(-cash.results[ON_TOP].capital)
    benefits = found.drop(prices.index)
    register = cash.flow.register()
    own = register[(register["scenario"] == ON_TOP) & (register["benefit_class"] != "not_monetised")]
    assert benefits["amount"].sum() == pytest.approx(own["amount"].sum())
    assert f"of {len(benefits)} benefits have no budget" in found.attrs["title"]


def test_a_price_holds_until_its_date(cash):
    option, day = cash.plant.option_by_id["A1"].model_copy(update={"valid_until": "2026-12-31"}), dt.date(2026, 12, 31)
    assert price_state(option, day) == "valid until 2026-12-31"
    assert price_state(option, day + dt.timedelta(days=1)) == "expired on 2026-12-31"
    assert price_state(option.model_copy(update={"valid_until": "spring"}), day) == "not dated"


# ---- cases ----


def test_intervals_are_those_of_a_table_for_each_replication_left_out(plain):
    frame, made = plain.study.results.frame, [scenario.made for scenario in plain.study.scenarios]
    tables = []
    for k in range(plain.study.numbers.replications):
        today, *others = totals_from(Results(frame[frame["replication"] != k]), made).values()
        tables.append(evaluate(build_cashflow(plain.plant, today, others)))
    measures = plain.measures().set_index("scenario")
    for name, result in plain.results.items():
        values = pseudo_values(result.npv, [one[name].npv for one in tables])
        known = t_interval(values, intervals=len(plain.results))
        assert measures.loc[name, "half_width"] == pytest.approx(known.half_width, rel=1e-9)


def test_the_extra_is_the_difference_and_the_title_counts(cash):
    found, gaps = cash.measures(beyond="N1+N2"), cash.differences("N1+N2").set_index("scenario")
    for row in found.to_dict("records")[1:]:
        assert (row["extra"], row["extra_half_width"]) == tuple(gaps.loc[row["scenario"], ["npv", "half_width"]])
    assert found["extra"].isna().tolist() == [True, False, False, False]
    assert found.attrs["title"] == "2 of 4 cases are worth more than nothing, 2 of them clearly"
    assert found["worth_at_most"][0] == pytest.approx(cash.results["N1+N2"].break_even_capital)


def test_what_cannot_be_recommended_says_why_and_does_not_compete(plain):
    best = plain.best()
    worse = with_given_out(plain, 30.0, best)
    told = worse.measures().set_index("scenario")["recommended"]
    assert told[best].startswith("no: at demand")
    assert "more subcontracted than today, and no subcontractor is named" in told[best]
    assert worse.best() not in ("", best)


def test_a_page_says_where_refusing_is_cheaper_than_giving_out(plain):
    dear = with_plant(plain, lambda plant: dataclasses.replace(plant, settings=plant.settings.model_copy(
        update={"money": plant.settings.money.model_copy(update={"margin_per_h": 120.0})})))  # fmt: skip
    assert "loses a margin of 95.0 CU/h: refusing loses less" in plain.answer().head
    assert "refusing would be cheaper" not in dear.answer().head


# ---- other terms ----


def test_each_other_term_is_the_cash_flow_built_with_it(cash):
    found = cash.other_terms().set_index("terms")
    assert found.loc["as quoted, all rules of the plant", ON_TOP] == cash.results[ON_TOP].npv
    today, *others = cash.totals.values()
    for rule, words in (("overtime", "overtime avoided"), ("posts", "whole posts only")):
        finance = Finance.model_validate({**cash.flow.finance.model_dump(), "value_rules": (rule,)})
        built = evaluate(build_cashflow(cash.plant, today, others, finance=finance))
        row = found.loc[f"a freed hour counts as {words}"]
        assert row.to_dict() == pytest.approx({name: one.npv for name, one in built.items()})
    dear = with_plant(cash, finance_of(discount_rate=0.135))
    assert found.loc["13.5\u00a0% a year instead of 9.0\u00a0%", ON_TOP] == pytest.approx(dear.results[ON_TOP].npv)
    high = evaluate(build_cashflow(cash.plant, today, others, case="high"))
    assert found.loc["every option at its high price", "A1"] == pytest.approx(high["A1"].npv)


def test_experience_makes_the_capital_dearer_and_nothing_else(cash):
    found = cash.other_terms().set_index("terms")
    row = next(name for name in found.index if "lower: capital +10" in name)
    option = cash.plant.option_by_id["A1"]
    capital = option.capital.model_copy(update={"quoted": 1.1 * option.capital.quoted, "high": 1e9})
    lines = tuple(line.model_copy(update={"quoted": 1.1 * line.quoted}) for line in option.capital_lines)
    dear = with_plant(cash, option_values("A1", capital=capital, capital_lines=lines))
    levels = {name: dataclasses.replace(one, levels=cash.totals[name].levels) for name, one in dear.totals.items()}
    assert found.loc[row, "A1"] == pytest.approx(rebuilt(dear, dear.plant, levels).results["A1"].npv)


def test_the_order_of_buying_is_that_of_the_paths(cash):
    today, *others = cash.totals.values()
    budgets = cash.flow.finance.capital_budgets
    offers = offers_of(cash.plant, today, others, list(cash.results), max(len(budgets), 3), results=cash.study.results)
    paths = buying_paths(offers, budgets)
    found = cash.buying()
    assert found["value_of_the_order"].tolist() == [path.value for path in paths[:8]]
    assert found["regret"].tolist() == [path.regret for path in paths[:8]]
    assert found.attrs["title"].startswith(f"First {paths[0].first}: ")


def test_increments_go_up_in_capital_from_the_best_so_far(cash):
    found = cash.increments(against="N1+N2")
    assert found["best_so_far"].iloc[0] == "N1+N2"
    capital = [cash.results[name].capital for name in found["scenario"]]
    assert capital == sorted(capital)
    best = cash.results["N1+N2"]
    for row in found.to_dict("records"):
        own = cash.results[row["scenario"]]
        assert row["npv"] == pytest.approx(own.npv - cash.results[row["best_so_far"]].npv)
        assert row["worth_its_extra"] == (own.npv > best.npv)
        best = own if row["worth_its_extra"] else best
    assert cash.increments()["best_so_far"].iloc[0] not in cash.results


def test_further_measures_are_those_of_finance(cash):
    found = cash.more_measures().set_index("measure_and_unit")[ON_TOP]
    beside = supplementary(cash.flow, ON_TOP)
    assert found["savings to investment, after tax"] == pytest.approx(beside.savings_to_investment)
    assert found["static: profit of a mean year, CU"] == pytest.approx(beside.static.profit)
    assert found["equal amount a year of the same value, CU"] == cash.results[ON_TOP].equivalent_annual_value
    for way in ways_for(cash.flow, ON_TOP, cash.plant.settings.financing):
        assert found[f"{way.name}, worth beyond cash, CU"] == way.value
    assert found["hours freed in a year of full use"] == hours_of(cash.flow, "freed", ON_TOP)[-1]
    assert found["... of them turned into no money"] == hours_of(cash.flow, "not_money", ON_TOP)[-1]


# ---- risk ----


def test_the_range_of_values_is_that_of_the_samples(plain):
    found = plain.risk().set_index("scenario")
    for name, result in plain.results.items():
        drawn, row = plain.sampled.outcome.npv[name], found.loc[name]
        assert row["npv"] == result.npv == pytest.approx(plain.model.base(name))
        assert row["mean"] == pytest.approx(drawn.mean())
        assert row[["p10", "p50", "p90"]].tolist() == pytest.approx(
            np.quantile(drawn, [0.1, 0.5, 0.9], method="inverted_cdf").tolist())  # fmt: skip
        assert row["chance_of_loss"] == (drawn < 0).mean()
    assert ("uncalibrated baseline" in found.attrs["note"]) == (not plain.study.plant.calibrated)
    band = plain.by_year().set_index(["scenario", "year"])
    last = np.cumsum(plain.sampled.outcome.flows["A1"], axis=1)[:, -1]
    assert band.loc[("A1", 8), "cumulative_p10"] == pytest.approx(np.quantile(last, 0.1))


def test_swings_are_the_ends_of_one_input_alone(plain):
    found = plain.swings("A1")
    for row in found.head(3).to_dict("records"):
        for end in ("low", "high"):
            alone = plain.model.values({row["input"]: np.array([row[end]])}, ["A1"]).npv["A1"][0]
            assert row[f"npv_at_{end}"] == pytest.approx(alone)
    assert found["variance_share"].notna().sum() == min(6, len(found))
    assert found["title"][0].casefold() in found.attrs["title"].casefold()
    assert len(sk.plot.swings(found).patches) <= 2 * len(found)


def test_flips_bring_the_value_to_zero_the_nearest_first(plain):
    near = with_given_out(plain, 10.0, "today")
    found = near.flips("A1")
    known = found.dropna(subset=["flip"])
    assert {"subcontract", "capital A1"} <= set(known["input"]) < set(found["input"])
    for name, value in zip(known["input"], known["flip"], strict=True):
        assert abs(near.model.values({name: np.array([value])}, ["A1"]).npv["A1"][0]) < 1.0
    distance = (known["flip"] - known["typical"]).abs() / (known["high"] - known["low"])
    assert distance.is_monotonic_increasing
    assert found["flip"].iloc[len(known) :].isna().all()


def test_the_curve_over_demand_meets_the_value_and_its_zero(plain):
    near = with_given_out(plain, 10.0, "today")
    found = near.over_demand().set_index(["scenario", "demand"])["npv"]
    typical = near.model.typical["demand"]
    assert found["A1", typical] == pytest.approx(near.results["A1"].npv)
    at = near.flips("A1").set_index("input")["flip"]["demand"]
    curve = found["A1"]
    crossed = curve.index[:-1][(curve.to_numpy()[:-1] * curve.to_numpy()[1:]) < 0]
    assert any(low <= at <= curve.index[list(curve.index).index(low) + 1] for low in crossed) or np.isnan(at)


def seen(cash: sk.CashFlow, name: str, title: str) -> Response:
    """As if energy, which no budget limits, had been seen to respond to one input."""
    one = RiskInput(name, title, "min", 1.0, 2.0, 4.0, "estimated", "owner", "source")
    return Response(one, {scenario: {"energy_kwh": 20.0} for scenario in cash.totals if scenario != "today"})


def test_times_join_the_ranges_and_leave_the_value_as_it_is(plain, monkeypatch):
    found = (seen(plain, "time fit", "time of fitting"),)
    monkeypatch.setattr(money_risk, "_measured", lambda cash, probes, **run: found)
    timed = plain.with_times()
    assert timed.model.base("A1") == pytest.approx(plain.results["A1"].npv)
    row = timed.swings("A1").set_index("input").loc["time fit"]
    assert row["npv_at_high"] < row["npv"] < row["npv_at_low"]
    assert "times in the ranges: time of fitting" in timed.risk().attrs["note"]
    assert "no time of an element is in the ranges" in plain.risk().attrs["note"]


def test_a_promise_is_told_with_what_it_takes(plain):
    found = money_risk._promise(plain, "A1", seen(plain, "promise exchange", "an exchange"))
    assert found["npv"] == plain.results["A1"].npv
    assert found["npv_if_zero"] > found["npv"]
    assert found["title"].endswith(", at most") == (found["flip"] == found["flip"])
