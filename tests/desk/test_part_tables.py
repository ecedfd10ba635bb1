"""Tables about parts say what measures, records and the book say; removal loses where it must."""

from __future__ import annotations

import dataclasses

import pytest

import simkit as sk
from simkit.plant.options import Edit, Option, Range
from simkit.plant.tables import Element
from tests.report.option_plant import option_plant
from tests.small_plant import write_small_plant

RUN = {"replications": 3, "weeks": 2.0, "demand": 1.0, "workers": 1, "progress": False, "keep": False}
WEEKS = 2.0
PICK = {"task_of": "machine", "state": "unloading", "law": "constant", "basis": "quoted", "source": "invented"}
AT_FIRST_PIECE = {"task_of": "first_piece", "state": "first_piece"}
BY_PALLET = {"task_of": "pallet", "state": "outside"}


def write_picking_plant(folder):
    """The folder of the small plant whose removal picks: 9 s, 3 s of it standing still, every hundredth pick fails.

    A skeleton takes half a minute, by the device as by hand.
    """
    plant = option_plant()
    rows = [
        {**PICK, "element": "pick", "unit": "s/pick", "typical": 9.0},
        {**PICK, "element": "pick_blocking", "unit": "s/pick_blocking", "typical": 3.0},
        {**PICK, "element": "skeleton_out", "unit": "min/skeleton", "typical": 0.5},
        {**PICK, "element": "entry", "unit": "min/cell_entry", "typical": 4.0, **AT_FIRST_PIECE},
        {**PICK, "element": "stack_out", "unit": "min/stack_exchange", "typical": 3.0, **BY_PALLET},
    ]
    fails = {"cause": "grip", "exposure": "pick", "rate": 0.01, "repair_min": 2.0, "basis": "quoted", "source": "x"}
    edits = (Edit(path="plant.removal.pickers", value=2), Edit(path="programs[*].handover", value="removal"),
             *(Edit(path="elements", op="add_row", value=row) for row in rows),
             Edit(path="stops", op="add_row", value=fails))  # fmt: skip
    price = Range(low=4e4, quoted=5e4, high=6e4)
    stack = Option(id="A8", name="Whole-sheet stack", kind="bought", capital=price, edits=(
        Edit(path="plant.stack.places", value=4), Edit(path="programs[*].handover", value="stack")))  # fmt: skip
    options = tuple(
        option.model_copy(update={"edits": edits}) if option.id == "A4" else option.model_copy(update={"needs": ()})
        for option in plant.options
    )
    changes = {field.name: getattr(plant, field.name) for field in dataclasses.fields(plant)}
    by_hand = Element(element="skeleton_by_hand", task_of="bench", unit="min/sheet", state="bench", typical=0.5)
    changes |= {"options": (*options, stack), "elements": (*plant.elements, by_hand)}
    return write_small_plant(folder, **changes)


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return sk.read_plant(write_picking_plant(tmp_path_factory.mktemp("parts") / "plant"))


@pytest.fixture(scope="module")
def study(plant):
    return sk.simulate(plant.parts.ways(["N1"]), **RUN)


def total(study, scenario, measure):
    return float(study.results.estimate(scenario, measure).mean)


def test_ways_hold_removal_alone_on_the_package_and_where_it_must_lose(plant):
    names = [way.name for way in plant.parts.ways(["N1"])]
    assert names == ["Today", "Whole-sheet stack", "Part removal", "Package", "Package and removal",
                     "Must lose: no part fits"]  # fmt: skip


def test_hours_and_entries_are_those_of_the_runs(study):
    table = study.parts.ways().set_index("scenario")
    found = study.differences(measures=["hours_needed"]).set_index("scenario")
    for name in study.names[1:]:
        assert table.at[name, "freed_h_per_week"] == pytest.approx(-found.at[name, "mean"] / WEEKS)
        assert table.at[name, "bench_h_per_week"] == pytest.approx(total(study, name, "person_bench_h") / WEEKS)
        assert table.at[name, "entries_per_week"] == pytest.approx(total(study, name, "cell_entries") / WEEKS)
    assert table.at["Part removal", "bench_h_per_week"] == 0.0


def test_where_no_part_fits_removal_frees_nothing_and_the_page_says_so(study):
    table = study.parts.ways().set_index("scenario")
    assert table.at["Must lose: no part fits", "freed_h_per_week"] <= 0.0
    assert table.at["Must lose: no part fits", "bench_h_per_week"] == table.at["Today", "bench_h_per_week"]
    assert study.parts.ways().attrs["note"].endswith("removal may free nothing, and it does not.")


def test_work_by_hand_is_the_sum_over_the_book(plant, study):
    """166 parts of the small book at 6.5, 4 and 3 s, and 21 skeletons of 30 s; removal picks all and leaves nothing."""
    table = study.parts.hands().set_index("work")
    assert table.at["break out", "times_of_the_book"] == 166.0
    assert table.at["break out", "book_h"] == pytest.approx(166 * 6.5 / 3600)
    assert table["book_h"].sum() == pytest.approx((166 * 13.5 + 21 * 30) / 3600)
    assert table["book_with_removal_h"].sum() == 0.0
    assert "2 people at the bench (BE-1 and BE-2) break out 1 h" in study.parts.hands().attrs["title"]


