"""What the sections about parts say equals what clocks, results and counts say: the demo, simulated for a week."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.analysis.hand_over import CHUTE, HandOver
from simkit.analysis.part_breaks import BreakEven
from simkit.analysis.part_cases import PICK, STACKS
from simkit.analysis.record_tables import MORNING, NIGHT_PLACES
from simkit.base.vocabulary import NO_SOURCE
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.runner import make_scenarios, run_scenarios
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.report.exhibits import Block, Exhibit
from simkit.report.partstudy import ENTRIES, parts_of, read_by_parts
from simkit.report.sections import parts, parts_breaks, parts_nights, parts_ways
from simkit.report.simulate_parts import counted_options, simulate_parts
from simkit.report.study import Study
from simkit.report.studydata import TODAY, RunCard
from simkit.report.words import number, percent, plus_minus
from tests.must_lose.changed import parts as with_parts
from tests.must_lose.changed import whole_demo

PACKAGE = ("N2", "N8")
SETS = ((), ("N3",), PACKAGE, ("A1",), ("A4",), ("A8",), ("A5b",), (*PACKAGE, "A4"), (*PACKAGE, "A8"))
RUN = {"replications": 2, "weeks": 1.0, "workers": 1, "progress": False, "seed": 5}


def simulated(plant: Plant, package: tuple[str, ...] = PACKAGE) -> Study:
    """A study of the demo with the scenarios that the study of parts reads, and its own cases."""
    scenarios = make_scenarios(plant, SETS)
    results = run_scenarios(make_scenario(plant), scenarios, demand_factors=[1.0], **RUN)
    found = simulate_parts(plant, package, SETS, 1.0, lambda _: None, **RUN)
    card = RunCard(
        plant=plant.settings.name, seed=5, replications=2, weeks=1.0, demand_factors=(1.0,),
        scenarios={scenario.name: scenario.option_ids for scenario in scenarios},
        package="+".join(package), cases={"parts": found.cases},
    )  # fmt: skip
    return Study(
        plant=plant, results=results.joined(found.results), run=card, demand_factor=1.0,
        tables=found.tables,
    )  # fmt: skip


@pytest.fixture(scope="module")
def view():
    return parts_of(simulated(whole_demo()))


def rows_of(block: Block) -> dict[str, tuple[str, ...]]:
    assert block.template == "table", block.text
    return {row.head: row.cells for row in block.content["rows"] if row.look != "group"}


# ---- which scenario is what ----


def test_scenarios_are_found_by_what_they_hold(view):
    assert (view.removal, view.package, view.over.under) == ("A4", PACKAGE, PACKAGE)
    assert set(view.options_of(view.night_removal)) == {*PACKAGE, "A1", "A4", "A5b", "C1"}
    assert set(view.options_of(view.night_stack)) == {*PACKAGE, "A1", "A8", "A5b", "C1"}
    assert view.scenario_of(("A4", "A8")) is None
    assert view.scenario_of(None, ("A4",)) is None


def test_cases_are_named_by_what_they_change(view):
    assert view.named(view.night_removal) == "Package + A1+A4+A5b+C1"
    assert view.named(f"A4+{CHUTE}") == "A4, rest down the chute"
    assert view.spoken(view.night_removal) == "Night, removal"
    assert view.spoken("A4") == "Removal alone"
    assert view.named("A4, 18 s a pick") == "A4, 18 s a pick"
    assert (view.named(TODAY), view.named("N2+N8")) == ("Today", "Package")


def test_what_was_simulated_elsewhere_is_not_a_case_again(view):
    assert not set(view.own_cases) & set(view.study.run.scenarios)
    assert set(counted_options(HandOver(whole_demo(), PACKAGE))) == {
        (), ("A4",), ("N2", "N8", "A1", "A4", "A5b", "C1"), ("N2", "N8", "A1", "A5b", "A8", "C1"),
    }  # fmt: skip


# ---- clocks and limits ----


def test_the_answer_gives_clocks_hours_and_nights(view):
    text = parts.answer_parts(view).text
    every = view.families[-1]
    assert f"{percent(every.slower)} of the sheets take longer with it" in text
    assert plus_minus(view.change("A4", TODAY), difference=True) in text
    assert f"people enter its guarded cell {plus_minus(view.per_week('A4', ENTRIES), 0)} times" in text
    for name in (view.night_removal, view.night_stack):
        assert plus_minus(view.per_week(name, UNATTENDED)) in text


def test_the_table_of_clocks_is_that_of_the_families(view):
    rows = rows_of(parts.clock_table(view))
    assert list(rows) == [*(row.family for row in view.families[:-1]), "all sheets"]
    every = view.families[-1]
    cells = rows["all sheets"]
    assert cells[:3] == (number(every.sheets, 0), number(every.machine_s, 0), number(every.person_s, 0))
    assert cells[-2] == number(100 * every.slower, 0)
    figure = parts.clock_figure(view)
    assert isinstance(figure, Exhibit)
    assert figure.title.startswith(f"{percent(every.slower)} of the sheets take longer with removal")


def test_eligibility_by_parts_sheets_and_hours_adds_up(view):
    rows = rows_of(parts.reason_table(view))
    assert rows["all parts"][0] == number(sum(row.parts for row in view.reasons), 0)
    assert rows["can be picked"][0] == number(next(r.parts for r in view.reasons if not r.reason), 0)
    block = parts.limit_table(view)
    assert "“forms lower than” holds back the most" in block.text
    assert number(view.limits[0].parts, 0) in block.text


def test_t6_where_all_parts_are_tall_the_page_shows_that_nothing_can_be_picked(view):
    tall = with_parts(whole_demo(), per_sheet=6, form_height_mm=50.0)
    own = parts_of(dataclasses.replace(view.study, plant=tall))
    assert parts.picked_share(own) == 0.0
    assert "0 % of" in parts.reason_table(own).text.replace("\u00a0", " ")
    assert own.families[-1].slower == 0.0
    assert parts.clock_table(own).text.startswith("No family's mean sheet takes longer")


def test_t5_sixty_small_parts_show_as_pick_bound_and_slower(view):
    many = with_parts(whole_demo(), per_sheet=60, length_mm=120, width_mm=110, mass_kg=0.2)
    own = parts_of(dataclasses.replace(view.study, plant=many))
    bound = float(rows_of(parts.clock_table(own))["all sheets"][7])
    assert bound == pytest.approx(100 * own.families[-1].pick_bound, abs=0.5)
    assert own.families[-1].pick_bound > 0
    assert own.families[-1].person_bound > 0.8


# ---- ways, why, exposure, pairs ----


def test_ways_to_hand_over_stand_alone_on_the_package_and_at_night(view):
    block = parts_ways.way_table(view)
    heads = [row.head for row in block.content["rows"] if row.look == "group"]
    assert heads == ["alone, against today", "on the low-capital package, against it",
                     "at night, against the whole-sheet stack"]  # fmt: skip
    rows = rows_of(block)
    removal = next(cells for head, cells in rows.items() if head.startswith("A4 Automatic"))
    assert removal[0] == plus_minus(view.per_week("A4", NEEDED))
    assert removal[3] == plus_minus(view.per_week("A4", "person_bench_h"))
    assert rows["Today"][1] == "–"
    assert rows["N3 Second person at the bench"][1] == parts_ways.told(view.changes(["N3"], TODAY)["N3"])
    assert "2 s at the machine" in block.content["note"]


def test_what_comes_along_with_each_way(view):
    rows = rows_of(parts_ways.side_table(view))
    removal = next(cells for head, cells in rows.items() if head.startswith("A4 Automatic"))
    lost = [name for name in view.study.results.measures if name.startswith("lost_kg_")]
    assert removal[1] == number(view.per_week("A4", *lost).mean, 0)
    assert removal[-1] == plus_minus(view.per_week("A4", ENTRIES), 0)
    assert rows["Today"][-1] == "0 ± 0"


def test_a_difference_is_told_with_its_doubt():
    assert parts_ways.told(None) == "–"
    assert parts_ways.told(Estimate(0.0, 0.0, 4)) == "none"
    assert parts_ways.told(Estimate(2.0, 1.0, 4)) == "+2.00 ± 1.00"
    assert parts_ways.told(Estimate(2.0, 3.0, 4)) == "+2.00 ± 3.00 ?"


def test_scrap_credit_is_mass_times_price_by_metal(view):
    plant = view.study.plant
    prices = {row.metal: row.scrap_price_per_kg for row in plant.materials}
    by_hand = sum(price * view.study.weekly.values("A4", f"scrap_kg_{metal}") for metal, price in prices.items())
    assert view.scrap_credit("A4").mean == pytest.approx(t_interval(by_hand).mean)


def test_why_hours_move_is_told_state_by_state(view):
    rows = rows_of(parts_ways.why_table(view))
    gap = view.change("A4", TODAY, "state_first_piece_h")
    assert rows["first piece"][-1] == plus_minus(gap, difference=True)
    assert gap.mean > 0


def test_exposure_is_what_the_lifts_of_a_shift_say(view):
    rows = rows_of(parts_ways.exposure_table(view))
    less = view.exposures["A4"].taken_away["total"]
    name = next(head for head in rows if head.startswith("A4 Automatic"))
    assert rows[name][2:4] == (plus_minus(less.lifts, 0), plus_minus(less.kg, 0))
    assert "not a safe task" in parts_ways.exposure_table(view).content["note"]


def test_interactions_are_both_less_each_plus_neither(view):
    rows = rows_of(parts_ways.pair_table(view))
    assert len(rows) == 2  # by head: the same pairs stand by day and at night
    cells = [row.cells for row in parts_ways.pair_table(view).content["rows"] if row.look != "group"]
    assert len(cells) == 4
    pair = view.roles.pairs["store"]
    for base, measure, place in (((), NEEDED, 1), (view.over.night_bases["store"], UNATTENDED, 3)):
        sets = view.over.corners(pair, base)
        both, one, two, none = (view.study.weekly.values(view.scenario_of(o), measure) for o in sets)
        assert cells[place][5] == plus_minus(t_interval(both - one - two + none), difference=True)
        assert cells[place][3] == plus_minus(t_interval(both - none), difference=True)


# ---- nights and bench ----


def test_places_of_a_night_are_counted_where_none_binds(view):
    assert {"plant.removal.stack_places=60", "plant.rules.first_piece=never"} <= set(view.sizing.overrides)
    counts = view.counts(view.sizing.name, NIGHT_PLACES)
    total = counts["mean"].sum()
    assert total == pytest.approx(view.study.results.values(view.sizing.name, "nights").mean())
    enough = view.enough_for(view.sizing.name, NIGHT_PLACES)
    assert counts[counts["which"] <= enough]["mean"].sum() >= 0.8 * total
    assert counts[counts["which"] < enough]["mean"].sum() < 0.8 * total
    assert f"takes {enough} place" in parts_nights.place_bars(view).title


def test_stacks_with_other_places_and_rules(view):
    rows = rows_of(parts_nights.stack_table(view))
    assert next(iter(rows)) == "4 stack places, by order (on offer)"
    case = next(case for case in view.cases(STACKS) if case.what == "2 stack places")
    assert rows["2 stack places"][0] == plus_minus(view.per_week(case.name, UNATTENDED))
    assert len(rows) == 6


def test_what_ends_the_nights(view):
    rows = rows_of(parts_nights.night_end_table(view))
    ends = [float(cell) for cell in rows["Night, removal"][3:]]
    assert sum(ends) <= float(rows["Night, removal"][0]) + 0.3


def test_the_backlog_by_hour_is_that_of_the_counts(view):
    figure = parts_nights.backlog_lines(view)
    assert isinstance(figure, Exhibit)
    hours = parts_nights._by_hour(view, TODAY)
    assert np.mean([hour.mean for hour in hours]) == pytest.approx(
        view.study.per_week(TODAY, "bench_sheets_mean").mean, abs=0.02
    )
    assert "Today: most" in figure.alt


def test_mornings_are_those_of_the_measures(view):
    rows = rows_of(parts_nights.morning_table(view))
    assert rows["Today"][0] == plus_minus(view.per_week(TODAY, "bench_morning_mean"), 1)
    counts = view.counts(TODAY, MORNING)
    mean = (counts["which"] * counts["mean"]).sum() / counts["mean"].sum()
    assert mean == pytest.approx(view.per_week(TODAY, "bench_morning_mean").mean, abs=0.3)


def test_the_curve_of_bench_places_is_against_today(view):
    figure = parts_nights.bench_curve(view)
    assert NO_SOURCE in figure.note
    assert isinstance(figure, Exhibit)
    gap = view.changes(["today, 1 bench places", "today, 2 bench places", "today, 5 bench places",
                        "today, 10 bench places"], TODAY)["today, 1 bench places"]  # fmt: skip
    assert f"{plus_minus(gap)} at 1" in figure.alt


# ---- break-even ----


def test_the_curve_of_picks_falls_and_the_words_say_where_it_ends(view):
    gains = [view.change(name, TODAY).mean for _, name, _ in view.curve(PICK, view.removal)]
    assert gains == sorted(gains)
    figure = parts_breaks.pick_curve(view)
    assert f"Points at 0, 0.5, 2 and 4 times what is offered: {NO_SOURCE}." in figure.note
    assert isinstance(figure, Exhibit)
    assert figure.title == parts_breaks.pick_words(view).rstrip(".")
    found = view.pick_break
    if found.estimate is not None:
        assert plus_minus(found.estimate, 1) in figure.title
    elif found.below == found.runs:
        assert "not even picks that take none" in figure.title


def test_words_of_a_break_even_for_every_outcome(view, monkeypatch):
    outcomes = {
        "stops saving hours at 12.0 ± 1.5": BreakEven(Estimate(12.0, 1.5, 2), 0, 0, 2),
        "not even picks that take none": BreakEven(None, 2, 0, 2),
        "still saves hours at the longest": BreakEven(None, 0, 2, 2),
        "1 of 2 runs gain nothing": BreakEven(None, 1, 0, 2),
    }
    for words, found in outcomes.items():
        monkeypatch.setitem(view.__dict__, "pick_break", found)
        assert words in parts_breaks.pick_words(view)
    night = {
        "at 50 ± 10 failed picks in 1,000": BreakEven(Estimate(0.05, 0.01, 2), 0, 0, 2),
        "no lead over the whole-sheet stack, even if": BreakEven(None, 2, 0, 2),
        "keeps its lead": BreakEven(None, 0, 2, 2),
        "is not sure": BreakEven(None, 1, 0, 2),
    }
    for words, found in night.items():
        monkeypatch.setitem(view.__dict__, "fail_break", found)
        assert words in parts_breaks.fail_words(view)[0]


def test_failing_picks_in_the_cell_stand_beside_the_closed_form(view):
    rows = rows_of(parts_breaks.fail_table(view))
    assert list(rows) == ["0.0", "5.0", "20.0", "60.0", "150.0"]
    assert rows["0.0"][1:3] == ("0.0", "0.0 ± 0.0")
    picks = parts_breaks.mean_picks(view)
    assert percent(1 - (1 - 0.005) ** picks, 1) in parts_breaks.fail_table(view).text
    closed, cell = (float(rows["150.0"][place].split(" ")[0]) for place in (1, 2))
    assert abs(closed - cell) < 15


def test_cautions_name_edges_lifting_and_entries():
    text = parts_breaks.part_cautions().html()
    assert all(head in text for head in ("Sharp edges", "Lifting", "guarded cell"))


def test_the_page_reads_its_own_cases(view):
    lines = read_by_parts(view.study)
    assert any(line.startswith("A4, 18 s a pick") for line in lines)
    assert not any(line.startswith("C5") for line in lines)


# ---- plants that lack something ----


def test_without_any_option_the_page_says_so(study):
    bare = parts_of(
        dataclasses.replace(
            study,
            plant=dataclasses.replace(study.plant, options=()),
            run=dataclasses.replace(study.run, scenarios={TODAY: ()}, package=TODAY),
        )
    )
    assert parts.NO_REMOVAL in parts.answer_parts(bare).text
    for block in (parts.reason_table(bare), parts_ways.way_table(bare), parts_nights.stack_table(bare),
                  parts_breaks.pick_curve(bare), parts_ways.pair_table(bare)):  # fmt: skip
        assert isinstance(block, Block)
        assert block.template == "paragraph"
    assert isinstance(parts.clock_figure(bare), Exhibit)


def test_at_a_demand_that_was_not_counted_nothing_is_shown_as_counted(view):
    other = dataclasses.replace(view.study, run=dataclasses.replace(view.study.run, tool_demand=1.25))
    assert parts_nights.morning_table(parts_of(other)).text == parts_nights.NOT_COUNTED
