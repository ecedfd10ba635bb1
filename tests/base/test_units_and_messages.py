"""The time grid, conversions, and how problems are told."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simkit.base.messages import SHOWN_OF_A_KIND, BadInput, Finding, in_short, nearest
from simkit.base.units import (
    KN_PER_METRIC_TON,
    KN_PER_US_TON,
    TIME_GRID_PER_S,
    hours,
    on_grid,
    on_grid_s,
    sheet_mass_kg,
)


@given(st.floats(0, 1e7))
def test_rounding_to_the_grid(seconds: float) -> None:
    rounded = on_grid_s(seconds)
    assert rounded == on_grid(np.array([seconds]))[0]
    assert abs(rounded - seconds) <= 0.5 / TIME_GRID_PER_S
    assert on_grid_s(rounded) == rounded
    assert on_grid_s(2 * rounded) == 2 * rounded


def test_sums_of_grid_times_do_not_depend_on_their_order() -> None:
    times = on_grid(np.random.default_rng(1).random(10_000) * 1000)
    assert sum(times.tolist()) == sum(reversed(times.tolist())) == float(np.sum(times))


def test_conversions() -> None:
    assert hours(5400.0) == 1.5
    assert KN_PER_METRIC_TON == 9.80665
    assert pytest.approx(8.896443, abs=5e-7) == KN_PER_US_TON


def test_the_mass_of_a_sheet_is_a_plain_number_of_numbers_and_an_array_of_lists() -> None:
    mass = sheet_mass_kg(2000, 1000, 2.0, 7850)
    assert type(mass) is float
    assert mass == pytest.approx(31.4)
    assert np.shape(sheet_mass_kg([2000.0, 3000.0, 4000.0], 1000.0, [[1.0], [2.0]], 7850.0)) == (2, 3)


def test_a_finding_reads_as_place_value_why_and_mend() -> None:
    finding = Finding("orders.csv", "is not a program", "Correct it", row=3, column="program_id", value="P-9")
    assert str(finding) == 'orders.csv row 3 program_id "P-9": is not a program. Correct it.'
    assert str(Finding("tools.csv", "is missing", "Did you mean 'tool.csv'?")).endswith("tool.csv'?")


def test_all_problems_are_told_at_once_and_survive_a_process_border() -> None:
    error = BadInput([Finding("a", "b", "C"), Finding("d", "e", "F")])
    assert str(error) == "2 problems in the input:\n  1. a: b. C.\n  2. d: e. F."
    assert pickle.loads(pickle.dumps(error)).findings == error.findings
    assert str(BadInput([Finding("a", "b", "C")])).startswith("1 problem in")


def test_the_nearest_known_name_is_offered() -> None:
    assert nearest("lod", ["load", "unload"]) == "did you mean 'load'?"
    assert nearest("xyz", ["load", "unload"]) == "known names: load, unload"


def test_a_value_that_comes_again_is_named_once() -> None:
    def wrong(*values: str) -> list[str]:
        given = [Finding("o.csv", "is no date", "Mend", row, "due", value) for row, value in enumerate(values, 2)]
        return [str(one) for one, _ in in_short(given)]

    assert wrong("abc", "abc") == ['o.csv row 2 due "abc": is no date (also row 3). Mend.']
    assert wrong("abc", "x", "abc") == ['o.csv row 2 due "abc (2 times), x": is no date. Mend.']


def test_how_many_rows_share_a_reason_makes_no_other_kind() -> None:
    whys = ("is missing; 1 order cannot run", "is missing (also row 4); 2 orders cannot run",
            "is missing (also rows 4, 5, 6 and 3 more); 12 orders cannot run")  # fmt: skip
    assert len({Finding("tools.csv", why, "Add it").kind for why in whys}) == 1


def test_findings_of_a_kind_stand_together_errors_first_and_five_of_them() -> None:
    dates = [
        Finding("orders.csv", f"'2026-13-{row:02}' is no date", "Write it as a date", row=row) for row in range(2, 11)
    ]
    size = [Finding("tools.csv", "fits no station", "Add one", row, "size_mm", f"TL-{row:03}") for row in (7, 3, 5)]
    note = Finding("plant.toml", "nothing reads it", "Delete it", severity="note")
    told = in_short([note, *size, *reversed(dates)])
    assert [(one.place, one.row, more) for one, more in told] == [
        ("tools.csv", 3, 0), *(("orders.csv", row, 0) for row in range(2, 6)), ("orders.csv", 6, 4),
        ("plant.toml", 0, 0),
    ]  # fmt: skip
    assert told[0][0].value == "TL-003, TL-005, TL-007"
    assert SHOWN_OF_A_KIND == 5
    assert sorted(map(str, (one for one, _ in in_short([*size, *dates], None)))) == sorted(map(str, [*size, *dates]))
    message = str(BadInput([*size, *dates]))
    assert message.startswith("12 problems in the input:")
    assert message.endswith("and 4 more of this kind: simkit check --all lists them")
