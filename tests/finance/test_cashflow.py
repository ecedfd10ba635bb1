"""Each line of the cash-flow table in two lines by hand."""

from __future__ import annotations

import dataclasses
import math
import re

import pandas as pd
import pytest

from simkit.base.messages import BadInput
from simkit.experiment.results import Results
from simkit.finance.evaluate import evaluate
from simkit.finance.inputs import DoubleCount, ScenarioTotals, prices_of, totals_from
from simkit.finance.lines import CLASSES, LINES
from simkit.finance.roster import Post, Roster
from simkit.plant.options import CapitalLine, Range, ShareRange
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings import Overflow, Rules
from simkit.plant.settings_money import DemandYear
from tests.finance.hand import (
    BOUGHT,
    CHEAP,
    CREW,
    TODAY_H,
    amounts,
    figures,
    hand_plant,
    hours_of,
    table,
    today,
    totals,
    written,
)


def priced(option=BOUGHT, capital=100_000.0, **changes):
    return option.model_copy(
        update={"capital": Range(low=0.8 * capital, quoted=capital, high=1.2 * capital), **changes}
    )


def test_capital_is_paid_at_year_0_by_stage():
    cash = table(hand_plant(priced()), today(), totals())
    paid = [row.amount for row in cash.rows if row.line == "capital"]
    assert paid == [-60_000, -30_000, -10_000]
    assert amounts(cash, "capital") == [-100_000, 0, 0, 0, 0]


def test_capital_case_picks_low_or_high():
    plant = hand_plant(priced())
    assert amounts(table(plant, today(), totals(), case="low"), "capital")[0] == -80_000
    assert amounts(table(plant, today(), totals(), case="high"), "capital")[0] == -120_000


def test_a_bundle_line_is_paid_once_and_option_lines_each():
    fire = CapitalLine(line="fire detection", quoted=9_000, per="bundle")
    floor = CapitalLine(line="floor", quoted=1_000)
    a, b = (priced(BOUGHT.model_copy(update={"id": i}), capital_lines=(fire, floor)) for i in ("A1", "A4"))
    cash = table(hand_plant(a, b), today(), totals("A1+A4", ("A1", "A4")))
    assert amounts(cash, "capital_line", "A1+A4")[0] == -(9_000 + 2 * 1_000)


def test_bundle_adjustment_only_with_another_bought_option():
    a = priced(bundle_adjustment=5_000.0)
    b, n = priced(BOUGHT.model_copy(update={"id": "A4"})), priced(CHEAP)
    sets = (totals("A1+N2", ("A1", "N2")), totals("A1+A4", ("A1", "A4")))
    cash = table(hand_plant(a, b, n), today(), *sets)
    assert [amounts(cash, "bundle_adjustment", s.name)[0] for s in sets] == [0, -5_000]


def test_training_once_for_a_bought_set_and_none_for_low_capital():
    b = BOUGHT.model_copy(update={"id": "A4"})
    cash = table(hand_plant(BOUGHT, b, CHEAP, training=8_000), today(), totals("s", ("A1", "A4")), totals("n", ("N2",)))
    assert amounts(cash, "training", "s") == [0, -8_000, 0, 0, 0]
    assert amounts(cash, "training", "n") == [0] * 5


def test_installation_stop_is_the_longest_plus_a_share_given_out():
    """10 + 0.3 x 5 = 11.5 days of 14.5 h = 166.75 h at 110."""
    a = BOUGHT.model_copy(update={"stop_days": 5.0})
    b = BOUGHT.model_copy(update={"id": "A4", "stop_days": 10.0})
    cash = table(hand_plant(a, b), today(), totals("s", ("A1", "A4")))
    assert amounts(cash, "installation_stop", "s")[1] == pytest.approx(-166.75 * 110)


