"""Low-capital options that the demo plants share: need care more than money."""

from __future__ import annotations

from collections.abc import Sequence

from cell_rows import Uses, ranked_tools
from drawing import DrawnProgram
from facts import Shop
from option_parts import PRICE_SOURCE, Entry, add_row, edit, element, line, option, zero_lines
from options_programs import fewer_tabs, odd_holes, small_punch_holders
from work_rows import tool_id

LOW = "low_capital"
STANDARD_BY_SIZE = {16.0: 7, 30.0: 3, 55.0: 1, 90.0: 1}
"""Stations of option N5 that keep a tool at whatever clearance is needed: twelve."""

TWINS_BY_SIZE = {16.0: 2, 30.0: 2, 55.0: 1, 90.0: 1}
"""Stations that keep the twin of such a tool at its second clearance: six. More would leave too few free."""


def low_capital_options(shop: Shop, programs: Sequence[DrawnProgram], uses: Uses) -> list[Entry]:
    """Return the options that every plant could take; each takes those that mean something there."""
    layout = _standard_layout(shop, uses)
    return [
        *_ways_of_working(),
        layout,
        *_care_and_rules(),
        *_who_does_what(),
        *_tools_and_programs(shop, programs, uses),
    ]


def _who_does_what() -> list[Entry]:
    return [
        option(
            "N12", "Night prepared before leaving, proven orders reserved for it", LOW, (0, 0.5, 1), yearly=1.0, lead=2,
            note="In the last 90 min of a day the first order of the night is set up and released, care is done anew, "
                 "outputs are emptied, tools and material put in; proven orders wait for the night. Forgotten: "
                 "somebody must look at the list at noon. Loses without unattended hours.",
            edits=[edit("plant.rules.before_leaving_min", 90.0),
                   edit("plant.rules.before_leaving", ["first_order", "care", "output", "magazine", "material"]),
                   edit("plant.rules.night_queue", "reserved")],
        ),
        option(
            "N13", "Operator stages the next material while the machine runs", LOW, (0, 0.3, 0.8), lead=2,
            excludes=["N9"],
            note="The next pack is brought beside the machine ahead; changing packs still takes 2.5 min, since no "
                 "second trolley carries it. Forgotten: floor space, and an operator who is at the machine all the "
                 "time. Loses with one material.",
            edits=[edit("elements[material_fetch].state", "outside"),
                   element("pack_set_down", "min/material_change", "changeover", 2.5, "material", law="lognormal",
                           cv=0.3, basis="estimated")],
        ),
    ]  # fmt: skip


def _ways_of_working() -> list[Entry]:
    return [
        option(
            "N1", "Sequencing by material, clearance and shared tools", LOW, (0, 1, 3), yearly=2.5, lead=2,
            note="Stays: every tool load. Forgotten: somebody must keep the rule when a driver waits. "
                 "Loses when due dates force the order of work.",
            edits=[edit("plant.rules.dispatch", "grouped"), edit("plant.rules.window_orders", 10),
                   edit("plant.rules.due_guard_days", 1.0)],
        ),
        option(
            "N19", "Sequencing that keeps the nozzle too", LOW, (0, 1, 3), yearly=2.5, lead=2, excludes=["N1"],
            note="As sequencing by material, but orders for the same nozzle follow before those of the same clearance. "
                 "Stays: every tool load. Forgotten: somebody must keep the rule when a driver waits. Loses with one "
                 "nozzle, and where a nozzle changes quicker than the dies.",
            edits=[edit("plant.rules.dispatch", "grouped"), edit("plant.rules.window_orders", 10),
                   edit("plant.rules.due_guard_days", 1.0), edit("plant.rules.group_nozzles", True)],
        ),
        option(
            "N2", "Setup cart, preset tools, shadow board", LOW, (3, 5.5, 9), lead=4, life=8,
            note="Stays: fitting the tool. Forgotten: the moved minutes are the setter's, and the plan must stand a "
                 "shift ahead. Loses when orders share all their tools.",
            edits=[edit("elements[tool_search].typical", 0.2), edit("elements[tool_fit].typical", 1.6),
                   edit("elements[order_fixed].typical", 5.0),
                   element("preset", "min/tool_load", "outside", 2.2, "preparation", law="lognormal", cv=0.4,
                           basis="estimated"),
                   element("preset", "min/tool_load", "outside", 4.6, "preparation", law="lognormal", cv=0.4,
                           basis="estimated", applies_to="kept=tool_room"),
                   element("order_preparation", "min/order", "outside", 4.0, "preparation", law="lognormal", cv=0.4,
                           basis="estimated")],
        ),
        option(
            "N4", "Merge repeats released within five days", LOW, (0, 0, 0), yearly=1.2, lead=2,
            note="Yearly cost: money bound in stock. Forgotten: parts wait downstream. Loses without repeats.",
            edits=[edit("plant.rules.merge_days", 5.0)],
        ),
    ]  # fmt: skip


