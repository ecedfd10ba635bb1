"""What the sections of risk say: the samples' own numbers with their condition, and flips as found."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from simkit.analysis.responses import COLUMNS
from simkit.base.vocabulary import NO_SOURCE
from simkit.experiment.intervals import pseudo_values, t_interval
from simkit.experiment.results import Results
from simkit.finance.cashflow import build_cashflow
from simkit.finance.evaluate import evaluate
from simkit.finance.inputs import totals_from
from simkit.report.moneystudy import MoneyStudy, money_of
from simkit.report.sections import risk as sections
from simkit.report.sections import risk_inputs
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.words import number, signed


@pytest.fixture(scope="module")
def cash(study: Study) -> MoneyStudy:
    return money_of(study)


def cells(block) -> dict[str, tuple[str, ...]]:
    return {row.head: row.cells for row in block.content["rows"]}


def test_the_model_starts_from_the_values_of_the_money_pages(cash):
    assert set(cash.risk.names) <= set(cash.results)
    assert cash.risk.names
    for name in cash.risk.names:
        assert cash.risk.model.base(name) == pytest.approx(cash.results[name].npv, rel=1e-9)


def test_the_intervals_of_many_tables_are_those_of_one_table_each(cash):
    def build(totals):
        return build_cashflow(cash.study.plant, totals["today"], [t for n, t in totals.items() if n != "today"])

    runs = range(cash.study.run.replications)
    frame = cash.study.results.frame
    rest = [Results(frame[frame["replication"] != k]) for k in runs]
    tables = [evaluate(build(totals_from(one, cash.scenarios))) for one in rest]
    for name, result in cash.results.items():
        values = pseudo_values(result.npv, [one[name].npv for one in tables])
        estimate = t_interval(values, intervals=len(cash.results))
        assert cash.intervals[name].half_width == pytest.approx(estimate.half_width, rel=1e-9)
        assert cash.intervals[name].mean == pytest.approx(result.npv)


def test_the_range_of_values_is_the_samples_with_expected_and_chance_beside_as_quoted(cash):
    block = sections.chances(cash.risk)
    assert [c for c in block.content["columns"] if "as quoted" in c or "expected" in c or "chance" in c] == [
        f"as quoted, {cash.study.currency}", f"expected, {cash.study.currency}", "chance of loss"]  # fmt: skip
    for name in cash.risk.names:
        drawn = cash.risk.sampled.outcome.npv[name]
        row = cells(block)[cash.study.named(name)]
        assert row[:2] == (number(cash.results[name].npv, 0), number(drawn.mean(), 0))
        assert row[2:5] == tuple(number(v, 0) for v in np.quantile(drawn, [0.1, 0.5, 0.9], method="inverted_cdf"))
        assert row[5] == number(100 * cash.risk.summaries[name].simulation_share, 0)
        assert row[7] == f"{100 * (drawn < 0).mean():.0f}\u00a0%"


def test_the_chance_stands_with_its_condition_on_every_surface(cash):
    assert "uncalibrated baseline" in cash.risk.condition
    assert cash.risk.default_share > 0.3
    assert f"{100 * cash.risk.default_share:.0f} % of the swing on default ranges" in cash.risk.condition
    for text in (" ".join(sections.risk_sentences(cash.risk)), sections.quoted_and_expected(cash.risk).text,
                 sections.distribution(cash.risk).note):  # fmt: skip
        assert cash.risk.condition in text


def test_why_the_expected_value_is_not_the_value_as_quoted_adds_up(cash):
    text = sections.quoted_and_expected(cash.risk).text
    main = cash.risk.main
    shift = cash.risk.summaries[main.scenario].mean - main.npv
    assert f"{signed(shift, 0)} {cash.study.currency} from the value as quoted" in text
    title, value = next(iter(cash.risk.lopsided.items()))
    assert f"{title} {signed(value, 0)}" in text
    assert f"known to ± {number(cash.intervals[main.scenario].half_width, 0)}" in text


def test_the_answer_says_the_range_and_where_it_turns(cash):
    text = " ".join(sections.risk_sentences(cash.risk))
    found = cash.risk.summaries[cash.risk.main.scenario]
    assert f"between {number(found.npv.p10, 0)} and {number(found.npv.p90, 0)}" in text
    flip = cash.risk.nearest_flip
    assert ("No single input" in text) if flip is None else (flip.input.title in text)


def with_much_given_out(cash: MoneyStudy) -> MoneyStudy:
    """The same study where today gives out ten hours a week more, so that the main case is near to paying back."""
    frame = cash.study.results.frame.copy()
    row = (frame["scenario"] == TODAY) & (frame["measure"] == "subcontract_h")
    frame.loc[row, "value"] += 40.0 * frame.loc[row, "demand_factor"]
    return money_of(dataclasses.replace(cash.study, results=Results(frame)))


def test_flips_bring_the_value_to_zero(cash):
    risk = with_much_given_out(cash).risk
    main = risk.main.scenario
    found = [flip for flip in risk.flips if flip.value is not None]
    assert {"subcontract", "capital A1"} <= {flip.input.name for flip in found} != {f.input.name for f in risk.flips}
    for flip in found:
        values = risk.model.values({flip.input.name: np.array([flip.value])}, [main])
        assert abs(values.npv[main][0]) < 1.0


@pytest.mark.parametrize("hours", [lambda cash: cash, with_much_given_out])
def test_the_table_of_flips_has_every_input_and_says_where_there_is_none(cash, hours):
    risk = hours(cash).risk
    block = sections.switching_table(risk)
    reach = f"from 0 to 3 times the typical value, for growth up to 10 points from it ({NO_SOURCE})"
    assert reach in block.content["note"]
    rows = cells(block)
    assert len(rows) == len(risk.flips) + 1
    none = [row for head, row in rows.items() if "no flip" in row[1] and "discount" not in head]
    assert len(none) == sum(flip.value is None for flip in risk.flips)
    assert all(row[2] == "–" for row in none)


def test_figures_and_tables_name_what_they_show(cash):
    tornado = sections.tornado_of(cash.risk)
    first = cash.risk.swings[0].input
    assert first.title.lower() in tornado.title.lower()
    assert "default" in tornado.note
    assert "8 cases in 10" in sections.distribution(cash.risk).title
    assert f"wages from 0.6 to 1.8 times the plant's ({NO_SOURCE})" in sections.break_even(cash.risk).note
    assert "everywhere" in sections.break_even(cash.risk).title or "of the map" in sections.break_even(cash.risk).title
    assert "Law: triangular" in risk_inputs.input_register(cash.risk).content["parts"][0].content["note"]


def test_uplifts_scale_capital_and_benefit_apart(cash):
    risk = cash.risk
    base = risk.with_uplifts(1.0, 1.0)
    assert base == {name: pytest.approx(cash.results[name].npv) for name in risk.names}
    dearer, fewer = risk.with_uplifts(1.5, 1.0), risk.with_uplifts(1.0, 0.5)
    assert all(dearer[name] <= base[name] for name in risk.names)
    free = risk.with_uplifts(0.0, 1.0)
    assert fewer == {name: pytest.approx(base[name] - 0.5 * free[name]) for name in risk.names}
    assert len(cells(risk_inputs.optimism(risk))) == 3


def with_responses(study: Study, scenarios: tuple[str, ...], kind: str, name: str) -> MoneyStudy:
    """The study as if energy, which no budget limits, had been seen to respond to one input."""
    about = (name, kind, "time of fitting", "min", 1.0, 2.0, 4.0, "estimated", "owner", "source")
    rows = [(*about, scenario, "energy_kwh", 20.0, 4.0) for scenario in scenarios]
    responses = pd.DataFrame(rows, columns=list(COLUMNS))
    return money_of(dataclasses.replace(study, tables={**study.tables, "responses": responses}))


def test_times_are_in_the_range_only_where_all_cases_were_simulated(study, cash):
    known = with_responses(study, ("today", *cash.risk.names), "time", "time fit").risk
    assert known.times_known
    assert "time fit" in {one.name for one in known.model.inputs}
    assert known.model.base(known.main.scenario) == pytest.approx(cash.results[known.main.scenario].npv)
    some = with_responses(study, ("today",), "time", "time fit").risk
    assert not some.times_known
    assert "Times of elements are not in it" in sections.tornado_of(some).note


def test_a_promise_is_told_with_what_it_takes(study, cash):
    name = cash.risk.main.scenario
    risk = with_responses(study, (name,), "promise", "promise exchange").risk
    (row,) = sections.promises(risk).content["rows"]
    (found,) = risk.promises
    assert found.npv == pytest.approx(cash.results[name].npv)
    assert found.npv_if_perfect > found.npv
    assert row.cells[2] == number(found.npv, 0)
    assert ("at most" in row.cells[4]) == (found.flip.value is not None)
    assert "no magazine" in sections.promises(cash.risk).text