def test_installation_stop_uses_overtime_up_to_its_cap_first():
    """14.5 h lost: 4 weeks at 2 h overtime = 8 h at 30 x 1.5, the other 6.5 h at 110."""
    plant = hand_plant(BOUGHT.model_copy(update={"stop_days": 1.0}), rules=Rules(overtime_cap_h_per_week=2))
    calendar = plant.settings.calendar.model_copy(
        update={"overtime": ({"days": ("Sat",), "start": "06", "end": "12"},)}
    )
    update = {"calendar": calendar, "overflow": Overflow(overtime=True)}
    plant = dataclasses.replace(plant, settings=plant.settings.model_copy(update=update))
    assert amounts(table(plant, today(), totals()), "installation_stop")[1] == -(8 * 45 + 6.5 * 110)


def test_yearly_cost_starts_with_use_and_grows_with_prices():
    """Lead 26 weeks: half of year 1; prices +10 % from year 2 on."""
    cash = table(hand_plant(BOUGHT.model_copy(update={"yearly_cost": 1000.0, "lead_weeks": 26.0}), price_growth=0.1),
                 today(), totals())  # fmt: skip
    assert amounts(cash, "yearly_cost") == [0, -500, -1100, -1210, -1331]


def test_named_labour_at_the_setter_rate_grows_with_wages():
    cash = table(hand_plant(CHEAP.model_copy(update={"yearly_labour_h": 10.0}), wage_growth=0.1), today(),
                 totals("N2", ("N2",)))  # fmt: skip
    assert amounts(cash, "named_labour", "N2")[1:3] == [-360, -396]


def test_overtime_avoided_is_released_at_crew_rate_with_premium():
    """5 h/week x 50 weeks x 30 x 1.5 (one person works the overtime shift)."""
    cash = table(hand_plant(BOUGHT), today(), totals(overtime_h=1.0, hours_needed=95.0))
    assert amounts(cash, "overtime", kind="cash_releasing")[1] == 5 * 50 * 45


def test_more_overtime_is_a_loss_of_the_class_it_is_released_in_even_if_its_rule_is_off():
    """2 h more than the 6 h of the budget: avoided cost, negative."""
    cash = table(hand_plant(BOUGHT, value_rules=("sales",)), today(), totals(overtime_h=8.0))
    assert amounts(cash, "overtime")[1] == amounts(cash, "overtime", kind="cost_avoided")[1] == -2 * 50 * 45


def test_a_larger_crew_makes_the_same_overtime_dearer():
    """6 h x (30 + 20) x 1.5 against 6 h x 30 x 1.5."""
    more = Roster((*CREW.posts, Post("H-1", "early", ("load",), 20.0, 36.0)), "early", 14.5)
    cash = table(hand_plant(BOUGHT), today(), totals(roster=more))
    assert amounts(cash, "overtime")[1] == pytest.approx(-6 * 20 * 1.5 * 50)


def test_overrun_at_the_operator_rate_with_premium():
    cash = table(hand_plant(BOUGHT), today(person_overrun_h=2.0), totals(person_overrun_h=0.5))
    assert amounts(cash, "overrun")[1] == 1.5 * 50 * 45


def test_hours_given_out_are_net_of_own_energy_and_gas():
    """Own use 8 kWh x 0.2 + 2 m3 x 0.25 = 2.1 per hour: 6 h x 50 x (110 - 2.1)."""
    use = {"inhouse_h": 80.0, "energy_kwh": 640.0, "gas_m3": 160.0}
    cash = table(hand_plant(BOUGHT), today(**use), totals(subcontract_h=2.0, hours_needed=94.0, **use))
    assert amounts(cash, "subcontract")[1] == pytest.approx(6 * 50 * 107.9)


def test_extra_sales_never_exceed_what_is_unmet():
    cash = table(hand_plant(BOUGHT), today(), totals(hours_needed=60.0, unmet_h=0.0))
    assert amounts(cash, "sales", kind="capacity")[1] == 4 * 50 * 90


def test_orders_no_longer_refused_are_sold_even_if_idle_hours_make_them():
    """Nothing freed, but 4 regular hours more are worked in house: the 4 unmet hours are made."""
    before, after = today(inhouse_h=88.0), totals(inhouse_h=92.0, unmet_h=0.0)
    assert amounts(table(hand_plant(BOUGHT), before, after), "sales")[1] == 4 * 50 * 90


def test_lost_sales_stand_in_the_class_of_sales_won():
    cash = table(hand_plant(BOUGHT), today(), totals(unmet_h=6.0, hours_needed=102.0))
    assert amounts(cash, "sales", kind="capacity")[1] == -2 * 50 * 90


