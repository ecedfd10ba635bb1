"""Rules of picking, stacking, skeletons and bins must cost where they must, and cost nothing where nothing is at stake.

Hours needed by the demo with part removal (A4), two replications with the same luck, without the overflow rules.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest

from simkit.finance.inputs import totals_from
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Element
from tests.must_lose.changed import (
    TODAY,
    Scene,
    demo,
    differing,
    gained_h,
    one_material,
    option,
    parts,
    rows,
    settings,
    simulated,
    slower_bench,
)
from tests.must_lose.test_options import PROGRAMMED, small_parts


def scene(name: str, *overrides: str, options: tuple[str, ...] = ("A4",)) -> Scene:
    return name, options, overrides


def odd_parts() -> PlantInputs:
    """Eleven large parts a sheet and one re-clamp: six in one stretch or zone, five in the other; no stops."""
    plant = parts(demo(), per_sheet=11)
    return dataclasses.replace(settings(plant, bench={"places": 100_000}), stops=())


# ---- T5: pickers and re-clamps ----


def test_t5_pickers_with_a_zone_each_are_never_faster_than_pickers_that_share() -> None:
    slow = "elements[pick].typical=40"
    results = simulated(odd_parts(), scene("share", slow), scene("apart", slow, "plant.removal.pickers_share=false"))
    assert (gained_h(results, "apart", "share") < 0).all()
    even = simulated(small_parts(), scene("share"), scene("apart", "plant.removal.pickers_share=false"))
    assert (gained_h(even, "apart", "share") <= 0).all()


def test_t5_one_picker_has_nobody_to_share_with() -> None:
    alone = "plant.removal.pickers=1"
    results = simulated(odd_parts(), scene("share", alone), scene("apart", alone, "plant.removal.pickers_share=false"))
    assert differing(results, "apart", "share") == set()


def test_t5_parts_that_must_be_out_before_a_reclamp_never_save_time() -> None:
    slow = "elements[pick].typical=40"
    evened = "plant.removal.out_before_reclamp=false"
    results = simulated(odd_parts(), scene("out", slow), scene("evened", slow, evened))
    # every sheet stands longer; when people are there for it is a matter of chance, over so few weeks
    assert (results.values("out", "state_unloading_h") > results.values("evened", "state_unloading_h")).all()
    assert gained_h(results, "out", "evened").sum() < 0
    none = simulated(rows(odd_parts(), "programs", repositions=0), scene("out", slow), scene("evened", slow, evened))
    assert differing(none, "out", "evened") == set()


def test_yield_lost_costs_machine_hours_and_the_more_sheets_and_makes_no_more_parts() -> None:
    """A fifth of the places lost: a quarter more sheets, loaded and paid for; parts and hits stay as they were."""
    results = simulated(parts(demo(), per_sheet=3), scene("full", "plant.removal.yield_loss=0"),
                        scene("lossy", "plant.removal.yield_loss=0.2"))  # fmt: skip
    assert (gained_h(results, "lossy", "full") < 0).all()
    more = {name: results.values("lossy", name).sum() / results.values("full", name).sum()
            for name in ("sheets", "material_kg", "parts", "parts_kg", "cut_h")}  # fmt: skip
    assert more == pytest.approx({"sheets": 1.25, "material_kg": 1.25, "parts": 1.0, "parts_kg": 1.0, "cut_h": 1.0},
                                 rel=0.02)  # fmt: skip
    lost = sum(results.values("lossy", f"lost_kg_{metal}") - results.values("full", f"lost_kg_{metal}")
               for metal in ("MS", "SS", "AL"))  # fmt: skip
    used = results.values("lossy", "material_kg") - results.values("full", "material_kg")
    assert lost == pytest.approx(used, rel=0.05)


# ---- T6: skeletons that would be too weak ----


def test_t6_where_every_skeleton_would_be_too_weak_all_parts_stay_for_the_bench() -> None:
    weak = ("plant.removal.max_removed_share=0", "elements[relabel].typical=0")
    results = simulated(demo(), option("A4", overrides=weak))
    assert differing(results, "A4") <= PROGRAMMED
    assert gained_h(results, "A4").tolist() == [0.0, 0.0]


def test_t6_the_twin_must_pay_where_skeletons_hold() -> None:
    plant = slower_bench(parts(demo(), per_sheet=3), 30.0)  # 58 % of the smallest sheet is out
    results = simulated(plant, scene("holds", "plant.removal.max_removed_share=0.6"),
                        scene("too weak", "plant.removal.max_removed_share=0.05"))  # fmt: skip
    assert results.values("holds", "eligible_parts_share").tolist() == [1.0, 1.0]
    assert results.values("too weak", "eligible_parts_share").tolist() == [0.0, 0.0]
    assert (gained_h(results, "holds") > 0).all()
    assert (gained_h(results, "too weak") <= 0).all()


# ---- T6: surfaces and holes ----


@pytest.mark.parametrize("limit", ["takes_sensitive=false", "min_clear_circle_mm=40"])
def test_t6_where_no_part_may_be_gripped_all_stay_for_the_bench(limit: str) -> None:
    plant = rows(demo(), "program_parts", surface_sensitive=True, clear_circle_mm=30.0)
    barred = (f"plant.removal.{limit}", "elements[relabel].typical=0")
    results = simulated(plant, option("A4", overrides=barred))
    assert results.values("A4", "eligible_parts_share").tolist() == [0.0, 0.0]
    assert differing(results, "A4") <= PROGRAMMED
    assert gained_h(results, "A4").tolist() == [0.0, 0.0]


# ---- stacks and skeletons ----


EXCHANGE = "elements[skeleton_exchange].typical=20"
"""Minutes for taking away a full pallet of skeletons."""


@pytest.mark.parametrize("build", [demo, lambda: parts(demo(), per_sheet=3)], ids=["demo", "all parts eligible"])
def test_a_pallet_of_skeletons_costs_where_it_fills_and_nothing_where_it_never_does(
    build: Callable[[], PlantInputs],
) -> None:
    scenes = {"never": 0, "often": 1, "large": 100000}
    results = simulated(build(), *(scene(name, EXCHANGE, f"plant.removal.skeleton_places={places}")
                                   for name, places in scenes.items()))  # fmt: skip
    assert differing(results, "large", "never") == set()
    assert (gained_h(results, "often", "never") < 0).all()
    filled, put_down = (results.values("often", name) for name in ("skeleton_pallets", "skeletons_by_device"))
    assert filled.tolist() == put_down.tolist()


def test_a_kit_of_one_order_is_a_stack_of_one_order() -> None:
    kits = ("plant.removal.stacking=kits", "plant.removal.kit_orders=1")
    results = simulated(demo(), scene("by order"), scene("kits", *kits))
    assert differing(results, "kits", "by order") <= {"stacks_taken_order", "stacks_taken_kit"}


def test_kits_bind_places_where_there_are_few() -> None:
    kits, slow = ("plant.removal.stacking=kits", "plant.removal.kit_orders=4"), "elements[stack_exchange].typical=60"
    one = "plant.removal.stack_places=1"
    results = simulated(parts(demo(), per_sheet=3), scene("many", slow, *kits, "plant.removal.stack_places=50"),
                        scene("one", slow, *kits, one), scene("one by order", slow, one))  # fmt: skip
    assert (gained_h(results, "one", "many") < 0).all()


def test_stacks_that_fill_by_mass_are_taken_away_more_often_and_save_no_time_over_the_book() -> None:
    """Both replications share one deal of weeks: together they are the whole book."""
    light = "plant.removal.stack_mass_kg=30"
    results = simulated(parts(demo(), per_sheet=3), scene("no limit"), scene("light", light))
    assert results.values("light", "stacks_taken_mass").min() > 0
    assert (results.values("light", "stacks_exchanged") > results.values("no limit", "stacks_exchanged")).all()
    assert gained_h(results, "light", "no limit").sum() <= 0


# ---- T7: packs of one material ----


def packed(plant: PlantInputs, **minutes: float) -> PlantInputs:
    """One material in packs of ten sheets; minutes of work by hand: ``pack_change``, ``store_load``."""
    first = next(row for row in plant.elements if row.element == "material_fetch")
    extra = tuple(
        dataclasses.replace(first, element=name, unit=f"min/{name}", typical=typical, law="constant", cv=0.0,
                            low=None, high=None, state="outside" if name == "store_load" else "changeover")
        for name, typical in minutes.items()
    )  # fmt: skip
    whole = rows(one_material(plant), "materials", sheets_per_pack=10)
    return dataclasses.replace(whole, elements=(*whole.elements, *extra))


SOUND = ("stops[store_fault].rate=0",)
AT_ONCE = "elements[store_exchange].typical=0"


def test_t7_packs_of_one_material_that_are_there_at_once_make_the_store_a_loader() -> None:
    results = simulated(packed(demo(), store_load=0.0), option("A5a"), option("A5b", overrides=(AT_ONCE, *SOUND)))
    assert differing(results, "A5b", "A5a") == set()


def test_t7_a_store_that_people_fill_more_slowly_than_they_change_packs_loses_to_the_loader() -> None:
    one = (AT_ONCE, "plant.store.packs=1")
    results = simulated(packed(demo(), pack_change=2.0, store_load=60.0), option("A5a"), option("A5b", overrides=one))
    assert (gained_h(results, "A5b", "A5a") < 0).all()


def test_t7_the_twin_must_save_the_changes_of_packs() -> None:
    results = simulated(packed(demo(), pack_change=20.0, store_load=5.0), option("A5a"), option("A5b"))
    assert (gained_h(results, "A5b", "A5a") > 0).all()


# ---- T9: bins by mass ----


def bin_by_mass(plant: PlantInputs, kg: float, *, in_break: bool = False) -> PlantInputs:
    """The demo's scrap bin, emptied by the mass of slugs in it."""
    return rows(plant, "upkeep", lambda row: row.task == "scrap_bin", exposure="slug_kg", interval=kg,
                planned_in_break=in_break, break_by="others")  # fmt: skip


