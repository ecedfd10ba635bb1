"""The queue of a night: of the orders that wait and need nobody, the one that runs longest. Pure, no clock.

An order is ready if, by what is known at the moment, nothing of it needs a person: its program needs no release, its
tools stand in turret or magazine, nozzle, gas and clamps stand or change by themselves, its material is on the machine
or full in the store, and its sheets leave by a device or onto a stack that has room now. Whether people load the sheets
is the same for all orders and not asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import GRIPPER_EXCHANGES
from simkit.cell.facts import Facts, SetUp
from simkit.cell.orders import Job, Orders
from simkit.cell.packs import Packs, Store
from simkit.cell.toolwork import ToolWork


@dataclass(frozen=True)
class NightView:
    """How a machine stands in a night: what an order would find there. ``stack_room``: a whole sheet finds room."""

    facts: Facts
    tools: ToolWork
    set_up: SetUp
    packs: Packs
    store: Store
    material: int
    stack_room: bool

    def ready(self, job: Job) -> bool:
        """Whether an order needs nobody, as far as is known now."""
        return (
            self.facts.first_piece_s(job, attended=False, night=True) <= 0
            and self.set_up.would_take(job)[0] <= 0
            and self._material_there(job)
            and self._leaves(job)
            and self._tools_there(job)
        )

    def is_proven(self, job: Job) -> bool:
        """Whether the order's program has run before."""
        return self.facts.programs[job.program].proven

    def ranked(self, jobs: Iterable[Job], material: int | None) -> list[Job]:
        """Orders of a material first, if one is named; the one that runs longest first."""
        run_s, of = self.facts.run_s, self.facts.material
        longest = {job.number: -sum(run_s[sheet] for sheet in job.sheets) for job in jobs}
        key = {job.number: (material not in (None, of[job.program]), longest[job.number], job.number) for job in jobs}
        return sorted(jobs, key=lambda job: key[job.number])

    def is_set_up_in(self, job: Job, left_s: float) -> bool:
        """Whether people set an order up and release its first piece in so many seconds, and its sheets then leave by
        themselves."""
        return self._leaves(job) and self._set_up_s(job) <= left_s

    def _set_up_s(self, job: Job) -> float:
        """Seconds of set-up, first sheet and release, with people at hand and nothing staged."""
        facts, first, sheet = self.facts, job.members[0], job.sheets[0]
        times, wanted = facts.once_s, facts.material[job.program]
        seconds = times["fixed"][first] + times["fixed_machine"][first] + sum(self.set_up.would_take(job)[:2])
        if facts.in_store(job, self.material):
            seconds += times["store_exchange"][first]
        elif wanted != self.material:
            seconds += times["material_change"][first]
        seconds += facts.load_s[sheet] + facts.run_s[sheet] + facts.unload_s[sheet]
        return float(seconds + self.tools.foreseen_s(job) + facts.first_piece_s(job, attended=True, night=False))

    def lacking_tools(self, jobs: Iterable[Job]) -> list[Job]:
        """Proven orders that would need nobody if their tools were there, the one that runs longest first."""
        able = (job for job in jobs if self.is_proven(job) and self._material_there(job) and self._leaves(job))
        return self.ranked([*able], None)

    def _material_there(self, job: Job) -> bool:
        wanted = self.facts.material[job.program]
        if wanted == self.material and self.packs.is_open(wanted):
            return True
        return wanted in self.facts.stored and (self.packs.is_open(wanted) or self.store.has_pack(wanted))

    def _leaves(self, job: Job) -> bool:
        by_device = self.facts.by_device[job.program] or self.facts.who["unload"] == "machine"
        on_stack = self.stack_room and self.facts.goes_on_stack(job, attended=False)
        return on_stack if self.facts.to_bench[job.program] else by_device

    def _tools_there(self, job: Job) -> bool:
        plan = self.tools.foreseen(job)
        exchanges = (*plan.exchanges, *plan.mid_program, *plan.mid_back)
        return not plan.missing and all(exchange.kind in GRIPPER_EXCHANGES for exchange in exchanges)


def night_order(orders: Orders, view: NightView, committed: Job | None = None) -> Job | None:
    """The order to take off the board for a night; None where the rule, a rush order or want of a ready one says so.

    ``committed`` is an order chosen before the night: only if it is not ready another one is taken in its place.
    """
    if orders.rules.night_queue == "as_ranked":
        return None
    material = view.material if orders.rules.night_queue == "reserved" else None
    return _first(orders, view, committed, material, (view.ready,))


def first_night_order(orders: Orders, view: NightView, left_s: float, committed: Job | None = None) -> Job | None:
    """The same in the last ``left_s`` seconds before people leave: what they still set up and release, else what needs
    nobody."""
    return _first(orders, view, committed, None, (lambda job: view.is_set_up_in(job, left_s), view.ready))


def _first(
    orders: Orders, view: NightView, committed: Job | None, material: int | None,
    kinds: tuple[Callable[[Job], bool], ...],
) -> Job | None:  # fmt: skip
    if orders.rush_waits() or (committed is not None and (committed.rush or any(fit(committed) for fit in kinds))):
        return None
    ranked = view.ranked(orders.waiting, material)
    return next((job for fit in kinds for job in ranked if fit(job)), None)


def kept_back(orders: Orders, view: NightView, expected_s: float, until_s: float) -> list[Job]:
    """Waiting orders that a day leaves to the coming night: proven and ready ones that are due later than ``until_s``.

    The longest first, then others of its material, up to the seconds expected of the night.
    """
    able = [job for job in orders.waiting if not job.rush and job.due_s > until_s and view.is_proven(job)]
    able = view.ranked([job for job in able if expected_s > 0 and view.ready(job)], None)
    kept: list[Job] = []
    of = view.facts.material
    while able and expected_s > 0:
        same = (at for at, job in enumerate(able) if kept and of[job.program] == of[kept[-1].program])
        kept.append(able.pop(next(same, 0)))
        expected_s -= kept[-1].left_h * SECONDS_PER_HOUR
    return kept