DEMAND = (DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=1.5),
          DemandYear(from_year=3, factor=2.0, signed=False))  # fmt: skip


def levels(name, options, by_factor):
    return ScenarioTotals(name, {f: {**TODAY_H, **changes} for f, changes in by_factor.items()}, options, CREW)


def test_demand_is_read_per_year_between_levels_and_unsigned_is_left_out():
    """Levels 1 and 2; year 2 reads 1.5 half way: 8 to 28 given out, all saved."""
    before = levels("today", (), {1.0: {}, 2.0: {"subcontract_h": 28.0, "hours_needed": 200.0}})
    after = levels("A1", ("A1",), {1.0: {"subcontract_h": 0.0}, 2.0: {"subcontract_h": 0.0, "hours_needed": 200.0}})
    cash = table(hand_plant(BOUGHT, demand=DEMAND), before, after)
    assert amounts(cash, "subcontract") == [0, 8 * 5500, 18 * 5500, 18 * 5500, 18 * 5500]


def test_more_than_todays_budget_is_avoided_not_released():
    before = levels("today", (), {1.0: {}, 2.0: {"subcontract_h": 28.0, "hours_needed": 200.0}})
    after = levels("A1", ("A1",), {1.0: {"subcontract_h": 0.0}, 2.0: {"subcontract_h": 0.0, "hours_needed": 200.0}})
    cash = table(hand_plant(BOUGHT, demand=DEMAND), before, after)
    assert amounts(cash, "subcontract", kind="cash_releasing")[1:3] == [8 * 5500, 8 * 5500]
    assert amounts(cash, "subcontract", kind="cost_avoided")[1:3] == [0, 10 * 5500]


def test_spending_above_todays_budget_reduces_the_headline_too():
    """8 h given out today are the budget; 4 h are released; 20 h more all lie above it: no figure forgets them."""
    less, some, _ = figures(table(hand_plant(BOUGHT), today(), totals(subcontract_h=4.0)))
    assert less[1] == some[1] == 4 * 5500
    cash = table(hand_plant(BOUGHT), today(), totals(subcontract_h=28.0, hours_needed=110.0))
    assert evaluate(cash)["A1"].npv_by_class["cost_avoided"] < 0
    more, with_avoided, with_sales = figures(cash)
    assert more == with_avoided == with_sales
    assert more[1] == -20 * 5500


def test_demand_outside_the_simulated_levels_is_refused():
    plant = hand_plant(BOUGHT, demand=(DemandYear(from_year=1, factor=1.25),))
    with pytest.raises(BadInput, match=r"today was not simulated at demand 1.25 \(simulated: 1\)"):
        table(plant, today(), totals())


def test_no_signed_demand_in_year_1_is_refused():
    with pytest.raises(BadInput, match="no signed demand in year 1"):
        table(hand_plant(BOUGHT, demand=(DemandYear(from_year=1, factor=1.0, signed=False),)), today(), totals())


def test_material_is_compared_for_the_same_parts_of_a_metal():
    """Parts 750 -> 1500 kg; 1000 kg of sheet would grow to 2000, it takes 2100; credit for 600 - 500 kg."""
    before = today(**{"material_kg_MS-1.5": 1000.0, "scrap_kg_MS": 250.0})
    after = totals(**{"material_kg_MS-1.5": 2100.0, "scrap_kg_MS": 600.0})
    cash = table(hand_plant(BOUGHT), before, after)
    assert amounts(cash, "material")[1] == pytest.approx(-100 * 50 * 1.02)
    assert amounts(cash, "scrap")[1] == pytest.approx(100 * 50 * 0.18)


def test_only_mass_lost_beyond_the_nests_counts_where_it_is_measured():
    """Other nests in house (yield 75 % to 70 %) are no saving or cost; 10 kg lost become 30 for twice the parts."""
    before = today(**{"material_kg_MS-1.5": 1000.0, "scrap_kg_MS": 250.0, "lost_kg_MS": 10.0})
    after = totals(**{"material_kg_MS-1.5": 2140.0, "scrap_kg_MS": 640.0, "lost_kg_MS": 30.0})
    cash = table(hand_plant(BOUGHT), before, after)
    assert amounts(cash, "material")[1] == pytest.approx(-10 * 50 * 1.02)
    assert amounts(cash, "scrap")[1] == pytest.approx(10 * 50 * 0.18)