def test_clocks_are_minutes_of_the_mean_sheet(study):
    table = study.parts.clocks().set_index("family")
    assert table.at["all", "sheets"] == 21
    assert table.at["all", "person_min"] == pytest.approx((166 * 13.5 / 21 + 30) / 60)
    assert table.at["all", "picker_min"] == pytest.approx(166 * 9.0 / 2 / 21 / 60)


def test_parts_that_cannot_be_picked_have_their_reason(plant):
    ways = plant.parts.ways(changes={"plant.removal.min_side_mm": 240.0})
    study = sk.simulate(ways, **RUN | {"replications": 2, "weeks": 1.0})
    table = study.parts.not_picked()
    assert table["parts"].sum() == 166
    assert table["part_share"].sum() == pytest.approx(1.0)
    assert len(table) == 2
    assert "240 mm" in table["why_not"][1]


def test_slower_picks_free_less_and_the_closed_form_is_beside(plant):
    study = sk.simulate(plant.parts.picks((1.0, 4.0)), **RUN)
    table = study.parts.picks()
    assert list(table["pick_s"]) == [9.0, 36.0]
    assert table["freed_h_per_week"][1] < table["freed_h_per_week"][0]
    assert table["closed_form_h_per_week"][1] < table["closed_form_h_per_week"][0]
    needed = study.differences(measures=["hours_needed"]).set_index("scenario")
    assert table["freed_h_per_week"][0] == pytest.approx(-needed.at["Picks at 100%", "mean"] / WEEKS)


def test_nights_are_compared_with_the_whole_sheet_stack(plant):
    study = sk.simulate(plant.parts.nights(["N1"]), **RUN)
    table = study.parts.nights().set_index("scenario")
    assert list(table.index) == ["Night, whole-sheet stack", "Night, part removal"]
    for name in table.index:
        assert table.at[name, "run_h_per_week"] == pytest.approx(total(study, name, "night_running_h") / WEEKS)
    gap = study.differences(measures=["night_running_h"]).set_index("scenario")
    assert table.at["Night, part removal", "more_h_per_week"] == pytest.approx(
        gap.at["Night, part removal", "mean"] / WEEKS
    )
    picks = study.results.rows("picks", "Night, part removal")
    assert table.at["Night, part removal", "pick_stopped_share"] == pytest.approx(
        picks["stopped"].sum() / picks["sheets"].sum()
    )


def test_lifts_of_a_shift_are_those_of_the_runs(study):
    table = study.parts.lifting().set_index("scenario")
    lifts = sum(total(study, "Today", f"lifts_{kind}") for kind in ("sheets", "parts", "skeletons"))
    lifts += total(study, "Today", "tool_loads")
    assert table.at["Today", "lifts_per_shift"] == pytest.approx(lifts / WEEKS / 10)
    assert table.at["Part removal", "less_lifts_per_shift"] > 0
    assert "Must lose: no part fits" not in table.index


def test_sheets_above_the_limit_of_one_person_are_told(plant):
    """Ten sheets of P-2 weigh 6.1 kg and eleven of P-1 14.7 kg."""
    ways = plant.parts.ways(changes={"plant.machine.lifter": True, "plant.machine.one_person_kg": 10.0})
    table = sk.simulate(ways[0], **RUN | {"replications": 2, "weeks": 1.0}).parts.masses()
    assert list(table["sheets"]) == [10, 11]
    assert table["sheet_share"].sum() == pytest.approx(1.0)
    assert list(table["who_loads"]) == ["one person", "the lifter"]
    assert table.attrs["title"].startswith("52\u00a0% of the sheets weigh more than the 10 kg")


def test_the_answer_names_bench_device_hours_picks_and_nights(plant, study):
    picks, nights = (sk.simulate(made, **RUN) for made in (plant.parts.picks((1.0,)), plant.parts.nights()))
    said = study.parts.answer(picks.parts, nights.parts)
    subjects = ["on the package", "what can be picked", "bench", "ways", "time of a pick", "nights"]
    assert list(said.table()["subject"]) == subjects
    needed = study.differences(measures=["hours_needed"]).set_index("scenario").at["Part removal", "mean"] / WEEKS
    verb = "costs" if needed > 0 else "frees"
    assert said.head.startswith(f"Part removal {verb} {abs(needed):.1f}"[:-2])
    gap = study.differences(against="Package", measures=["hours_needed"]).set_index("scenario")
    on_top = said.table().set_index("subject").loc["on the package"]
    assert on_top["mean"] == pytest.approx(-gap.at["Package and removal", "mean"] / WEEKS)
    assert study.parts.ways().attrs["picture"].count("Package") == 0


def test_a_plant_without_removal_says_so(tmp_path):
    plant = sk.read_plant(sk.example_plant(tmp_path / "plant"))
    run = RUN | {"replications": 2, "weeks": 1.0}
    study = sk.simulate(plant.parts.ways(), **run)
    assert study.parts.not_picked().empty
    assert "book_with_removal_h" not in study.parts.hands()
    assert study.parts.picks().empty
    assert study.parts.nights().attrs["title"] == "No option of this plant allows unattended nights"
    assert "brings part removal" in study.parts.answer().text
