"""Quennow: the operator breaks out while the machine needs nobody (N20). Where it must lose, and where it must pay.

Two weeks, two replications, the same luck; signs only.
"""

from __future__ import annotations

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from tests.must_lose.changed import DEMO, differing, gained_h, option, settings, simulated, slower_bench

NEVER_BINDS = 0.0
"""Times a sheet's time at the bench: nothing is left for the operator to do there."""


@pytest.fixture(scope="module")
def quennow() -> PlantInputs:
    """The plant without work given out, overtime and refusals, so that hours needed tell all."""
    plant = read_plant(DEMO.parent / "quennow")
    return settings(plant, overflow=dict.fromkeys(("overtime", "subcontract", "refuse"), False))


def test_n20_pays_while_the_bench_binds(quennow: PlantInputs) -> None:
    assert sum(gained_h(simulated(quennow, option("N20")), "N20")) > 0


def test_n20_gives_nothing_where_the_bench_has_nothing_to_do(quennow: PlantInputs) -> None:
    assert differing(simulated(slower_bench(quennow, NEVER_BINDS), option("N20")), "N20") == set()


def test_n20_loses_where_one_post_is_nearly_enough_for_the_bench(quennow: PlantInputs) -> None:
    """At two thirds of the bench's time it hardly blocks; an operator who has begun there lets the machine wait."""
    results = simulated(slower_bench(quennow, 0.65), option("N20"))
    assert all(hours < 0 for hours in gained_h(results, "N20"))
    waits = results.values("N20", "state_waiting_person_h") - results.values("today", "state_waiting_person_h")
    assert all(hours > 0 for hours in waits)
