"""Counts by tool and family: they add up to the measures of the same run, and say what they count."""

from __future__ import annotations

import pytest

from simkit.experiment.runner import run_scenarios
from simkit.experiment.task import draw_luck, run_cell
from simkit.experiment.toolcounts import SPAN, TOOL_COUNTS, UNITS, Counted, count_tools, counted
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import LoadFault, MachineRow
from simkit.process.workload import EXCHANGES
from tests.small_plant import small_plant

FAULT = LoadFault(fault="wrong die", exchanges=("tool_load", "die_change"), rate=0.5, repair_min=5.0)


@pytest.fixture(scope="module", params=["today", "magazine", "two machines"])
def both(request):
    """Counts and measures of one run of the same scenario."""
    changes = {
        "today": {"load_faults": (FAULT,)},
        "magazine": {"magazine": {"places": {"16": 4, "30": 2}}},
        "two machines": {"machines": (MachineRow(machine_id="M1"), MachineRow(machine_id="M2"))},
    }
    today = make_scenario(small_plant(**changes[request.param]))
    luck = draw_luck(today, 7, 0, 2.0, 1.0)
    return today.plant, count_tools(today, luck), run_cell(today, luck)


def total(counts, quantity, group=None):
    found = ((counted(name), value) for name, value in counts.items())
    return sum(v for c, v in found if c and c.quantity == quantity and (group is None or c.group == group))


def test_exchanges_by_tool_add_up_to_those_by_kind(both):
    _, counts, measures = both
    for kind in EXCHANGES:
        assert total(counts, "count", kind) == measures[f"{kind}s"]
    assert measures["tool_loads"] + measures["magazine_exchanges"] > 0


def test_minutes_by_tool_and_by_family_add_up_to_the_hours(both):
    _, counts, measures = both
    for quantity in ("visible", "hidden"):
        by_tool = sum(total(counts, quantity, kind) for kind in EXCHANGES)
        assert by_tool == pytest.approx(60 * measures[f"exchange_{quantity}_h"], abs=1e-6)
        assert total(counts, quantity, "family") == pytest.approx(by_tool, abs=1e-6)


def test_hits_are_those_of_the_sheets_made(both):
    plant, counts, measures = both
    hits = {p.program_id: p.hits_per_sheet + p.forming_hits_per_sheet for p in plant.programs}
    assert min(hits.values()) * measures["sheets"] <= total(counts, "hits") <= max(hits.values()) * measures["sheets"]


def test_families_carry_the_orders_and_the_cutting(both):
    _, counts, measures = both
    assert total(counts, "orders", "family") == measures["orders_finished"]
    assert total(counts, "fixed", "family") == pytest.approx(9.0 * measures["orders_finished"])
    assert total(counts, "cut", "family") <= 60 * measures["cut_h"] + 1e-6 or measures["span_weeks"] < 2


def test_faults_are_counted_by_kind_and_where_they_were_found(both):
    plant, counts, measures = both
    assert total(counts, "faults") == measures["tool_faults"]
    assert bool(plant.load_faults) == (total(counts, "faults") > 0)


def test_names_come_apart_again():
    assert counted("count_tool_load:TL-001") == Counted("count", "tool_load", "TL-001")
    assert counted("visible_family:A:B_c") == Counted("visible", "family", "A:B_c")
    assert counted(SPAN) is None


def test_the_runner_tabulates_counts_with_their_units(tmp_path):
    today = make_scenario(small_plant())
    args = {"replications": 2, "weeks": 1.0, "workers": 1, "progress": False, "cache_dir": tmp_path}
    results = run_scenarios(today, [today], model=TOOL_COUNTS, **args)
    assert set(results.units.values()) <= set(UNITS.values())
    kept = sorted(path.name for path in tmp_path.rglob("*.json"))
    again = run_scenarios(today, [today], model=TOOL_COUNTS, **args)
    assert again.frame.equals(results.frame)
    assert kept == sorted(path.name for path in tmp_path.rglob("*.json"))
    measured = run_scenarios(today, [today], **args)
    assert "hours_needed" in measured.measures
