"""How long a sheet stands for its picks, by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.plant.settings_parts import Removal
from simkit.plant.tables import Element
from simkit.process.drawntimes import sheet_time_s
from tests.oracle.plants import workload_of
from tests.small_plant import small_materials, small_plant


def seconds(process: float, pick: float, blocking: float, parts: int, reclamps: int = 0, **limits: object) -> float:
    """A sheet of ``parts`` picks of ``pick`` s each, ``blocking`` s of it with the sheet at rest."""
    limits = {"pickers": 1, **limits}
    total = sheet_time_s([process], [parts * pick], [parts * blocking], [parts], [reclamps], Removal(**limits))
    return float(total[0])


@pytest.mark.parametrize(
    ("pickers", "shared", "parts", "expected"),
    [
        (1, True, 7, 70.0), (1, False, 7, 70.0),
        (2, True, 7, 35.0), (2, False, 7, 40.0),  # four parts in the fuller zone
        (2, True, 8, 40.0), (2, False, 8, 40.0),
        (3, False, 8, 30.0),  # 3, 3, 2
        (3, False, 2, 10.0), (2, False, 1, 10.0),
    ],
)  # fmt: skip
def test_pickers_that_share_and_pickers_that_work_apart(
    pickers: int, shared: bool, parts: int, expected: float
) -> None:
    assert seconds(5.0, 10.0, 0.0, parts, pickers=pickers, pickers_share=shared) == expected


@pytest.mark.parametrize(
    ("process", "parts", "reclamps", "expected"),
    [
        # one stretch: the longer of process and picks
        (100.0, 7, 0, 100.0), (60.0, 7, 0, 70.0),
        # two stretches of 4 and 3 parts: max(40, 40) + max(40, 30), and max(30, 40) + max(30, 30)
        (80.0, 7, 1, 80.0), (60.0, 7, 1, 70.0),
        # max(35, 40) + max(35, 30): longer than either whole
        (70.0, 7, 1, 75.0),
        # three stretches of 3, 2 and 2 parts: max(25, 30) + 2 x max(25, 20)
        (75.0, 7, 2, 80.0),
        # fewer parts than stretches: one stretch waits for its part, three do not
        (20.0, 1, 3, 10.0 + 3 * 5.0),
    ],
)  # fmt: skip
def test_parts_are_out_before_each_reclamp(process: float, parts: int, reclamps: int, expected: float) -> None:
    assert seconds(process, 10.0, 0.0, parts, reclamps) == expected


def test_without_the_rule_picks_even_out_over_the_whole_sheet() -> None:
    assert seconds(70.0, 10.0, 0.0, 7, 1) == 75.0
    assert seconds(70.0, 10.0, 0.0, 7, 1, out_before_reclamp=False) == 70.0


def test_the_share_that_blocks_is_added_to_the_process_of_its_stretch() -> None:
    # two stretches of 4 and 3: max(30 + 12, 40) + max(30 + 9, 30)
    assert seconds(60.0, 10.0, 3.0, 7, 1) == 81.0
    # every pick blocks: process and picks follow one another
    assert seconds(60.0, 10.0, 10.0, 7, 1) == 130.0


def test_zones_and_reclamps_together() -> None:
    # 7 parts: 4 and 3 in the stretches, 2 and 2 in the fuller zones
    assert seconds(30.0, 10.0, 0.0, 7, 1, pickers=2, pickers_share=False) == 40.0
    assert seconds(30.0, 10.0, 0.0, 7, 1, pickers=2) == 20.0 + 15.0


def test_a_sheet_without_picks_takes_its_process() -> None:
    assert seconds(33.0, 10.0, 3.0, 0, 5) == 33.0


def test_many_sheets_at_once_are_the_same_as_one_by_one() -> None:
    rng = np.random.default_rng(3)
    process, parts, reclamps = rng.uniform(10, 200, 50), rng.integers(0, 12, 50), rng.integers(0, 4, 50)
    limits = Removal(pickers=2, pickers_share=False)
    together = sheet_time_s(process, 9.0 * parts, 3.0 * parts, parts, reclamps, limits)
    alone = [seconds(p, 9.0, 3.0, int(n), int(r), pickers=2, pickers_share=False)
             for p, n, r in zip(process, parts, reclamps, strict=True)]  # fmt: skip
    assert together.tolist() == alone
    shared = sheet_time_s(process, 9.0 * parts, 3.0 * parts, parts, reclamps, Removal(pickers=2))
    assert (together >= shared - 1e-9).all()
    assert (together >= process - 1e-9).all()


def test_a_pick_takes_as_long_as_its_part_needs() -> None:
    """Four large parts of 20 s and four small ones of 6 s, one picker, no process: 104 s; ten small ones: 60 s."""
    rows = tuple(
        Element(element="pick", applies_to=condition, unit="s/pick", state="unloading", typical=typical)
        for condition, typical in (("", 6.0), ("part_long_mm>450", 20.0))
    )
    plant = small_plant(elements=rows, removal={"pickers": 1}, run={"source": "replay"}, materials=tuple(
        dataclasses.replace(row, cutting_speed_m_min=1e9, pierce_s=0.0) for row in small_materials()))  # fmt: skip
    lock, book = plant.program_parts
    small = dataclasses.replace(lock, part_id="small", length_mm=400.0, per_sheet=4)
    programs = tuple(dataclasses.replace(program, handover="removal", repositions=0) for program in plant.programs)
    parts = (dataclasses.replace(lock, per_sheet=4), small, book)
    found = workload_of(dataclasses.replace(plant, program_parts=parts, programs=programs))
    assert found.sheets.run_s[found.sheets.program == 0] == pytest.approx(104.0, abs=1e-5)
    assert found.sheets.run_s[found.sheets.program == 1] == pytest.approx(60.0, abs=1e-5)
