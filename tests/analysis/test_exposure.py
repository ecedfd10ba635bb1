"""Lifts and kilograms of a shift, and what a case takes away, from made-up weeks of the small plant."""

from __future__ import annotations

import dataclasses
import math

import pytest

from simkit.analysis.exposure import TOTAL, exposures, mass_bands
from simkit.experiment.results import results_from
from simkit.process.handling import book_handling, mean_tool_kg
from tests.report.option_plant import option_plant
from tests.small_plant import small_plant

UNITS = {"sheets": "sheets", "tool_loads": "tools"}
SHIFTS = 10
P1_KG, P2_KG = 1.25 * 1.0 * 1.5e-3 * 7850, 1.25 * 1.0 * 1.5e-3 * 2680


def weeks(**cases):
    """Results of two replications: sheets and tool loads of each case in a week."""
    rows = [
        (name, 1.0, replication, {"sheets": sheets + replication, "tool_loads": loads})
        for replication in (0, 1)
        for name, (sheets, loads) in cases.items()
    ]
    return results_from(rows, UNITS)


def test_a_shift_asks_for_the_books_mix():
    found = exposures(option_plant(), {"today": ()}, "today", weeks(today=(21.0, 30.0)), 1.0)["today"]
    assert found.shifts_per_week == SHIFTS
    assert found.asked["sheets"].lifts.mean == pytest.approx(21.5 / SHIFTS)
    mean_kg = (11 * P1_KG + 10 * P2_KG) / 21
    assert found.asked["sheets"].kg.mean == pytest.approx(21.5 / SHIFTS * mean_kg)
    assert found.asked["parts"].lifts.mean == pytest.approx(21.5 / SHIFTS * (11 * 6 + 10 * 10) / 21)
    assert found.asked["tools"].lifts.mean == pytest.approx(3.0)
    assert found.asked["tools"].kg.mean == pytest.approx(3.0 * mean_tool_kg(option_plant()))
    total = sum(amount.lifts.mean for kind, amount in found.asked.items() if kind != TOTAL)
    assert found.asked[TOTAL].lifts.mean == pytest.approx(total)
    assert not found.differs


def test_what_is_taken_away_is_for_the_same_work():
    cases = {"today": (), "N1": ("N1",), "A1": ("A1",)}
    found = exposures(option_plant(), cases, "today", weeks(today=(20.0, 30.0), N1=(40.0, 60.0), A1=(20.0, 2.0)), 1.0)
    more = found["N1"]
    assert more.asked["sheets"].lifts.mean == pytest.approx(40.5 / SHIFTS)
    assert more.taken_away["sheets"].lifts.mean == pytest.approx(0.0)
    assert abs(more.taken_away["tools"].lifts.mean) < 0.1
    assert not more.differs
    magazine = found["A1"]
    assert magazine.taken_away["tools"].lifts.mean == pytest.approx(2.8)
    assert magazine.taken_away["parts"].lifts.mean == pytest.approx(0.0)
    assert magazine.differs
    assert magazine.taken_away["tools"].matters
    assert not magazine.taken_away["sheets"].matters


def test_part_removal_takes_lifts_of_parts_away():
    plant = option_plant()
    programs = tuple(dataclasses.replace(program, handover="removal") for program in plant.programs)
    plant = dataclasses.replace(plant, programs=programs)
    found = exposures(plant, {"today": (), "A4": ("A4",)}, "today", weeks(today=(20.0, 9.0), A4=(20.0, 9.0)), 1.0)["A4"]
    assert found.taken_away["parts"].lifts.mean > 0
    assert found.taken_away["sheets"].lifts.mean == pytest.approx(0.0)
    left = found.asked["parts"].lifts.mean + found.taken_away["parts"].lifts.mean
    assert left == pytest.approx(20.5 / SHIFTS * book_handling(plant).parts.lifts / 21)


def test_without_a_shift_there_is_nothing_to_divide_by():
    plant = option_plant()
    closed = plant.settings.model_copy(update={"calendar": plant.settings.calendar.model_copy(update={"shifts": ()})})
    found = exposures(dataclasses.replace(plant, settings=closed), {"today": ()}, "today", weeks(today=(9.0, 9.0)), 1.0)
    assert found == {}


def test_sheets_by_mass_and_who_loads_them():
    (light,) = mass_bands(small_plant())
    assert (light.low_kg, light.high_kg, light.sheets, light.who) == (0.0, 25.0, 21, "one person")
    assert light.heaviest_kg == pytest.approx(P1_KG)
    one, two = mass_bands(small_plant(machine={"one_person_kg": 10.0}))
    assert (one.sheets, one.who) == (10, "one person")
    assert (two.sheets, two.who, two.high_kg) == (11, "two persons", 20.0)
    over = mass_bands(small_plant(machine={"one_person_kg": 6.0}))[-1]
    assert over.who.startswith("two persons by the plant's rule")
    assert math.isinf(over.high_kg)
    assert mass_bands(small_plant(machine={"one_person_kg": 6.0, "lifter": True}))[-1].who == "the lifter"


def test_a_loader_takes_every_sheet():
    plant = small_plant()
    rows = tuple(
        dataclasses.replace(row, task_of="machine") if row.element == "load" else row for row in plant.elements
    )
    assert [band.who for band in mass_bands(dataclasses.replace(plant, elements=rows))] == ["the loader"]
    assert mass_bands(dataclasses.replace(plant, orders=())) == ()
