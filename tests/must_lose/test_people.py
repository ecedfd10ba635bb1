"""People on the demo: a second pair of hands at set-up, filling the store, and dies that come back wrong.

Two weeks, two replications, the same luck; signs only.
"""

from __future__ import annotations

import pytest

from simkit.experiment.results import Results
from tests.must_lose.changed import demo, differing, simulated

ALONE = tuple(f"elements[{name}].parallel_share=0" for name in ("tool_search", "tool_fit", "die_change"))
TRAINED = ("people[HLP-1].skills+=changeover",)
"""The helper of the early shift, there from 08:00 to 12:30, may set up."""
WORN = ("tools[*].life_hits*=0.2",)
GROUND_BADLY = tuple(f"load_faults[{name}].rate*=60" for name in ("die_not_shimmed", "length_record_wrong"))


@pytest.fixture(scope="module")
def results() -> Results:
    scenes = {"alone": ALONE, "trained": TRAINED, "trained, alone": (*TRAINED, *ALONE), "worn": WORN,
              "ground badly": (*WORN, *GROUND_BADLY)}  # fmt: skip
    store = ("A5b", ("A5b",), ()), ("not filled", ("A5b",), ("elements[store_fill].typical=0",))
    slowly = ("slowly filled", ("A5b",), ("elements[store_fill].typical=120",))
    return simulated(demo(), *((name, (), overrides) for name, overrides in scenes.items()), *store, slowly)


def more(results: Results, name: str, base: str, measure: str) -> list[float]:
    return list(results.values(name, measure) - results.values(base, measure))


def test_without_a_second_setter_a_share_of_set_up_changes_nothing(results: Results) -> None:
    assert differing(results, "alone") == set()


def test_a_second_setter_shortens_set_up_by_less_than_the_share(results: Results) -> None:
    """The helper is there for a quarter of the week, and set-up is more than tools: between nothing and 40 %."""
    saved = more(results, "trained", "trained, alone", "state_changeover_h")
    whole = results.values("trained, alone", "state_changeover_h")
    assert all(-0.2 * hours < change < 0 for change, hours in zip(saved, whole, strict=True))


def test_filling_the_store_costs_somebodys_hours(results: Results) -> None:
    """Two minutes a sheet are hours of a fortnight, and none without; the demo's seconds lie between."""
    assert all(change > 0 for change in more(results, "A5b", "not filled", "person_material_h"))
    assert all(change > 3 for change in more(results, "slowly filled", "A5b", "person_material_h"))


def test_a_regrind_that_goes_wrong_stops_the_machine_and_loses_sheets(results: Results) -> None:
    assert sum(more(results, "ground badly", "worn", "state_stopped_h")) > 0
    assert sum(more(results, "ground badly", "worn", "sheets_scrapped")) > 0
