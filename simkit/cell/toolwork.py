"""Tools at one machine: the turret, what is exchanged when, and what of it is hidden behind the laser."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence, Set
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from simkit.base.vocabulary import GRIPPER_EXCHANGES, HAND_EXCHANGES, REGRIND
from simkit.cell.magazineloading import MagazineLoading, Queue
from simkit.cell.orders import Job
from simkit.cell.packs import IsDone
from simkit.cell.toolfacts import ToolFacts, summed
from simkit.cell.toolsharing import ToolSharing
from simkit.cell.toolwear import CopyWear, MachineWear, WearCounts
from simkit.cell.wrongtools import FaultCounts, take_risks
from simkit.process.workload import Workload
from simkit.tooling.exchange import ExchangePlan, engagements, fit_lookahead, in_use, mid_exchanges, plan_exchange
from simkit.tooling.pad import NO_OTHERS, OtherMachines
from simkit.tooling.refill import Move
from simkit.tooling.toolroom import Need
from simkit.tooling.turret import LOADS, CopyOf, Exchange

_MISSES = frozenset(HAND_EXCHANGES) - {"angle_change"}
_NOTHING_S = (0.0, 0.0, 0.0)
ToolRow = tuple[str, int]
"""Kind of exchange and row of the tool."""


@dataclass
class ToolCounts:
    """What happened to tools at one machine.

    ``by_tool`` holds, by kind of exchange and tool row, how often, and its visible and hidden seconds;
    ``by_job`` the visible and hidden seconds of each order, the time of regrinds at the machine included.
    """

    by_tool: dict[ToolRow, list[float]] = field(default_factory=dict)
    by_job: dict[int, list[float]] = field(default_factory=dict)
    hidden_s: float = 0.0
    visible_s: float = 0.0
    misses: int = 0
    magazine_loads: int = 0
    broken_by: dict[int, int] = field(default_factory=dict)
    faults: FaultCounts = field(default_factory=FaultCounts)
    wear: WearCounts = field(default_factory=WearCounts)

    @property
    def broken(self) -> int:
        """Tools broken by all causes."""
        return sum(self.broken_by.values())

    def note_broken(self, cause: int, tools: int = 1) -> None:
        """So many tools broke by a cause, named as in the machine's log."""
        self.broken_by[cause] = self.broken_by.get(cause, 0) + tools


class ToolChange(NamedTuple):
    """What one changeover needs for tools: seconds by hand and by gripper, seconds of moved work by task.

    ``helped_s`` is what a second person takes over of the seconds by hand. ``engaged`` counts the tools of a sheet that
    stand where a die retracts: each costs one rise a sheet.
    """

    hand_s: float
    gripper_s: float
    loads: int
    outside_s: dict[str, float]
    engaged: int = 0
    helped_s: float = 0.0


class ToolStock:
    """The tools of a cell, whichever machine has them: who holds and uses each copy, and how worn it is."""

    def __init__(self, workload: Workload, tool_facts: ToolFacts) -> None:
        self.sharing, self.worn = ToolSharing(tool_facts.room.copies), CopyWear(workload, tool_facts)


