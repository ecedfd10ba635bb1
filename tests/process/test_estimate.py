"""What the motion says beside rows and measured times: by hand, who wins, and which way it goes."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.plant.plant import PlantInputs
from simkit.process.estimate import ElementTime, RunEstimate, run_estimates
from simkit.process.programs import program_tables, run_shares
from tests.process.test_motiontimes import moving, without_rows
from tests.small_plant import small_plant, with_element

FEW = settings(max_examples=40, deadline=None, derandomize=True)
INDEX_S = 8 * 0.5 + 3 * 0.25


def estimated(plant: PlantInputs, program_id: str) -> RunEstimate:
    return next(row for row in run_estimates(plant) if row.program_id == program_id)


def element(estimate: RunEstimate, name: str) -> ElementTime:
    return next(row for row in estimate.elements if row.element.startswith(name))


def with_program(plant: PlantInputs, **columns: Any) -> PlantInputs:
    return dataclasses.replace(plant, programs=(dataclasses.replace(plant.programs[0], **columns), plant.programs[1]))


def test_a_sheet_by_hand() -> None:
    found = estimated(moving(), "P-1")
    # 300 hits of 0.16 s, index, re-clamping, 12 contours of 0.56 s; 9 m and 12 pierces by the table; mode by its row
    cut = 9 / 11 * 60
    assert found.motion_s == pytest.approx(48 + INDEX_S + 4.566667 + 5 + cut + 12 * 0.3 + 12 * 0.56, abs=1e-5)
    assert found.run_s == pytest.approx(300 * 0.33 + 3 * 2.2 + 6 + 5 + cut + 12 * 0.3 + 12 * 1.2)
    hits = element(found, "hits")
    assert (hits.count, hits.motion_s, hits.run_s) == (300, pytest.approx(48), pytest.approx(99))
    assert hits.share == pytest.approx(48 / found.motion_s)
    assert found.sheets == 11


def test_runs_use_what_the_workload_uses() -> None:
    for plant in (moving(), small_plant(), with_element(moving(), "run_time_ratio", typical=1.2),
                  moving(elements=without_rows("hit", "contour_move")), moving(elements=without_rows()),
                  moving(rules={"other_losses": 0.1}), with_program(moving(rules={"other_losses": 0.1}),
                                                                    measured_run_s=400.0)):  # fmt: skip
        used = sum(run_shares(program_tables(plant)))
        assert [row.run_s for row in run_estimates(plant)] == pytest.approx(list(used))


@pytest.mark.parametrize(("basis", "best_s"), [("measured", 99.0), ("logged", 99.0), ("estimated", 48.0),
                                               ("quoted", 48.0), ("default", 48.0)])  # fmt: skip
def test_only_a_row_that_was_watched_wins_over_the_motion(basis: str, best_s: float) -> None:
    hits = element(estimated(with_element(moving(), "hit", basis=basis), "P-1"), "hits")
    assert hits.best_s == pytest.approx(best_s)
    assert basis in hits.source if best_s == 99.0 else hits.source == "motion of the machine (estimated)"


def test_a_measured_run_time_wins_over_everything() -> None:
    plain, timed = estimated(moving(), "P-1"), estimated(with_program(moving(), measured_run_s=400.0), "P-1")
    assert (timed.best_s, timed.run_s, timed.measured_s) == (400.0, 400.0, 400.0)
    assert sum(row.best_s for row in timed.elements) == pytest.approx(400.0)
    assert timed.motion_s == plain.motion_s
    assert [row.share for row in timed.elements] == pytest.approx([row.share for row in plain.elements])
    assert timed.ratio == pytest.approx(plain.motion_s / 400.0)


def test_a_measured_time_without_any_element_is_cutting() -> None:
    nothing = {"hits_per_sheet": 0, "cut_length_mm": 0.0, "contours": 0, "repositions": 0, "measured_run_s": 90.0}
    plant = with_program(small_plant(program_tools=()), **nothing)
    (only,) = estimated(plant, "P-1").elements
    assert (only.element, only.best_s, only.share) == ("cutting (m)", 90.0, 1.0)


def test_without_a_motion_the_rows_speak_alone() -> None:
    found = estimated(small_plant(), "P-1")
    assert found.ratio == 1.0
    assert element(found, "hits").source == "element rows (default)"


def test_what_a_run_takes_from_the_motion_says_so() -> None:
    hits = element(estimated(moving(elements=without_rows("hit")), "P-1"), "hits")
    assert (hits.has_row, hits.run_s) == (False, pytest.approx(48.0))
    assert hits.source == "motion of the machine (estimated, no row)"


def test_shares_add_up() -> None:
    for row in run_estimates(moving()):
        assert sum(part.share for part in row.elements) == pytest.approx(1.0)
        assert sum(part.best_s for part in row.elements) == pytest.approx(row.best_s)


@FEW
@given(
    st.integers(0, 2000), st.floats(0.0, 400.0), st.floats(0.0, 30000.0), st.integers(1, 50), st.floats(0.0, 200.0),
    st.sampled_from(("hits_per_sheet", "mean_pitch_mm", "cut_length_mm", "contours", "rapid_mm")),
)  # fmt: skip
def test_more_of_anything_takes_no_less(
    hits: int, pitch_mm: float, cut_mm: float, contours: int, rapid_mm: float, grown: str
) -> None:
    columns: dict[str, Any] = {
        "hits_per_sheet": hits, "mean_pitch_mm": pitch_mm, "cut_length_mm": cut_mm, "contours": contours,
        "rapid_mm": rapid_mm,
    }  # fmt: skip
    more = {**columns, grown: columns[grown] + 7}
    plant = moving(elements=without_rows())
    before, after = (estimated(with_program(plant, **given_), "P-1") for given_ in (columns, more))
    assert after.motion_s >= before.motion_s
    assert after.best_s >= before.best_s
    assert after.run_s >= before.run_s
