"""A slice of the corruptions of :mod:`tests.plant.corrupting`: findings, or a load that equals a plain reading."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.plant.corrupting import base_plant, corrupted, differences, outcome, run_two_days

SLICE = range(60)
RUN = 10


def test_the_base_is_clean_and_equals_its_plain_reading(tmp_path: Path) -> None:
    found = outcome(base_plant(tmp_path / "plant"))
    assert (found.kind, found.silent) == ("accepted", ())


def test_a_value_that_is_not_that_of_the_file_is_seen(tmp_path: Path) -> None:
    """The comparison itself: each of these reads as another plant than the one in memory."""
    folder = base_plant(tmp_path / "plant")
    plant = outcome(folder).plant
    assert plant is not None
    for name, old, new in (
        ("orders.csv", "1001,P-1,3", "1001,P-1,4"),
        ("tools.csv", ",0.2;0.3,", ",0.2,"),
        ("loads.csv", "2.2", "2.3"),
        ("plant.toml", 'dispatch = "arrival"', 'dispatch = "due"'),
        ("options.toml", "lead_weeks = 20", "lead_weeks = 2"),
        ("calendar.csv", "2026-01-08,late,closed,,,stock taking\n", ""),
    ):
        text = (folder / name).read_text(encoding="utf-8")
        assert old in text, name
        (folder / name).write_text(text.replace(old, new, 1), encoding="utf-8")
        assert len(differences(folder, plant)) == 1, name
        (folder / name).write_text(text, encoding="utf-8")


@pytest.mark.parametrize("seed", SLICE)
def test_a_corrupted_folder_is_refused_or_read_as_it_is(tmp_path: Path, seed: int) -> None:
    corrupted(tmp_path / "plant", seed)
    assert outcome(tmp_path / "plant").silent == ()


def test_accepted_ones_run_for_two_days(tmp_path: Path) -> None:
    ran = 0
    for seed in SLICE:
        corrupted(tmp_path / str(seed), seed)
        plant = outcome(tmp_path / str(seed)).plant
        if plant is not None and ran < RUN:
            run_two_days(tmp_path / str(seed))
            ran += 1
    assert ran == RUN