class ToolWork:
    """The turret of one machine and the wear of what works in it."""

    def __init__(
        self, workload: Workload, tool_facts: ToolFacts, machine: int, is_done: IsDone, stock: ToolStock
    ) -> None:
        self.tool_facts, self.row, self.sharing = tool_facts, machine, stock.sharing
        self.turret = stock.sharing.turret_at_start(tool_facts.start, machine) if machine else tool_facts.start.copy()
        stock.sharing.join(self)
        settings = workload.plant.settings.magazine
        self.magazine = MagazineLoading(tool_facts, ahead=settings.loading == "ahead", is_done=is_done)
        self.wear = MachineWear(workload, tool_facts, stock.worn)
        self.counts = ToolCounts(wear=self.wear.counts)
        self.first: list[int] = workload.needs.first.tolist()
        self.seconds: dict[str, list[float]] = {
            kind: values.tolist() for kind, values in workload.needs.seconds.items()
        }
        self.helped = {kind: values.tolist() for kind, values in workload.needs.helped.items() if values.any()}
        self.struck, self.risky = workload.needs.struck, workload.needs.risky
        self.outside = {
            kind: {task: values.tolist() for task, values in by_task.items()}
            for kind, by_task in workload.needs.outside_s.items()
        }
        self.engages = any(tool_facts.room.retracting)
        self.lookahead = settings.lookahead and tool_facts.room.has_magazine
        self.counter = 0
        self.plan = ExchangePlan(())

    @property
    def tools_in_turret(self) -> Set[int]:
        """Rows of the tools that stand in the turret now."""
        return self.turret.where.keys()

    def change_to(self, job: Job, known_queue: list[tuple[Need, ...]]) -> ToolChange:
        """Exchange what the order needs and does not find; say what it costs."""
        self._only_own(job)
        needs, turret = self.tool_facts.needs[job.program], self.turret
        self.magazine.settle(turret)
        room = self.magazine.room
        self.plan = plan = self._plan(job, known_queue)
        turret.exchange(plan.exchanges, self.counter)
        turret.mark_used(needs, self.counter)
        self._use(needs)
        self.counter += 1
        due = self.wear.begin(job.program, len(job.sheets), turret, [exchange.placed for exchange in plan.mid_program])
        engaged = engagements(room, turret, needs, plan.mid_program) if self.engages else 0
        swaps = self._swaps(due, plan.exchanges) if due else ()
        return self._cost(job, (*plan.exchanges, *swaps), due, engaged)

    def foreseen(self, job: Job) -> ExchangePlan:
        """What an order would have exchanged if it came now and nothing else were known."""
        self.magazine.settle(self.turret)
        return self._plan(job, ())

    def _plan(self, job: Job, known_queue: Sequence[tuple[Need, ...]]) -> ExchangePlan:
        room, others = self.magazine.room, self.sharing.others(self.row)
        wanted, sheets = self.tool_facts.resolved[job.program], len(job.sheets)
        return plan_exchange(room, self.turret, wanted, known_queue, sheets=sheets, others=others)

    def _only_own(self, job: Job) -> None:
        """What another machine exchanged ahead for an order stays in its turret, with what went wrong there."""
        if job.loaded_at != self.row:
            job.loads, job.faults, job.risked, job.loaded_at = 0.0, [], {}, self.row

    def _use(self, needs: Sequence[Need]) -> None:
        """From now on the order uses the copies that serve it, also those that only its middle brings in."""
        if not self.sharing.alone:
            middle = (*self.plan.mid_program, *self.plan.mid_back)
            self.sharing.use(self.row, in_use(self.turret, needs)[1] | {exchange.placed[:2] for exchange in middle})

    def release(self) -> None:
        """The order is done: other machines may have its tools."""
        self.wear.end()
        self.sharing.release(self.row)

    def give_up(self, copies: Collection[CopyOf]) -> None:
        """Another machine has fetched copies that stood here unused."""
        for station, placed in enumerate(self.turret.stations):
            if placed is not None and placed[:2] in copies:
                self.turret.empty(station)

    def wanted(self, job: Job) -> frozenset[int]:
        """Rows of the tools that an order uses."""
        return self.tool_facts.tools[job.program]

    def to_be_had(self, job: Job, *, anew: bool = False) -> bool:
        """Whether the order could begin here, as far as other machines do not use its tools.

        ``anew``: in place of one for whose tools this machine waits.
        """
        return self.sharing.to_be_had(self.row, self.wanted(job), anew=anew)

    def foreseen_s(self, job: Job) -> float:
        """Seconds of that before its first sheet."""
        return sum(self._seconds(job, exchange) for exchange in self.foreseen(job).exchanges)

    def load_magazine(self, queue: Queue, moves: tuple[Move, ...], requests: list[Any]) -> None:
        """Somebody has been asked to put these tools and dies into the magazine, for the orders known now."""
        self.magazine.ask(queue, moves, requests)
        self.counts.magazine_loads += len(moves)

    def swap_worn(self, job: Job) -> ToolChange | None:
        """Swap what the next sheet would take past its limit in the middle of an order; None if nothing is due."""
        due = self.wear.due_now()
        if not due:
            return None
        change = self._cost(job, self._swaps(due, ()), due)
        ground = summed(
            self.tool_facts.regrind[tool][1]
            for tool, _ in due
            if not self.wear.spare(tool, self.turret, self._elsewhere())
        )
        outside = {task: seconds - ground.get(task, 0.0) for task, seconds in change.outside_s.items()}
        return change._replace(hand_s=change.hand_s + sum(ground.values()), outside_s=outside)

    def _elsewhere(self) -> frozenset[CopyOf]:
        """Copies that other machines have: no spare and no look-ahead takes them."""
        return frozenset().union(*self.sharing.others(self.row))

    def middle(self, job: Job, number: int) -> tuple[float, float, float]:
        """Exchange in the middle of the ``number``-th sheet run of an order.

        Return seconds by hand, by gripper, and what a second person takes over of the former.
        """
        plan = self.plan
        if not (plan.mid_program or plan.mid_back):
            return _NOTHING_S
        exchanges = mid_exchanges(plan, number)
        self.turret.exchange(exchanges, self.counter)
        hand_s, gripper_s = self._note(job, exchanges)
        self._visible(job, hand_s + gripper_s)
        return hand_s, gripper_s, self._helped_s(self._needs(job, exchanges))

    def look_ahead(self, running: Job, coming: Job, known_queue: list[tuple[Need, ...]], budget_s: float) -> None:
        """Do whole exchanges for the coming order while they fit into the time the laser leaves."""
        tool_facts = self.tool_facts
        self._only_own(coming)
        self.magazine.settle(self.turret)
        locked = frozenset(self.turret.serving(tool_facts.needs[running.program]))
        middle = (*self.plan.mid_program, *self.plan.mid_back)
        if middle:
            locked |= {station for exchange in middle for station in (exchange.station, *exchange.removed)}
        copies = frozenset([exchange.placed[:2] for exchange in middle])
        plan = plan_exchange(
            self.magazine.room, self.turret, tool_facts.resolved[coming.program], known_queue, locked, copies,
            others=NO_OTHERS if self.sharing.alone else OtherMachines(self._elsewhere()),
        )  # fmt: skip
        done, used_s = fit_lookahead(plan.exchanges, lambda exchange: self._seconds(coming, exchange), budget_s)
        if done:
            coming.loads += sum(exchange.kind in LOADS for exchange in done)
            self.turret.exchange(done, self.counter)
            self._note(coming, done, hidden=True)
            self._risk(coming, self._needs(coming, done))
            self.counts.hidden_s += used_s
            self.counts.by_job.setdefault(coming.number, [0.0, 0.0])[1] += used_s

    def replace_worn(self, job: Job) -> tuple[float, dict[str, float]]:
        """A tool has failed: fit a spare or the reground copy; seconds of the stop, and of work away from the machine.

        Without a spare the machine waits while the tool is ground.
        """
        tool, copy, spare = self.wear.fail(self.turret, self._elsewhere())
        found = self._refit(job, tool, copy, spare)
        if spare:
            self._use(self.tool_facts.needs[job.program])
        return found

    def _refit(self, job: Job, tool: int, copy: int, spare: int) -> tuple[float, dict[str, float]]:
        self._risk_of_grinding(job, (tool,))
        shim_s, outside = self.tool_facts.regrind[tool]
        seconds = self._load_s(job, tool) + shim_s
        if spare:
            for station in self.turret.where.get(tool, ()):
                placed = self.turret.stations[station]
                if placed is not None and placed.copy == copy:
                    self.turret.stations[station] = placed._replace(copy=spare)
            self.plan = self.plan._replace(
                mid_program=_of_copy(self.plan.mid_program, tool, copy, spare),
                mid_back=_of_copy(self.plan.mid_back, tool, copy, spare),
            )
        else:
            seconds, outside = seconds + sum(outside.values()), {}
        return seconds, outside

    def _cost(self, job: Job, exchanges: tuple[Exchange, ...], due: Sequence[CopyOf], engaged: int = 0) -> ToolChange:
        hand_s, gripper_s = self._note(job, exchanges)
        needs = self._needs(job, exchanges)
        self._risk(job, needs)
        moved = self._moved_work(needs) if self.outside else []
        if due:
            self._risk_of_grinding(job, [tool for tool, _ in due])
            reground = [self.tool_facts.regrind[tool] for tool, _ in due]
            hand_s += sum(shim_s for shim_s, _ in reground)
            moved += [away for _, away in reground]
        self._visible(job, hand_s + gripper_s)
        if self.tool_facts.room.has_magazine:
            self.counts.misses += sum([kind in _MISSES for kind, _ in needs])
        loads = sum([kind in LOADS for kind, _ in needs])
        return ToolChange(hand_s, gripper_s, loads, summed(moved), engaged, self._helped_s(needs))

    def _needs(self, job: Job, exchanges: Iterable[Exchange]) -> list[tuple[str, int]]:
        """Kind of each exchange and number of the tool need behind it."""
        first, rows = self.first[job.members[0]], self.tool_facts.need_row[job.program]
        return [(kind, first + rows.get(placed[0], 0)) for kind, _, placed, _, _ in exchanges]

    def _helped_s(self, needs: list[tuple[str, int]]) -> float:
        """What a second person takes over of exchanges by hand."""
        helped = self.helped
        if not helped:
            return 0.0
        return float(sum([helped[kind][need] for kind, need in needs if kind in helped]))

    def _moved_work(self, needs: list[tuple[str, int]]) -> list[dict[str, float]]:
        """Work that each exchange causes away from the machine, as presetting a tool; seconds by who does it."""
        return [
            {task: values[need] for task, values in self.outside[kind].items()}
            for kind, need in needs
            if kind in self.outside
        ]

    def _note(self, job: Job, exchanges: tuple[Exchange, ...], *, hidden: bool = False) -> tuple[float, float]:
        """Count exchanges by tool; return their seconds by hand and by gripper."""
        hand_s = gripper_s = 0.0
        by_tool, column = self.counts.by_tool, 2 if hidden else 1
        first, rows = self.first[job.members[0]], self.tool_facts.need_row[job.program]
        for kind, _, placed, _, _ in exchanges:
            tool = placed[0]
            seconds = self.seconds[kind][first + rows.get(tool, 0)]
            row = by_tool.get((kind, tool))
            if row is None:
                row = by_tool[kind, tool] = [0.0, 0.0, 0.0]
            row[0] += 1.0
            row[column] += seconds
            if kind in GRIPPER_EXCHANGES:
                gripper_s += seconds
            else:
                hand_s += seconds
        return hand_s, gripper_s

    def _risk(self, job: Job, needs: list[tuple[str, int]]) -> None:
        """Each exchange may have gone wrong; one in the middle of a program goes as its tool's first one did."""
        if self.risky:
            take_risks(job, self.risky, self.struck, needs)

    def _risk_of_grinding(self, job: Job, tools: Iterable[int]) -> None:
        """Each reground tool may have come back wrongly."""
        self._risk(job, [(REGRIND, self._need_of(job, tool)) for tool in tools])

    def _visible(self, job: Job, seconds: float) -> None:
        self.counts.visible_s += seconds
        self.counts.by_job.setdefault(job.number, [0.0, 0.0])[0] += seconds

    def _seconds(self, job: Job, exchange: Exchange) -> float:
        return self.seconds[exchange[0]][self._need_of(job, exchange[2][0])]

    def _load_s(self, job: Job, tool: int) -> float:
        return self.seconds["tool_load"][self._need_of(job, tool)]

    def _need_of(self, job: Job, tool: int) -> int:
        """Number of the need of a tool; one that comes back in the middle of a program counts as the first."""
        return self.first[job.members[0]] + self.tool_facts.need_row[job.program].get(tool, 0)

    def _swaps(self, due: tuple[tuple[int, int], ...], fitted_anyway: tuple[Exchange, ...]) -> tuple[Exchange, ...]:
        """A standing tool that is due is taken out and fitted again by hand, unless it is being fitted anyway."""
        if not due:
            return ()
        fitted = {exchange.placed[:2] for exchange in fitted_anyway if exchange.kind == "tool_load"}
        return tuple(
            Exchange("tool_load", station, placed)
            for station, placed in enumerate(self.turret.stations)
            if placed is not None and placed[:2] in due and placed[:2] not in fitted
        )


def _of_copy(exchanges: tuple[Exchange, ...], tool: int, copy: int, spare: int) -> tuple[Exchange, ...]:
    """The exchanges with a spare copy in place of a copy."""
    return tuple(
        exchange._replace(placed=exchange.placed._replace(copy=spare))
        if exchange.placed[:2] == (tool, copy)
        else exchange
        for exchange in exchanges
    )