def standard_layout(shop: Shop, uses: Uses) -> tuple[list[int], list[tuple[int, float]]]:
    """Return the tools of the standard layout, and the twins that stand in it at a second clearance.

    The most used cutting tools of each size, which all get a twin; the most used of them have the twin
    in the turret at their second most used clearance, the other twins stand where they are needed.
    """
    ranked = [tool for tool in ranked_tools(uses) if not shop.tools[tool].forming]
    standard = _first_of_each_size(shop, ranked, STANDARD_BY_SIZE)
    return standard, [
        (tool, _second_clearance(uses, tool)) for tool in _first_of_each_size(shop, standard, TWINS_BY_SIZE)
    ]


def _first_of_each_size(shop: Shop, ranked: list[int], count: dict[float, int]) -> list[int]:
    left = dict(count)
    chosen = []
    for tool in ranked:
        if left[shop.tools[tool].size]:
            chosen.append(tool)
            left[shop.tools[tool].size] -= 1
    return chosen


def _second_clearance(uses: Uses, tool: int) -> float:
    counted = sorted(((-count, clearance) for (other, clearance), count in uses.items() if other == tool))
    return counted[1][1]


def _standard_layout(shop: Shop, uses: Uses) -> Entry:
    standard, twins = standard_layout(shop, uses)
    pinned = [*(tool_id(tool) for tool in standard), *(f"{tool_id(tool)}@{clearance:.2f}" for tool, clearance in twins)]
    return option(
        "N5", "Standard turret layout with twelve twins", LOW, (3, 4.2, 6), yearly=0.6, lead=3, life=6,
        note="Eighteen stations: twelve tools that never leave, six of them with their twin at a second clearance. "
             "Stays: every tool outside the layout, in fewer stations. Forgotten: a layout without twins has more die "
             "changes. Loses when the mix drifts away from the layout.",
        lines=[line("tagging of the twins", 240, 120, 400)],
        edits=[edit("plant.rules.pinned", pinned),
               *(edit(f"tools[{tool_id(tool)}].copies", 1, "add") for tool in sorted(standard))],
    )  # fmt: skip


def _care_and_rules() -> list[Entry]:
    return [
        option(
            "N7", "Preventive regrind by counted hits", LOW, (0, 9, 14), yearly=2.4, lead=6, life=10,
            note="Stays: the swap of the tool. Forgotten: grinder time, and life is used a little earlier. "
                 "Loses when tools never reach their limit.",
            edits=[edit("tools[*].tracked", True)],
        ),
        option(
            "N8", "First piece only for new programs", LOW, (0, 0.5, 1), yearly=0.5, lead=4,
            note="Repeats are released by record. Forgotten: quality must agree in writing. Loses without repeats.",
            edits=[edit("plant.rules.first_piece", "new_program")],
        ),
        option(
            "N15", "The next sheet runs while the first piece is measured", LOW, (0, 0.5, 1), yearly=0.5, lead=4,
            note="For proven programs only. Stays: the measuring, and the wait with a new program or a single sheet. "
                 "Forgotten: quality must agree in writing, and a wrong set-up spoils a second sheet. Loses where "
                 "every program is new.",
            edits=[edit("plant.rules.first_piece_beside", "proven")],
        ),
        option(
            "N9", "Second material trolley, next material staged", LOW, (3, 4, 5), yearly=0.3, lead=3, life=8,
            note="Stays: the fetch, while the machine runs, and a minute to change the trolley. Forgotten: floor space "
                 "and who stages. Loses with one material.",
            lines=zero_lines("floor marking (own staff)"),
            edits=[edit("elements[material_fetch].state", "outside"),
                   element("trolley_change", "min/material_change", "changeover", 1.0, "material", law="lognormal",
                           cv=0.3, basis="estimated")],
        ),
        option(
            "N10", "One clearance for neighbouring thicknesses", LOW, (0, 1, 2), lead=4,
            note="MS-2.0 shares the die of MS-1.5, AL-2.0 that of AL-1.5. Cost: burr and tool life, here more rework "
                 "and more wear. Loses when neighbours never follow one another.",
            edits=[edit("materials[MS-2.0].clearance_mm", 0.30), edit("materials[AL-2.0].clearance_mm", 0.20),
                   edit("materials[MS-2.0].wear_factor", 1.15, "multiply"),
                   edit("materials[AL-2.0].wear_factor", 1.15, "multiply"),
                   _burr("material=MS-2.0"), _burr("material=AL-2.0")],
        ),
        option(
            "N11", "Planned eviction from a printed plan", LOW, (0, 0.5, 1), yearly=1.0, lead=3,
            note="The plan says which tool leaves the turret. Forgotten: it is worth nothing when the queue changes "
                 "after printing. Loses when the turret holds every tool.",
            edits=[edit("plant.rules.eviction", "soonest")],
        ),
    ]  # fmt: skip


def _tools_and_programs(shop: Shop, programs: Sequence[DrawnProgram], uses: Uses) -> list[Entry]:
    return [odd_holes(shop, programs, uses), small_punch_holders(shop, uses), fewer_tabs(shop)]


def _burr(applies_to: str) -> Entry:
    return add_row(
        "quality", cause="burr", applies_to=applies_to, rate=0.004, rework_min=0.5, scrap_share=0.0,
        basis="default", source=PRICE_SOURCE,
    )  # fmt: skip
