"""Calendar options with bought ones: the tables say what the results say, and posts follow the rule of money."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.experiment.results import Results
from simkit.plant.options import Edit
from simkit.report.calendarstudy import LEFT, OVER, WHOLE, calendar_of
from simkit.report.exhibits import Block, Exhibit
from simkit.report.sections import options_calendar as section
from simkit.report.words import number, plus_minus
from tests.report.test_sections import rows_of, with_plant, with_run

BOTH = "C2+A1"


def moved(study, scenario, measure, more):
    """The study with a measure of a scenario larger in every run."""
    frame = study.results.frame.copy()
    frame.loc[(frame["scenario"] == scenario) & (frame["measure"] == measure), "value"] += more
    return dataclasses.replace(study, results=Results(frame))


def without_bench_person(study):
    """The study of a plant whose calendar option C2 needs one person less at the bench."""
    fewer = Edit(path="people[BE-2]", op="remove_row")
    changed = [o.model_copy(update={"edits": (*o.edits, fewer)}) if o.id == "C2" else o for o in study.plant.options]
    return with_plant(study, dataclasses.replace(study.plant, options=tuple(changed)))


def pair_of(study, bought, calendar, on_package=False):
    wanted = (bought, calendar, on_package)
    return next(p for p in calendar_of(study).pairs if (p.bought, p.calendar, p.on_package) == wanted)


def shown(study):
    """The picture, the matrix on the package, and the folded tables without it and of the sums."""
    picture, matrix, alone, sums, how = section.calendar_with_bought(study)
    return picture, matrix, alone.content["parts"][0], sums.content["parts"][0], how


def test_a_cell_says_what_the_results_say(study):
    picture, matrix, alone, _, _ = shown(study)
    assert isinstance(picture, Exhibit)
    needed = study.per_week(BOTH, "hours_needed").mean
    over = sum(study.per_week(BOTH, m).mean for m in ("overtime_h", "subcontract_h", "unmet_h"))
    late = 100 * study.total(BOTH, "late_share").mean
    text = f"{number(needed)} / {number(late, 1)} / {number(over, 1)}".replace(" ", "\u00a0")
    assert rows_of(alone)["A1"][1].split(";")[0] == text
    assert rows_of(matrix)["A1"][1] != rows_of(alone)["A1"][1]
    assert rows_of(alone)["A1"][2].startswith("with A4: ")
    assert rows_of(alone)[section.NOTHING_BOUGHT][2] == "–"


def test_what_a_calendar_option_adds_beside_a_machine_is_both_less_the_machine_alone(study):
    """Eight hours less given out in 4 weeks with both: 2 h a week, all of it beyond the sum of both."""
    before = calendar_of(study).worth(pair_of(study, "A1", "C2"), OVER)
    view = calendar_of(moved(study, BOTH, "subcontract_h", -8.0))
    pair = pair_of(view.study, "A1", "C2")
    assert view.worth(pair, OVER).mean == pytest.approx(before.mean - 2.0)
    assert view.interaction(pair, OVER).mean == pytest.approx(-2.0)
    assert view.interaction(pair, WHOLE).mean == pytest.approx(0.0)
    rows = shown(view.study)[3].content["rows"]
    assert (rows[0].head, rows[1].head) == ("C2 – without the low-capital package", "A1")
    assert rows[1].cells[2] == plus_minus(view.interaction(pair, OVER), difference=True) == "−2.00 ± 0.00"


def test_what_needs_the_machine_has_no_sum(study):
    view = calendar_of(study)
    pair = pair_of(study, "A4", "C1")
    assert view.worth_without(pair, OVER) is None
    assert view.interaction(pair, OVER) is None
    assert rows_of(shown(study)[3])["A4"][2] == "–"


def test_more_late_orders_are_marked_and_counted_and_change_no_post(study):
    fewer = without_bench_person(study)
    late = moved(fewer, BOTH, "late_share", 0.5)
    before = section.calendar_with_bought(fewer)[2].text
    _, _, alone, _, _ = shown(late)
    cell = rows_of(alone)["A1"][1]
    assert "; 1 post fewer; not recommendable: at demand 1 " in cell
    assert "% of orders late, 47 points more than today" in cell
    kept, of = (int(word) for word in alone.text.split(": ")[1].split(" sets")[0].split(" of "))
    assert f"{kept + 1} of {of} sets" in before
    assert "; 2 have fewer posts than today, of which 1 can be recommended" in alone.text


def test_a_smaller_roster_that_is_no_later_can_be_recommended(study):
    cell = rows_of(shown(without_bench_person(study))[2])["A1"][1]
    assert cell.endswith("; 1 post fewer")


def test_fewer_posts_by_giving_out_work_say_so(study):
    more = moved(without_bench_person(study), BOTH, "subcontract_h", 40.0)
    _, _, alone, _, _ = shown(more)
    assert calendar_of(more).worth(pair_of(more, "A1", "C2"), LEFT).mean == pytest.approx(10.0)
    cell = rows_of(alone)["A1"][1].replace("\u00a0", " ")
    assert "h a week more given out than today, and no subcontractor is named" in cell
    assert cell.endswith(", 10.0 h more out †")
    assert "with more work given out or not made in 1" in alone.text


def test_the_picture_names_the_pair_that_adds_up_least(study):
    title = shown(moved(study, BOTH, "subcontract_h", -8.0))[0].title
    assert title.startswith("C2 without the package")
    assert "beside A1" in title
    assert "C2 Second bench place; C1 Unattended evening." in shown(study)[0].note
    alt = shown(study)[0].alt
    assert "C2, without the low-capital package: nothing bought" in alt


def test_the_page_says_how_a_pair_is_paid(study):
    text = shown(study)[4].text
    assert f"simkit report PLANT --options {BOTH}" in text
    assert "A4+C1" in text, "a set of the report stands in the study of payback"


def test_another_demand_or_no_pair_is_said(study):
    (other,) = section.calendar_with_bought(dataclasses.replace(study, demand_factor=1.25))
    assert other.text == section.OTHER_DEMAND
    (none,) = section.calendar_with_bought(with_run(study, calendar_pairs=()))
    assert isinstance(none, Block)
    assert none.text == section.NO_PAIRS
