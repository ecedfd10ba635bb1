"""A standard turret layout: which tools to leave in for good, searched on the book as it stands.

The search knows no clock and no luck: it walks the orders in the order of their release through one turret, with
the plant's eviction rule and the mean seconds of each exchange, and adds the pin that saves most until none saves
anything more, drops those that have become idle, and adds again (greedy: a good layout, not the best one; no source
for an exact method with mixed station sizes). What a layout is really worth is for the cell to measure, on other
orders than the search saw. Several machines are taken as one.
"""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import CHANGEOVER, EXCHANGES
from simkit.plant.plant import PlantInputs
from simkit.process.elements import ElementUse
from simkit.process.programs import ProgramTables, exchange_seconds, program_tables
from simkit.tooling.exchange import (
    ExchangePlan,
    apply_exchanges,
    mark_used,
    mid_exchanges,
    plan_exchange,
    turret_after,
)
from simkit.tooling.toolroom import Need, ToolRoom, make_tool_room, needs_of
from simkit.tooling.turret import Exchange, Turret, empty_turret, start_turret

MOST_CANDIDATES = 30
"""Pins tried: those of the tools with the most seconds of exchange today; the others cannot save more."""

TRIED_AT_ONCE = 12
"""Pins tried anew in each step, those with the best former gain."""

PATIENCE = 3
"""Steps that the search goes on after a pin that saves too little: what saves only together is often found so."""

LEAST_GAIN_S = 60.0
"""A pin that saves less than this over the book is not worth a station (common practice, no source)."""


@dataclass(frozen=True)
class StandardLayout:
    """Pins in the order of their choice, the seconds of changeover after each pin, and what each is worth.

    ``after_s`` begins with the seconds without any pin. ``worth_s`` are the seconds that each pin saves beside all
    others, so what is lost if that one is left out.
    """

    pins: tuple[str, ...]
    after_s: tuple[float, ...]
    worth_s: tuple[float, ...] = ()

    @property
    def saved_h(self) -> float:
        """Hours that the layout saves over the book, by the static sum."""
        return (self.after_s[0] - self.after_s[-1]) / SECONDS_PER_HOUR


def find_layout(plant: PlantInputs, stations: int | None = None) -> StandardLayout:
    """Search a standard layout of at most ``stations`` pins (None: as many as save anything).

    Only copies owned are pinned; pins that the plant has already are kept. Empty where no order needs a tool.
    """
    book = BookExchanges(plant)
    layout = _extended(book, StandardLayout((), (book.changeover_s(),)), stations)
    again = _extended(book, _pruned(book, layout), stations)
    return _valued(book, _pruned(book, min(layout, again, key=lambda found: found.after_s[-1])))


def _extended(book: BookExchanges, layout: StandardLayout, stations: int | None) -> StandardLayout:
    """Add the best pin again and again; return the best layout on the way, with as few pins as it needs."""
    waiting = {pin: float("inf") for pin in book.candidates() if pin not in layout.pins}
    best, poor = layout, 0
    while waiting and poor <= PATIENCE and (stations is None or len(layout.pins) < stations):
        following = _best_pin(book, layout, waiting)
        if following is None:
            break
        layout = following
        waiting.pop(layout.pins[-1])
        if best.after_s[-1] - layout.after_s[-1] >= LEAST_GAIN_S * (len(layout.pins) - len(best.pins)):
            best, poor = layout, 0
        else:
            poor += 1
    return best


def _pruned(book: BookExchanges, layout: StandardLayout) -> StandardLayout:
    """The layout without the pins that save too little beside the others, as some chosen early have come to do."""
    pins = list(layout.pins)
    left_s = layout.after_s[-1]
    while pins:
        without = [(book.changeover_s([pin for pin in pins if pin != dropped]), dropped) for dropped in pins]
        best_s, worst = min(without)
        if best_s - left_s >= LEAST_GAIN_S:
            break
        pins.remove(worst)
        left_s = best_s
    seconds = [book.changeover_s(pins[:count]) for count in range(1, len(pins) + 1)]
    return StandardLayout(tuple(pins), (layout.after_s[0], *seconds))


