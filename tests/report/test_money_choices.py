"""What the sections about choices say equals what finance says."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.finance.buying import buying_paths, cost_of_waiting, offers_of
from simkit.finance.supplementary import supplementary, ways_for
from simkit.plant.settings_money import Financing
from simkit.report.moneystudy import money_of
from simkit.report.sections import money
from simkit.report.sections import money_choices as choices
from simkit.report.words import number, signed


@pytest.fixture(scope="module")
def cash(study):
    return money_of(study)


def rows_of(block):
    return {row.head: row.cells for row in block.content["rows"] if row.look != "group"}


def with_settings(cash, **update):
    """The money study of the same runs with other settings."""
    plant = cash.study.plant
    settings = plant.settings.model_copy(update=update)
    return money_of(dataclasses.replace(cash.study, plant=dataclasses.replace(plant, settings=settings)))


def test_the_order_of_buying_is_that_of_the_paths(cash):
    """Five runs do not tell the best order from buying nothing, which costs least and stands first."""
    args = (cash.study.plant, cash.today, cash.others, list(cash.results), choices.BUYING_YEARS)
    best = buying_paths(offers_of(*args))[0]
    nothing, *known = buying_paths(offers_of(*args, results=cash.study.results))
    assert best.steps
    assert (nothing.steps, known[0]) == ((), best)
    block = choices.buying_order(cash)
    first, second = block.content["rows"][:2]
    assert "surely" in block.text
    assert (first.head, second.head) == ("nothing at first", cash.study.named(best.first))
    assert second.cells[2] == number(best.value, 0)
    assert second.cells[4] == "0"


def test_a_budget_of_nothing_buys_what_is_free_at_most(cash):
    poor = cash.study.plant.settings.finance.model_copy(update={"capital_budgets": (0.001, 0.0)})
    block = choices.buying_order(with_settings(cash, finance=poor))
    assert "nothing is the best order" in block.text


def test_where_nothing_pays_nothing_is_bought(cash):
    dear = cash.study.plant.settings.finance.model_copy(update={"value_rules": ("hours_only",)})
    assert "nothing is the best order" in choices.buying_order(with_settings(cash, finance=dear)).text


def test_waiting_shows_both_values_and_their_difference(cash):
    names = choices.main_cases(cash)
    found = cost_of_waiting(cash.study.plant, cash.today, cash.others, names)
    rows = rows_of(choices.waiting(cash))
    assert len(found) == len(names) > 1
    for name, one in found.items():
        assert rows[cash.study.named(name)] == (number(one.now, 0), number(one.later, 0), signed(one.gain, 0))


def test_ways_of_paying_need_an_offer_and_then_show_their_cash(cash):
    assert "names no offer" in choices.ways_of_paying(cash).text
    offered = with_settings(cash, financing=Financing(loan_share=0.5, loan_rate=0.03, lease_rent_share=0.25))
    rows = rows_of(choices.ways_of_paying(offered))
    ways = ways_for(offered.cashflow, offered.best_bought.scenario, offered.study.plant.settings.financing)
    assert [rows[way.name][0] for way in ways] == [signed(way.value, 0) for way in ways]
    assert offered.best_bought.npv == cash.best_bought.npv


def test_measures_beside_the_headline_are_those_of_finance(cash):
    rows = rows_of(choices.beside_the_headline(cash))
    names = choices.main_cases(cash)
    ratio = supplementary(cash.cashflow, names[0]).savings_to_investment
    cell = rows["savings to investment, after tax"][0]
    assert cell == ("–" if ratio is None else number(ratio, 2))


def test_interactions_are_both_less_each_alone(cash):
    rows = rows_of(choices.interactions(cash))
    extra = cash.results["A1+A4"].npv - cash.results["A1"].npv - cash.results["A4"].npv
    assert rows["A1 and A4"][3].startswith(f"{signed(extra, 0)} ± ")


def test_terms_and_register_say_what_the_settings_say(cash):
    rows = rows_of(money.demand_and_terms(cash))
    assert "nominal money and rate" in rows["the table rests on"][0]
    assert "straight line over" in rows["tax rate; depreciation"][0]
    finance = cash.study.plant.settings.finance.model_copy(
        update={"rate_basis": "real", "growth_basis": "real", "depreciation": "table", "depreciation_table": "macrs_5"}
    )
    other = rows_of(money.demand_and_terms(with_settings(cash, finance=finance)))
    assert "discount rate, real" in other
    assert "table macrs_5" in other["tax rate; depreciation"][0]
    assert {cells[3] for cells in rows_of(money.benefits_register(cash)).values()} == {"not named"}