def test_t9_a_bin_that_is_never_full_leaves_a_conveyor_nothing_to_save() -> None:
    for plant in (bin_by_mass(demo(), 1e9), bin_by_mass(demo(), 5.0, in_break=True)):
        results = simulated(plant, option("A6", overrides=("stops[conveyor_jam].rate=0",)))
        assert differing(results, "A6") <= {"care_by_others_h"}
        assert gained_h(results, "A6").tolist() == [0.0, 0.0]


def test_t9_the_twin_must_save_hours_where_the_bin_holds_little() -> None:
    assert (gained_h(simulated(bin_by_mass(demo(), 5.0), option("A6")), "A6") > 0).all()


def test_t9_a_conveyor_that_mixes_metals_loses_credit_and_one_metal_alone_loses_none() -> None:
    mixed = ("plant.scrap.slugs=mixed", "plant.scrap.mixed_per_kg=0.15")
    steel = rows(demo(), "programs", material_id="MS-1.5")
    for plant, loses in ((demo(), True), (steel, False)):
        scenarios = [make_scenario(plant), make_scenario(plant, ("A6",), mixed, name="A6")]
        totals = totals_from(simulated(plant, option("A6", overrides=mixed)), scenarios)
        today, other = (totals[scenario.name] for scenario in scenarios)
        assert today.mixing_per_kg == dict.fromkeys(today.scrap_per_kg, 0.0)
        worse = {metal: change < 0 for metal, change in other.mixing_per_kg.items()}
        assert worse == dict.fromkeys(today.scrap_per_kg, loses)


