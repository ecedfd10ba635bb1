"""Lifts and kilograms of a shift, and what a case takes away, from made-up weeks of the small plant."""

from __future__ import annotations

import dataclasses
import math

import pytest

from simkit.analysis.exposure import TOTAL, exposures, mass_bands, mean_tool_kg, shifts_per_week
from simkit.experiment.results import results_from
from tests.report.option_plant import option_plant
from tests.small_plant import small_plant

KG = {"sheets": 10.0, "parts": 2.0, "skeletons": 3.0}
"""Kilograms of a lift, by kind."""
SHIFTS = 10
P1_KG = 1.25 * 1.0 * 1.5e-3 * 7850


def weeks(**cases):
    """Results of two replications: sheets, parts by hand of a sheet, and tool loads of each case in a week."""
    rows = []
    for replication in (0, 1):
        for name, (count, by_hand, loads) in cases.items():
            sheets = count + replication
            lifts = {"sheets": sheets, "parts": sheets * by_hand, "skeletons": sheets}
            found = {"sheets": sheets, "tool_loads": loads * sheets / count}
            for kind, number in lifts.items():
                found |= {f"lifts_{kind}": number, f"lifted_{kind}_kg": number * KG[kind]}
            rows.append((name, 1.0, replication, found))
    return results_from(rows, dict.fromkeys(rows[0][3], ""))


def test_a_shift_asks_for_what_was_lifted():
    found = exposures(option_plant(), {"today": ()}, "today", weeks(today=(20.0, 8.0, 30.0)), 1.0)["today"]
    assert found.asked["sheets"].lifts.mean == pytest.approx(20.5 / SHIFTS)
    assert found.asked["sheets"].kg.mean == pytest.approx(20.5)
    assert found.asked["parts"].lifts.mean == pytest.approx(16.4)
    assert found.asked["tools"].lifts.mean == pytest.approx((30.0 + 31.5) / 2 / SHIFTS)
    assert found.asked["tools"].kg.mean == pytest.approx(3.075 * mean_tool_kg(option_plant()))
    total = sum(amount.lifts.mean for kind, amount in found.asked.items() if kind != TOTAL)
    assert found.asked[TOTAL].lifts.mean == pytest.approx(total)


def test_what_is_taken_away_is_for_the_same_work():
    cases = {"today": (), "N1": ("N1",), "A1": ("A1",), "A4": ("A4",)}
    results = weeks(today=(20.0, 8.0, 30.0), N1=(40.0, 8.0, 60.0), A1=(20.0, 8.0, 2.0), A4=(20.0, 3.0, 30.0))
    found = exposures(option_plant(), cases, "today", results, 1.0)
    more = found["N1"]
    assert more.asked["sheets"].lifts.mean == pytest.approx(40.5 / SHIFTS)
    assert more.taken_away["sheets"].lifts.mean == pytest.approx(0.0)
    assert more.taken_away["tools"].lifts.mean == pytest.approx(0.0, abs=0.1)
    magazine = found["A1"]
    assert magazine.taken_away["tools"].lifts.mean == pytest.approx(28 * 20.5 / 20 / SHIFTS)
    assert magazine.taken_away["sheets"].lifts.mean == pytest.approx(0.0)
    removal = found["A4"]
    assert removal.taken_away["parts"].lifts.mean == pytest.approx(5 * 20.5 / SHIFTS)
    assert removal.taken_away[TOTAL].kg.mean == pytest.approx(5 * 20.5 / SHIFTS * KG["parts"])


def test_results_without_lifts_by_kind_say_nothing():
    old = results_from([("today", 1.0, 0, {"sheets": 20.0, "tool_loads": 9.0})], {"sheets": "", "tool_loads": ""})
    assert exposures(option_plant(), {"today": ()}, "today", old, 1.0) == {}


def test_without_a_shift_there_is_nothing_to_divide_by():
    plant = option_plant()
    closed = plant.settings.model_copy(update={"calendar": plant.settings.calendar.model_copy(update={"shifts": ()})})
    found = exposures(
        dataclasses.replace(plant, settings=closed), {"today": ()}, "today", weeks(today=(9.0, 8.0, 9.0)), 1.0
    )
    assert found == {}


def test_shifts_and_tools_of_a_plant():
    """Two shifts on five days; a plant without tool needs lifts none."""
    assert shifts_per_week(small_plant()) == 10
    assert mean_tool_kg(small_plant(program_tools=())) == 0.0
    assert mean_tool_kg(small_plant()) > 0


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
