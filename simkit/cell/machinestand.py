"""How a machine stands, for a dispatch rule that searches from there. Pure: no clock."""

from __future__ import annotations

from simkit.cell.facts import SetUp
from simkit.cell.orders import Orders
from simkit.cell.toolwork import ToolWork
from simkit.tooling.improve import MachineStand
from simkit.tooling.sequence import SEARCHED
from simkit.tooling.toolroom import NO_CLEARANCE


def stand_of(orders: Orders, tools: ToolWork, set_up: SetUp, material: int) -> MachineStand | None:
    """Turret, magazine, material, nozzle, gas and clamps as they stand; None for rules that do not ask."""
    if orders.dispatch != SEARCHED:
        return None
    stood = (material, set_up.nozzle, set_up.gas, set_up.width)
    clearance = orders.clearance[material] if material >= 0 else NO_CLEARANCE
    return MachineStand(tools.magazine.room, tools.turret.copy(), tools.counter, stood, clearance, set_up.facts.stored)
