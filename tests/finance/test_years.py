"""What years are made of: stages, seasons, waiting, growth by line, real and nominal, losses, stock, by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.messages import BadInput
from simkit.finance.breakeven import break_even_capital, headline_at
from simkit.finance.conventions import conventions
from simkit.finance.evaluate import evaluate
from simkit.finance.guards import whole_seasons
from simkit.finance.inputs import ScenarioTotals
from simkit.finance.lines import CLASSES, growth_rate
from simkit.finance.measures import npv
from simkit.finance.roster import Post, Roster
from simkit.finance.tax import taxes
from simkit.finance.timeline import payment_years
from simkit.finance.use import spent_today
from simkit.plant.options import OnceLine, YearlyLine
from simkit.plant.settings_money import BudgetLine, Finance, Money
from tests.finance.hand import (
    BOUGHT,
    CREW,
    MONEY,
    TODAY_H,
    amounts,
    hand_plant,
    hours_of,
    table,
    today,
    totals,
    written,
)
from tests.finance.test_cashflow import GOOD, full_table, priced

small = settings(max_examples=30, deadline=None, derandomize=True)
SAVES = totals(overtime_h=1.0)  # 5 h x 50 weeks x 45 = 11 250 a year


# ---- payments in stages ----


def test_stages_are_paid_where_they_fall_and_written_off_from_the_year_of_use():
    """Lead 78 weeks: order at once, delivery after 0.8 x 1.5 = 1.2 years, acceptance at 1.5 years: years 0, 2, 2."""
    plant = hand_plant(priced(lead_weeks=78.0), payments_at=(0.0, 0.8, 1.0), tax_rate=0.2)
    cash = table(plant, today(), totals())
    assert amounts(cash, "capital") == [-60_000, 0, -40_000, 0, 0]
    assert written(cash) == [0, 25_000, 25_000, 50_000]


def test_stages_without_dates_are_all_paid_at_first():
    assert payment_years(Finance(payments=(("a", 0.5), ("b", 0.5))), 78.0) == (("a", 0.5, 0), ("b", 0.5, 0))


@pytest.mark.parametrize(
    ("changes", "why"),
    [({"payments": (("a", 0.5), ("b", 0.4))}, "do not sum to 1"), ({"payments_at": (0.0,)}, "3 stages have 1 dates")],
)
def test_stages_that_do_not_fit_are_refused(changes, why):
    with pytest.raises(BadInput, match=why):
        table(hand_plant(priced(), **changes), today(), totals())


# ---- waiting ----


def test_a_start_a_year_later_moves_everything_and_pays_the_grown_price():
    option = priced(capital=10_000.0, lead_weeks=26.0, life_years=2.0)
    cash = table(hand_plant(option, start_after_years=1, price_growth=0.1, residual_share=0.1), today(), SAVES)
    assert amounts(cash, "capital") == [0, pytest.approx(-11_000), 0, 0, 0]
    assert amounts(cash, "overtime") == [0, 0, 0.5 * 11_250, 11_250, 11_250]
    assert amounts(cash, "replacement") == [0, 0, 0, 0, pytest.approx(-10_000 * 1.1**3)]
    result = evaluate(cash)["A1"]
    assert result.payback.years == pytest.approx(1 + (11_000 - 5_625) / 11_250)
    assert result.payback_from_acceptance == pytest.approx(result.payback.years - 0.5)


def test_depreciation_begins_with_the_use_and_stock_at_its_moment():
    """Paid at the end of year 1 and used from then on: written off from year 2, stock bound at that moment."""
    option = priced(capital=30_000.0).model_copy(update={"working_capital": 100.0})
    cash = table(hand_plant(option, start_after_years=1, depreciation_years=3, tax_rate=0.2), today(), totals())
    assert written(cash) == [0, 10_000, 10_000, 10_000]
    assert amounts(cash, "working_capital") == [0, -100, 0, 0, 100]
    assert amounts(table(hand_plant(option), today(), totals()), "working_capital") == [-100, 0, 0, 0, 100]


# ---- seasons ----


def by_level(name, options, overtime):
    levels = {f: {**TODAY_H, "overtime_h": h, "hours_needed": 100.0 + h} for f, h in overtime.items()}
    return ScenarioTotals(name, levels, options, CREW)


def test_a_season_reads_its_own_demand():
    """Overtime 0 h below the book, 6 h at 1, 20 h at 1.4: 20 weeks at 0.7, 30 at 1.2 (13 h), all of it saved."""
    before = by_level("today", (), {0.7: 0.0, 1.0: 6.0, 1.4: 20.0})
    after = by_level("A1", ("A1",), {0.7: 0.0, 1.0: 0.0, 1.4: 0.0})
    cash = table(hand_plant(BOUGHT, season=((20.0, 0.7), (30.0, 1.2))), before, after)
    assert amounts(cash, "overtime")[1] == pytest.approx(30 * 13 * 45)
    level = table(hand_plant(BOUGHT), before, after)
    assert amounts(level, "overtime")[1] == pytest.approx(50 * 6 * 45)
    assert hours_of(cash, "overtime")[0] == pytest.approx(30 * 13)
    spent = spent_today(before, cash.prices, cash.finance, 1.0)
    assert spent == {"overtime pay": pytest.approx(30 * 13 * 45), "subcontracting": pytest.approx(50 * 8 * 110)}


def test_two_seasons_alike_are_one():
    cash = table(hand_plant(BOUGHT, season=((20.0, 1.0), (30.0, 1.0))), today(), SAVES)
    assert cash.flows("A1") == pytest.approx(table(hand_plant(BOUGHT), today(), SAVES).flows("A1"))


def test_a_season_outside_the_simulated_demand_is_refused():
    with pytest.raises(BadInput, match=r"not simulated at demand 0.7"):
        table(hand_plant(BOUGHT, season=((20.0, 0.7), (30.0, 1.2))), today(), SAVES)


@pytest.mark.parametrize(
    ("season", "why"), [(((20.0, 1.0),), "weeks sum to 20"), (((20.0, 2.0), (30.0, 1.0)), "mean factor is 1.400")]
)
def test_seasons_that_are_not_a_year_are_refused(season, why):
    (found,) = whole_seasons(Finance(season=season, production_weeks=50))
    assert why in found.why


def test_of_a_season_only_what_is_wrong_is_said():
    """20 weeks at 0.7 and 30 at 1.2 are the 50 weeks, and 14 + 36 of them the year's demand."""
    assert list(whole_seasons(Finance(season=((20.0, 0.7), (30.0, 1.2)), production_weeks=50))) == []


