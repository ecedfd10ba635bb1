"""What stands beside the money: the method, what can be recommended, and where refusing would be cheaper."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.experiment.results import Results
from simkit.finance.lines import LINES, TAX_LINES
from simkit.report.moneystudy import MoneyStudy, money_of
from simkit.report.sections import money, money_method
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.words import shortened
from tests.report.test_sections import rows_of


@pytest.fixture(scope="module")
def cash(study: Study) -> MoneyStudy:
    return money_of(study)


def with_prices(cash: MoneyStudy, **prices: float) -> MoneyStudy:
    plant = cash.study.plant
    changed = plant.settings.model_copy(update={"money": plant.settings.money.model_copy(update=prices)})
    return money_of(dataclasses.replace(cash.study, plant=dataclasses.replace(plant, settings=changed)))


def test_the_method_names_every_line_of_the_table(cash):
    (inner,) = money_method.method(cash).content["parts"]
    words = " ".join(f"{row.head} {' '.join(row.cells)}" for row in inner.content["rows"])
    silent = {"capital_line", "bundle_adjustment", "grant", "hours_only", *TAX_LINES}
    assert [name for name in LINES if name not in words and name not in silent] == []
    assert f"{100 * cash.study.plant.settings.people.utilisation_limit:g} % of paid hours" in words


def test_the_page_says_where_refusing_would_be_cheaper_than_giving_out(cash):
    (said,) = money_method.refusing_instead(with_prices(cash, subcontract_per_h=118.0, margin_per_h=95.0))
    assert "at these prices refusing would be cheaper than giving out" in said
    assert said in money.answer_payback(with_prices(cash, subcontract_per_h=118.0, margin_per_h=95.0)).text
    assert money_method.refusing_instead(with_prices(cash, subcontract_per_h=118.0, margin_per_h=118.0)) == []


def test_what_cannot_be_recommended_keeps_its_value_says_why_and_does_not_compete(cash):
    """The best bought set refuses 200 h more in every run of 4 weeks: its row says so, another one is named."""
    best = cash.best_bought.scenario
    frame = cash.study.results.frame.copy()
    row = (frame["scenario"] == best) & (frame["measure"] == "unmet_h")
    frame.loc[row, "value"] += 200.0
    worse = money_of(dataclasses.replace(cash.study, results=Results(frame)))
    assert worse.best_bought.scenario != best
    cell = rows_of(money.money_table(worse))[cash.study.named(best)][-1]
    assert cell.startswith("no: at demand ")
    assert "h a week more refused than today" in cell
    assert rows_of(money.money_table(cash))[cash.study.named(best)][-1] == "yes"
    assert worse.results[best].npv < cash.results[best].npv
    assert TODAY not in {result.scenario for result in worse.recommendable}


def test_long_decimals_are_shortened_and_whole_numbers_are_not():
    assert shortened("1.42857142857 h x 47 weeks x -0.18 CU/kg; A1.12345 and 185000") == (
        "1.42857 h x 47 weeks x -0.18 CU/kg; A1.12345 and 185000"
    )
