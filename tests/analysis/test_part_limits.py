"""Why parts cannot be picked, by hand."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.removal_inputs import PICKED, reason_rows, whole_sheets
from simkit.plant.tables import Order, ProgramPart
from tests.small_plant import MONDAY, small_parts, small_plant

BENCH_S = {"P-1": 360.0, "P-2": 720.0}


def order(name: str, program: str, sheets: int) -> Order:
    return Order(order_id=name, program_id=program, sheets=sheets, released=MONDAY, due=MONDAY)


def plant(**removal):
    """Ten sheets of P-1 with six flat parts of 1.84 kg and two of 30 kg; five of P-2 with ten parts, 2.5 mm high."""
    heavy = ProgramPart(program_id="P-1", part_id="HEAVY", per_sheet=2, length_mm=400, width_mm=300, mass_kg=30.0)
    return small_plant(
        orders=(order("1", "P-1", 10), order("2", "P-2", 5)), program_parts=(*small_parts(), heavy),
        removal={"pickers": 1, "max_form_height_mm": 2.0, **removal},
    )  # fmt: skip


def test_parts_sheets_and_hours_by_reason() -> None:
    found = {row.reason: row for row in reason_rows(plant(), BENCH_S)}
    assert (found[PICKED].parts, found[PICKED].sheets) == (60, 10)
    assert found[PICKED].bench_h == pytest.approx(10 * 360 * 6 / 8 / 3600)
    heavy = found["heavier than 20 kg"]
    assert (heavy.parts, heavy.sheets, heavy.bench_h) == (20, 10, pytest.approx(10 * 360 * 2 / 8 / 3600))
    tall = found["a form of 2 mm or more"]
    assert (tall.parts, tall.sheets, tall.bench_h) == (50, 5, pytest.approx(5 * 720 / 3600))


def test_every_part_of_the_book_has_one_reason() -> None:
    rows = reason_rows(plant(), BENCH_S)
    assert sum(row.parts for row in rows) == 60 + 20 + 50
    assert sum(row.bench_h for row in rows) == pytest.approx((10 * 360 + 5 * 720) / 3600)


def test_t6_all_parts_tall_nothing_can_be_picked() -> None:
    tall = plant(max_form_height_mm=0.0)
    assert PICKED not in {row.reason for row in reason_rows(tall, BENCH_S)}
    assert whole_sheets(tall)[0] == 0


def test_sheets_all_of_whose_parts_can_be_picked() -> None:
    assert whole_sheets(plant()) == (0, 15)
    assert whole_sheets(plant(max_mass_kg=50.0)) == (10, 15)


def test_a_device_that_takes_no_sensitive_surface_or_needs_a_circle_free_of_holes() -> None:
    sensitive = {
        row.reason: row.parts for row in reason_rows(plant(max_form_height_mm=10.0, takes_sensitive=False), {})
    }
    assert sensitive[PICKED] == 60
    assert sum(sensitive.values()) - sensitive[PICKED] == 20 + 50
    holed = small_plant(
        orders=(order("1", "P-1", 10),), removal={"pickers": 1, "min_clear_circle_mm": 60.0},
        program_parts=(dataclasses.replace(small_parts()[0], clear_circle_mm=40.0),),
    )  # fmt: skip
    (row,) = reason_rows(holed, {})
    assert (row.reason != PICKED, row.parts, row.sheets) == (True, 60, 10)
