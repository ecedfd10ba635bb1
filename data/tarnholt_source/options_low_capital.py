"""Low-capital options N1 to N14 of the demo plant."""

from __future__ import annotations

from collections import Counter

from cell_rows import ranked_tools
from facts import TOOLS
from option_parts import PRICE_SOURCE, Entry, add_row, edit, element, line, option, remove_row, zero_lines
from work_rows import tool_id

LOW = "low_capital"
Uses = Counter[tuple[int, float]]
STANDARD_BY_SIZE = {16.0: 7, 30.0: 3, 55.0: 1, 90.0: 1}
"""Stations of option N5 that keep a tool at whatever clearance is needed: twelve."""

TWINS_BY_SIZE = {16.0: 2, 30.0: 2, 55.0: 1, 90.0: 1}
"""Stations that keep the twin of such a tool at its second clearance: six. More would leave too few free."""


def low_capital_options(uses: Uses) -> list[Entry]:
    """Return the options that need care more than money."""
    return [*_ways_of_working(), _standard_layout(uses), *_care_and_rules(), *_who_does_what()]


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
        option(
            "N14", "One bench post; the late operator breaks out", LOW, (0, 0, 0), lead=6, excludes=["C1"],
            note="The late bench post goes, and its work is the operator's when the machine needs nobody. Forgotten: "
                 "notice, and sheets that wait. Loses where the bench is short of people.",
            edits=[remove_row("people[BEN-L]"), edit("people[OP-L].skills", ["bench"], "add")],
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
            "N3", "Second person at the bench", LOW, (0, 0.5, 1), lead=6,
            note="Stays: breaking out by hand. Forgotten: two wages all year. Loses when no job is bound by the bench.",
            edits=[_second_bench("BEN-E2", "early", EARLY_BREAKS), _second_bench("BEN-L2", "late", LATE_BREAKS)],
        ),
        option(
            "N4", "Merge repeats released within five days", LOW, (0, 0, 0), yearly=1.2, lead=2,
            note="Yearly cost: money bound in stock. Forgotten: parts wait downstream. Loses without repeats.",
            edits=[edit("plant.rules.merge_days", 5.0)],
        ),
    ]  # fmt: skip


EARLY_BREAKS = "Mon-Fri 09:00-09:15;Mon-Fri 12:00-12:30"
LATE_BREAKS = "Mon-Fri 17:00-17:15;Mon-Fri 19:30-20:00"
BENCH_BREAKS = "Mon-Fri 09:30-09:45;Mon-Fri 11:15-11:45;Mon-Fri 17:30-17:45;Mon-Fri 18:45-19:15"


def _second_bench(person: str, shift: str, breaks: str) -> Entry:
    return add_row("people", person_id=person, skills=["bench"], shift=shift, rate_per_h=26.0, duties=breaks)


def standard_layout(uses: Uses) -> tuple[list[int], list[tuple[int, float]]]:
    """Return the tools of the standard layout, and the twins that stand in it at a second clearance.

    The most used cutting tools of each size, which all get a twin; the most used of them have the twin
    in the turret at their second most used clearance, the other twins stand where they are needed.
    """
    ranked = [tool for tool in ranked_tools(uses) if not TOOLS[tool].forming]
    standard = _first_of_each_size(ranked, STANDARD_BY_SIZE)
    return standard, [(tool, _second_clearance(uses, tool)) for tool in _first_of_each_size(standard, TWINS_BY_SIZE)]


def _first_of_each_size(ranked: list[int], count: dict[float, int]) -> list[int]:
    left = dict(count)
    chosen = []
    for tool in ranked:
        if left[TOOLS[tool].size]:
            chosen.append(tool)
            left[TOOLS[tool].size] -= 1
    return chosen


def _second_clearance(uses: Uses, tool: int) -> float:
    counted = sorted(((-count, clearance) for (other, clearance), count in uses.items() if other == tool))
    return counted[1][1]


def _standard_layout(uses: Uses) -> Entry:
    standard, twins = standard_layout(uses)
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
            "N6", "Staggered breaks", LOW, (0, 0, 0), lead=4,
            note="The bench person loads and unloads while the operator rests, and rests at another time. Breaks stand "
                 "as duties of each person here, of the same length as before. Forgotten: agreement with the staff. "
                 "Gains the minutes of the breaks at most; loses when the machine waits for work.",
            edits=[edit("plant.calendar.shifts[early].breaks", []), edit("plant.calendar.shifts[late].breaks", []),
                   edit("people[skills=changeover].duties", f"{EARLY_BREAKS};{LATE_BREAKS}"),
                   edit("people[skills=bench].duties", BENCH_BREAKS),
                   edit("people[skills=bench].skills", ["load", "unload"], "add"),
                   edit("people[SET-1].duties", "Mon-Fri 09:00-09:15;Mon-Fri 10:00-14:00"),
                   edit("people[HLP-1].duties", "Mon-Fri 06:00-08:00;Mon-Fri 09:00-09:15;Mon-Fri 12:00-14:00"),
                   edit("people[PRG-1].duties", "Mon-Fri 09:00-14:00")],
        ),
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


def _burr(applies_to: str) -> Entry:
    return add_row(
        "quality", cause="burr", applies_to=applies_to, rate=0.004, rework_min=0.5, scrap_share=0.0,
        basis="default", source=PRICE_SOURCE,
    )  # fmt: skip
