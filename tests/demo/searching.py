"""The book in the sequence of the kit's improvement search, for the static sums beside the greedy rule.

The window, the day and the guard are those of :func:`tests.demo.sequencing.grouped`; what each order costs is
foreseen with the plant's real stations, and the turret goes on as foreseen.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from simkit.plant.plant import PlantInputs
from simkit.process.programs import exchange_seconds, program_tables
from simkit.tooling.improve import MachineStand, SearchedOrder, improve
from simkit.tooling.sequence import WaitingOrder
from simkit.tooling.toolroom import make_tool_room, needs_of
from simkit.tooling.turret import empty_turret
from tests.demo.sequencing import Work

NEVER_LATE_S = 1e12


def searched(
    plant: PlantInputs, works: Sequence[Work], evaluations: int, window: int = 10, guard_days: int = 1
) -> list[Work]:
    """Return the order of work if the first of each window's sequence is taken; guarded orders go first."""
    rows = {tool.tool_id: row for row, tool in enumerate(plant.tools)}
    room = make_tool_room(plant.settings, plant.tools, (), exchange_seconds(program_tables(plant)))
    pieces = {id(work): _piece(plant, work, number, rows) for number, work in enumerate(works)}
    stand = MachineStand(room, empty_turret(room), 0, (-1, None))
    waiting, done = list(works), list[Work]()
    while waiting:
        seen = waiting[:window]
        today = seen[0].order.released
        due = [work for work in seen if work.order.due <= today + dt.timedelta(days=guard_days)]
        if due:
            seen = [min(due, key=lambda work: work.order.due)]
        found = improve(stand, [pieces[id(work)] for work in seen], evaluations)
        turret, set_up = found.foreseen[1]
        best = seen[found.order[0]]
        stand = MachineStand(room, turret, stand.counter + 1, set_up, best.clearance_mm)
        done.append(best)
        waiting = [work for work in waiting if work is not best]
    return done


def _piece(plant: PlantInputs, work: Work, number: int, rows: dict[str, int]) -> SearchedOrder:
    typical = {row.element: row.typical for row in plant.elements if not row.applies_to}
    material = plant.material_by_id[work.material]
    needs = needs_of(plant.tools_of[work.order.program_id], material, plant.tools, rows)
    row = WaitingOrder(
        number, float(number), float(work.order.due.toordinal()), False, plant.materials.index(material),
        work.clearance_mm, frozenset(need.tool for need in needs),
    )  # fmt: skip
    fetch_s, nozzle_s = 60.0 * typical["material_fetch"], 60.0 * typical["nozzle_change"]
    return SearchedOrder(
        row, needs, work.order.sheets, (row.material, work.nozzle), (fetch_s, nozzle_s), 1.0, NEVER_LATE_S
    )  # fmt: skip