# ---- growth by line, lines by budget ----


def test_a_line_grows_at_its_own_rate():
    before, after = today(parts_kg=100.0, energy_kwh=500.0), totals(parts_kg=100.0, energy_kwh=400.0)
    plant = hand_plant(BOUGHT, price_growth=0.02, growth_of_lines={"energy": 0.1})
    assert amounts(table(plant, before, after), "energy")[1:3] == [pytest.approx(1000), pytest.approx(1100)]
    finance = plant.settings.finance
    assert [growth_rate(finance, line) for line in ("energy", "gas", "overtime", "capital")] == [0.1, 0.02, 0.0, 0.0]


def test_yearly_lines_stand_on_their_budgets_at_the_price_of_the_case():
    lines = (
        YearlyLine(line="full service", budget="service", low=800.0, quoted=1000.0, high=1500.0),
        YearlyLine(line="licence", budget="software", quoted=200.0),
        YearlyLine(line="cups and brushes", budget="spares", quoted=300.0),
    )
    option = BOUGHT.model_copy(update={"yearly_lines": lines, "yearly_cost": 50.0})
    plant = hand_plant(option, price_growth=0.1)
    quoted = table(plant, today(), totals())
    yearly = [amounts(quoted, line)[1] for line in ("service", "software", "spares", "yearly_cost")]
    assert yearly == [-1000, -200, -300, -50]
    assert amounts(quoted, "service")[2] == pytest.approx(-1100)
    assert [amounts(table(plant, today(), totals(), case=c), "service")[1] for c in ("low", "high")] == [-800, -1500]
    assert amounts(table(plant, today(), totals(), case="high"), "software")[1] == -200


