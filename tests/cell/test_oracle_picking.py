"""The fast cell equals the plain one where a device takes parts out: stacks, kits and skeletons in all their ways."""

from __future__ import annotations

import dataclasses
from collections import Counter

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simkit.cell.openstacks import WHY_TAKEN
from simkit.cell.run import simulate
from simkit.plant.plant import PlantInputs
from tests.oracle.compare import difference, records_of_cell, records_of_oracle
from tests.oracle.plants import plants, workload_of
from tests.oracle.straight import Straight
from tests.small_plant import changed_settings

MANY = settings(max_examples=250, derandomize=True, deadline=None, database=None,
                suppress_health_check=list(HealthCheck))  # fmt: skip


@st.composite
def picking_plants(draw: st.DrawFn) -> PlantInputs:
    """Plants at random in which every sheet's parts are picked, as far as they can be, with few places for them."""
    plant = draw(plants())
    stacking, places = draw(st.sampled_from(("kits", "kits", "by_order", "as_nested"))), draw(st.integers(1, 3))
    removal = {"pickers": 2, "stacking": stacking, "stack_places": places, "skeleton_places": draw(st.integers(0, 2)),
               "stack_height_mm": draw(st.sampled_from((400.0, 30.0))), "kit_orders": draw(st.integers(2, 3)),
               "stack_mass_kg": draw(st.sampled_from((None, 25.0)))}  # fmt: skip
    programs = tuple(dataclasses.replace(p, handover=draw(st.sampled_from(("removal", "mixed"))))
                     for p in plant.programs)  # fmt: skip
    changed = dataclasses.replace(plant, programs=programs)
    return dataclasses.replace(changed, settings=changed_settings(plant.settings, {"removal": removal}))


def test_plants_that_pick_agree_and_stacks_go_for_every_reason() -> None:
    seen: Counter[str] = Counter()

    @MANY
    @given(picking_plants())
    def agrees(plant: PlantInputs) -> None:
        work = workload_of(plant)
        trace = simulate(work)
        assert difference(records_of_cell(trace), records_of_oracle(Straight(work).run())) == ""
        seen.update(trace.stacks_taken)
        seen.update(pallets=sum(filled for _, filled in trace.skeletons))

    agrees()
    assert {why for why in (*WHY_TAKEN, "pallets") if seen[why]} == {*WHY_TAKEN, "pallets"}
