"""Standard layouts: hand-worked turrets, brute force over sets of pins, and books where nothing is to be gained."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
import random

import pytest

from simkit.analysis.standard_layout import LEAST_GAIN_S, BookExchanges, StandardLayout, find_layout
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Station
from simkit.plant.tables import Order, Program, ProgramTool, StartRow, Tool
from tests.small_plant import MONDAY, small_plant

LOAD_S, DIE_S = 240.0, 90.0
"""Search and fit of a load, and a die-only change, in the small plant."""


def tool_plant(*orders: str, stations: int = 2, dies: str = "", copies: int = 1, **more: object) -> PlantInputs:
    """A plant whose orders, a day apart, need the tools named by their letters; ``dies`` gives each order's metal:
    m needs a clearance of 0.3 mm, a one of 0.2 mm."""
    letters = sorted(set("".join(orders)))
    tools = [
        Tool(tool_id=name, shape="round 6", length_mm=6, width_mm=6, station_size_mm=16, clearances=(0.2, 0.3),
             copies=copies) for name in letters
    ]  # fmt: skip
    programs, uses, book = [], [], []
    for number, needed in enumerate(orders):
        name = f"P-{number}"
        metal = {"m": "MS-1.5", "a": "AL-1.5"}[dies[number] if dies else "m"]
        programs.append(Program(
            program_id=name, family="ANY", material_id=metal, sheet_length_mm=1000, sheet_width_mm=500,
            hits_per_sheet=10 * len(needed), forming_hits_per_sheet=0, cut_length_mm=100, contours=1,
        ))  # fmt: skip
        uses += [ProgramTool(program_id=name, tool_id=tool, hits_per_sheet=10) for tool in needed]
        day = MONDAY + dt.timedelta(number)
        book.append(Order(order_id=str(number), program_id=name, sheets=2, released=day, due=day))
    plant = small_plant(
        tools=tuple(tools), programs=tuple(programs), program_tools=tuple(uses), orders=tuple(book),
        program_parts=(), machine={"stations": [Station(size_mm=16, count=stations).model_dump()]},
        rules={"eviction": "lru"},
    )  # fmt: skip
    return dataclasses.replace(plant, **more) if more else plant


def test_the_static_sum_of_a_book_by_hand():
    """A and B stand, C takes the station of A, then A that of B: four loads; the second A finds its tool."""
    assert BookExchanges(tool_plant("AB", "C", "A", "A")).changeover_s() == 4 * LOAD_S


def test_a_die_change_costs_less_than_a_load():
    assert BookExchanges(tool_plant("A", "A", dies="ma")).changeover_s() == LOAD_S + DIE_S


def test_a_pin_keeps_a_tool_by_hand():
    """Three tools in turn through two stations miss each time; with A pinned only B and C give way to each other."""
    plant = tool_plant(*"ABCABCABC")
    assert BookExchanges(plant).changeover_s() == 9 * LOAD_S
    layout = find_layout(plant)
    assert layout.after_s == (9 * LOAD_S, 7 * LOAD_S)
    assert layout.pins == ("A",)
    assert layout.worth_s == (2 * LOAD_S,)
    assert layout.saved_h == pytest.approx(2 * LOAD_S / 3600)


def test_no_layout_takes_the_last_station_from_a_tool():
    """Pinning two tools in two stations would leave the third without any: what is not exchanged is no gain."""
    plant = tool_plant(*"ABCABCABC")
    assert not BookExchanges(plant).leaves_room(StandardLayout(("A", "B"), ()))
    assert len(find_layout(plant).pins) == 1


def test_orders_that_share_all_tools_gain_nothing():
    plant = tool_plant(*["AB"] * 8)
    layout = find_layout(plant)
    assert (layout.pins, layout.saved_h) == ((), 0.0)


def test_a_book_without_tools_has_no_layout():
    plant = tool_plant("A", "A", program_tools=(), tools=())
    assert find_layout(plant).after_s == (0.0,)
    assert find_layout(plant).pins == ()


def test_what_stands_at_the_start_is_not_loaded():
    start = (StartRow(what="turret", item="A", station=1, clearance_mm=0.3),)
    assert BookExchanges(tool_plant("A", "B", start=start)).changeover_s() == LOAD_S


def test_a_program_with_too_many_tools_swaps_on_every_sheet():
    """Three tools in two stations, two sheets: two loads before it, the third in the middle of the first sheet, and
    the way back in the middle of the second."""
    assert BookExchanges(tool_plant("ABC")).changeover_s() == 4 * LOAD_S


def test_a_number_of_stations_is_kept():
    plant = random_plant(5)
    every = find_layout(plant)
    assert len(every.pins) > 1
    assert find_layout(plant, 1).pins == every.pins[:1]
    assert find_layout(plant, 0).pins == ()


def random_plant(seed: int) -> PlantInputs:
    """Twelve orders of one to three of five tools, two metals, three stations."""
    draw = random.Random(seed)
    orders = ["".join(sorted(draw.sample("ABCDE", draw.randint(1, 3)))) for _ in range(12)]
    return tool_plant(*orders, stations=3, dies="".join(draw.choice("ma") for _ in orders))


def best_by_brute_force(book: BookExchanges) -> float:
    """Fewest seconds of every set of at most two pins, a tool once, that leaves room for every order."""
    sets = (pins for size in range(3) for pins in itertools.combinations(book.candidates(), size))
    one_copy = (pins for pins in sets if len({pin.partition("@")[0] for pin in pins}) == len(pins))
    return min(book.changeover_s(pins) for pins in one_copy if book.leaves_room(StandardLayout(pins, ())))


@pytest.mark.parametrize("seed", range(6))
def test_the_search_never_beats_brute_force_and_never_loses(seed):
    book = BookExchanges(random_plant(seed))
    layout = find_layout(book.plant, 2)
    assert best_by_brute_force(book) <= layout.after_s[-1] <= book.changeover_s()
    assert layout.after_s[-1] == book.changeover_s(layout.pins)
    assert layout.after_s[0] - layout.after_s[-1] >= LEAST_GAIN_S * len(layout.pins)


def test_the_search_is_greedy_and_brute_force_sees_it():
    """Two pins that save only together are not found one by one."""
    book = BookExchanges(random_plant(21))
    assert find_layout(book.plant, 2).after_s[-1] - best_by_brute_force(book) == pytest.approx(150.0)