def test_rework_costs_what_it_costs_besides_hours():
    """40 parts a week less at 1.5: the hours of rework are bench hours and stand there."""
    money = Money(rework_cost_per_part=1.5, operator_rate_per_h=30.0)
    before, after = today(parts_reworked=60.0), totals(parts_reworked=20.0)
    assert amounts(table(hand_plant(BOUGHT, money=money), before, after), "rework")[1] == 40 * 50 * 1.5
    assert "rework" not in {row.line for row in table(hand_plant(BOUGHT), before, after).rows}


AGENCY = Post("AG-1", "early", ("load",), 40.0, 20.0, agency=True)


def test_agency_hours_are_given_up_and_added_by_the_hour_at_the_price_of_the_invoice():
    before = today(Roster((*CREW.posts, AGENCY), "early", 14.5), **GOOD)
    fewer = Roster((*CREW.posts, dataclasses.replace(AGENCY, day_h_per_week=5.0)), "early", 14.5)
    cash = table(hand_plant(BOUGHT), before, totals(roster=fewer, **GOOD))
    assert amounts(cash, "agency", kind="cash_releasing")[1] == 15 * 50 * 40
    assert amounts(cash, "posts") == [0] * 5
    more = table(hand_plant(BOUGHT), today(fewer), totals(roster=before.roster))
    assert amounts(more, "posts_added", kind="cash_releasing")[1] == -15 * 50 * 40
    off = table(hand_plant(BOUGHT, value_rules=("overtime",)), before, totals(roster=fewer, **GOOD))
    assert "agency" not in {row.line for row in off.rows}


def test_the_register_names_the_plants_budget_its_owner_and_its_date():
    entry = BudgetLine(line="overtime", account="overtime of the hall", owner="works manager", falls_from="2027-01-01")
    cash = table(hand_plant(BOUGHT, budget_lines=(entry,)), today(), totals(overtime_h=1.0, subcontract_h=7.0))
    register = cash.register().set_index("line")
    named = register.loc["overtime", ["account", "budget_owner", "falls_from", "first_year"]].tolist()
    assert named == ["overtime of the hall", "works manager", "2027-01-01", 1]
    assert register.loc["subcontract", "account"] == ""


# ---- stock and single amounts ----


def test_stock_is_bound_with_the_use_and_undone_at_the_horizon_without_tax():
    option = BOUGHT.model_copy(update={"working_capital": 8_000.0, "lead_weeks": 60.0})
    cash = table(hand_plant(option, tax_rate=0.3, price_growth=0.05), today(), totals())
    assert amounts(cash, "working_capital") == [0, 0, -8_000, 0, 8_000]
    assert cash.flows("A1").sum() == pytest.approx(0.0)
    freed = table(hand_plant(option.model_copy(update={"working_capital": -8_000.0})), today(), totals())
    assert amounts(freed, "working_capital") == [0, 0, 8_000, 0, -8_000]


def test_single_amounts_fall_in_their_year_of_use_and_stock_is_not_taxed():
    once = (
        OnceLine(line="stock counted", amount=3_000.0, year=1, what="stock"),
        OnceLine(line="old press sold", amount=2_000.0, year=2),
        OnceLine(line="survey of the floor", amount=-100.0, year=0),
    )
    option = BOUGHT.model_copy(update={"once": once, "lead_weeks": 60.0})
    cash = table(hand_plant(option, tax_rate=0.25), today(), totals())
    assert amounts(cash, "stock") == [0, 0, 3_000, 0, 0]
    assert amounts(cash, "one_time") == [-100, 0, 0, 2_000, 0]
    assert amounts(cash, "tax") == [25, 0, 0, -500, 0]