# ---- T11: a person where no job waits for one ----


def test_t11_a_second_person_at_the_bench_takes_no_skeleton_away() -> None:
    plant = slower_bench(parts(demo(), per_sheet=3), 0.02)
    full = ("plant.removal.skeleton_places=2", EXCHANGE)
    results = simulated(plant, scene("one", *full), scene("two", *full, options=("A4", "N3")))
    assert results.values("one", "skeleton_pallets").min() > 0
    assert gained_h(results, "two", "one").tolist() == [0.0, 0.0]
    helper = dataclasses.replace(next(row for row in plant.people if "pallet" in row.skills), person_id="helper",
                                 skills=("pallet",), shift="always")  # fmt: skip
    twin = simulated(dataclasses.replace(plant, people=(*plant.people, helper)), scene("one", *full))
    assert (twin.values("one", "hours_needed") < results.values("one", "hours_needed")).all()


# ---- remnants ----


def test_remnants_cost_their_work_and_save_nothing_where_no_program_leaves_one() -> None:
    row = Element(element="put_back", task_of="unload", unit="min/remnant", state="unloading", typical=6.0)
    plant = dataclasses.replace(demo(), elements=(*demo().elements, row))
    keep = scene("kept", "plant.store.remnants_kept=1", options=())
    assert differing(simulated(rows(plant, "programs", remnant_share=0.0), keep), "kept") == set()
    results = simulated(rows(plant, "programs", remnant_share=0.1), keep)
    assert (gained_h(results, "kept") < 0).all()
    assert (results.values("kept", "material_kg") < results.values(TODAY, "material_kg")).all()
