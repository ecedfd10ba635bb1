"""How a plant can hand sheets over: which options bring removal, stack, bench person, magazine, store and nights."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from simkit.analysis.low_capital import Options, why_illegal
from simkit.analysis.subjects import bringing
from simkit.base.vocabulary import NO_SOURCE, UNLOADING
from simkit.plant.conditions import split_unit
from simkit.plant.options import Edit, Option
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario

CHUTE = "chute"
CHUTE_DROP_S, CHUTE_SORT_S = 2.0, 3.0
"""Seconds a part at the machine, and to sort it later, where the plant has no row: common practice, no source."""


@dataclass(frozen=True)
class Roles:
    """Which options of a plant bring what: none (None), today's cell (empty), or the options that do."""

    removal: Options | None
    stack: Options | None
    bench_person: Options | None
    magazine: Options | None
    store: Options | None
    night: Options | None

    def night_with(self, hand_over: Options | None) -> Options | None:
        """The options of a night with magazine and store as far as there are any, and a way to hand over."""
        if self.night is None or hand_over is None:
            return None
        return (*(self.magazine or ()), *(self.store or ()), *hand_over, *self.night)

    @property
    def pairs(self) -> dict[str, tuple[Options, Options]]:
        """Removal with the magazine, and removal with the store: the pairs whose interaction is told."""
        others = {"magazine": self.magazine, "store": self.store}
        return {name: (self.removal, other) for name, other in others.items() if self.removal and other}


@dataclass(frozen=True, eq=False)
class HandOver:
    """A plant seen from how it hands sheets over, with its low-capital package."""

    plant: Plant
    package: Options = ()

    @cached_property
    def wide(self) -> Plant:
        """The plant whose options need nothing, with one more: parts that no device takes go down the chute.

        So that a pair of options can be compared with each alone where one of them is bought only with the other. The
        times of the chute are added only where the plant has none.
        """
        options = tuple(option.model_copy(update={"needs": ()}) for option in self.plant.options)
        sets = tuple(o.id for o in options if any(edit.path == "programs[*].handover" for edit in o.edits))
        timed = any(split_unit(row.unit)[1] == "chute_part" for row in self.plant.elements)
        rows = () if timed else (_row("chute_drop", "machine", UNLOADING, CHUTE_DROP_S),
                                 _row("chute_sort", "bench", "bench", CHUTE_SORT_S))  # fmt: skip
        chute = Option(
            id=CHUTE, name="small parts down the chute", kind="low_capital", overrides=sets,
            edits=(Edit(path="programs[*].handover", value="mixed"), *rows),
        )  # fmt: skip
        return dataclasses.replace(self.plant, options=(*options, chute))

    @cached_property
    def roles(self) -> Roles:
        """Options found by what they do to the plant's settings; the first of each kind."""
        settings = self.plant.settings

        def first(kind: str, today: bool, path: str) -> Options | None:
            if today:
                return ()
            return next(((o.id,) for o in self._of(kind) if _sets(o, path) and self.legal((o.id,))), None)

        return Roles(
            removal=first("bought", settings.removal.pickers > 0, "plant.removal.pickers"),
            stack=first("bought", settings.stack.places > 0, "plant.stack.places"),
            bench_person=next(((o.id,) for o in self._of("low_capital") if _adds_bench_person(o)), None),
            magazine=bringing(self.plant, "magazine"),
            store=first("bought", settings.store.shelves > 0, "plant.store.shelves"),
            night=first("calendar", settings.calendar.night.rule == "allowed", "plant.calendar.night.rule"),
        )

    def _of(self, kind: str) -> Iterator[Option]:
        return (option for option in self.plant.options if option.kind == kind and option.id != CHUTE)

    def legal(self, options: Sequence[str]) -> bool:
        """Whether these options of the widened plant go together."""
        return not why_illegal(self.wide, options)

    def with_options(self, options: Sequence[str]) -> Plant:
        """The widened plant with these options; raises BadInput where they do not go together."""
        return make_scenario(self.wide, options).plant

    def combined(self, *parts: Iterable[str] | None) -> Options:
        """Options of several sets together, in the order of the file; those of the widened plant last."""
        names = {name for part in parts for name in part or ()}
        order = list(self.plant.option_by_id)
        return tuple(sorted(names, key=lambda name: order.index(name) if name in order else len(order)))

    @cached_property
    def under(self) -> Options:
        """The low-capital package on which nights are compared: none where one of the night's ways refuses it."""
        ways = (self.roles.night_with(self.roles.removal), self.roles.night_with(self.roles.stack))
        nights = [night for night in ways if night is not None]
        refused = any(not self.legal(self.combined(self.package, night)) for night in nights)
        return () if refused or not nights else tuple(self.package)

    def night(self, way: Options | None) -> Options | None:
        """The night with a way to hand over, on the package; None where there is no night or no such way."""
        held = self.roles.night_with(way)
        return None if held is None else self.combined(self.under, held)

    @cached_property
    def nights(self) -> tuple[Options, ...]:
        """The nights with removal and with the whole-sheet stack, as far as there are any."""
        found = (self.night(self.roles.removal), self.night(self.roles.stack))
        return tuple(options for options in found if options is not None)

    @cached_property
    def both_ways(self) -> Options | None:
        """The night in which parts are picked and sheets that are not emptied go to the whole-sheet stack."""
        night = self.night(self.roles.removal)
        return None if night is None or not self.roles.stack else self.combined(night, self.roles.stack)

    @cached_property
    def night_bases(self) -> dict[str, Options]:
        """On what each pair is compared at night: package, night and what else it needs, without the pair itself."""
        if self.roles.night is None:
            return {}
        rest = {"magazine": self.roles.store, "store": self.roles.magazine}
        return {name: (*self.under, *(rest[name] or ()), *self.roles.night) for name in self.roles.pairs}

    def corners(self, pair: tuple[Options, Options], base: Options = ()) -> tuple[Options, Options, Options, Options]:
        """Both, the first, the second and none of a pair, each on the same base."""
        first, second = pair
        return (self.combined(base, first, second), self.combined(base, first), self.combined(base, second),
                self.combined(base))  # fmt: skip


def _sets(option: Option, path: str) -> bool:
    return any(edit.path == path for edit in option.edits)


def _adds_bench_person(option: Option) -> bool:
    added = (edit.value for edit in option.edits if edit.op == "add_row" and edit.path == "people")
    return any(isinstance(row, dict) and "bench" in row.get("skills", ()) for row in added)


def _row(name: str, task: str, state: str, seconds: float) -> Edit:
    cells = {"element": name, "task_of": task, "unit": "s/chute_part", "state": state, "typical": seconds}
    return Edit(path="elements", op="add_row", value={**cells, "law": "constant", "basis": "default",
                                                      "source": NO_SOURCE})  # fmt: skip