def test_one_time_stock_is_never_a_yearly_saving():
    """3 000 released once: worth 3 000 / 1.1, not an annuity."""
    option = BOUGHT.model_copy(update={"once": (OnceLine(line="stock", amount=3_000.0, what="stock"),)})
    assert evaluate(table(hand_plant(option), today(), totals()))["A1"].npv == pytest.approx(3_000 / 1.1)


# ---- lives and residual ----


def test_the_life_that_is_left_is_what_remains():
    """Life 3 years from year 0: bought again at 3 (price grown thrice), one year old at 4: two thirds left."""
    plant = hand_plant(priced(life_years=3.0), residual_rule="remaining_life", price_growth=0.1)
    cash = table(plant, today(), totals())
    assert amounts(cash, "residual")[4] == pytest.approx(100_000 * 1.1**3 * 2 / 3)
    longer = table(hand_plant(priced(life_years=16.0), residual_rule="remaining_life"), today(), totals())
    assert amounts(longer, "residual")[4] == pytest.approx(100_000 * 12 / 16)


# ---- depreciation and losses ----


@pytest.mark.parametrize(
    ("changes", "shares"),
    [
        ({}, (0.25, 0.25, 0.25, 0.25)),
        ({"depreciation": "sum_of_years"}, (0.4, 0.3, 0.2, 0.1)),
        ({"depreciation": "declining_balance"}, (0.5, 0.25, 0.125, 0.125)),
        ({"depreciation": "table", "depreciation_table": "macrs_3"}, (0.3333, 0.4445, 0.1481, 0.0741)),
        ({"depreciation_percent": (60.0, 20.0)}, (0.6, 0.2, 0.0, 0.2)),
    ],
)
def test_methods_of_depreciation_all_sum_to_the_cost(changes, shares):
    cash = table(hand_plant(priced(), tax_rate=0.2, **changes), today(), totals())
    assert written(cash) == pytest.approx([100_000 * s for s in shares])


def test_an_unknown_table_is_named_with_the_nearest():
    with pytest.raises(BadInput, match="did you mean 'macrs_5'"):
        table(hand_plant(priced(), depreciation="table", depreciation_table="macr_5"), today(), totals())


def test_a_loss_that_waits_is_set_against_later_profit():
    """Taxed 11 250 a year; 12 000 of 20 000 written off in year 1, the rest in year 4: loss of 750 in year 1."""
    plant = hand_plant(priced(capital=20_000.0), tax_rate=0.2, depreciation_percent=(60.0,), losses="carried_forward")
    cash = table(plant, today(), SAVES)
    paid = cash.flows("A1", lines=["tax", "tax_relief_depreciation", "tax_losses"])
    assert paid == pytest.approx([0, 0, -0.2 * (11_250 - 750), -2_250, -0.2 * (11_250 - 8_000)])
    lost = table(hand_plant(priced(capital=20_000.0), tax_rate=0.2, depreciation_percent=(60.0,), losses="lost"),
                 today(), SAVES)  # fmt: skip
    assert lost.flows("A1", lines=["tax", "tax_relief_depreciation", "tax_losses"])[2] == pytest.approx(-2_250)


@small
@given(st.lists(st.floats(-1e5, 1e5), min_size=1, max_size=10), st.floats(0, 0.6))
def test_losses_that_wait_never_pay_less_tax_than_at_once_and_lost_ones_most(base, rate):
    at_once, later, lost = (np.cumsum(taxes(base, rate, rule)) for rule in ("used_at_once", "carried_forward", "lost"))
    slack = 1e-6 * (1 + np.abs(base).sum())
    assert (later >= at_once - slack).all()
    assert (lost >= later - slack).all()
    assert later[-1] >= -slack


