"""Records of tools, families and faults add up to the measures of the same run."""

from __future__ import annotations

import pytest

from simkit.base.vocabulary import EXCHANGES
from simkit.experiment.replication import draw_luck, run_cell
from simkit.experiment.toolmeasures import HITS
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import LoadFault, MachineRow
from tests.small_plant import small_plant

MINUTES = {"tool_load": 4.0, "die_change": 1.5, "magazine_exchange": 0.75, "magazine_die_change": 0.6}
"""Of each exchange in the small plant."""
FAULT = LoadFault(fault="wrong die", exchanges=("tool_load", "die_change"), rate=0.5, repair_min=5.0)


@pytest.fixture(scope="module", params=["today", "magazine", "two machines"])
def both(request):
    """Plant, records and measures of a run."""
    changes = {
        "today": {"load_faults": (FAULT,)},
        "magazine": {"magazine": {"places": {"16": 4, "30": 2}}},
        "two machines": {"machines": (MachineRow(machine_id="M1"), MachineRow(machine_id="M2"))},
    }
    today = make_scenario(small_plant(**changes[request.param]))
    measures, records = run_cell(today, draw_luck(today, 7, 0, 2.0, 1.0))
    return today.plant, records, measures


def test_exchanges_by_tool_add_up_to_those_by_kind(both):
    _, records, measures = both
    tools = records["tools"]
    for kind in EXCHANGES:
        assert tools["times"][tools["exchange"] == kind].sum() == measures[f"{kind}s"]
    assert measures["tool_loads"] + measures["magazine_exchanges"] > 0
    each = tools[tools["exchange"] != HITS]
    minutes = [times * MINUTES[kind] for kind, times in zip(each["exchange"], each["times"], strict=True)]
    assert each["visible_min"] + each["hidden_min"] == pytest.approx(minutes)
    assert len({(row["tool_id"], row["exchange"]) for row in tools}) == len(tools)


def test_minutes_by_tool_and_by_family_add_up_to_the_hours(both):
    _, records, measures = both
    for quantity in ("visible", "hidden"):
        by_tool = records["tools"][f"{quantity}_min"].sum()
        assert by_tool == pytest.approx(60 * measures[f"exchange_{quantity}_h"], abs=1e-6)
        assert records["families"][f"{quantity}_min"].sum() == pytest.approx(by_tool, abs=1e-6)


def test_hits_are_those_of_the_sheets_made(both):
    plant, records, measures = both
    hits = {p.program_id: p.hits_per_sheet + p.forming_hits_per_sheet for p in plant.programs}
    counted = records["tools"]["times"][records["tools"]["exchange"] == HITS].sum()
    assert min(hits.values()) * measures["sheets"] <= counted <= max(hits.values()) * measures["sheets"]


def test_families_carry_the_orders_and_the_cutting(both):
    _, records, measures = both
    families = records["families"]
    assert families["orders"].sum() == measures["orders_finished"]
    assert families["fixed_min"].sum() == pytest.approx(9.0 * measures["orders_finished"])
    lost_min = 60 * measures["cut_h"] - families["cut_min"].sum()
    assert lost_min > 1.0 if measures["sheets_scrapped"] else lost_min == pytest.approx(0.0, abs=1e-6)


def test_faults_are_counted_by_kind_and_where_they_were_found(both):
    plant, records, measures = both
    assert 5.0 * records["faults"]["times"].sum() == pytest.approx(60 * measures["tool_fault_h"])
    assert set(records["faults"]["fault"]) == {fault.fault for fault in plant.load_faults}