def _valued(book: BookExchanges, layout: StandardLayout) -> StandardLayout:
    """The layout with what each pin saves beside the others."""
    others = ([pin for pin in layout.pins if pin != left_out] for left_out in layout.pins)
    worth = tuple(book.changeover_s(pins) - layout.after_s[-1] for pins in others)
    return dataclasses.replace(layout, worth_s=worth)


def _best_pin(book: BookExchanges, layout: StandardLayout, waiting: dict[str, float]) -> StandardLayout | None:
    """The layout with one pin more that needs fewest seconds, or None; pins of the best former gains are tried."""
    trials: list[StandardLayout] = []
    for pin in sorted(waiting, key=lambda name: -waiting[name]):
        if len(trials) >= TRIED_AT_ONCE and waiting[pin] < float("inf"):
            break
        trial = _with_pin(book, layout, pin)
        waiting[pin] = layout.after_s[-1] - trial.after_s[-1] if trial else -float("inf")
        trials += [trial] if trial else []
    return next((trial for trial in sorted(trials, key=lambda t: t.after_s[-1]) if book.leaves_room(trial)), None)


def _with_pin(book: BookExchanges, layout: StandardLayout, pin: str) -> StandardLayout | None:
    """The layout with a further pin, or None where no copy is left for it."""
    pins = (*layout.pins, pin)
    tool = pin.partition("@")[0]
    if sum(other.partition("@")[0] == tool for other in pins) > book.copies[tool]:
        return None
    return StandardLayout(pins, (*layout.after_s, book.changeover_s(pins)))


@dataclass(frozen=True)
class _Order:
    """Needs and sheets of an order, and mean seconds of each exchange by kind and tool."""

    needs: tuple[Need, ...]
    sheets: int
    seconds: dict[tuple[str, int], float]

    def seconds_of(self, exchange: Exchange) -> float:
        """Mean seconds of an exchange; a tool of another program that comes back takes those of the first need."""
        kind, tool = exchange.kind, exchange.placed.tool
        return self.seconds.get((kind, tool)) or self.seconds.get((kind, self.needs[0].tool), 0.0)