@small
@given(st.sampled_from(["used_at_once", "carried_forward", "lost"]), st.floats(0, 8), st.floats(0, 8), st.floats(0, 4))
def test_tax_of_each_figure_is_that_of_its_own_result(rule, overtime, outside, unmet):
    """The tax rows of the classes that a figure counts sum to the tax on the result of that figure."""
    option = priced(capital=30_000.0, life_years=2.0, yearly_cost=500.0)
    plant = hand_plant(option, tax_rate=0.3, residual_share=0.1, losses=rule)
    cash = table(plant, today(), totals(overtime_h=overtime, subcontract_h=outside, unmet_h=unmet, hours_needed=90.0))
    tax_lines = ["tax", "tax_relief_depreciation", "tax_losses", "tax_on_residual"]
    untaxed = ["capital", "replacement"]
    for classes in (("cash_releasing", "one_time", "cost"), tuple(c for c in CLASSES if c != "not_monetised")):
        base = cash.flows("A1", classes, without=[*tax_lines, *untaxed])
        base[1:] -= written(cash)
        assert -cash.flows("A1", classes, lines=tax_lines) == pytest.approx(taxes(base, 0.3, rule), abs=1e-6)


@pytest.mark.parametrize("losses", ["used_at_once", "carried_forward", "lost"])
@pytest.mark.parametrize(("grant", "wait"), [(0.0, 0), (0.25, 0), (0.25, 1)])
def test_at_the_break_even_capital_the_value_is_zero_under_every_rule(losses, grant, wait):
    """In money of the table, also where the first payment waits."""

    def built(capital):
        option = priced(capital=capital, life_years=3.0, yearly_cost=300.0, lead_weeks=10.0, grant_share=grant)
        return table(
            hand_plant(option, tax_rate=0.3, residual_share=0.1, depreciation_years=3, losses=losses,
                       rate_basis="real", growth_basis="real", inflation=0.03, start_after_years=wait),
            today(), SAVES)  # fmt: skip

    most = break_even_capital(built(20_000.0), "A1")
    assert most is not None
    assert evaluate(built(most))["A1"].npv == pytest.approx(0.0, abs=0.01)
    assert headline_at(built(20_000.0), "A1", 20_000.0) == pytest.approx(evaluate(built(20_000.0))["A1"].flows)


# ---- real and nominal, timing ----


@small
@given(st.floats(-0.02, 0.2), st.floats(0, 0.2), st.floats(-0.05, 0.1), st.floats(0.0, 0.5))
def test_real_and_nominal_settings_of_the_same_world_have_the_same_value(inflation, rate, growth, tax):
    """Nominal settings hold the prices of year 1: those of the as-of date, money of year 0, with a year's inflation.

    The life ends within a year, since a nominal purchase grows by full years and inflation by the year of payment.
    """
    option = priced(capital=20_000.0, yearly_cost=900.0)
    option = option.model_copy(update={"working_capital": 500.0})
    more = 1 + inflation
    dearer = option.model_copy(update={"yearly_cost": 900.0 * more})
    money = MONEY.model_copy(update={"operator_rate_per_h": MONEY.operator_rate_per_h * more})
    lifted = dataclasses.replace(
        CREW, posts=tuple(dataclasses.replace(post, rate_per_h=post.rate_per_h * more) for post in CREW.posts)
    )
    shared = {"tax_rate": tax, "residual_share": 0.1, "losses": "carried_forward"}
    real = hand_plant(option, discount_rate=rate, wage_growth=growth, price_growth=0.01, rate_basis="real",
                      growth_basis="real", inflation=inflation, **shared)  # fmt: skip
    nominal = hand_plant(dearer, money=money, discount_rate=(1 + rate) * more - 1, wage_growth=(1 + growth) * more - 1,
                         price_growth=1.01 * more - 1, **shared)  # fmt: skip
    after = dataclasses.replace(SAVES, roster=lifted)
    values = [
        evaluate(table(plant, before, option))["A1"].npv
        for plant, before, option in ((real, today(), SAVES), (nominal, today(lifted), after))
    ]
    assert values[0] == pytest.approx(values[1], rel=1e-9, abs=1e-6)


