"""The generator writes over nothing, and the book has the statistics of its description."""

from __future__ import annotations

import itertools
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from simkit.base.messages import BadInput
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from tests.demo.conftest import ROOT
from tests.demo.sequencing import changes_of, works_of
from tests.demo.static_corridor import PAGE, sheet_kg, static_hours

GENERATOR = ROOT / "data" / "tarnholt_source" / "make_demo.py"


def _make(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(GENERATOR), "--into", str(folder)]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)


def test_the_generator_writes_over_nothing(tmp_path: Path) -> None:
    kept = tmp_path / "orders.csv"
    kept.write_text("mine", encoding="utf-8")
    refused = _make(tmp_path)
    assert refused.returncode == 2
    assert "not an empty folder" in refused.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["orders.csv"]
    assert kept.read_text(encoding="utf-8") == "mine"


def _sheets(demo: PlantInputs) -> list[int]:
    return [order.sheets for order in demo.orders]


def _parts(demo: PlantInputs) -> list[int]:
    return [
        order.sheets * sum(part.per_sheet for part in demo.parts_of[order.program_id]) for order in demo.orders
    ]  # fmt: skip


def _tools(demo: PlantInputs) -> list[int]:
    return [len(demo.tools_of[order.program_id]) for order in demo.orders]


def _orders_that_form(demo: PlantInputs, at_least_mm: float) -> int:
    tall = {t.tool_id for t in demo.tools if t.kind == "forming" and t.form_height_mm >= at_least_mm}
    return sum(any(use.tool_id in tall for use in demo.tools_of[order.program_id]) for order in demo.orders)


def _hits(demo: PlantInputs) -> int:
    programs = demo.program_by_id
    return sum(
        order.sheets
        * (programs[order.program_id].hits_per_sheet + programs[order.program_id].forming_hits_per_sheet)
        for order in demo.orders
    )  # fmt: skip


def _process_min(demo: PlantInputs) -> float:
    return 60 * static_hours(demo, PAGE).process / sum(_sheets(demo))


def _laser_share(demo: PlantInputs) -> float:
    hours = static_hours(demo, PAGE)
    return hours.laser / hours.process


def _changes(demo: PlantInputs, name: str) -> int:
    return int(getattr(changes_of(demo, works_of(demo, demo.orders)), name))


STATISTICS: dict[str, tuple[float, Callable[[PlantInputs], float]]] = {
    "orders": (180, lambda d: len(d.orders)),
    "sheets": (1112, lambda d: sum(_sheets(d))),
    "sheets, mean": (6.2, lambda d: float(np.mean(_sheets(d)))),
    "sheets, median": (5, lambda d: float(np.median(_sheets(d)))),
    "sheets, p90": (12, lambda d: float(np.quantile(_sheets(d), 0.9))),
    "sheets, most": (34, lambda d: max(_sheets(d))),
    "parts": (14674, lambda d: sum(_parts(d))),
    "parts, median": (48, lambda d: float(np.median(_parts(d)))),
    "tools, mean": (6.3, lambda d: float(np.mean(_tools(d)))),
    "tools, p90": (9, lambda d: float(np.quantile(_tools(d), 0.9))),
    "orders with forming": (99, lambda d: _orders_that_form(d, 0.0)),
    "orders with tall forms": (35, lambda d: _orders_that_form(d, 5.0)),
    "rush orders": (12, lambda d: sum(order.rush for order in d.orders)),
    "hits": (492e3, _hits),
    "tonnes": (35, lambda d: sum(o.sheets * sheet_kg(d, d.program_by_id[o.program_id]) for o in d.orders) / 1000),
    "process, min a sheet": (4.8, _process_min),
    "laser share": (0.39, _laser_share),
    "material changes": (153, lambda d: _changes(d, "material_changes")),
    "die changes": (464, lambda d: _changes(d, "die_changes")),
    "tool loads": (355, lambda d: _changes(d, "tool_loads")),
}


@pytest.mark.parametrize("name", STATISTICS)
def test_the_book_has_the_stated_statistics(demo: PlantInputs, name: str) -> None:
    stated, found = STATISTICS[name]
    assert found(demo) == pytest.approx(stated, rel=0.10)


def test_half_of_the_sheets_are_above_the_limit_for_one_person(demo: PlantInputs) -> None:
    heavy = sum(o.sheets for o in demo.orders if sheet_kg(demo, demo.program_by_id[o.program_id]) > 25)
    assert heavy / sum(_sheets(demo)) == pytest.approx(0.52, rel=0.15)


def test_sheets_weigh_what_the_description_says(demo: PlantInputs) -> None:
    masses = sorted(2.5 * 1.25 * m.thickness_mm * m.density_kg_m3 / 1000 for m in demo.materials)
    assert masses[0] == pytest.approx(12.6, abs=0.05)
    assert masses[-1] == pytest.approx(73.6, abs=0.05)


NEEDED = {"A4s": ("A4",), "A4p": ("A5b",), "C1": ("A1", "A5b", "A4"), "C5": ("A1", "A5b", "A8")}


def test_every_option_makes_a_scenario_that_differs_from_today(demo: PlantInputs) -> None:
    today = make_scenario(demo)
    for option in demo.options:
        before = make_scenario(demo, NEEDED[option.id]) if option.id in NEEDED else today
        scenario = make_scenario(demo, (*NEEDED.get(option.id, ()), option.id))
        assert scenario.physics_hash != before.physics_hash, option.id


def test_options_combine_unless_they_say_otherwise(demo: PlantInputs) -> None:
    excluded = {frozenset((option.id, other)) for option in demo.options for other in option.excludes}
    for one, two in itertools.combinations([option.id for option in demo.options], 2):
        names = tuple(dict.fromkeys((*NEEDED.get(one, ()), *NEEDED.get(two, ()), one, two)))
        clash = any(frozenset(pair) in excluded for pair in itertools.combinations(names, 2))
        if clash:
            with pytest.raises(BadInput):
                make_scenario(demo, names)
        else:
            assert make_scenario(demo, names).option_ids == names