@dataclass(frozen=True)
class BookExchanges:
    """The book of a plant as one turret meets it: needs, sheets and mean seconds of each exchange, by order."""

    plant: PlantInputs

    @cached_property
    def copies(self) -> dict[str, int]:
        """Copies owned of each tool."""
        return {tool.tool_id: tool.copies for tool in self.plant.tools}

    @cached_property
    def tables(self) -> ProgramTables:
        """Program tables of the plant."""
        return program_tables(self.plant)

    @cached_property
    def orders(self) -> tuple[_Order, ...]:
        """Orders that need a tool, by release, then as they stand in the file."""
        plant, tables = self.plant, self.tables
        index = {tool.tool_id: row for row, tool in enumerate(plant.tools)}
        found = []
        for order in sorted(plant.orders, key=lambda order: order.released):
            row = tables.index[order.program_id]
            material = plant.material_by_id[tables.programs[row].material_id]
            needs = needs_of(plant.tools_of.get(order.program_id, ()), material, plant.tools, index)
            if needs:
                found.append(_Order(needs, order.sheets, self._seconds(row, index)))
        return tuple(found)

    def _seconds(self, program: int, index: dict[str, int]) -> dict[tuple[str, int], float]:
        """Mean seconds of an exchange by kind and tool, for one program."""
        tables, name = self.tables, self.tables.programs[program].program_id
        found: dict[tuple[str, int], float] = {}
        for place, need in enumerate(self.plant.tools_of.get(name, ())):
            at = int(tables.first_need[program]) + place
            for use in self._exchange_rows:
                key = use.driver, index[need.tool_id]
                found[key] = found.get(key, 0.0) + float(use.per_need[at]) * use.law.mean
        return found

    @cached_property
    def _exchange_s(self) -> dict[str, float]:
        return exchange_seconds(self.tables)

    @cached_property
    def _exchange_rows(self) -> list[ElementUse]:
        uses = self.tables.uses
        return [use for use in uses if use.driver in EXCHANGES and use.state == CHANGEOVER]

    @cached_property
    def used(self) -> dict[str, frozenset[float]]:
        """Clearances at which the book uses each tool."""
        found: dict[str, set[float]] = {}
        for need in (need for order in self.orders for need in order.needs):
            found.setdefault(self.plant.tools[need.tool].tool_id, set()).add(need.clearance)
        return {tool: frozenset(clearances) for tool, clearances in found.items()}

    def candidates(self) -> list[str]:
        """Pins worth a try: the tools with the most seconds of exchange, with any die and at each clearance used."""
        seconds: Counter[int] = Counter()
        for tool, amount in self._walk(self._room(())):
            seconds[tool] += amount  # type: ignore[assignment]
        pins = []
        for tool, _ in seconds.most_common(MOST_CANDIDATES):
            name, owned = self.plant.tools[tool].tool_id, self.plant.tools[tool].clearances
            pins += [name, *(f"{name}@{c}" for c in sorted(self.used[name] & set(owned)) if len(owned) > 1)]
        return [pin for pin in pins if pin not in self.plant.settings.rules.pinned]

    def changeover_s(self, pins: Sequence[str] = ()) -> float:
        """Seconds of changeover over the book with these pins on top of the plant's own."""
        return sum(seconds for _, seconds in self._walk(self._room(pins)))

    def leaves_room(self, layout: StandardLayout) -> bool:
        """Whether every order still finds stations for its tools when all that is pinned stands in the turret."""
        room, plain = self._room(layout.pins), self._room(())
        turret = [self._start(room), *(after for _, _, after in self._plans(room))][-1]
        return all(
            len(plan_exchange(room, turret, needs, ()).missing)
            <= len(plan_exchange(plain, empty_turret(plain), needs, ()).missing)
            for needs in dict.fromkeys(order.needs for order in self.orders)
        )

    def _room(self, pins: Sequence[str]) -> ToolRoom:
        rules = self.plant.settings.rules
        pinned = rules.model_copy(update={"pinned": (*rules.pinned, *pins)})
        settings = self.plant.settings.model_copy(update={"rules": pinned})
        weighed = [(need, 1.0) for order in self.orders for need in order.needs]
        return make_tool_room(settings, list(self.plant.tools), weighed, self._exchange_s)

    def _start(self, room: ToolRoom) -> Turret:
        index = {tool.tool_id: row for row, tool in enumerate(self.plant.tools)}
        has_start = any(row.what == "turret" for row in self.plant.start)
        return start_turret(room, self.plant.start, index) if has_start else empty_turret(room)

    def _walk(self, room: ToolRoom) -> Iterator[tuple[int, float]]:
        """Row of the tool and seconds of each exchange of the book, those in the middle of every sheet included."""
        for order, plan, _ in self._plans(room):
            middle = (mid_exchanges(plan, sheet) for sheet in range(order.sheets)) if plan.mid_program else ()
            for exchange in (*plan.exchanges, *(each for exchanges in middle for each in exchanges)):
                yield exchange.placed.tool, order.seconds_of(exchange)

    def _plans(self, room: ToolRoom) -> Iterator[tuple[_Order, ExchangePlan, Turret]]:
        """Each order with the plan of its exchanges, and the turret after its last sheet."""
        turret = self._start(room)
        needs = [order.needs for order in self.orders]
        ahead = self.plant.settings.rules.lookahead_orders if room.eviction == "soonest" else 0
        for number, order in enumerate(self.orders):
            queue = needs[number + 1 : number + 1 + ahead]
            plan = plan_exchange(room, turret, order.needs, queue, sheets=order.sheets)
            turret = mark_used(apply_exchanges(turret, plan.exchanges, number), order.needs, number)
            if plan.mid_program:
                turret = turret_after(plan, turret, order.sheets, number)
            yield order, plan, turret
