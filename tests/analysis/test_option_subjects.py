"""Options found by what they edit: which touch tools or parts, which bring a device, and the nights they make."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.option_sets import bringing, nights, on_top, touching, with_needs
from simkit.plant.options import Edit, Option, Range
from tests.report.option_plant import option_plant
from tests.small_plant import small_plant


def with_options(*options: Option):
    return dataclasses.replace(option_plant(), options=(*option_plant().options, *options))


def option(id_: str, *edits: Edit, **more) -> Option:
    return Option(**{"id": id_, "name": id_, "kind": "low_capital", "edits": edits, **more})


def test_what_touches_tools_stands_by_kind_then_capital():
    """The rule (1,000) before the cart (5,500), both before the magazine, which is bought; removal is none of them."""
    assert touching(option_plant(), "tools") == {
        "Sequencing rule": ("N1",), "Setup cart": ("N2",), "Tool magazine": ("A1",)
    }  # fmt: skip


def test_a_calendar_touches_no_subject():
    assert touching(option_plant(), "parts") == {"Part removal": ("A4",)}


@pytest.mark.parametrize(
    ("edit", "subject"),
    [
        (Edit(path="plant.rules.pinned", value=["TL-001"]), "tools"),
        (Edit(path="materials[MS-1.5].clearance_mm", value=0.2), "tools"),
        (Edit(path="load_faults[*].rate", op="multiply", value=0.1), "tools"),
        (Edit(path="plant.bench.places", value=9), "parts"),
        (Edit(path="programs[*].handover", value="bench"), "parts"),
    ],
)
def test_an_edit_makes_the_subject(edit, subject):
    plant = with_options(option("X", edit))
    other = {"tools": "parts", "parts": "tools"}[subject]
    assert "X" in touching(plant, subject)
    assert "X" not in touching(plant, other)


def test_the_element_of_another_subject_does_not_count():
    plant = with_options(option("X", Edit(path="elements[load].typical", value=1.0)))
    assert "X" not in {*touching(plant, "tools"), *touching(plant, "parts")}


def test_a_second_pair_of_hands_at_the_bench_touches_parts():
    person = {"person_id": "B2", "skills": ["bench"], "shift": "early", "rate_per_h": 26.0}
    plant = with_options(option("X", Edit(path="people", op="add_row", value=person)))
    assert "X" in touching(plant, "parts")


def test_what_needs_another_option_brings_it_along():
    needy = option("X", Edit(path="plant.stack.places", value=5), needs=("A4",), kind="bought", capital=Range(
        low=1, quoted=1, high=1))  # fmt: skip
    plant = with_options(needy)
    assert with_needs(plant, ("X",)) == ("X", "A4")
    assert touching(plant, "parts")["X"] == ("X", "A4")
    assert bringing(plant, "stack") == ("X", "A4")


def test_who_brings_a_device():
    plant = option_plant()
    assert (bringing(plant, "magazine"), bringing(plant, "removal"), bringing(plant, "store")) == (
        ("A1",),
        ("A4",),
        None,
    )
    assert bringing(small_plant(magazine={"places": {"16": 3}}), "magazine") == ()


def test_nights_are_told_by_how_sheets_leave_and_on_the_package_where_they_go_with_it():
    assert nights(option_plant(), ("N1",)) == {"Night, part removal": ("N1", "A1", "A4", "C1")}
    assert nights(option_plant(), ("C2", "C1")) == {"Night, part removal": ("C2", "C1", "A1", "A4")}
    assert nights(small_plant(), ()) == {}


def test_on_top_of_a_package_stands_only_what_goes_with_it():
    plant = with_options(option("X", excludes=("A1",)))
    assert on_top(plant, ("N1",), ("A1",)) == ("N1", "A1")
    assert on_top(plant, ("N1", "A1"), ("A1",)) == ("N1", "A1")
    assert on_top(plant, ("X",), ("A1",)) is None
    assert (on_top(plant, (), ("A1",)), on_top(plant, ("N1",), None)) == (None, None)
