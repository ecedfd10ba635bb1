"""Amounts lead back to runs, states, inputs and events, and every price to who gave it."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from simkit.finance.lines import HEADLINE_CLASSES
from simkit.plant.options import Option
from simkit.plant.paths import values_at
from simkit.plant.tables import TABLES
from simkit.plant.values import Fault
from simkit.report.figures.steps import Step, money_steps
from simkit.report.moneystudy import money_of
from simkit.report.sections import money_trace
from simkit.report.words import plus_minus
from tests.small_plant import small_plant


@pytest.fixture(scope="module")
def cash(study):
    return money_of(study)


def test_steps_of_value_sum_to_the_three_figures(cash):
    for name, result in cash.results.items():
        exhibit = money_trace.value_steps(cash, name)
        assert exhibit.title.startswith(f"{cash.study.named(name)}: from benefits and costs")
        drawn = sum(step.amount for step in money_trace._lines(cash, name, HEADLINE_CLASSES))
        assert drawn == pytest.approx(result.npv, abs=1e-6)


def test_a_total_that_is_no_sum_is_refused():
    steps = [Step("a", 5.0), Step("b", -2.0), Step("sum", 3.0, total=True)]
    assert "a +5" in money_steps(steps, title="t", currency="CU", axis_label="x").alt
    with pytest.raises(ValueError, match="is not the sum"):
        money_steps([*steps[:2], Step("sum", 4.0, total=True)], title="t", currency="CU", axis_label="x")


def test_small_lines_are_drawn_together_and_lose_nothing(cash, monkeypatch):
    name = next(iter(cash.results))
    apart = money_trace._lines(cash, name, HEADLINE_CLASSES)
    monkeypatch.setattr(money_trace, "SMALLEST_SHARE", 0.9)
    together = money_trace._lines(cash, name, HEADLINE_CLASSES)
    assert len(together) < len(apart)
    assert sum(s.amount for s in together) == pytest.approx(sum(s.amount for s in apart))


def test_the_runs_table_is_the_results_table(cash):
    row = money_trace.largest_benefit(cash, "A1")
    assert row is not None
    measure, study_ = money_trace.MEASURE_OF[row.line], cash.study
    level = money_trace._level(cash, row)
    block = money_trace._runs(cash, row)
    before, after = (study_.weekly.values(n, measure, level) for n in ("today", "A1"))
    assert len(block.content["rows"]) == len(before) + 1
    gap = study_.weekly.paired("A1", "today", measure, level)
    assert block.content["rows"][-1].cells[2] == plus_minus(gap, difference=True)
    assert gap.mean == pytest.approx(float(np.mean(after - before)))


def test_the_way_back_names_inputs_with_their_value_today_and_a_command(cash):
    head, runs, states, inputs, events = money_trace.why_this_number(cash, "N2")
    assert "The steps below follow it back" in head.text
    row = inputs.content["rows"][0]
    typical = cash.study.plant.elements
    now = {f"{e.typical:g}" for e in typical if e.element == "tool_search"}
    assert row.cells[0] == "elements[tool_search].typical"
    assert set(row.cells[1].split(", ")) <= now
    assert "--options N2 --seed" in events.text
    assert "--events events.csv" in events.text
    shown = [cell.cells[2] for cell in states.content["rows"]]
    assert shown
    assert runs.content["rows"][-1].look == "total"


def test_values_at_reads_settings_and_rows_and_refuses_a_wrong_way():
    plant = small_plant()
    content, rows = plant.settings.model_dump(mode="json"), {name: getattr(plant, name) for name in TABLES}
    assert values_at("plant.bench.places", content, rows) == [plant.settings.bench.places]
    assert len(values_at("tools[*].price", content, rows)) == len(plant.tools)
    assert values_at("tools", content, rows) == []
    with pytest.raises(Fault):
        values_at("plant.bench.place", content, rows)


def test_a_price_holds_until_its_date_and_needs_a_source():
    option = Option(id="X", name="x", kind="bought", price_source="maker's offer", valid_until="2026-06-30")
    day = dt.date(2026, 6, 30)
    assert money_trace.price_state(option, day) == "valid"
    assert money_trace.price_state(option, day + dt.timedelta(days=1)) == "expired"
    assert money_trace.price_state(option.model_copy(update={"price_source": ""}), day) == "no source"
    assert money_trace.price_state(option.model_copy(update={"valid_until": ""}), day) == "not dated"


def test_every_priced_option_stands_in_the_list_of_prices(cash):
    block = money_trace.who_gave_the_price(cash)
    plant = cash.study.plant
    priced = [o for o in plant.options if o.capital.high or o.yearly_cost or o.capital_lines]
    assert [row.head.split(" ")[0] for row in block.content["rows"]] == [o.id for o in priced]
    assert block.text.startswith(f"Who gave the price, and until when: {len(priced)} of ")


def test_a_case_without_simulated_benefit_says_so(cash, monkeypatch):
    monkeypatch.setattr(money_trace, "MEASURE_OF", {})
    (block,) = money_trace.why_this_number(cash, "A1")
    assert "could be followed back" in block.text
    assert dataclasses.is_dataclass(block)
