"""What the sections about times say equals the small plant by hand, also without motion, tools or laser."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.exposure import TOTAL
from simkit.base.messages import BadInput
from simkit.process.physicsnote import HIGH, LOW, PRESS, physics_note
from simkit.report.exhibits import Block, Exhibit
from simkit.report.sections import times, times_people, times_physics, times_programs, times_standards
from simkit.report.studydata import TODAY
from simkit.report.timestudy import TimeStudy, read_by_times, times_of
from simkit.report.words import number, percent, plus_minus, signed
from tests.analysis.test_sheet_times import P1_S, P2_S
from tests.report.fake_results import LIFTS
from tests.report.test_nights import rows_of
from tests.small_plant import changed_settings

BOOK_H = (11 * P1_S + 10 * P2_S) / 3600
SECTIONS = (
    times.answer_times, times.element_bases, times.apart_table, times.estimate_scatter, times.family_bars,
    times.family_table, lambda view: times_programs.why_these(view, 8), times_physics.findings_table,
    times_physics.physics_cautions, times_physics.force_table, times_physics.speed_table, times_physics.energy_table,
    times_people.handling_table, times_people.removed_table, times_people.mass_table, times_people.lift_table,
    times_standards.indicator_table, times_standards.timing_table,
    lambda view: times_standards.allowance_table(view, 0.12), lambda view: times_standards.ramp_picture(view, 0.9),
    lambda view: times_standards.ramp_table(view, 0.9), times_standards.motion_register, times_standards.times_method,
)  # fmt: skip


def shown(found) -> list[Block | Exhibit]:
    """What a section shows, as a list."""
    return list(found) if isinstance(found, (list, tuple)) else [found]


def seen(study, **changes) -> TimeStudy:
    """The study of times of a plant with other tables; dicts change sections of its settings."""
    sections = {name: value for name, value in changes.items() if isinstance(value, dict)}
    tables = {name: value for name, value in changes.items() if name not in sections}
    plant = dataclasses.replace(study.plant, **tables)
    plant = dataclasses.replace(plant, settings=changed_settings(plant.settings, sections))
    return times_of(dataclasses.replace(study, plant=plant))


@pytest.fixture(scope="module")
def view(study):
    return times_of(study)


@pytest.fixture(scope="module")
def moving(study):
    return seen(study, machine={"motion": {"turret_step_s": 0.5}})


# ---- answer ----


def test_the_answer_counts_measured_times_and_guesses(view):
    text = times.answer_times(view).text
    assert text.startswith(
        f"Of 2 programs none have a measured run time; the run time of the order book is {BOOK_H:.2f}"
    )
    assert "28 of 28 time elements are guesses" in text
    assert times.NO_MOTION in text


def test_the_answer_tells_what_the_largest_disagreement_is_worth(moving):
    text = times.answer_times(moving).text
    gap = (2.6 * 11 + 1.6 * 10) / 3600
    assert f"differ most for P-1: {P1_S - 2.6:.0f} against {P1_S:.0f}" in text
    assert f"over 11 sheets {number(2.6 * 11 / 3600)}" in text
    assert f"({percent(gap / BOOK_H, 1)})" in text


def test_the_answer_counts_findings_by_topic(view):
    text = times.answer_times(view).text
    assert f"Physics has {len(view.notes)} finding" in text
    assert "declares anything safe" in text


def test_a_measured_program_is_counted_with_its_share(study):
    programs = tuple(
        dataclasses.replace(p, measured_run_s=200.0) if p.program_id == "P-1" else p for p in study.plant.programs
    )
    text = times.answer_times(seen(study, programs=programs)).text
    assert "Of 2 programs 1 has a measured run time" in text
    measured_h = 200 * 11 / 3600
    assert f"{percent(measured_h / (measured_h + 10 * P2_S / 3600))} of them by measured programs" in text


# ---- disagreements ----


def test_the_table_of_disagreements(moving):
    rows = rows_of(times.apart_table(moving))
    estimate, rows_s, measured, ratio, sheets, hours, gap = rows["P-1 LOCK"]
    assert (estimate, rows_s, measured) == (number(P1_S - 2.6, 0), number(P1_S, 0), "–")
    assert ratio == number((P1_S - 2.6) / P1_S, 2)
    assert (sheets, hours, gap) == ("11", number(P1_S * 11 / 3600), signed(-2.6 * 11 / 3600, 2))
    assert rows["all 2 that differ"][-1] == signed(-(2.6 * 11 + 1.6 * 10) / 3600, 2)


def test_the_scatter_has_a_point_a_program(moving):
    exhibit = times.estimate_scatter(moving)
    assert isinstance(exhibit, Exhibit)
    assert exhibit.title.startswith("0 of 2 programs have an estimate more than 5")
    assert f"LOCK: 1, estimate {number((P1_S - 2.6) / P1_S, 2)} to" in exhibit.alt


def test_programs_beyond_the_first_stand_together(moving, monkeypatch):
    monkeypatch.setattr(times, "MOST_APART", 1)
    assert list(rows_of(times.apart_table(moving))) == ["P-1 LOCK", "1 other program", "all 2 that differ"]


# ---- families and programs ----


def test_families_share_the_hours_of_the_book(view):
    rows = rows_of(times.family_table(view))
    assert rows["LOCK"][:3] == ("1", "11", number(P1_S * 11 / 3600))
    assert rows["LOCK"][4:6] == (number(P1_S, 0), number(P1_S, 0))
    assert rows["BOOK"][7:] == ("200", "20")
    exhibit = times.family_bars(view)
    assert exhibit.title == f"LOCK uses the most hours of the book, {number(P1_S * 11 / 3600)} h; of " \
        f"{number(P1_S, 0)}\u00a0s a sheet the largest part is hits, 99\u00a0s"  # fmt: skip


def test_a_program_is_told_element_by_element(view):
    first, picture, block, *_ = times_programs.why_these(view, 1)
    assert first.text.startswith(f"The 1 program with the most hours use {percent(P1_S * 11 / 3600 / BOOK_H)}")
    assert f"the largest part hits ({percent(99 / P1_S)})" in picture.title
    rows = rows_of(block)
    assert rows["hits"][:4] == ("300", "99.0", percent(99 / P1_S), "99.0")
    assert rows["cutting (m)"][0] == number(9.0)
    assert rows["cutting (m)"][5] == "speeds and pierce times of materials.csv"
    assert rows["a sheet"][1] == number(P1_S, 1)
    note = block.content["note"]
    assert "11 sheets in the book, cut with nitrogen, nozzle standard" in note
    assert "TL-005 rectangle 5x50 (40 hits, station 10); TL-003 obround 6x18 (60 hits, station 7)." in note


def test_a_named_program_is_shown_after_the_first(view):
    blocks = times_programs.why_these(view, 1, " P-2 ,")
    assert [block.title for block in blocks if isinstance(block, Exhibit)][1].startswith("P-2: ")
    assert len(times_programs.why_these(view, 0, "P-2")) == 2


def test_an_unknown_program_is_refused_with_the_nearest(view):
    with pytest.raises(BadInput, match="P-1"):
        times_programs.why_these(view, 1, "P-11")


def test_runs_take_the_measured_time_element_by_element(study):
    programs = tuple(dataclasses.replace(p, measured_run_s=2 * P1_S) for p in study.plant.programs[:1])
    other = study.plant.programs[1:]
    view = seen(study, programs=programs + other)
    picture = times_programs.why_these(view, 1)[1]
    assert "runs use: hits 198" in picture.alt
    assert rows_of(times_programs.why_these(view, 1)[2])["a sheet"][-1] == "measured run time"


# ---- physics ----


def test_many_notes_are_folded_and_few_are_not(view):
    def with_notes(count):
        other = TimeStudy(view.study)
        notes = [physics_note(HIGH, PRESS, "tools.csv", "too much", "less")]
        notes += [physics_note(LOW, PRESS, "tools.csv", f"note {n}", "know") for n in range(count - 1)]
        other.__dict__["notes"] = tuple(notes)
        return times_physics.findings_table(other)

    few, _ = with_notes(3)
    assert len(few.content["rows"]) == 3 + 2
    short, folded, _ = with_notes(20)
    assert len(short.content["rows"]) == 1 + 1
    assert folded.text == "19 notes to know, folded"
    assert folded.html().count("<tr") == 1 + 1 + 19


def test_a_plant_without_notes_is_not_declared_safe(view):
    quiet = TimeStudy(view.study)
    quiet.__dict__["notes"] = ()
    (block,) = times_physics.findings_table(quiet)
    assert "declares" in block.text
    assert "declares nothing safe" in times.answer_times(quiet).text


def test_forces_name_tool_figure_and_hole(view):
    rows = rows_of(times_physics.force_table(view))
    name = "TL-005 rectangle 5x50 (rectangle 50 x 5 mm)"
    shear = 300
    assert rows[name][2] == number(2 * 55 * 1.5 * shear / 1000)
    assert rows[name][3] == number(2 * 55 * 1.5 * shear / 1000 * 1.1 * 1.2)


def test_gas_and_power_of_an_hour(view):
    rows = rows_of(times_physics.energy_table(view))
    money, machine = view.study.plant.settings.money, view.study.plant.settings.machine
    share = (P1_S - 99 - 6.6 - 6) / P1_S
    gas = machine.gas_m3_per_h * share * money.gas_per_m3
    power = machine.running_kw * money.energy_per_kwh
    cells = rows["MS-1.5"]
    assert cells[1:4] == ("plant.toml", number(38, 1), number(100 * share, 0))
    assert cells[5:7] == (number(gas, 2), number(gas + power, 2))
    assert cells[8] == number((gas + power) * P1_S / 3600, 2)


# ---- people ----


def test_handling_of_today(view):
    rows = rows_of(times_people.handling_table(view))
    today = view.exposures[TODAY].asked
    assert rows["sheets"][:2] == (plus_minus(today["sheets"].lifts), plus_minus(today["sheets"].kg))
    assert rows["sheets"][2] == number(LIFTS["sheets"][1])
    assert rows["parts"][3] == percent(today["parts"].kg.mean / today[TOTAL].kg.mean)
    assert today["parts"].lifts.mean / today["sheets"].lifts.mean == pytest.approx(3668 / 278)


def test_removed_exposure_is_told_for_each_case(view):
    block = times_people.removed_table(view)
    rows = rows_of(block)
    assert rows["A1 Tool magazine"][3].startswith(number(view.exposures["A1"].taken_away["tools"].lifts.mean, 1))
    assert "Exposure removed" in block.content["note"]
    assert "Nothing is made safe" in block.content["note"]
    assert set(rows) == {"A4 Part removal", "A1 Tool magazine", "Package + A1+A4"}
    assert rows["A4 Part removal"][1].startswith(number(view.exposures[TODAY].asked["parts"].lifts.mean / 2, 1))
    assert "No change of half a lift or a kilogram a shift: N1, N2, " in block.content["note"]


def test_who_lifts_what(view):
    assert rows_of(times_people.mass_table(view))["0 to 25"][::3] == ("21", "one person")
    assert times_people.mass_table(view).text.startswith("0 of 21 sheets")


def test_reference_masses_say_from_memory():
    assert all("from memory" in row.cells[1] for row in times_people.reference_masses().content["rows"])


# ---- standards ----


def test_every_indicator_stands_with_its_definition(view):
    block = times_standards.indicator_table(view)
    rows = rows_of(block)
    for row in view.indicators:
        assert row.kpi.formula in rows[row.kpi.name][-1]
        assert row.kpi.trap in rows[row.kpi.name][-1]
    heads = [row.head for row in block.content["rows"] if row.look == "group"]
    assert all("timing" in head and "source" in head for head in heads)


def test_allowances_name_their_convention(view):
    block = times_standards.allowance_table(view, 0.2)
    assert rows_of(block)["first_piece"][2:] == ("7.20", "7.50")
    with pytest.raises(BadInput, match="allowance"):
        times_standards.allowance_table(view, 1.0)


def test_the_ramp_has_one_owner(view):
    exhibit = times_standards.ramp_picture(view, 0.9)
    assert exhibit.title.startswith("Week 1 after acceptance: the ramp in force gives 61")
    assert "A ramp has one owner" in exhibit.note
    with pytest.raises(BadInput, match="learning rate"):
        times_standards.ramp_picture(view, 0.5)
    no_ramp = seen(view.study, finance={"ramp_months": 0.0})
    assert "Finance has no ramp" in times_standards.ramp_picture(no_ramp, 0.9).text


def test_what_comes_from_the_motion_is_in_the_register(study):
    without = tuple(row for row in study.plant.elements if row.element != "index")
    view = seen(study, elements=without, machine={"motion": {"turret_step_s": 0.5}})
    assert list(rows_of(times_standards.motion_register(view))) == ["motion_tool"]


# ---- plants that lack something ----


def without_motion(study):
    return times_of(study)


def without_tools(study):
    plant = study.plant
    return seen(study, tools=(), program_tools=(), machine={"stations": ()}, programs=tuple(
        dataclasses.replace(p, hits_per_sheet=0, forming_hits_per_sheet=0) for p in plant.programs))  # fmt: skip


def without_laser(study):
    programs = tuple(dataclasses.replace(p, cut_length_mm=0.0, contours=0) for p in study.plant.programs)
    return seen(study, programs=programs, machine={"laser_power_kw": 0.0, "motion": {"turret_step_s": 0.5}})


def without_orders(study):
    return seen(study, orders=(), machine={"motion": {"turret_step_s": 0.5}})


def without_run_times(study):
    exchanges = ("tool_search", "magazine_exchange", "magazine_die_change")
    searched = tuple(row for row in study.plant.elements if row.element in exchanges)
    return seen(study, elements=searched, programs=tuple(
        dataclasses.replace(p, cut_length_mm=0.0, contours=0) for p in study.plant.programs))  # fmt: skip


@pytest.mark.parametrize("lacking", [without_motion, without_tools, without_laser, without_orders, without_run_times])
@pytest.mark.parametrize("number_of_section", range(len(SECTIONS)))
def test_a_section_shows_a_sentence_instead_of_an_empty_figure(study, lacking, number_of_section):
    view = lacking(study)
    for item in shown(SECTIONS[number_of_section](view)):
        text = item.title if isinstance(item, Exhibit) else item.text
        assert "nan" not in text
        assert "inf " not in text
        if isinstance(item, Exhibit):
            assert len(item.alt) > 30
            assert item.svg().startswith("<?xml")
        else:
            assert item.html()


def test_what_is_missing_is_said(study):
    assert times.estimate_scatter(times_of(study)).text == times.NO_MOTION
    assert "No cutting tool" in times_physics.force_table(without_tools(study)).text
    assert "No cutting speed" in times_physics.speed_table(without_laser(study)).text
    assert times.family_table(without_orders(study)).text == times.NO_SHEETS
    assert times_programs.why_these(without_orders(study), 8)[0].text == times.NO_SHEETS


# ---- what the page reads ----


def test_the_page_reads_energy_prices_and_the_ramp_and_no_other_money(study):
    def read(**changes):
        return read_by_times(seen(study, **changes).study)

    assert read() == read_by_times(study)
    assert read(money={"margin_per_h": 1.0}, finance={"discount_rate": 0.2}) == read()
    assert len({tuple(read(**c)) for c in (
        {}, {"money": {"gas_per_m3": 0.5}}, {"money": {"energy_per_kwh": 0.5}}, {"finance": {"ramp_months": 3.0}},
    )}) == 4  # fmt: skip
