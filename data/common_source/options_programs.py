"""Low-capital options about programs and small tools: odd holes, small punches, tabs."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from cell_rows import Uses, stations, turret_rows
from drawing import DrawnProgram
from facts import Shop, ToolFact
from option_parts import Entry, edit, fault, option, remove_row
from work_rows import program_id, tool_id

LOW = "low_capital"
ODD_TOOLS = 10
"""Tools whose holes go to the laser. Rule of the demo: the cutting tools of the book that the fewest orders use."""

ODD_HOLES_A_SHEET = 12
"""Holes of one kind on a sheet at most that count as odd. Rule of the demo: a hole takes some 1.8 s more to cut than to
punch, so that twelve on five sheets take about as long as half a load by hand: more of them are quicker punched."""

HOLDERS, PUNCHES_A_HOLDER = 2, 4
"""Stations of 55 mm that take a holder, and small punches in it. Invented, a default of the demo."""

TABS_KEPT = 0.6
"""Share of a part's tabs that is kept. Invented, a default of the demo."""


def odd_holes(shop: Shop, programs: Sequence[DrawnProgram], uses: Uses) -> Entry:
    """Return the option that cuts few holes of rarely used tools instead of loading the tool."""
    orders: Counter[int] = Counter()
    for (tool, _), count in uses.items():
        orders[tool] += 0 if shop.tools[tool].forming else count
    odd = set(sorted((tool for tool in orders if orders[tool]), key=lambda tool: (orders[tool], tool))[:ODD_TOOLS])
    edits = [change for program in programs for change in _without(shop, program, odd)]
    return option(
        "N16", "Odd holes to the laser", LOW, (0.5, 1.5, 3), yearly=0.5, lead=6, edits=edits,
        note=f"At most {ODD_HOLES_A_SHEET} holes a sheet of the {ODD_TOOLS} least used tools are cut. Stays: all other "
             "tools. Forgotten: programmer hours, a burr where a hole was clean, longer cutting. Loses when the tool "
             "stands in the turret anyway.",
    )  # fmt: skip


def _without(shop: Shop, program: DrawnProgram, odd: set[int]) -> list[Entry]:
    """Return the edits that take the odd tools out of a program; one tool stays in every program."""
    few = {tool: hits for tool, hits in zip(program.tools, program.hits, strict=True)
           if tool in odd and hits * program.parts <= ODD_HOLES_A_SHEET}  # fmt: skip
    if not few or len(few) == len(program.tools):
        return []
    name = program_id(program)
    holes = {tool: hits * program.parts for tool, hits in few.items()}
    cut_mm = sum(_edge_mm(shop.tools[tool]) * count for tool, count in holes.items())
    return [
        *(remove_row(f"program_tools[{name}|{tool_id(tool)}]") for tool in sorted(holes)),
        edit(f"programs[{name}].hits_per_sheet", -sum(holes.values()), "add"),
        edit(f"programs[{name}].contours", sum(holes.values()), "add"),
        edit(f"programs[{name}].cut_length_mm", round(cut_mm), "add"),
    ]


def _edge_mm(tool: ToolFact) -> float:
    """Length of the edge of the hole that a tool makes."""
    return math.pi * tool.length if tool.shape == "round" else 2 * (tool.length + tool.width)


def small_punch_holders(shop: Shop, uses: Uses) -> Entry:
    """Return the option of holders that take several small punches in one large station."""
    ring = stations()
    taken = {row.station for row in turret_rows(shop, uses)}
    fixed = [place for place, station in enumerate(ring) if station == {"size_mm": 55.0}]
    chosen = sorted(fixed, key=lambda place: (place + 1 in taken, -place))[:HOLDERS]
    held = [{"size_mm": 16.0, "tools": PUNCHES_A_HOLDER} if place in chosen else station
            for place, station in enumerate(ring)]  # fmt: skip
    out = [row for row in turret_rows(shop, uses) if row.station - 1 in chosen]
    return option(
        "N17", "Holders with four small punches in two large stations", LOW, (3, 4.4, 6), yearly=0.6, lead=6, life=8,
        excludes=["A3"],
        note="Eight small punches stand where two large tools did. Stays: fitting a punch into its holder. Forgotten: "
             "fewer large stations. Loses when large tools change more often than small ones.",
        edits=[edit("plant.machine.stations", held),
               *(remove_row(f"start[turret|{row.item}|{row.station}]") for row in out)],
    )  # fmt: skip


def fewer_tabs(shop: Shop) -> Entry:
    """Return the option of fewer tabs a part; parts that tip a little more often are what it costs."""
    counts = sorted({family.tabs for family in shop.families.values() if family.tabs})
    return option(
        "N18", "Fewer tabs a part", LOW, (0.5, 1, 2), yearly=0.5, lead=6,
        note="Six tabs in ten stay. Counts where the time for a tab is a row of its own. Forgotten: programmer hours, "
             "and parts that tip, by day and by night. Loses when the bench waits for the machine.",
        edits=[*(edit(f"program_parts[tabs={count}].tabs", math.ceil(TABS_KEPT * count)) for count in counts),
               fault("loose_part_tips", "part", 0.0005, 2.5)],
    )  # fmt: skip
