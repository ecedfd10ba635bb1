"""The fast cell equals the plain one where nights are prepared at random: tasks before leaving, orders kept back."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter
from itertools import cycle
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from simkit.cell import choosing
from simkit.cell.beforenight import BeforeNight
from simkit.cell.openstacks import NIGHT_COMES
from simkit.cell.run import simulate
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Order
from tests.oracle.compare import difference, records_of_cell, records_of_oracle
from tests.oracle.plants import BEFORE_LEAVING, NIGHT, ever_done, plants, workload_of
from tests.oracle.straight import Straight
from tests.small_plant import MONDAY, changed_settings

MANY = settings(max_examples=120, derandomize=True, deadline=None, database=None, phases=(Phase.generate,),
                suppress_health_check=list(HealthCheck))  # fmt: skip


@st.composite
def nightly(draw: st.DrawFn) -> PlantInputs:
    """Plants at random with work on every evening, and nights that are prepared in most of the ways."""
    plant, sheets = draw(plants()), draw(st.lists(st.integers(1, 12), min_size=8, max_size=8))
    materials = [plant.programs[0].material_id] if draw(st.booleans()) else [row.material_id for row in plant.programs]
    ways = draw(st.sampled_from((("stack", "bench"), ("removal", "mixed"), ("removal", "stack"))))
    rules = {"before_leaving": draw(st.permutations(BEFORE_LEAVING))[: draw(st.integers(3, 5))],
             "before_leaving_min": draw(st.sampled_from((100.0, 300.0))), "merge_days": 0.0,
             "night_queue": draw(st.sampled_from(("reserved", "prepared", "as_ranked"))),
             "night_share_planned": draw(st.sampled_from((None, 0.5)))}  # fmt: skip
    night = {"rule": "allowed", "windows": (NIGHT,), "assessed_by": "a test", "assessed_on": "2026-01-01"}
    changes = {"rules": rules, "calendar": {"night": night}, "run": {"source": "replay", "horizon_s": None},
               "stack": {"places": draw(st.integers(1, 4)), "use": "always"}}  # fmt: skip
    plant = dataclasses.replace(
        plant, settings=changed_settings(plant.settings, changes),
        programs=tuple(dataclasses.replace(row, handover=way, proven=True, measured_run_s=1500.0, material_id=material)
                       for row, way, material in zip(plant.programs, ways, cycle(materials))),
        orders=tuple(Order(order_id=f"{number}", program_id=f"P-{1 + number % 2}", sheets=many, released=MONDAY,
                           due=MONDAY + dt.timedelta(6)) for number, many in enumerate(sheets)),
    )  # fmt: skip
    assume(ever_done(plant))
    return plant


def test_prepared_nights_agree_and_every_way_of_preparing_is_met(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: Counter[str] = Counter()
    fits = BeforeNight._fits

    def noted(self: BeforeNight, task: str, seconds: float) -> bool:
        found = fits(self, task, seconds)
        seen[f"{task} {found}"] += 1
        return found

    def counting(module: Any, name: str) -> None:
        original = getattr(module, name)

        def counted(*given: Any) -> Any:
            found = original(*given)
            seen[name] += bool(found)
            return found

        monkeypatch.setattr(module, name, counted)

    monkeypatch.setattr(BeforeNight, "_fits", noted)
    counting(choosing, "kept_back")
    counting(choosing, "first_night_order")
    counting(choosing, "night_order")

    @MANY
    @given(nightly())
    def agrees(plant: PlantInputs) -> None:
        work = workload_of(plant)
        trace = simulate(work)
        assert difference(records_of_cell(trace), records_of_oracle(Straight(work).run())) == ""
        seen["stacks"] += trace.stacks_taken.get(NIGHT_COMES, 0)

    agrees()
    wanted = {f"{task} {yes}" for task in ("upkeep", "pallet", "material") for yes in (True, False)}
    wanted |= {"kept_back", "first_night_order", "night_order", "stacks"}
    assert {name for name in wanted if seen[name]} == wanted