@small
@given(st.floats(-0.02, 0.2), st.floats(0, 0.2), st.floats(-0.05, 0.1))
def test_without_tax_and_nominal_parts_the_real_value_does_not_know_inflation(inflation, rate, growth):
    """Gains, posts, running cost and replacement: prices of the as-of date are money of year 0."""
    option = priced(capital=20_000.0, life_years=1.5, yearly_cost=900.0, lead_weeks=13.0)
    option = option.model_copy(update={"yearly_labour_h": 10.0, "stop_days": 2.0})
    fewer = Roster(CREW.posts[:1], "early", 14.5)
    same = {**GOOD, "parts_kg": 100.0}
    before, after = today(**same, energy_kwh=500.0), totals(roster=fewer, **same, energy_kwh=400.0, overtime_h=1.0)

    def real(plain):
        plant = hand_plant(option, discount_rate=rate, wage_growth=growth, price_growth=0.01, rate_basis="real",
                           growth_basis="real", inflation=plain, growth_of_lines={"energy": 0.02})  # fmt: skip
        return table(plant, before, after)

    with_it, without = real(inflation), real(0.0)
    assert {"posts", "overtime", "energy", "replacement", "installation_stop"} <= {row.line for row in with_it.rows}
    assert evaluate(with_it)["A1"].npv == pytest.approx(evaluate(without)["A1"].npv, rel=1e-9, abs=1e-6)
    assert with_it.flows("A1") == pytest.approx(without.flows("A1"))


def test_a_purchase_that_waits_costs_the_same_real_money_at_every_inflation():
    paid = [
        amounts(table(hand_plant(priced(), start_after_years=2, price_growth=0.1, rate_basis="real",
                                 growth_basis="real", inflation=rate), today(), totals()), "capital")
        for rate in (0.0, 0.05)
    ]  # fmt: skip
    assert paid[0] == paid[1] == [0, 0, pytest.approx(-121_000), 0, 0]


def test_inflation_takes_its_share_of_the_tax_relief():
    """Newnan, Ex 14-9, in money of year 0: 6.72 % without inflation, 4.94 % at 5 % (depreciation stays nominal).

    Prices of the as-of date are money of year 0, as printed. Tolerance 0.05 points: digits of the print.
    """
    found = []
    for inflation in (0.0, 0.05):
        option = priced(capital=12_000.0, life_years=6.0)
        money = Money(subcontract_per_h=2_918 / 50)
        plant = hand_plant(option, money=money, horizon_years=6, depreciation_years=6, tax_rate=0.46,
                           rate_basis="real", growth_basis="real", inflation=inflation)  # fmt: skip
        found += evaluate(table(plant, today(), totals(subcontract_h=7.0)))["A1"].irr.roots
    assert found == pytest.approx([0.0672, 0.0494], abs=5e-4)


def test_monthly_flows_fall_between_mid_year_and_the_end():
    def value(timing):
        return evaluate(table(hand_plant(priced(), timing=timing), today(), SAVES))["A1"].npv

    assert value("end_year") < value("monthly") < value("mid_year")
    monthly = [-100_000.0, *[11_250 / 12] * 48]
    assert value("monthly") == pytest.approx(npv(1.1 ** (1 / 12) - 1, monthly))


def test_conventions_are_said_in_words():
    plant = hand_plant(BOUGHT, timing="monthly", losses="lost", start_after_years=1, depreciation="declining_balance")
    words = "; ".join(conventions(plant.settings.finance))
    assert "twelve equal parts" in words
    assert "nominal money and rate" in words
    assert "losses relieve no tax" in words
    assert "declining balance at 2 / life over 4 years" in words
    assert "first payment 1 years after" in words


def test_working_capital_and_all_other_rows_are_the_product_of_their_basis_in_real_money():
    cash = full_table()
    assert all("in money of year 0" not in row.basis for row in cash.rows)
    plant = hand_plant(priced(), rate_basis="real", growth_basis="real", inflation=0.1)
    row = next(row for row in table(plant, today(), SAVES).rows if row.line == "overtime" and row.year == 2)
    assert row.basis.endswith("x 0.826446280992 in money of year 0")
    assert row.amount == pytest.approx(11_250)