def test_rare_events_are_read_at_their_expectation_and_luck_earns_nothing():
    """Three tools broken and 40 kg lost against none, by luck alone, are worth nothing; a tenth of a tool a week is."""
    known = {"parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "scrap_kg_MS": 60.0}
    before = today(**known, tools_broken=3.0, tools_broken_expected=0.5, lost_kg_MS=40.0, lost_expected_kg_MS=12.0)
    after = totals(**known, tools_broken=0.0, tools_broken_expected=0.5, lost_kg_MS=0.0, lost_expected_kg_MS=12.0)
    plant = hand_plant(BOUGHT)
    plant = dataclasses.replace(plant, tools=tuple(dataclasses.replace(tool, price=130.0) for tool in plant.tools))
    cash = table(plant, before, after)
    assert [amounts(cash, line)[1] for line in ("tools", "material", "scrap")] == [0.0, 0.0, 0.0]
    fewer = table(plant, before, totals(**known, tools_broken_expected=0.4, lost_expected_kg_MS=10.0))
    assert amounts(fewer, "tools")[1] == pytest.approx(0.1 * 50 * 130)
    assert amounts(fewer, "material")[1] == pytest.approx(2 * 50 * 1.02)
    rows = fewer.frame
    rows = rows[rows["line"].isin(["tools", "material", "scrap"]) & (rows["amount"] != 0)]
    texts = dict(zip(rows["line"], rows["basis"], strict=True))
    assert len(texts) == 3
    assert all(", expected less (" in text for text in texts.values())


def test_energy_and_gas_are_compared_for_the_same_parts():
    before = today(parts_kg=100.0, energy_kwh=500.0, gas_m3=50.0)
    after = totals(parts_kg=110.0, energy_kwh=500.0, gas_m3=60.0)
    cash = table(hand_plant(BOUGHT), before, after)
    assert amounts(cash, "energy")[1] == pytest.approx(50 * 50 * 0.2)
    assert amounts(cash, "gas")[1] == pytest.approx(-5 * 50 * 0.25)


def test_what_is_measured_in_the_span_is_compared_for_its_sheets():
    """Today 90 of 100 sheets fall in the span, with the option all 100: 450 kWh would be 500, it takes 480."""
    sheets = {"sheets": 100.0, "parts_kg": 200.0, "inhouse_h": 80.0}
    before, after = today(energy_kwh=450.0, sheets_in_span=90.0, **sheets), totals(
        energy_kwh=480.0, sheets_in_span=100.0, subcontract_h=7.0, **sheets)  # fmt: skip
    cash = table(hand_plant(BOUGHT), before, after)
    assert amounts(cash, "energy")[1] == pytest.approx(20 * 50 * 0.2)
    assert amounts(cash, "subcontract")[1] == pytest.approx(50 * (110 - 450 * 0.2 / (80 * 0.9)))


def test_regrinds_and_scrapped_parts():
    """2 regrinds less at 12, 3 lives less of the mean tool, 10 parts less of 2 kg at 1.02 (all steel)."""
    kg = {"parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "scrap_kg_MS": 50.0}
    before, after = today(tools_reground=5.0, tool_lives=6.0, parts_scrapped=12.0, **kg), totals(
        tools_reground=3.0, tool_lives=3.0, parts_scrapped=2.0, **kg)  # fmt: skip
    plant = hand_plant(BOUGHT)
    tools = tuple(dataclasses.replace(tool, price=130.0, grind_life=12) for tool in plant.tools)  # 13 lives of 10
    cash = table(dataclasses.replace(plant, tools=tools), before, after)
    assert amounts(cash, "regrinds")[1] == 2 * 50 * 12
    assert amounts(cash, "tools")[1] == pytest.approx(3 * 50 * 10)
    assert amounts(cash, "parts_scrapped")[1] == pytest.approx(10 * 2 * 50 * 1.02)


def test_scrap_sold_at_a_lower_price_costs_the_difference_on_all_of_it():
    """50 kg a week at 0.15 instead of 0.20, or whatever today's credit is, less 0.05: 50 x 50 x -0.05 a year."""
    kg = {"parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "scrap_kg_MS": 50.0}
    plant, after = hand_plant(BOUGHT), totals(**kg)
    credit = prices_of(plant).scrap_per_kg["MS"]
    mixed = dataclasses.replace(after, scrap_per_kg={"MS": credit - 0.05})
    same, less = (amounts(table(plant, today(**kg), case), "scrap") for case in (after, mixed))
    assert less[1] - same[1] == pytest.approx(-50 * 50 * 0.05)


def test_other_prices_of_an_option_cost_the_difference_on_all_that_it_uses():
    """250 kg a week dearer by 0.10, 3 tool lives dearer by 2 each, 1 broken tool dearer by 26: 50 weeks of each."""
    kg = {"parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "scrap_kg_MS": 50.0}
    used = {**kg, "tool_lives": 3.0, "tools_broken": 1.0}
    plant, after = hand_plant(BOUGHT), totals(**used)
    prices = prices_of(plant)
    dearer = dataclasses.replace(
        after, sheet_per_kg={"MS-1.5": prices.sheet_per_kg["MS-1.5"] + 0.1}, tool_price=prices.tool_price + 26,
        tool_life_price=prices.tool_life_price + 2,
    )  # fmt: skip
    same, more = (table(plant, today(**used), case) for case in (after, dearer))
    assert amounts(more, "material")[1] - amounts(same, "material")[1] == pytest.approx(-250 * 50 * 0.1)
    assert amounts(more, "tools")[1] - amounts(same, "tools")[1] == pytest.approx(-50 * (3 * 2 + 26))


def test_prices_that_an_option_edits_reach_the_money():
    """Sheets at 1.10 times today's price, tools at twice theirs: edits of the option, read with its totals."""
    edits = ({"path": "materials[*].price_per_kg", "op": "multiply", "value": 1.1},
             {"path": "tools[*].price", "op": "multiply", "value": 2.0})  # fmt: skip
    plant = hand_plant(BOUGHT.model_validate({**BOUGHT.model_dump(), "edits": edits}))
    plant = dataclasses.replace(
        plant, tools=tuple(dataclasses.replace(tool, price=130.0, grind_life=12) for tool in plant.tools)
    )
    values = {**TODAY_H, "parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "scrap_kg_MS": 50.0,
              "tool_lives": 3.0, "tools_broken": 1.0}  # fmt: skip
    scenarios = [make_scenario(plant), make_scenario(plant, ("A1",))]
    rows = [(one.name, 0, name, 1.0, value) for one in scenarios for name, value in values.items()]
    frame = pd.DataFrame(rows, columns=["scenario", "replication", "measure", "demand_factor", "value"])
    read = totals_from(Results(frame), scenarios)
    cash = table(plant, *(read[one.name] for one in scenarios))
    assert amounts(cash, "material", "A1")[1] == pytest.approx(-250 * 50 * 1.02 * 0.1)
    assert amounts(cash, "tools", "A1")[1] == pytest.approx(-50 * (3 * 10 + 130))


def test_work_for_which_nobody_is_on_the_roster_is_paid_as_asked_in_both_directions():
    cash = table(hand_plant(BOUGHT), today(preparation_h=1.0, programming_h=3.0), totals(preparation_h=4.0,
                 programming_h=1.0))  # fmt: skip
    assert amounts(cash, "labour_by_others")[1] == -3 * 50 * 36 + 2 * 50 * 40


def test_hours_on_call_are_paid_at_the_night_rate():
    cash = table(hand_plant(BOUGHT), today(on_call_h=0.0), totals(on_call_h=2.0))
    assert amounts(cash, "labour_by_others")[1] == pytest.approx(-2 * 50 * 30 * 1.25)


def test_care_done_by_others_is_paid_as_asked():
    cash = table(hand_plant(BOUGHT), today(care_by_others_h=1.0), totals(care_by_others_h=3.0))
    assert amounts(cash, "labour_by_others")[1] == pytest.approx(-2 * 50 * 30)


def test_moved_preparation_is_not_paid_twice_if_a_post_is_added_for_it():
    more = Roster((*CREW.posts, Post("S-1", "late", ("preparation",), 36.0, 10.0)), "early", 14.5)
    cash = table(hand_plant(BOUGHT), today(preparation_h=0.0), totals(roster=more, preparation_h=4.0))
    assert amounts(cash, "labour_by_others")[1] == 0
    assert amounts(cash, "posts_added", kind="cash_releasing")[1] == -10 * 36 * 50


def test_longer_weeks_cost_the_overtime_premium_and_nights_the_night_premium():
    longer = Roster((Post("OP-1", "early", ("load", "clear"), 30.0, 42.0), CREW.posts[1],
                     Post("NI-1", "night", ("load",), 30.0, 10.0, 30.0)), "early", 14.5)  # fmt: skip
    cash = table(hand_plant(BOUGHT), today(), totals(roster=longer))
    by_person = {row.item: row.amount for row in cash.rows if row.line == "posts_added" and row.year == 1}
    assert by_person == {"OP-1": -6 * 30 * 1.5 * 50, "NI-1": -30 * (10 + 30 * 1.25) * 50}


SMALLER = Roster(CREW.posts[:1], "early", 7.25)
GOOD = {"late_share": 0.05, "backlog_grows": 0.0, "unmet_h": 0.0}


def test_a_whole_post_counts_after_the_ramp():
    cash = table(hand_plant(BOUGHT, ramp_months=6), today(**GOOD), totals(roster=SMALLER, **GOOD))
    assert amounts(cash, "posts", kind="cash_releasing")[:3] == [0, 0.5 * 36 * 30 * 50, 36 * 30 * 50]


@pytest.mark.parametrize(
    "changes",
    [{"late_share": 0.049}, {"late_share": 0.0875}, {"late_share": 1.0, "backlog_grows": 1.0}],
)
def test_a_scenario_pays_its_own_roster_however_late_it_is(changes):
    """The amounts at 4.9 %, at 8.75 % and at 100 % late are the same to the last bit, line by line."""
    cash = table(hand_plant(BOUGHT), today(**GOOD), totals(roster=SMALLER, **{**GOOD, **changes}))
    base = table(hand_plant(BOUGHT), today(**GOOD), totals(roster=SMALLER, **GOOD))
    assert cash.rows == base.rows
    assert amounts(cash, "posts", kind="cash_releasing")[1] == 36 * 30 * 50


def test_neither_minimum_attendance_nor_a_lost_skill_changes_an_amount():
    crew = Roster((*CREW.posts, Post("OP-3", "early", ("pallet",), 30.0, 36.0)), "early", 14.5)
    plant = hand_plant(BOUGHT)
    people = plant.settings.people.model_copy(update={"minimum_attendance": 2})
    strict = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"people": people}))
    assert table(strict, today(crew), totals()).rows == table(plant, today(crew), totals()).rows
    assert amounts(table(strict, today(crew), totals()), "posts")[1] == 36 * 30 * 50


def test_half_a_post_is_hours_and_not_money():
    shared = Roster((*CREW.posts, Post("SE-1", "early", ("load",), 36.0, 18.0, whole=False)), "early", 14.5)
    cash = table(hand_plant(BOUGHT), today(shared, overtime_h=0.0, **GOOD), totals(overtime_h=0.0, **GOOD))
    assert [row.benefit_class for row in cash.rows if row.line == "posts"] == ["not_monetised"] * 4


def test_ramp_rises_in_a_straight_line():
    """60 % to 100 % over 6 months: year 1 is 0.5 x 0.8 + 0.5 = 0.9 of a full year."""
    cash = table(hand_plant(BOUGHT, ramp_start=0.6, ramp_months=6), today(), totals(overtime_h=1.0))
    assert amounts(cash, "overtime")[1:3] == [0.9 * 5 * 50 * 45, 5 * 50 * 45]


def test_benefits_begin_after_the_lead_time():
    option = BOUGHT.model_copy(update={"lead_weeks": 78.0})
    cash = table(hand_plant(option, training=100), today(), totals(overtime_h=1.0))
    assert amounts(cash, "overtime") == [0, 0, 0.5 * 11250, 11250, 11250]
    assert amounts(cash, "training") == [0, 0, -100, 0, 0]


FADING = {"persistence": ShareRange(low=0.5, quoted=0.8, high=1.0)}


def test_a_low_capital_gain_fades_after_a_year():
    option = CHEAP.model_copy(update={**FADING, "yearly_cost": 10.0})
    cash = table(hand_plant(option), today(), totals("N2", ("N2",), overtime_h=1.0))
    assert amounts(cash, "overtime", "N2")[1:3] == [11250, 9000]
    assert amounts(cash, "yearly_cost", "N2")[1:3] == [-10, -10]


def test_beside_a_bought_option_only_its_own_gain_fades():
    """Together 5 h, the cart alone 2 h: 20 % of the 2 h fade."""
    plant = hand_plant(BOUGHT, CHEAP.model_copy(update=FADING))
    both, alone = totals("A1+N2", ("A1", "N2"), overtime_h=1.0), totals("N2", ("N2",), overtime_h=4.0)
    cash = table(plant, today(), both, alone)
    assert amounts(cash, "overtime", "A1+N2")[2] == pytest.approx((5 - 0.2 * 2) * 50 * 45)
    assert cash.notes == ()
    cautious = table(plant, today(), both)
    assert amounts(cautious, "overtime", "A1+N2")[2] == pytest.approx(0.8 * 5 * 50 * 45)
    assert "N2 alone was not simulated" in cautious.notes[0]


def test_a_short_life_is_bought_again_at_new_prices():
    """Life 1.5 y without lead: again at 1.5 and 3.0 years, so in years 2 and 3; not at 4.5.

    One full year has passed at 1.5 and three at 3.0: what waits until then costs the same.
    """
    cash = table(hand_plant(priced(life_years=1.5), price_growth=0.1), today(), totals())
    assert amounts(cash, "replacement") == [0, 0, pytest.approx(-110_000), pytest.approx(-133_100), 0]
    waited = table(hand_plant(priced(), price_growth=0.1, start_after_years=3), today(), totals())
    assert amounts(waited, "capital")[3] == pytest.approx(-133_100)


def test_a_life_as_long_as_the_horizon_is_not_bought_again():
    assert amounts(table(hand_plant(priced(life_years=4.0)), today(), totals()), "replacement") == [0] * 5


def test_residual_is_a_single_amount_at_the_horizon_and_only_of_what_has_a_life():
    plant = hand_plant(priced(life_years=4.0), priced(CHEAP), residual_share=0.1)
    cash = table(plant, today(), totals(), totals("N2", ("N2",)))
    assert amounts(cash, "residual", kind="one_time") == [0, 0, 0, 0, 10_000]
    assert amounts(cash, "residual", "N2") == [0] * 5


def test_tax_by_class_with_relief_by_depreciation():
    """Tax 20 %: 11250 released -> -2250 a year; 100000 / 4 written off -> +5000 a year; residual taxed in full."""
    plant = hand_plant(priced(life_years=4.0), tax_rate=0.2, residual_share=0.1)
    cash = table(plant, today(), totals(overtime_h=1.0))
    assert amounts(cash, "tax", kind="cash_releasing") == [0, *[-2250] * 4]
    assert amounts(cash, "tax_relief_depreciation") == [0, *[5000] * 4]
    assert amounts(cash, "tax_on_residual") == [0, 0, 0, 0, -2000]


def test_hours_only_turns_no_hour_into_money():
    cash = table(hand_plant(BOUGHT, value_rules=("hours_only",)), today(), totals(overtime_h=0.0, hours_needed=90.0))
    assert {row.line for row in cash.rows if row.amount} == set()
    assert [hours_of(cash, kind)[0] for kind in ("freed", "not_money")] == [10 * 50, 10 * 50]


def test_hours_that_are_money_are_not_reported_as_free_as_well():
    cash = table(hand_plant(BOUGHT), today(), totals(overtime_h=1.0, subcontract_h=5.0, hours_needed=88.0))
    assert hours_of(cash, "not_money")[0] == (12 - 5 - 3) * 50


def test_an_hour_in_two_places_is_refused():
    with pytest.raises(DoubleCount, match=r"in house are 101 h.*an hour would count twice"):
        table(hand_plant(BOUGHT), today(inhouse_h=101.0), totals())
    with pytest.raises(DoubleCount, match="subcontracted and unmet are 104 h"):
        table(hand_plant(BOUGHT), today(), totals(subcontract_h=100.0))


def test_a_missing_measure_and_an_unknown_option_are_named():
    broken = ScenarioTotals("A1", {1.0: {"span_weeks": 1.0, "hours_needed": 1.0}}, ("A1",), CREW)
    with pytest.raises(KeyError, match="overtime_h, subcontract_h, unmet_h missing"):
        table(hand_plant(BOUGHT), today(), broken)
    with pytest.raises(BadInput, match=r"no option 'A2'. known names: A1"):
        table(hand_plant(BOUGHT), today(), totals("A2", ("A2",)))
    with pytest.raises(KeyError, match="did you mean 'A1'"):
        table(hand_plant(BOUGHT), today(), totals()).rows_of("A11")


def test_span_and_weeks_scale_to_a_year():
    """Totals of 4 weeks: 20 h saved in 4 weeks is 5 h a week."""
    four = {name: 4.0 * value for name, value in TODAY_H.items()}
    after = ScenarioTotals("A1", {1.0: {**four, "overtime_h": 4.0}}, ("A1",), CREW)
    cash = table(hand_plant(BOUGHT), ScenarioTotals("today", {1.0: four}, (), CREW), after)
    assert amounts(cash, "overtime")[1] == 5 * 50 * 45


def full_table():
    """A table in which almost every line has amounts."""
    use = {"inhouse_h": 80.0, "energy_kwh": 640.0, "gas_m3": 160.0, "parts_kg": 100.0, "person_overrun_h": 1.0,
           "material_kg_MS-1.5": 130.0, "scrap_kg_MS": 30.0, "preparation_h": 1.0, "tools_reground": 2.0,
           "tool_lives": 2.0, **GOOD}  # fmt: skip
    option = priced(life_years=2.0, lead_weeks=20.0, yearly_cost=900.0, stop_days=3.0, yearly_labour_h=5.0, **FADING)
    plant = hand_plant(option, tax_rate=0.22, residual_share=0.1, wage_growth=0.03, price_growth=0.025, training=50.0,
                       ramp_start=0.6, ramp_months=6)  # fmt: skip
    after = totals(roster=SMALLER, **{**use, "overtime_h": 1.0, "subcontract_h": 1.0, "unmet_h": 1.0,
                   "hours_needed": 82.0, "energy_kwh": 600.0, "preparation_h": 2.5, "material_kg_MS-1.5": 140.0,
                   "person_overrun_h": 0.2})  # fmt: skip
    return table(plant, today(**use), after)


def test_every_amount_is_the_product_of_the_numbers_in_its_basis():
    rows = full_table().rows
    assert len({row.line for row in rows}) >= 18
    for row in rows:
        text = re.sub(r"\([^)]*\)", "", row.basis).split(";")[0]
        numbers = [float(piece.split()[0]) for piece in text.split(" x ")]
        assert math.prod(numbers) == pytest.approx(row.amount, rel=1e-9, abs=1e-9), row


def test_every_row_has_an_owner_and_a_known_line():
    rows = full_table().rows
    assert {row.line for row in rows} <= set(LINES)
    assert {row.benefit_class for row in rows} <= set(CLASSES)
    assert all(row.owner for row in rows)


def test_frame_and_register_are_tidy_and_all_that_is_bought_is_written_off():
    cash = full_table()
    assert list(cash.frame.columns) == ["scenario", "year", "line", "benefit_class", "amount", "basis", "owner", "item"]
    assert cash.frame["amount"].sum() == pytest.approx(sum(row.amount for row in cash.rows))
    assert "subcontracting" in set(cash.register()["budget_line"])
    bought = -cash.flows("A1", lines=["capital", "replacement"]).sum()
    assert sum(written(cash)) == pytest.approx(bought)
