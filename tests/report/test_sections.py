"""What the sections say equals what the results and the cash-flow table say."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.service import late_or_refused
from simkit.base.vocabulary import BASES
from simkit.experiment.glossary import NEEDED
from simkit.experiment.results import Results
from simkit.process.bookweeks import week_hours
from simkit.process.programs import program_tables
from simkit.report.exhibits import Block, Exhibit
from simkit.report.moneystudy import money_of
from simkit.report.sections import answers, money, options, options_package, today, trust
from simkit.report.studydata import TODAY
from simkit.report.words import number, plus_minus, scaled, with_unit, years
from tests.report.fake_results import NIGHT_OPTION
from tests.report.option_plant import SCENARIOS, option_plant


@pytest.fixture(scope="module")
def cash(study):
    return money_of(study)


def rows_of(block: Block) -> dict[str, tuple[str, ...]]:
    """Cells of a table by the head of the row, group heads left out."""
    return {row.head: row.cells for row in block.content["rows"] if row.look != "group"}


def with_run(study, **changes):
    return dataclasses.replace(study, run=dataclasses.replace(study.run, **changes))


def with_plant(study, plant):
    return dataclasses.replace(study, plant=plant)


# ---- answers ----


def test_the_answer_follows_the_pattern(study):
    text = answers.answer_today(study).text
    need, attended = (study.results.estimate(TODAY, m) for m in ("hours_needed", "attended_h"))
    assert text.startswith(
        f"With today's cell the 4-week order book needs {plus_minus(need)} h of {with_unit(attended.mean, 'h')} "
        "attended"
    )
    assert "8 runs in 10" in text
    assert "The low-capital package (N1 Sequencing rule and N2 Setup cart) brings it to" in text


def test_a_set_that_gives_out_more_work_does_not_win_by_it(study):
    """The set with the fewest hours is made to give out 20 h more in every run: it leaves the answer for the next."""
    on_top = sorted(
        (n for n in study.bought if study.holds_package(n)), key=lambda n: study.total(n, "hours_needed").mean
    )
    frame = study.results.frame.copy()
    row = (frame["scenario"] == on_top[0]) & (frame["measure"] == "subcontract_h")
    frame.loc[row, "value"] += 20.0
    moved = dataclasses.replace(study, results=Results(frame))
    assert on_top[0] in moved.leaves_more
    assert moved.recommendable(on_top) == tuple(on_top[1:])
    text = answers.answer_options(moved).text
    assert f"{study.named(on_top[1])} needs the fewest hours" in text
    assert f"Not counted: {study.named(on_top[0])}, which is not recommendable" in text
    assert rows_of(options.option_table(moved))[study.named(on_top[0])][2].endswith(" †")
    assert f"{study.named(on_top[0])} " not in options.options_against_package(moved).title


def test_the_answer_says_so_if_no_package_was_found(study):
    assert "No low-capital package was found" in answers.answer_today(with_run(study, package=TODAY)).text


def test_the_package_stands_beside_the_set_with_the_fewest_hours_and_says_how_it_was_chosen(study):
    two, steps = options_package.how_it_was_chosen(with_run(study, package="N2", fewest_hours="N1+N2"))
    assert set(rows_of(two)) == {"Package", "Package + N1"}
    assert rows_of(two)["Package"][3:] == ("5,500", "0", "works manager", "80\u00a0%")
    saved = study.per_week("N2", NEEDED).mean - study.per_week("N1+N2", NEEDED).mean
    assert f"{number(saved)}\u00a0h a week less and are worth less" in two.text
    (inner,) = steps.content["parts"]
    assert [row.cells for row in inner.content["rows"]][-1] == ("add N9", "0 ± 0", "no gain: the cheaper set stands")
    assert [row.look for row in inner.content["rows"]] == ["total", "total", ""]


def test_a_package_with_the_fewest_hours_stands_alone(study):
    two, _ = options_package.how_it_was_chosen(study)
    assert list(rows_of(two)) == ["Package"]
    (none,) = options_package.how_it_was_chosen(with_run(study, package_trail=()))
    assert none.text == options_package.NO_CANDIDATES


def test_the_best_set_on_top_is_compared_with_the_package(study):
    text = answers.answer_options(study).text
    gaps = study.gaps("N1+N2")
    best = min((n for n in study.bought if study.holds_package(n)), key=lambda n: gaps[n].mean)
    assert f"{study.named(best)} needs the fewest hours" in text
    assert f"{plus_minus(gaps[best], difference=True)} h against the package" in text


def test_guesses_are_counted(study):
    guesses = sum(row.basis in ("default", "estimated") for row in study.plant.elements)
    assert f"{guesses} of {len(study.plant.elements)} time elements are guesses" in answers.basis(study)
    assert "is not calibrated" in answers.basis(study)


# ---- today ----


def test_states_of_today_sum_to_the_week(study):
    rows = rows_of(today.state_table(study))
    assert rows["calendar of the machines"] == ("168", "100.0\u00a0%")
    assert rows["changeover"][0] == plus_minus(study.per_week(TODAY, "state_changeover_h"))


def test_tool_loads_stand_beside_die_changes_with_their_times(study):
    rows = rows_of(today.tools(study))
    assert rows["tools fetched and fitted by hand"][1] == "1.60 min (default) + 2.40 min (default)"
    assert "dies changed for clearance only, by hand" in rows
    assert "tools exchanged by the magazine" not in rows


def test_waits_are_refused_while_the_backlog_grows(study):
    grown = study.results.frame.copy()
    grown.loc[grown["measure"] == "backlog_grows", "value"] = 1.0
    other = dataclasses.replace(study, results=type(study.results)(grown))
    assert "backlog grows" in rows_of(today.people_and_bench(other))["bench"][1]
    assert "±" in rows_of(today.people_and_bench(study))["bench"][1]


def test_every_demand_level_shows_how_it_is_met(study):
    blocks = today.demand_table(study).content["rows"]
    assert [row.head for row in blocks] == ["Today", "1", "1.25", "Package", "1", "1.25"]


def test_a_demand_that_is_met_by_refusing_orders_is_not_met(study):
    frame = study.results.frame.copy()
    frame.loc[frame["measure"] == "late_share", "value"] = 0.0
    frame.loc[frame["measure"] == "backlog_grows", "value"] = 0.0
    punctual = dataclasses.replace(study, results=type(study.results)(frame))
    refused = late_or_refused(punctual.results, TODAY, 1.25)
    assert refused == pytest.approx(punctual.results.values(TODAY, "refused_share", 1.25))
    assert refused.mean() > study.plant.settings.rules.late_share_limit
    assert "limits not held" in today.hours_needed(punctual).alt


def test_hours_given_out_by_weekday_and_by_days_to_due_are_those_of_the_week(study):
    block = today.given_out(study)
    rows, total = rows_of(block), study.per_week(TODAY, "subcontract_h").mean
    assert block.content["title"] == f"Today {number(total)} h a week are given out"
    assert rows["Mon"] == rows["Fri"] == (plus_minus(scaled(study.per_week(TODAY, "subcontract_h"), 0.2)),)
    assert rows["Sun"] == rows["more than 15 days"]
    frame = study.results.frame.copy()
    frame.loc[frame["measure"] == "subcontract_h", "value"] = 0.0
    none = dataclasses.replace(study, results=type(study.results)(frame))
    assert today.given_out(none).text == "Today nothing is given out in any run."


def test_without_a_late_order_a_sentence_takes_the_place_of_empty_bars(study):
    frame = study.results.frame.copy()
    frame.loc[frame["measure"] == "late_share", "value"] = 0.0
    punctual = dataclasses.replace(study, results=type(study.results)(frame))
    assert today.late_orders(punctual).text.startswith("No order was late")
    assert isinstance(today.late_orders(study), Exhibit)


def test_the_package_is_marked_among_the_low_capital_cases(study):
    block = today.package_steps(study)
    assert [row.look for row in block.content["rows"]][-1] == "total"
    assert rows_of(block)["Package"][1] == plus_minus(study.gaps(TODAY)["N1+N2"], difference=True)


# ---- options ----


def test_every_bought_set_stands_without_and_with_the_package(study):
    heads = list(rows_of(options.option_table(study)))
    for name in study.bought:
        assert study.named(name) in heads
        if not study.holds_package(name) and study.with_package(name):
            assert heads[heads.index(study.named(name)) + 1] == study.named(study.with_package(name))


def test_differences_are_shown_against_both_references(study):
    cells = rows_of(options.option_table(study))["A1"]
    assert cells[1] == plus_minus(study.gaps(TODAY)["A1"], difference=True)
    assert cells[2] == plus_minus(study.gaps("N1+N2")["A1"], difference=True)


def test_an_option_without_effect_is_shown_losing(study):
    rows = rows_of(options.losers(study))
    assert rows["C2"][1] == "0 in every run"
    assert rows["A1"][1].startswith("+")


def test_two_options_that_save_the_same_hours_do_not_add_up(study):
    rows = rows_of(options.interactions(study))
    assert rows["Package and A1"][3].startswith("+")
    assert "A1 and A4, on the package" in rows


def test_figures_show_the_main_cases_only(study):
    cases = options.main_cases(study)
    assert cases[:2] == [TODAY, "N1+N2"]
    assert "N1+N2+A1" in cases
    assert "A1" not in cases


def test_nights_print_only_when_assessed(study):
    shown = options.nights(study)
    assert [type(item) for item in shown] == [Block, Block, Exhibit, Exhibit]
    assert "assessed by: safety group, on " in shown[0].text
    assert all(NIGHT_OPTION in name for name in rows_of(shown[1]))
    (refused,) = options.nights(with_plant(study, option_plant(assessed_by="")))
    assert "who assessed unattended running" in refused.text


def test_removal_says_which_parts_it_can_take(study):
    block = options.eligible_parts(study)
    assert rows_of(block)["A4"][:2] == ("41", "22")


def test_option_cards_tell_edits_in_words(study):
    cards = {card.content["id"]: dict(card.content["facts"]) for card in options.option_cards(study)}
    assert cards["N2"]["Changes in the model"] == ["elements[tool_search].typical = 0.2"]
    assert cards["C2"]["Changes in the model"] == ["plant.bench.places + 1"]
    assert cards["A4"]["Capital lines"] == ["fire detection: 9,000"]
    assert cards["N1"]["Owner; share of the gain kept"] == ["works manager; 0.8"]


# ---- money ----


def test_a_bought_set_above_zero_is_not_said_to_beat_the_package(cash):
    package = dataclasses.replace(cash.package, npv=34.0)
    assert money._how_many([8.0, -5.0, -9.0], package) == (
        "Of 3 bought sets, 1 has a value above zero against today, and none a higher one than the low-capital package."
    )
    assert "and 1 a higher one" in money._how_many([40.0, -5.0], package)


def test_a_low_capital_case_worth_more_than_the_package_is_named(cash):
    richer = dataclasses.replace(cash.results["N1"], npv=cash.package.npv + 1_000_000)
    named = dataclasses.replace(cash, results={**cash.results, "N1": richer})
    assert "N1 Sequencing rule has the higher value" in money.answer_payback(named).text
    poorer = {n: dataclasses.replace(cash.results[n], npv=cash.package.npv - 1) for n in ("N1", "N2")}
    other = dataclasses.replace(cash, results={**cash.results, **poorer})
    assert "has the higher value" not in money.answer_payback(other).text


def test_the_money_table_has_every_case_in_order_of_capital(study, cash):
    rows = rows_of(money.money_table(cash))
    assert len(rows) == len(SCENARIOS) - 1
    capital = [float(cells[0].replace(",", "")) for cells in rows.values()]
    assert capital == sorted(capital)
    known = cash.intervals["A1"]
    assert known.mean == pytest.approx(cash.results["A1"].npv)
    assert rows["A1"][2] == f"{number(known.mean, 0)} ± {number(known.half_width, 0)}"
    assert rows["A1"][5] == years(cash.results["A1"].payback.years)


def test_a_rule_alone_never_gives_more_than_with_sales(study, cash):
    rows = rows_of(money.value_switch(cash))
    assert set(rows) == {*money.RULE_WORDS.values(), "the plant's rules together"}
    assert rows["nothing: hours stay hours"][0] != rows["the plant's rules together"][0]


def test_years_of_the_cash_table_sum_to_the_headline(cash):
    block = money.cash_table(cash, "A1")
    headline = [float(cell.replace(",", "").replace("−", "-")) for cell in rows_of(block)["headline"]]
    assert headline == pytest.approx(cash.results["A1"].flows, abs=0.51)
    assert sum(cash.results["A1"].flows) == pytest.approx(sum(headline), abs=5)


def test_every_amount_has_a_basis(cash):
    assert all(cells[3] for cells in rows_of(money.basis_table(cash, "A1")).values())


def test_the_increments_start_from_the_package(study, cash):
    rows = rows_of(money.increments(cash))
    assert next(iter(rows.values()))[0] == "Package"
    assert "Package" not in rows


def test_a_losing_case_pays_back_never(cash):
    lost = [name for name, result in cash.results.items() if result.payback.years is None]
    assert lost
    rows = rows_of(money.money_table(cash))
    assert all(rows[cash.study.named(name)][5] == "never" for name in lost)


# ---- trust ----


def test_observed_weeks_stand_beside_the_simulated_week(study):
    rows = rows_of(trust.face_validity(study))
    assert rows["sheets"][:2] == ("272", "271 to 274")
    assert rows["sheets"][4] == "±5 %"
    setup = ("state_changeover_h", "state_first_piece_h", "state_waiting_material_h")
    assert rows["set-up, h (changeover, first piece, waiting for material)"][2] == plus_minus(
        trust.sum_per_week(study, TODAY, setup)
    )


def test_a_plant_without_observed_weeks_says_so(study):
    bare = with_plant(study, dataclasses.replace(study.plant, observed=()))
    assert "has not been compared" in trust.face_validity(bare).text


def test_shares_of_bases_count_every_assumption(study):
    rows = rows_of(trust.basis_shares(study))
    assert rows["time elements"][BASES.index("default")] == str(len(study.plant.elements))
    assert rows["stops"][-1] == str(len(study.plant.stops))


def test_the_register_lists_every_element(study):
    assert len(trust.register(study).content["rows"]) == len(study.plant.elements)


def test_rule_cards_print_the_values_in_force(study):
    rows = rows_of(trust.rule_cards(study))
    assert rows["dispatch"][0] == "arrival"
    assert rows["window_orders"] == ("10", "orders looked at by the grouped and the searched rule")


def test_notes_of_the_checks_are_listed(study):
    block = trust.data_fixes(study)
    assert len(block.content["rows"]) == len(study.findings) > 0
    clean = trust.data_fixes(dataclasses.replace(study, findings=()))
    assert "nothing was fixed" in clean.text


def test_cautions_begin_with_the_standing_line():
    items = trust.caution_list().content["items"]
    assert items[0]["head"] == "Standing line"
    assert len(items) > 10


def test_how_much_weeks_differ_stands_apart_from_how_well_a_mean_is_known(study):
    block = today.weeks_of_the_book(study)
    hours = week_hours(study.plant, program_tables(study.plant))
    rows = rows_of(block)
    assert [cells[0] for cells in rows.values()] == [number(v, 1) for v in (*hours, hours.mean())]
    assert rows["mean week"][1] == number(len(study.plant.orders) / len(hours), 1)
    assert "do not hold how much weeks differ" in block.content["note"]
    assert "balanced" in block.content["note"]


def test_book_observed_and_simulated_load_stand_side_by_side(study):
    """Each amount is worked out anew from the rows of the plant and the replications."""
    weeks = len(week_hours(study.plant, program_tables(study.plant)))
    sheets = sum(order.sheets for order in study.plant.orders) / weeks
    seen = study.plant.observed
    real = number(sum(week.sheets for week in seen) / len(seen)) if seen else "–"
    found = rows_of(today.load_beside(study))["sheets"]
    assert found[:3] == (number(sheets), number(study.demand_factor * sheets), real)
    assert found[3] == plus_minus(study.per_week("today", "sheets"))
    bare = dataclasses.replace(study, plant=dataclasses.replace(study.plant, observed=()))
    assert {cells[2] for cells in rows_of(today.load_beside(bare)).values()} == {"–"}


def test_a_difference_that_cannot_be_told_says_how_many_replications_would_decide(cash):
    """Five runs do not tell Saturday work from the rule of sequence; removal and magazine they do."""
    gap, words = cash.gap("C2", "N1"), money.difference_words(cash, "C2", "N1")
    needed = cash.replications_to_tell("C2", "N1")
    assert not gap.tells
    assert needed > cash.study.run.replications
    assert words.endswith(f"{number(needed, 0)} replications would decide if it is what it seems)")
    assert cash.gap("A4", "A1").tells
    assert money.difference_words(cash, "A4", "A1") == f"{plus_minus(cash.gap('A4', 'A1'), 0, difference=True)} CU"
    assert gap.mean == pytest.approx(cash.results["C2"].npv - cash.results["N1"].npv)
