"""A study seen from its tools: which cases stand for what, and amounts by tool and by week."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.tool_cases import LAYOUT, MAGAZINE
from simkit.experiment.intervals import t_interval
from simkit.report.studydata import TODAY
from simkit.report.toolstudy import read_by_tools, tools_of
from tests.report.fake_tools import TOOL_MIN
from tests.small_plant import small_plant


@pytest.fixture(scope="module")
def view(study):
    return tools_of(study)


def test_the_main_cases_are_today_package_magazine_and_both(view):
    assert view.main_cases == (TODAY, "N1+N2", "A1", "N1+N2+A1")


def test_a_plant_with_its_own_magazine_is_its_own_case(study):
    plant = small_plant(settings=study.plant.settings, magazine={"places": {"16": 4}})
    run = dataclasses.replace(study.run, scenarios={TODAY: ()}, package=TODAY)
    own = tools_of(dataclasses.replace(study, plant=plant, run=run))
    assert (own.magazine, own.both, own.main_cases) == (TODAY, None, (TODAY,))


def test_cases_are_found_by_group_and_named_by_themselves(view):
    assert [case.name for case in view.cases(LAYOUT)] == ["Layout found"]
    assert len(view.cases(MAGAZINE)) == 5
    assert view.blind.name == "A1 without look-ahead"
    assert view.named("Layout found") == "Layout found"
    assert view.named("N1+N2") == "Package"


def test_free_cases_buy_no_twins(study):
    cases = dict(study.run.cases["tools"])
    cases["Layout found"] = dataclasses.replace(cases["Layout found"], facts={"twins": 3.0})
    bought = tools_of(dataclasses.replace(study, run=dataclasses.replace(study.run, cases={"tools": cases})))
    assert bought.free_cases == ["N1", "N1 with layout found"]
    assert "Layout found" in bought.fix_cases


def test_sums_of_measures_are_added_up_run_by_run(view):
    values = [view.study.weekly.values("A1", name) for name in ("tool_loads", "die_changes")]
    assert view.per_week("A1", "tool_loads", "die_changes").mean == pytest.approx(t_interval(sum(values)).mean)
    assert view.per_week("A1", "tool_loads", "die_changes").half_width == pytest.approx(
        t_interval(sum(values)).half_width
    )


def test_differences_per_week_are_paired(view):
    change = view.change("A1", TODAY)
    assert change.mean == pytest.approx(view.study.results.paired("A1", TODAY, "hours_needed").mean / 4)
    assert view.changes([TODAY], TODAY) == {}


def test_minutes_by_tool_have_the_most_first(view):
    minutes = view.minutes(TODAY)
    assert list(minutes.index[:2]) == ["TL-001", "TL-002"]
    assert minutes.loc["TL-001", "die_change"] == TOOL_MIN["TL-001"][1]
    assert view.of_tool(TODAY, "none of these").mean == 0.0
    assert view.of_family("N1", "BOOK", "visible").mean == 0.0


def test_nothing_counts_at_another_demand(study):
    other = tools_of(dataclasses.replace(study, demand_factor=1.25))
    assert not other.counted
    assert other.cases(LAYOUT) == []


def test_the_page_of_tools_reads_its_own_cases(study):
    lines = read_by_tools(study)
    assert any(line.startswith("Layout found") for line in lines)
    assert not any(line.startswith("A4 ") for line in lines)
