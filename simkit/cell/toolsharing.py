"""One stock of tools for all machines of a cell: a copy is in one turret, and in use by one order, at a time.

An order uses a copy of each of its tools from its changeover until its last sheet is done. A copy that no order uses
may be fetched from the turret of another machine, if none lies free; that is a load by hand like any other. A machine
takes an order whose tools are all to be had before one whose tools are not; takes it such an order all the same, since
nothing else waits, it waits for the tools, and machines that want the same tool have it in the order in which they
asked. While it waits it takes an order that can begin at once, new ones and those whose tools become free, and gives
the other back. Who waits uses nothing, so that no two machines wait for each other. Pure: no clock.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple, Protocol

from simkit.tooling.pad import NO_OTHERS, OtherMachines
from simkit.tooling.turret import CopyOf, Turret


class ToolsAtMachine(Protocol):
    """Tools at one machine."""

    turret: Turret

    def give_up(self, copies: Collection[CopyOf]) -> None:
        """Take copies out of the turret: another machine has fetched them."""


class _WaitingMachine(NamedTuple):
    """A machine that waits, and the tools it waits for."""

    machine: int
    tools: frozenset[int]


class ToolSharing:
    """Who holds and uses which copy; machines are named by their row, copies by (tool row, copy number).

    ``copies`` are the copies owned of each tool. ``alone``: there is one machine only, which has all tools and never
    waits for one.
    """

    def __init__(self, copies: tuple[int, ...]) -> None:
        self._owned = copies
        self._held: list[ToolsAtMachine] = []
        self.alone = False
        self._used: dict[int, frozenset[CopyOf]] = {}
        self._line: list[_WaitingMachine] = []

    def join(self, holder: ToolsAtMachine) -> None:
        """The tools of the next machine, in the order of machine rows."""
        self._held.append(holder)
        self.alone = len(self._held) == 1

    def turret_at_start(self, start: Turret, machine: int) -> Turret:
        """The turret of a machine at the start: the first has what start.csv lists, each further one the further
        copies of it as far as there are any."""
        turret = start.copy()
        for station, placed in enumerate(start.stations):
            if placed is not None:
                copy = placed.copy + machine * len(start.where[placed.tool])
                if copy <= self._owned[placed.tool]:
                    turret.stations[station] = placed._replace(copy=copy)
                else:
                    turret.empty(station)
        return turret

    def others(self, machine: int) -> OtherMachines:
        """Copies that other machines have: used by their orders, and only standing there."""
        if self.alone:
            return NO_OTHERS
        used = [copies for row, copies in self._used.items() if row != machine]
        held = [holder.turret.copies for row, holder in enumerate(self._held) if row != machine]
        in_use = frozenset().union(*used)
        return OtherMachines(in_use, frozenset().union(*held) - in_use)

    def to_be_had(self, machine: int, tools: Collection[int], *, anew: bool = False) -> bool:
        """Whether a copy of each tool is neither in use elsewhere nor wanted by a machine that has waited longer.

        Asked ``anew``, for another order, the machine's place in the line does not count.
        """
        if self.alone:
            return True
        ahead = []
        for asked in self._line:
            if asked.machine != machine:
                ahead.append(asked.tools)
            elif not anew:
                break
        used = [tool for tool, _ in self.others(machine).used]
        return all(self._owned[tool] > used.count(tool) + sum(tool in wanted for wanted in ahead) for tool in tools)

    def ask(self, machine: int, tools: frozenset[int]) -> bool:
        """Tell whether an order with these tools can begin; if not, the machine stands in line for them."""
        if not self.alone and all(asked.machine != machine for asked in self._line):
            self._line.append(_WaitingMachine(machine, tools))
        return self.to_be_had(machine, tools)

    def use(self, machine: int, copies: frozenset[CopyOf]) -> None:
        """The order of a machine begins and uses these copies, which leave every other turret."""
        self.leave(machine)
        self._used[machine] = copies
        self.fetch(machine, copies)

    def leave(self, machine: int) -> None:
        """A machine waits no longer."""
        self._line = [asked for asked in self._line if asked.machine != machine]

    def fetch(self, machine: int, copies: Collection[CopyOf]) -> None:
        """Copies have come into the turret of a machine."""
        for row, holder in enumerate(self._held):
            gone = holder.turret.copies & set(copies) if row != machine else frozenset()
            if gone:
                holder.give_up(gone)

    def release(self, machine: int) -> None:
        """The order of a machine is done."""
        self._used.pop(machine, None)
