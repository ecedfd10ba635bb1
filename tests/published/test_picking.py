"""Parts taken out one by one: closed forms of the sheet's time, alone and through the whole cell, and areas of figures.

A sheet of process P, with n parts of pick cycle c, stands max(P, n c / k) with k pickers that share its parts, and
max(P, ceil(n / k) c) with pickers that have a zone each; with re-clamps the sum over the stretches between them.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from simkit.cell.run import simulate
from simkit.plant.reading import read_plant
from simkit.plant.settings_parts import Removal
from simkit.plant.tables import Tool
from tests.published.rows import Row
from tests.published.test_closed_forms import FAILING, PICKS, PLANTS, cycle_min, workload_of

HAND = "closed form, worked by hand"
EXACT = "nothing varies: rounding only"
GEOMETRY = "geometry, worked by hand"
PLANT = read_plant(PLANTS / "cf_pick_failures")

CASES: dict[str, tuple[dict[str, float | str], float]] = {
    # overrides of seven parts and a minute of process; seconds from sheet to sheet
    "one picker, process longer": ({"pick": 8}, 60.0),
    "one picker, picks longer": ({"pick": 10}, 70.0),
    "two that share": ({"pick": 20, "pickers": 2}, 70.0),
    "two apart: four in the fuller zone": ({"pick": 20, "pickers": 2, "share": "false"}, 80.0),
    "three apart: three in the fullest zone": ({"pick": 24, "pickers": 3, "share": "false"}, 72.0),
    "a re-clamp between four and three": ({"pick": 8, "reclamps": 1}, 32.0 + 30.0),
    "the same, evened out": ({"pick": 8, "reclamps": 1, "out": "false"}, 60.0),
    "two re-clamps: three, two, two": ({"pick": 9, "reclamps": 2}, 27.0 + 2 * 20.0),
    "zones and a re-clamp": ({"pick": 20, "pickers": 2, "share": "false", "reclamps": 1}, 80.0),
}
PATHS = {"pick": "elements[pick].typical", "pickers": "plant.removal.pickers", "share": "plant.removal.pickers_share",
         "reclamps": "programs[P].repositions", "out": "plant.removal.out_before_reclamp"}  # fmt: skip


def overrides(changes: dict[str, float | str]) -> tuple[str, ...]:
    return tuple(f"{PATHS[name]}={value}" for name, value in changes.items())


def through_the_cell(name: str) -> Row:
    changes, seconds = CASES[name]
    seven = ("stops[failed_pick].rate=0", "program_parts[P].per_sheet=7", *overrides(changes))
    return Row(f"picks: {name}", "simkit.cell.run.simulate", {"workload": workload_of(PLANT, overrides=seven)},
               seconds / 60.0, "min", 1e-9, EXACT, HAND, cycle_min)  # fmt: skip


def formula(name: str, parts: int, reclamps: int, expected_s: float, **limits: Any) -> Row:
    inputs = {"process_s": [60.0], "picks_s": [10.0 * parts], "blocking_s": [3.0 * parts], "picked": [parts],
              "reclamps": [reclamps], "limits": Removal(**limits)}  # fmt: skip
    return Row(f"sheet time: {name}", "simkit.process.drawntimes.sheet_time_s", inputs, expected_s, "s", 1e-9, EXACT,
               HAND, lambda seconds: float(seconds[0]))  # fmt: skip


def area(shape: str, length: float, width: float, expected: float, kind: str = "cutting") -> Row:
    tool = Tool(tool_id="T", shape=shape, length_mm=length, width_mm=width, station_size_mm=30, kind=kind)
    return Row(f"area of {shape or 'no shape'} ({kind})", "simkit.process.slugs.figure_area_mm2", {"tool": tool},
               expected, "mm2", 5e-3, "two digits worked out", GEOMETRY)  # fmt: skip


PUBLISHED: list[Row] = [
    *(through_the_cell(name) for name in CASES),
    formula("blocking in both stretches", 7, 1, 42.0 + 39.0, pickers=1),
    formula("picks that bind in both", 14, 1, 140.0, pickers=1),
    formula("zones", 7, 0, 81.0, pickers=2, pickers_share=False),
    area("round 10", 10, 10, 78.54), area("obround 6x18", 18, 6, 100.27), area("square 20", 20, 20, 400.0),
    area("cluster 25x5", 40, 40, 490.87), area("extrusion M4", 10, 10, 0.0, "forming"),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


@pytest.mark.parametrize("name", [name for name, (changes, _) in CASES.items() if len(changes) > 1])
def test_a_plant_without_the_rule_turns_the_row_red(name: str) -> None:
    changes, seconds = CASES[name]
    kept = {key: value for key, value in changes.items() if key not in ("share", "out")}
    if kept == changes:  # nothing but a number of pickers or re-clamps: leave that out
        kept = {"pick": changes["pick"]}
    broken = ("stops[failed_pick].rate=0", "program_parts[P].per_sheet=7", *overrides(kept))
    assert cycle_min(simulate(workload_of(PLANT, overrides=broken))) != pytest.approx(seconds / 60.0, abs=1e-9)


def test_failed_picks_depend_on_picks_alone_not_on_who_picks_or_when() -> None:
    """The chance that a sheet of n picks is stopped stays 1 - (1 - p)^n: with the same luck, the same sheets stop."""
    found = []
    for changes in ({}, {"pickers": 2, "share": "false"}, {"reclamps": 3}, {"pickers": 2, "reclamps": 1}):
        log = simulate(workload_of(PLANT, overrides=overrides(changes))).machines[0]
        stopped = np.searchsorted(log.made_at_s, log.stop_at_s)
        found.append(stopped[stopped < 1500].tolist())
    assert found[0] == found[1] == found[2] == found[3]
    assert len(set(found[0])) / 1500 == pytest.approx(1 - math.pow(1 - FAILING, PICKS), abs=0.03)
