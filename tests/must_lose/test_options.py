"""Every option of the demo has a case in which it must not pay, and a case in which it must.

The options are the demo's own; the plant around them is changed until nothing is left to gain. "Same" means
bit for bit over all measures, two replications with the same luck. The overflow rules are switched off where
hours are compared, so that no order changes its fate.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Station
from tests.demo.described import described
from tests.must_lose.changed import (
    TODAY,
    alike_tools,
    demo,
    differing,
    due_at_once,
    element,
    fault_rate,
    gained_h,
    money,
    no_cutting,
    no_forms,
    one_material,
    option,
    parts,
    rows,
    settings,
    simulated,
    slower_bench,
    upkeep,
    whole_demo,
    wide_turret,
    without_repeats,
)  # fmt: skip
from tests.small_plant import small_plant

PEOPLE = {"busy_h", "person_busy_h", "people_utilisation", "people_queue_mean", "people_wait_mean_s",
          "people_wait_share"}  # fmt: skip
PREPARED = {*PEOPLE, "person_preparation_h", "preparation_h"}
PROGRAMMED = {*PEOPLE, "person_programming_h", "programming_h"}
BENCH = {"bench_queue_mean", "bench_wait_mean_s", "bench_wait_share", "bench_sheets_mean", "bench_utilisation"}
REWORKED = {*PEOPLE, *BENCH, "person_bench_h", "bench_h", "parts_reworked", "rework_h", "orders_in_process_mean"}


def bins_in_a_break() -> PlantInputs:
    """The demo, its scrap bin emptied in breaks by people who are not of the cell."""
    return upkeep(demo(), "scrap_bin", planned_in_break=True, break_by="others")


SAME: dict[str, tuple[Callable[[], PlantInputs], str, tuple[str, ...], set[str]]] = {
    "T1 all orders use the same tools": (lambda: alike_tools(demo()), "A1", (), set()),
    "T1 the same without look-ahead": (lambda: alike_tools(demo()), "A1b", (), set()),
    "T4 nothing sensitive, nothing formed": (lambda: no_forms(demo()), "A3",
                                             ("elements[die_rise].typical=0",), PREPARED),
    "T6 all parts tall": (lambda: rows(demo(), "program_parts", form_height_mm=50.0), "A4",
                          ("elements[relabel].typical=0",), PROGRAMMED),
    "T9 others empty the bins in a break": (lambda: bins_in_a_break(), "A6", ("stops[conveyor_jam].rate=0",),
                                            {"care_by_others_h"}),
    "T10 one nozzle all week": (lambda: upkeep(rows(demo(), "materials", nozzle="small"), "nozzle_check",
                                               interval=1e9), "A7", (), set()),
    "T11 no job bound by the bench": (lambda: slower_bench(demo(), 0.02), "N3", (),
                                    {"people_utilisation", "busy_h"}),
    "T12 due dates force the order": (lambda: due_at_once(demo()), "N1", (), set()),
    "N2 no tool is ever loaded": (lambda: dataclasses.replace(element(alike_tools(demo()), order_fixed=5.0),
                                                              stops=()), "N2", (), {*PREPARED, "person_overrun_h"}),
    "N4 no repeats": (lambda: without_repeats(demo()), "N4", (), set()),
    "N5 the tools stand there already": (lambda: alike_tools(demo()), "N5", (), set()),
    "N7 tools never wear": (lambda: rows(demo(), "tools", life_hits=None, regrind_limit_hits=None), "N7", (), set()),
    "N8 every program is new": (lambda: rows(demo(), "programs", proven=False), "N8", (), set()),
    "N9 one material": (lambda: one_material(demo()), "N9", ("elements[trolley_change].typical=0",), PEOPLE),
    "N10 neighbours never follow one another": (lambda: rows(demo(), "programs", material_id="MS-1.5"), "N10", (),
                                                REWORKED),
    "N11 the turret holds every tool": (lambda: wide_turret(demo()), "N11", (), set()),
    "N12 no unattended hours": (demo, "N12", (), set()),
    "N13 one material": (lambda: one_material(demo()), "N13", ("elements[pack_set_down].typical=0",), PEOPLE),
    "N14 the bench has no work": (lambda: dataclasses.replace(slower_bench(demo(), 0.0), quality=()), "N14", (),
                                  {"busy_h", "people_utilisation"}),
}  # fmt: skip
"""Case: the plant, the option, overrides for what is beside the point, and measures that may differ all the same."""


@pytest.mark.parametrize("case", SAME)
def test_nothing_left_to_gain_changes_nothing(case: str) -> None:
    build, name, overrides, may_differ = SAME[case]
    results = simulated(build(), option(name, overrides=overrides))
    assert differing(results, name) <= may_differ
    assert gained_h(results, name).tolist() == [0.0, 0.0]


MUST_PAY: dict[str, tuple[Callable[[], PlantInputs], str]] = {
    "T1 many different tools": (demo, "A1"),
    "T3 one load in fifty goes wrong": (lambda: fault_rate(demo(), 0.02), "A2"),
    "T4 forms that bar stations": (demo, "A3"),
    "T5 large parts and a slow bench": (lambda: slower_bench(parts(demo(), per_sheet=12), 8.0), "A4"),
    "T7 a person loads every sheet": (demo, "A5a"),
    "T9 small bins": (lambda: upkeep(demo(), "scrap_bin", interval=1.0), "A6"),
    "T10 thin and thick in turn": (demo, "A7"),
    "T11 the bench is slow": (lambda: slower_bench(demo(), 4.0), "N3"),
    "T12 many materials": (demo, "N1"),
    "N2 many tools": (demo, "N2"),
    "N4 repeats": (demo, "N4"),
    "N5 the layout fits the mix": (demo, "N5"),
    "N6 breaks": (demo, "N6"),
    "N7 tools that fail soon": (lambda: rows(demo(), "tools", lambda tool: tool.life_hits is not None,
                                             life_hits=3000.0, regrind_limit_hits=2000.0), "N7"),
    "N8 repeats": (demo, "N8"),
    "N9 many materials": (demo, "N9"),
    "N10 two thicknesses in turn": (demo, "N10"),
    "N11 a turret too small": (demo, "N11"),
    "N13 many materials": (demo, "N13"),
}  # fmt: skip


@pytest.mark.parametrize("case", MUST_PAY)
def test_the_twin_case_must_save_hours(case: str) -> None:
    """Over both replications: they share one deal of weeks, so that together they are the whole book."""
    build, name = MUST_PAY[case]
    assert gained_h(simulated(build(), option(name)), name).sum() > 0


SOUND = ("stops[store_fault].rate=0",)
"""The store without faults of its own, so that it is the single-pallet loader but for its shelves."""

UNFILLED = "elements[store_fill].typical=0"
"""The store filled in no time."""
NIGHT = ("A1", "A5b", "A8", "A7", "N8", "C1")


def test_n12_a_night_that_is_prepared_must_run_longer() -> None:
    """Stack and stops leave the night free: with its queue reserved and its first order set up it runs longer."""
    results = simulated(whole_demo(), option(*NIGHT), option(*NIGHT, "N12"))
    plain, ready = (results.values("+".join(names), "night_running_h") for names in (NIGHT, (*NIGHT, "N12")))
    assert ready.sum() > plain.sum()


def test_n14_a_slow_bench_must_lose_its_post() -> None:
    """Where breaking out takes twice as long, one post cannot do it, and orders come late."""
    plant = slower_bench(demo(), 2.0)
    assert gained_h(simulated(plant, option("N14")), "N14").sum() < 0


def test_n14_the_wage_of_the_post_must_be_worth_more_than_what_waits() -> None:
    """A bench with next to no work: a post of 26 an hour is saved and nothing is lost."""
    assert money(slower_bench(demo(), 0.02), "N14").npv > 0


# ---- money ----


@pytest.mark.parametrize(
    ("build", "name"),
    [(lambda: alike_tools(demo()), "A1"), (lambda: slower_bench(demo(), 0.02), "N3"),
     (lambda: bins_in_a_break(), "A6")],
    ids=["T1", "T11", "T9"],
)  # fmt: skip
def test_an_option_that_saves_no_hour_costs_more_than_its_capital(build: Callable[[], PlantInputs], name: str) -> None:
    worth = money(build(), name)
    assert worth.npv < -0.7 * worth.capital < 0
    assert worth.npv_with_signed_sales <= worth.npv_with_avoided <= worth.npv
    assert worth.payback.years is None


def test_t11_the_second_person_costs_both_wages() -> None:
    """Two persons of 26 an hour for 35 hours and more a week, less tax, over the years."""
    worth = money(slower_bench(demo(), 0.02), "N3")
    finance = demo().settings.finance
    one_year = 2 * 26 * 36 * finance.production_weeks * (1 - finance.tax_rate)
    assert worth.npv < -4 * one_year


def test_t1_the_twin_must_earn_where_hours_are_short_and_dear() -> None:
    """Demand above what the cell can do, at a margin of 400 an hour: alike tools still earn nothing."""
    plant = settings(whole_demo(), money={"margin_per_h": 400.0})
    real, alike = money(plant, "A1", demand=1.6), money(alike_tools(plant), "A1", demand=1.6)
    assert real.npv_with_signed_sales > 0.0 > alike.npv_with_signed_sales
    assert real.npv > alike.npv


# ---- T2: look-ahead ----


def test_t2_nothing_is_hidden_where_nothing_is_cut() -> None:
    results = simulated(no_cutting(demo()), option("A1"), option("A1b"))
    assert results.values("A1", "magazine_exchanges").min() > 0
    assert results.values("A1", "exchange_hidden_h").tolist() == [0.0, 0.0]
    assert differing(results, "A1", "A1b") == set()


def two_programs(stations_30: int) -> PlantInputs:
    """Two programs in turn: both use the two tools of 16 mm, each another one of 30 mm; a magazine holds all."""
    machine = {"stations": [Station(size_mm=16, count=2), Station(size_mm=30, count=stations_30)]}
    magazine = {"places": {"16": 9, "30": 9}, "dies_per_place": {"16": 2, "30": 2}}
    orders = tuple(dataclasses.replace(order, rush=False) for order in small_plant().orders)
    plant = small_plant(machine=machine, magazine=magazine, orders=orders, run={"source": "replay"})
    return rows(plant, "program_tools", lambda use: use.tool_id == "TL-005", tool_id="TL-002", angle=0.0)


def test_t2_nothing_is_hidden_where_the_running_program_uses_every_station() -> None:
    full, spare = simulated(two_programs(1)), simulated(two_programs(2))
    assert full.values(TODAY, "magazine_exchanges").min() > 3
    assert full.values(TODAY, "exchange_hidden_h").tolist() == [0.0, 0.0]
    assert spare.values(TODAY, "exchange_hidden_h").min() > 0


def test_t2_the_twin_must_hide_time_and_save_hours() -> None:
    results = simulated(demo(), option("A1"), option("A1b"))
    assert results.values("A1", "exchange_hidden_h").min() > 0
    assert (gained_h(results, "A1", "A1b") > 0).all()


# ---- T3, T4 ----


def test_t3_identification_costs_time_where_no_tool_is_mistaken() -> None:
    results = simulated(fault_rate(demo(), 0.0), option("A2"))
    assert (gained_h(results, "A2") < 0).all()
    assert differing(results, "A2").isdisjoint({"sheets_scrapped", "tools_broken"})


def test_t4_retracting_dies_are_slower_by_their_rises() -> None:
    """Nothing sensitive and nothing formed: what is left of the option is a rise of 0.3 s a tool and sheet."""
    results = simulated(no_forms(demo()), option("A3"))
    rises = results.values("A3", "state_punching_h") - results.values(TODAY, "state_punching_h")
    sheets = results.values(TODAY, "sheets")
    assert (rises > 0).all()
    assert (rises < 7 * 0.3 * sheets / 3600).all(), "a sheet has seven tools at most in such stations"
    assert gained_h(results, "A3").sum() < 0, "a later sheet may find somebody free who was not, so not in each run"


# ---- T5, T6: part removal ----


def small_parts() -> PlantInputs:
    """Sixty small parts a sheet, no stops, and a bench that never blocks the machine."""
    plant = parts(demo(), per_sheet=60, length_mm=150, width_mm=120, mass_kg=0.2, flat_area_mm2=9000)
    return dataclasses.replace(settings(plant, bench={"places": 100_000}), stops=())


def test_t5_sixty_small_parts_are_slower_than_the_sheet_out_and_slower_still_if_every_pick_blocks() -> None:
    blocking = ("all blocking", ("A4",), ("elements[pick_blocking].typical=9",))
    results = simulated(small_parts(), option("A4"), blocking)
    assert results.values("A4", "eligible_parts_share").tolist() == [1.0, 1.0]
    assert (gained_h(results, "A4") < 0).all()
    assert (gained_h(results, "all blocking", "A4") < 0).all()


def test_t6_tall_parts_are_all_left_to_the_bench() -> None:
    results = simulated(rows(demo(), "program_parts", form_height_mm=50.0), option("A4"))
    assert results.values("A4", "eligible_parts_share").tolist() == [0.0, 0.0]
    assert results.values("A4", "person_pallet_h").tolist() == [0.0, 0.0]
    assert (gained_h(results, "A4") <= 0).all()


def test_a_sample_drawer_pays_for_first_pieces_and_loses_where_none_is_measured() -> None:
    scenes = (option("A4"), option("A4", "A4s"))
    results = simulated(parts(demo(), per_sheet=3), *scenes)
    assert (gained_h(results, "A4+A4s", "A4") > 0).all()
    assert (results.values("A4+A4s", "cell_entries") < results.values("A4", "cell_entries")).all()
    never = simulated(settings(demo(), rules={"first_piece": "never"}), *scenes)
    assert differing(never, "A4+A4s", "A4") == set()


# ---- T7: store ----


def test_t7_one_material_makes_the_shelf_store_a_single_pallet_loader() -> None:
    results = simulated(one_material(demo()), option("A5a"), option("A5b", overrides=(*SOUND, UNFILLED)))
    assert differing(results, "A5b", "A5a") == set()


def test_t7_with_one_material_only_the_first_fetch_differs() -> None:
    """Nothing lies on the machine at the start of a run, so the first order's material is fetched, or brought.

    There are no breaks, into which a fetch may push the next task.
    """
    shifts = [{**shift.model_dump(), "breaks": ()} for shift in demo().settings.calendar.shifts]
    plant = settings(rows(demo(), "programs", material_id="MS-1.5"), calendar={"shifts": shifts})
    results = simulated(plant, option("A5a"), option("A5b", overrides=(*SOUND, UNFILLED)))
    assert results.values("A5b", "person_material_h").tolist() == [0.0, 0.0]
    first_h = results.values("A5a", "person_material_h")
    assert gained_h(results, "A5b", "A5a") == pytest.approx(first_h)
    assert (first_h > 0.0).all()
    assert (first_h < 1.0).all()


def test_t7_the_twin_must_save_hours_with_many_materials() -> None:
    results = simulated(demo(), option("A5a"), option("A5b", overrides=SOUND))
    assert (gained_h(results, "A5b", "A5a") > 0).all()


# ---- T8: unattended hours ----

EQUIPPED = ("A1", "A5b", "A8")
NIGHTS = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01",
          "windows": [{"days": ["Mon", "Tue", "Wed", "Thu", "Fri"], "start": "22:00", "end": "06:00"}]}  # fmt: skip


def night_plant(sheets: int) -> PlantInputs:
    """Late on Monday one order is left whose sheets take an hour each and need nobody; no stop ever."""
    times = {"hit": 0.0, "form_hit": 0.0, "index": 0.0, "reposition": 0.0, "mode_change": 0.0, "contour_move": 0.0,
             "load": 0.0, "pull_out": 0.0, "order_fixed": 16 * 60.0 - 90.0, "material_fetch": 0.0}  # fmt: skip
    plant = small_plant(rules={"first_piece": "never"}, run={"source": "replay", "weeks": 0.5}, stops=(), upkeep=())
    plant = settings(element(plant, **times), calendar={**plant.settings.calendar.model_dump(), "night": NIGHTS})
    order = dataclasses.replace(plant.orders[0], sheets=sheets)
    program = dataclasses.replace(plant.programs[0], measured_run_s=3600.0, handover="chute")
    return dataclasses.replace(plant, orders=(order,), programs=(program, plant.programs[1]), program_tools=())


@pytest.mark.parametrize("sheets", [2, 5, 8, 20])
def test_t8_a_night_of_eight_hours_adds_what_waits_and_no_more(sheets: int) -> None:
    """The set-up ends at 22:00; then the queue runs, or the night, whichever is shorter."""
    results = simulated(night_plant(sheets))
    assert results.values(TODAY, "night_running_h").tolist() == [float(min(sheets, 8))] * 2
    assert results.values(TODAY, "sheets").tolist() == [float(sheets)] * 2


@pytest.mark.parametrize("nights", ["C1", "C5"])
def test_t8_nights_add_nothing_where_the_queue_is_empty_by_day(nights: str) -> None:
    results = simulated(demo(), option(*EQUIPPED), option(*EQUIPPED, nights), demand=0.2)
    base, both = "+".join(EQUIPPED), "+".join((*EQUIPPED, nights))
    for measure in ("orders_late", "run_h", "sheets", "night_running_h"):
        assert results.values(both, measure, 0.2).tolist() == results.values(base, measure, 0.2).tolist()


def test_t8_the_twin_must_run_at_the_weekend_where_the_queue_is_long() -> None:
    results = simulated(demo(), option(*EQUIPPED), option(*EQUIPPED, "C5"), demand=2.0)
    assert results.values("+".join((*EQUIPPED, "C5")), "night_running_h", 2.0).max() > 0


def test_a8_the_stack_takes_no_sheet_while_somebody_is_there() -> None:
    """Without nights it serves sheets that end after hours only: at most one a shift end, and no hours to speak of.

    Whoever takes that stack away comes a little later to other work, so that a stop may fall on another hour.
    """
    results = simulated(demo(), option("A8"))
    assert (np.abs(gained_h(results, "A8")) < 0.5).all()
    assert differing(results, "A8").isdisjoint({"sheets", "run_h", "tool_loads", "bench_h"})


# ---- hours bought or added ----


@pytest.mark.parametrize("name", ["C2", "C3", "C4"])
def test_more_hours_and_more_subcontract_change_nothing_at_a_low_demand(name: str) -> None:
    results = simulated(described(whole_demo()), option(name), demand=0.3)
    for measure in ("hours_needed", "subcontract_h", "unmet_h", "orders_late"):
        assert results.values(name, measure, 0.3).tolist() == results.values(TODAY, measure, 0.3).tolist()


@pytest.mark.parametrize(("name", "overtime"), [("C2", False), ("C3", True), ("C4", True)])
def test_more_hours_and_more_subcontract_must_help_at_twice_the_demand(name: str, overtime: bool) -> None:
    results = simulated(settings(whole_demo(), overflow={"overtime": overtime}), option(name), demand=2.2)
    assert (results.values(name, "unmet_h", 2.2) < results.values(TODAY, "unmet_h", 2.2)).all()


def test_a_saturday_shift_adds_no_hour_where_overtime_is_worked_then_anyway() -> None:
    results = simulated(whole_demo(), option("C2"), demand=2.2)
    hours = {name: results.values(name, "attended_h", 2.2) for name in (TODAY, "C2")}
    assert (results.values(TODAY, "overtime_h", 2.2) == 2 * 6.0).all()
    assert (hours["C2"] < hours[TODAY]).all(), "it has a break"


def test_every_option_of_the_demo_is_judged_here() -> None:
    told = "".join(path.read_text(encoding="utf-8") for path in sorted(Path(__file__).parent.glob("test_*.py")))
    assert [name for name in demo().option_by_id if f'"{name}"' not in told] == []
