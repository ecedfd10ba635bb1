"""What the sections about tools say equals what the results and the tables by tool say."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.magazine_sizes import keep_rows
from simkit.experiment.results import Results
from simkit.report.exhibits import Block, Exhibit
from simkit.report.sections import tool_care, tool_fixes, tool_magazine, tools
from simkit.report.studydata import TODAY
from simkit.report.toolstudy import tools_of
from simkit.report.words import number, percent, plus_minus
from tests.report.fake_tools import NIGHT_SET, TOOL_MIN
from tests.small_plant import small_plant


@pytest.fixture(scope="module")
def view(study):
    return tools_of(study)


def rows_of(block: Block) -> dict[str, tuple[str, ...]]:
    return {row.head: row.cells for row in block.content["rows"] if row.look != "group"}


def changed(study, **parts):
    return tools_of(dataclasses.replace(study, **parts))


def without_cases(study):
    return changed(study, run=dataclasses.replace(study.run, cases={}))


def moved(study, scenario, measure, amount):
    """The study with a measure of one scenario raised by an amount in every run."""
    frame = study.results.frame.copy()
    frame.loc[(frame["scenario"] == scenario) & (frame["measure"] == measure), "value"] += amount
    return changed(study, results=Results(frame))


# ---- answer ----


def test_the_answer_gives_what_tools_cost_and_what_is_left(view):
    text = tools.answer_tools(view).text
    cost = tools.cost_h(view, TODAY)
    each = [view.study.per_week(TODAY, m).mean for m in ("exchange_visible_h", "tool_fault_h")]
    assert cost.mean == pytest.approx(sum(each))
    assert text.startswith(f"Tools cost {plus_minus(cost)}")
    for name in ("N1+N2", "A1", "N1+N2+A1"):
        assert plus_minus(tools.cost_h(view, name)) in text
    gap = view.change("N1+N2+A1", "N1+N2")
    assert f"On top of the package the magazine changes the hours needed by {plus_minus(gap, difference=True)}" in text


def test_the_answer_says_whether_it_goes_without_buying(view):
    text = tools.answer_tools(view).text
    for name in ("N1", "Layout found", "N1 with layout found"):
        assert f"{name} {plus_minus(view.fix_changes[name], difference=True)}" in text
    gap = view.change("N1 with layout found", "A1")
    assert gap.low > 0
    assert f"None of them gets as far as the magazine: N1 with layout found needs {plus_minus(gap)}" in text


def test_a_free_fix_that_beats_the_magazine_is_said_to(study):
    text = tools.answer_tools(moved(study, "Layout found", "hours_needed", -200.0)).text
    assert "Layout found alone gets further than the magazine" in text


def test_the_answer_names_the_places_that_are_enough(view):
    found = tool_magazine.enough_places(view)
    assert found.places == 27
    text = tools.answer_tools(view).text
    assert "27 magazine places are enough (35 are on offer)" in text
    assert "Unattended nights then lose" in text


def test_the_answer_names_the_residue(view):
    fixed, first = tool_care.fixed_h(view, "N1+N2+A1"), view.per_week("N1+N2+A1", "state_first_piece_h")
    assert (
        f"{number(fixed.mean)} h of fixed minutes per order and {number(first.mean)} h" in tools.answer_tools(view).text
    )


# ---- which tools ----


def test_the_table_of_tools_equals_the_counts(view):
    rows = rows_of(tools.tool_table(view))
    loads, dies = TOOL_MIN["TL-001"]
    total = sum(sum(minutes) for minutes in TOOL_MIN.values())
    cells = rows["TL-001 round 6"]
    assert cells[:3] == (number(loads / 4), number(dies / 1.5), "0")
    assert cells[3] == f"{number(loads + dies)} ± 2"
    assert cells[4] == number(100 * (loads + dies) / total, 1)
    assert cells[5] == "1,000"
    assert rows["all 5 tools"][3] == number(total)
    assert next(iter(rows)).startswith("TL-001")


def test_the_pareto_says_how_few_tools_make_half(view):
    exhibit = tools.tool_pareto(view)
    total = sum(sum(minutes) for minutes in TOOL_MIN.values())
    assert isinstance(exhibit, Exhibit)
    assert exhibit.title.startswith(f"2 of 5 tools make half of today's {number(total, 0)} min")
    assert "TL-001 round 6: tools fetched and fitted by hand 24.0" in exhibit.alt
    assert "with Package 45.6" in exhibit.alt


def test_other_tools_stand_together_beyond_the_top(view, monkeypatch):
    monkeypatch.setattr(tools, "TOP_TOOLS", 2)
    rows = rows_of(tools.tool_table(view))
    rest = sum(sum(TOOL_MIN[tool]) for tool in ("TL-003", "TL-004", "TL-005"))
    assert rows["3 other tools"][3] == number(rest)
    assert "The 3 other tools make" in tools.tool_pareto(view).note


def test_pairs_of_clearances_are_those_of_the_book(view):
    rows = rows_of(tools.clearance_table(view))
    assert set(rows) == {"TL-001 round 6"}
    assert rows["TL-001 round 6"] == (number(90 / 1.5), "0.2: 3; 0.3: 3", "0.2 and 0.3: 5")


# ---- fixes ----


def test_every_fix_is_compared_with_today(view):
    rows = rows_of(tool_fixes.fix_table(view))
    assert list(rows) == ["Today", "N1", "Layout found", "N1 with layout found", "Package", "A1", "Package + A1"]
    assert rows["Layout found"][2] == plus_minus(view.fix_changes["Layout found"], difference=True)
    assert rows["A1"][-1] == number(view.study.capital("A1"), 0)
    assert rows["Layout found"][-1] == "0"
    assert isinstance(tool_fixes.fixes(view), Exhibit)


def test_the_measured_gain_of_a_layout_stands_beside_the_static_one(view):
    block = tool_fixes.layout_table(view)
    cells = rows_of(block)["Layout found"]
    assert cells[:3] == ("2", "0", "2.00")
    assert cells[6:] == (plus_minus(view.fix_changes["Layout found"], difference=True), "fewer hours")
    assert "measured the layout on projected weeks of other orders" in block.content["note"]


def test_a_layout_that_gains_nothing_is_shown_so(study):
    gap = -study.results.paired("Layout found", TODAY, "hours_needed").mean
    worse = moved(study, "Layout found", "hours_needed", gap + 50.0)
    block = tool_fixes.layout_table(worse)
    assert block.text == "None of 1 standard layout surely saves an hour: it is not worth fixing one"
    assert rows_of(block)["Layout found"][-1] == "more hours"


def test_the_pins_are_those_of_the_case(view):
    block = tool_fixes.layout_pins(view)
    rows = rows_of(block)
    assert list(rows.items()) == [
        ("TL-003 obround 6x18", ("30", "0.3", "1.50")),
        ("TL-001 round 6", ("16", "any", "0.50")),
    ]
    assert block.text.startswith("2 stations of the layout take 2.0 of 9.0 h")


def test_without_a_layout_found_a_sentence_says_so(study):
    bare = without_cases(study)
    assert tool_fixes.layout_table(bare).text == tool_fixes.NO_LAYOUT
    assert tool_fixes.layout_pins(bare).text == tool_fixes.NO_LAYOUT


# ---- magazine ----


def test_the_table_of_sizes_equals_the_simulated_cases(view):
    rows = rows_of(tool_magazine.magazine_table(view))
    assert list(rows) == ["0", "9", "18", "27", "35", "44"]
    assert rows["9"][1] == plus_minus(view.per_week("A1, 25% of places", *tool_magazine.BY_HAND))
    assert rows["9"][3] == plus_minus(view.change("A1, 25% of places", TODAY), difference=True)
    assert rows["35"][4] == "–"
    night = "+".join(NIGHT_SET)
    assert rows["35"][5] == plus_minus(view.per_week(night, "night_lost_tool_h"))
    assert rows["0"][5] == "–"


def test_the_curve_draws_four_panels_with_nights(view):
    exhibit = tool_magazine.magazine_curve(view)
    assert exhibit.alt.count(" at 27") == 4
    assert exhibit.title.startswith("27 places are enough")


def test_nights_without_an_assessment_are_not_drawn(study):
    settings = study.plant.settings
    night = settings.calendar.night.model_copy(update={"assessed_by": ""})
    calendar = settings.calendar.model_copy(update={"night": night})
    plant = dataclasses.replace(study.plant, settings=settings.model_copy(update={"calendar": calendar}))
    assert tool_magazine.night_points(changed(study, plant=plant)) == []


def test_more_places_that_still_help_leave_the_question_open(study):
    more = moved(study, "A1, 125% of places", "hours_needed", -40.0)
    assert tool_magazine.enough_places(more) is None
    assert "more places still save hours" in tool_magazine.magazine_curve(more).title
    assert "not shown to be enough" in tools.answer_tools(more).text


def test_the_keep_list_has_every_tool_of_the_book(view):
    block = tool_magazine.keep_table(view)
    listed = keep_rows(view.study.plant, ("A1",))
    assert {head.split()[0] for head in rows_of(block)} == set(TOOL_MIN)
    assert sum(row.look != "group" for row in block.content["rows"]) == len(listed)
    covered = percent(sum(row.share for row in listed), 1)
    assert block.text.startswith(f"{covered} of the exchanges find tool and die in the magazine; none of the")


def test_too_few_places_show_the_first_left_out(study):
    options = tuple(
        o.model_copy(update={"edits": (o.edits[0].model_copy(update={"value": {"16": 1, "30": 1, "55": 1}}),)})
        if o.id == "A1" else o for o in study.plant.options
    )  # fmt: skip
    few = changed(study, plant=dataclasses.replace(study.plant, options=options))
    looks = [(row.head.split()[0], row.look) for row in tool_magazine.keep_table(few).content["rows"]]
    listed = keep_rows(few.study.plant, ("A1",))
    out = sum(not row.kept for row in listed)
    assert out > 1
    assert ("TL-001", "") in looks
    assert sum(look == "grey" for _, look in looks) == out
    assert f"{out} of the {len(listed)} tools and dies" in tool_magazine.keep_table(few).text


def test_look_ahead_by_family(view):
    rows = rows_of(tool_magazine.lookahead_table(view))
    every = sum(sum(minutes) for minutes in TOOL_MIN.values())
    assert list(rows) == ["BOOK", "LOCK", "all families"]
    assert rows["BOOK"][1] == "67"
    shares = ((0.1, "1.0"), (0.2, "3.0"), (0.3, "3.0"))
    assert rows["all families"][3:] == tuple(f"{number(every * share)} ± {half}" for share, half in shares)
    assert tool_magazine.lookahead_bars(view).title.startswith(f"A1 hides {percent(1 / 3)}")


def test_families_that_only_punch_are_named(study):
    families = study.table("tool_families")
    families = families.assign(cut_min=families["cut_min"].where(families["family"] != "LOCK", 0.0))
    block = tool_magazine.lookahead_table(changed(study, tables={**study.tables, "tool_families": families}))
    assert "LOCK only punches and can hide nothing" in block.text


# ---- wear, faults, residue ----


def test_faults_by_kind_and_where_they_are_found(view):
    block = tool_care.fault_table(view)
    cells = rows_of(block)["wrong die"]
    assert cells[:2] == ("tool_load, die_change", "1.00 (assumed)")
    assert cells[2:5] == ("0 ± 0", "2.00 ± 0.50", "0.50 ± 0.50")
    assert "1 of 1 kind rest on assumed rates" in block.text


def test_wear_of_the_main_cases(view):
    rows = rows_of(tool_care.wear_measures(view))
    assert rows["tools that failed in the middle of a sheet, tools"][0] == plus_minus(
        view.per_week(TODAY, "tools_worn_out")
    )


def test_the_forecast_adds_up(study):
    worn = tuple(dataclasses.replace(t, life_law="constant", life_hits=2000.0) for t in study.plant.tools)
    block = tool_care.regrind_table(changed(study, plant=dataclasses.replace(study.plant, tools=worn)))
    rows = rows_of(block)
    each = [float(cell) for cell in rows["all tools: swaps and failures"][2:]]
    grinding = [float(cell) for cell in rows["all tools: hours of grinding"][2:]]
    assert len(each) == 8
    assert sum(each) > 0
    assert sum(grinding) == pytest.approx(sum(each) * 12 / 60, abs=0.4)


def test_what_no_fix_touches_is_the_sum_of_fixed_minutes_and_first_pieces(view):
    cells = rows_of(tool_care.residue_table(view))["A1"]
    fixed, first = tool_care.fixed_h(view, "A1"), view.per_week("A1", "state_first_piece_h")
    assert cells[1:] == (plus_minus(fixed), plus_minus(first), number(fixed.mean + first.mean))


def test_the_rule_card_prints_the_values_in_force(study):
    rows = rows_of(tool_care.tool_rules(tools_of(study)))
    assert rows["eviction"][0] == study.plant.settings.rules.eviction
    assert "places" in rows


def test_cautions_about_tools_come_first():
    heads = [item["head"] for item in tool_care.tool_cautions().content["items"]]
    assert heads[:3] == ["Sharp and heavy tools", "Press", "Laser"]


# ---- plants that have less ----


@pytest.fixture(params=["no cases", "no options", "no tools"])
def bare(study, request):
    """Studies with nothing to show: no cases simulated, a plant without a magazine option, a plant without tools."""
    tables = {name: own for name, own in study.tables.items() if not name.startswith("tool")}
    run = dataclasses.replace(study.run, cases={})
    if request.param == "no cases":
        return changed(study, run=run, tables=tables)
    lean = {"tools": (), "program_tools": ()} if request.param == "no tools" else {}
    plant = small_plant(settings=study.plant.settings, **lean)
    run = dataclasses.replace(run, scenarios={TODAY: ()}, package=TODAY)
    return changed(study, plant=plant, run=run, results=study.results.selected([TODAY]), tables=tables)


SECTIONS = (
    tool_fixes.fixes, tool_fixes.fix_table, tools.tool_pareto, tools.tool_table, tools.clearance_table,
    tool_fixes.layout_table, tool_fixes.layout_pins, tool_magazine.magazine_curve, tool_magazine.magazine_table,
    tool_magazine.keep_table, tool_magazine.lookahead_bars, tool_magazine.lookahead_table, tool_care.wear_measures,
    tool_care.fault_table, tool_care.regrind_table, tool_care.residue_table, tool_care.tool_rules,
)  # fmt: skip


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.__name__)
def test_every_section_has_a_sentence_where_there_is_nothing_to_draw(bare, section):
    shown = section(bare)
    if isinstance(shown, Exhibit):
        assert section is tool_fixes.fixes
        assert bare.fix_changes
    else:
        assert len(shown.text) > 20


def test_the_answer_of_a_plant_with_less(bare):
    text = tools.answer_tools(bare).text
    assert text == tools.NO_TOOLS if not bare.study.plant.tools else "No magazine was simulated" in text


def test_another_demand_says_where_the_tools_were_counted(study):
    other = changed(study, demand_factor=1.25)
    assert tools.tool_table(other).text == "Exchanges were counted by tool at demand 1 only."
    assert tool_magazine.magazine_table(other).text == tool_magazine.NOT_AT_THIS_DEMAND
