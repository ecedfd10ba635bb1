"""Clocks of a sheet by hand, and the cases in which a picker or a person must be the slowest."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.analysis.part_clocks import ALL, book_clocks, family_clocks, shared_person
from simkit.plant.scenarios import make_scenario
from tests.must_lose.changed import demo, element, parts, rows, settings, slower_bench
from tests.small_plant import small_plant


def removal(plant):
    return make_scenario(plant, ("A4",)).plant


def one_sheet(clocks, number=0):
    return {name: float(getattr(clocks, name)[number]) for name in (
        "machine_s", "process_s", "handling_s", "pick_s", "blocking_s", "bench_s", "person_s", "cycle_s",
    )}  # fmt: skip


def test_a_sheet_of_the_demo_by_hand() -> None:
    """LOCK-004: 49 kg, so loading 2.6 min and pulling out 1.3 min; six parts of 2.9 + 4 + 3 s at the bench,
    0.6 s for each of their 36 tabs, 0.5 s for each of their 36.792 kg, and 24 s for the skeleton."""
    clocks = book_clocks(demo())
    names = [program.program_id for program in demo().programs]
    place = int(np.flatnonzero(clocks.program == names.index("LOCK-004"))[0])
    found = one_sheet(clocks, place)
    assert found["handling_s"] == pytest.approx(60 * (2.6 + 1.3), abs=1e-4)
    assert found["bench_s"] == pytest.approx(6 * 9.9 + 0.6 * 36 + 0.5 * 36.792 + 24, abs=1e-3)
    assert found["machine_s"] == pytest.approx(found["handling_s"] + found["process_s"], abs=1e-4)
    assert (found["pick_s"], found["blocking_s"]) == (0.0, 0.0)
    assert len(clocks.program) == sum(order.sheets for order in demo().orders)


def test_with_removal_six_picks_are_shared_by_two_pickers_and_block_three_seconds_each() -> None:
    clocks = book_clocks(removal(demo()))
    names = [program.program_id for program in demo().programs]
    found = one_sheet(clocks, int(np.flatnonzero(clocks.program == names.index("LOCK-004"))[0]))
    assert found["pick_s"] == pytest.approx(6 * 9 / 2)
    assert found["blocking_s"] == pytest.approx(6 * 3)
    assert found["machine_s"] == pytest.approx(found["handling_s"] + found["process_s"] + 18, abs=1e-3)


def test_one_person_for_both_works_on_both_clocks() -> None:
    plant = demo()
    people = tuple(dataclasses.replace(p, skills=(*p.skills, "load")) if "bench" in p.skills else p
                   for p in plant.people)  # fmt: skip
    assert not shared_person(plant)
    both = book_clocks(dataclasses.replace(plant, people=people))
    assert both.shared
    assert (both.person_s == both.bench_s + both.handling_s).all()
    assert (both.person_bound == (both.bench_s > both.process_s + 0.5)).all()


def test_t5_sixty_small_parts_a_sheet_are_pick_bound_and_slower_than_a_person_who_keeps_up() -> None:
    """Sixty picks of 60 s, shared by two, take 1800 s; today's sheet takes less while the bench keeps up with it."""
    plant = slower_bench(small_parts(), 0.3)
    today, with_it = book_clocks(plant), book_clocks(removal(picks_of(plant, 60.0)))
    assert with_it.pick_s == pytest.approx(np.full(len(today.program), 1800.0))
    assert with_it.pick_bound.all()
    assert with_it.machine_s == pytest.approx(with_it.handling_s + 1800.0, abs=1e-3)
    every = family_clocks(today, with_it).iloc[-1]
    assert (every.family, every.pick_bound, every.slower) == (ALL, 1.0, 1.0)


def test_t5_even_picks_that_are_not_the_slowest_clock_hold_each_sheet_longer_than_pulling_it_out() -> None:
    plant = slower_bench(small_parts(), 0.3)
    today, with_it = book_clocks(plant), book_clocks(removal(plant))
    assert with_it.pick_bound.mean() < 0.5
    assert with_it.blocking_s == pytest.approx(np.full(len(today.program), 180.0))
    assert (with_it.cycle_s > today.cycle_s).all()


def test_the_twin_where_the_person_is_the_slower_clock_removal_must_save_time() -> None:
    plant = small_parts()
    today, with_it = book_clocks(plant), book_clocks(removal(plant))
    assert today.person_bound.mean() > 0.8
    assert with_it.cycle_s.mean() < today.cycle_s.mean()


def small_parts():
    return parts(demo(), per_sheet=60, length_mm=120, width_mm=110, mass_kg=0.2)


def picks_of(plant, seconds):
    """The plant whose removal option takes so many seconds a pick, three of them standing still."""
    option = plant.option_by_id["A4"]
    edits = []
    for edit in option.edits:
        value = edit.value
        if isinstance(value, dict) and value.get("unit") == "s/pick" and value.get("state") == "unloading":
            value = {**value, "typical": seconds, "low": seconds, "high": seconds}
        edits.append(edit.model_copy(update={"value": value}))
    changed = option.model_copy(update={"edits": tuple(edits)})
    return dataclasses.replace(plant, options=tuple(changed if o.id == "A4" else o for o in plant.options))


def test_t6_all_parts_tall_leave_the_machine_clock_as_it_was() -> None:
    plant = parts(demo(), per_sheet=6, form_height_mm=50.0)
    today, with_it = book_clocks(plant), book_clocks(removal(plant))
    assert (with_it.machine_s == today.machine_s).all()
    assert not with_it.pick_bound.any()
    assert family_clocks(today, with_it)["slower"].iloc[-1] == 0.0


def test_shares_of_families_weigh_up_to_all() -> None:
    today, with_it = book_clocks(demo()), book_clocks(removal(demo()))
    *families, every = family_clocks(today, with_it).itertuples()
    assert sum(row.sheets for row in families) == every.sheets == len(today.program)
    for name in ("slower", "machine_s"):
        weighed = sum(row.sheets * getattr(row, name) for row in families)
        assert weighed == pytest.approx(every.sheets * getattr(every, name))
    assert [row.sheets for row in families] == sorted((row.sheets for row in families), reverse=True)


def test_luck_and_merging_do_not_move_the_clocks() -> None:
    steady = book_clocks(demo())
    merged = book_clocks(settings(demo(), rules={"merge_days": 5.0}))
    assert (steady.machine_s == merged.machine_s).all()
    wide = book_clocks(rows(demo(), "elements", lambda row: row.element == "load", cv=1.5))
    assert (wide.machine_s == steady.machine_s).all()
    slower = book_clocks(element(demo(), pull_out=2.3))
    assert slower.machine_s - steady.machine_s == pytest.approx(60.0, abs=1e-3)


def test_a_book_without_orders_has_no_clock() -> None:
    assert len(book_clocks(small_plant(orders=())).program) == 0
