"""Cases that only the study of parts simulates: ways to hand sheets over, nights, places, and slower or failing picks.

They are no options of the plant: each combines the plant's options, some without what they need, and overrides a few
settings. What is added to the plant for them stands in :func:`widened`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from simkit.analysis.low_capital import Options, why_illegal
from simkit.analysis.magazine_sizes import magazine_case
from simkit.analysis.part_clocks import book_clocks
from simkit.base.vocabulary import UNLOADING
from simkit.plant.conditions import split_unit
from simkit.plant.options import Edit, Option
from simkit.plant.plant import Plant, Scenario
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Stop

WAY, NIGHT, STACKS, SIZING, BENCH, PICK, FAIL = "way", "night", "stacks", "sizing", "bench", "pick", "failure"
CHUTE = "chute"
PICK_SHARES = (0.0, 0.5, 2.0, 4.0)
FAIL_SHARES = (0.0, 4.0, 12.0, 30.0)
BENCH_PLACES = (1, 2, 5, 10)
STACK_SHARES = (0.5, 2.0)
PLENTY = 60
"""Places that no night fills: what a night needs shows when none binds."""

CHUTE_DROP_S, CHUTE_SORT_S = 2.0, 3.0
"""Seconds a part at the machine, and to sort it later, where the plant has no row: common practice, no source."""


@dataclass(frozen=True)
class PartCase:
    """A case of the study of parts: its group, what it is in words, its options and overrides, and facts about it."""

    name: str
    group: str
    what: str
    options: Options = ()
    overrides: tuple[str, ...] = ()
    facts: Mapping[str, float] = field(default_factory=dict)
    physics_hash: str = ""

    def scenario(self, plant: Plant) -> Scenario:
        """The case as a scenario of the widened plant; raises BadInput if it is not legal."""
        return make_scenario(widened(plant), self.options, self.overrides, self.name)


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


def roles_of(plant: Plant) -> Roles:
    """Find the options by what they do to the plant's settings; the first of each kind."""
    settings, wide = plant.settings, widened(plant)

    def first(kind: str, today: bool, *paths: str) -> Options | None:
        if today:
            return ()
        return next(((o.id,) for o in _of(plant, kind) if _sets(o, paths) and not why_illegal(wide, (o.id,))), None)

    return Roles(
        removal=first("bought", settings.removal.pickers > 0, "plant.removal.pickers"),
        stack=first("bought", settings.stack.places > 0, "plant.stack.places"),
        bench_person=next(((o.id,) for o in _of(plant, "low_capital") if _adds_bench_person(o)), None),
        magazine=magazine_case(plant),
        store=first("bought", settings.store.shelves > 0, "plant.store.shelves"),
        night=first("calendar", settings.calendar.night.rule == "allowed", "plant.calendar.night.rule"),
    )


def _of(plant: Plant, kind: str) -> Iterator[Option]:
    return (option for option in plant.options if option.kind == kind and option.id != CHUTE)


def _sets(option: Option, paths: Sequence[str]) -> bool:
    return any(edit.path in paths for edit in option.edits)


def _adds_bench_person(option: Option) -> bool:
    added = (edit.value for edit in option.edits if edit.op == "add_row" and edit.path == "people")
    return any(isinstance(row, dict) and "bench" in row.get("skills", ()) for row in added)


def widened(plant: Plant) -> Plant:
    """The plant whose options need nothing, with one more: parts that no device takes go down the chute.

    So that a pair of options can be compared with each alone where one of them is bought only with the other. The times
    of the chute are added only where the plant has none.
    """
    options = tuple(option.model_copy(update={"needs": ()}) for option in plant.options)
    sets = tuple(o.id for o in options if any(edit.path == "programs[*].handover" for edit in o.edits))
    rows = () if _has_driver(plant, "chute_part") else (_row("chute_drop", "machine", UNLOADING, CHUTE_DROP_S),
                                                        _row("chute_sort", "bench", "bench", CHUTE_SORT_S))  # fmt: skip
    chute = Option(
        id=CHUTE, name="small parts down the chute", kind="low_capital", overrides=sets,
        edits=(Edit(path="programs[*].handover", value="mixed"), *rows),
    )  # fmt: skip
    return dataclasses.replace(plant, options=(*options, chute))


def _has_driver(plant: Plant, driver: str) -> bool:
    return any(split_unit(row.unit)[1] == driver for row in plant.elements)


def _row(name: str, task: str, state: str, seconds: float) -> Edit:
    cells = {"element": name, "task_of": task, "unit": "s/chute_part", "state": state, "typical": seconds}
    source = "common practice, no source"
    return Edit(path="elements", op="add_row", value={**cells, "law": "constant", "basis": "default", "source": source})


def part_cases(plant: Plant, package: Options = ()) -> tuple[PartCase, ...]:
    """All legal cases, each name once; ``package`` is the low-capital package."""
    roles, wide = roles_of(plant), widened(plant)
    under = night_package(plant, roles, package)
    found: dict[str, PartCase] = {}
    for case in (*_ways(plant, roles, package, under), *_pair_cases(plant, roles, under),
                 *_stack_cases(plant, roles, under), *_sizing(plant, roles, under), *_bench_cases(plant),
                 *_slow_picks(plant, roles), *_failing_picks(plant, roles, under)):  # fmt: skip
        if case.name not in found and not why_illegal(wide, case.options, case.overrides):
            found[case.name] = case
    return tuple(found.values())


def night_package(plant: Plant, roles: Roles, package: Options) -> Options:
    """The low-capital package on which nights are compared: none where one of the night's ways does not go with it."""
    nights = [night for way in (roles.removal, roles.stack) if (night := roles.night_with(way)) is not None]
    refused = any(why_illegal(widened(plant), combined(plant, package, night)) for night in nights)
    return () if refused or not nights else tuple(package)


def combined(plant: Plant, *parts: Iterable[str] | None) -> Options:
    """Options of several sets together, in the order of the file; those of the widened plant last."""
    names = {name for part in parts for name in part or ()}
    order = list(plant.option_by_id)
    return tuple(sorted(names, key=lambda name: order.index(name) if name in order else len(order)))


def _ways(plant: Plant, roles: Roles, package: Options, under: Options) -> Iterator[PartCase]:
    """Ways to hand over that no set of bought options holds: a second person at the bench, parts down the chute, first
    pieces through a drawer; and both ways of a night."""
    for base in dict.fromkeys([(), tuple(package)]):
        if roles.bench_person and not set(roles.bench_person) <= set(base):
            yield _plain(WAY, "a second person at the bench", (*base, *roles.bench_person))
        if roles.removal is not None:
            yield _plain(WAY, "what cannot be picked goes down the chute", (*base, *roles.removal, CHUTE))
            options = (*base, *roles.removal)
            yield _changed(WAY, options, "sample drawer", ("plant.removal.sample_drawer=true",), {})
    for way in (roles.removal, roles.stack):
        night = roles.night_with(way)
        if night is not None:
            yield _plain(NIGHT, "a night", combined(plant, under, night))
    stack = roles.night_with(roles.stack)
    both = both_ways(plant, roles, under)
    if both is not None:
        yield _plain(WAY, "removal, and the stack for sheets it cannot empty", both)
    if stack and roles.bench_person and not set(roles.bench_person) <= set(under):
        yield _plain(WAY, "whole-sheet stack and a second person", combined(plant, under, stack, roles.bench_person))


def both_ways(plant: Plant, roles: Roles, under: Options) -> Options | None:
    """The night in which parts are picked and sheets that are not emptied go to the whole-sheet stack."""
    night = roles.night_with(roles.removal)
    return None if night is None or not roles.stack else combined(plant, under, night, roles.stack)


def _plain(group: str, what: str, options: Options) -> PartCase:
    return PartCase("+".join(options), group, what, options)


def pairs_of(roles: Roles) -> dict[str, tuple[Options, Options]]:
    """Removal with the magazine, and removal with the store: the pairs whose interaction is told."""
    others = {"magazine": roles.magazine, "store": roles.store}
    return {name: (roles.removal, other) for name, other in others.items() if roles.removal and other}


def corners(
    plant: Plant, pair: tuple[Options, Options], base: Options = ()
) -> tuple[Options, Options, Options, Options]:
    """Both, the first, the second and none of a pair, each on the same base."""
    first, second = pair
    return (combined(plant, base, first, second), combined(plant, base, first), combined(plant, base, second),
            combined(plant, base))  # fmt: skip


def night_bases(roles: Roles, under: Options = ()) -> dict[str, Options]:
    """On what each pair is compared at night: package, night and what else a night needs, without the pair itself."""
    if roles.night is None:
        return {}
    rest = {"magazine": roles.store, "store": roles.magazine}
    return {name: (*under, *(rest[name] or ()), *roles.night) for name in pairs_of(roles)}


def _pair_cases(plant: Plant, roles: Roles, under: Options) -> Iterator[PartCase]:
    """The corners of each pair, by day and at night."""
    bases = night_bases(roles, under)
    for name, pair in pairs_of(roles).items():
        for base in ((), bases.get(name)):
            for options in corners(plant, pair, base) if base is not None else ():
                if options:
                    yield _plain(NIGHT, f"removal and {name}, one without the other", options)


def _stack_cases(plant: Plant, roles: Roles, under: Options) -> Iterator[PartCase]:
    """The night with removal at other numbers of places for stacks, and by other rules of stacking."""
    night = roles.night_with(roles.removal)
    if night is None:
        return
    options = combined(plant, under, night)
    if why_illegal(widened(plant), options):
        return
    removal = make_scenario(widened(plant), options).plant.settings.removal
    places = [*(max(int(share * removal.stack_places), 1) for share in STACK_SHARES), PLENTY]
    for count in dict.fromkeys(places):
        if count != removal.stack_places:
            path = f"plant.removal.stack_places={count}"
            yield _changed(STACKS, options, f"{count} stack places", (path,), {"places": float(count)})
    for rule in ("as_nested", "kits", "by_order"):
        if rule != removal.stacking:
            path = f"plant.removal.stacking={rule}"
            facts = {"places": float(removal.stack_places)}
            yield _changed(STACKS, options, f"stacking {rule.replace('_', ' ')}", (path,), facts)


def _sizing(plant: Plant, roles: Roles, under: Options) -> Iterator[PartCase]:
    """A night without stops and first pieces, and with more places than it can fill: what it would need at most."""
    night = roles.night_with(roles.removal)
    options = both_ways(plant, roles, under) or (None if night is None else combined(plant, under, night))
    if options is None or why_illegal(widened(plant), options):
        return
    own = make_scenario(widened(plant), options).plant
    overrides = [f"plant.removal.stack_places={PLENTY}", "plant.rules.first_piece=never"]
    overrides += [f"plant.stack.places={PLENTY}"] if own.settings.stack.places else []
    overrides += ["stops[*].rate*=0"] if own.stops else []
    yield _changed(SIZING, options, "no stop, no first piece, plenty of places", tuple(overrides), {})


def _changed(
    group: str, options: Options, what: str, overrides: tuple[str, ...], facts: Mapping[str, float]
) -> PartCase:
    return PartCase(f"{'+'.join(options) or 'today'}, {what}", group, what, options, overrides, facts)


def _bench_cases(plant: Plant) -> Iterator[PartCase]:
    for places in BENCH_PLACES:
        if places != plant.settings.bench.places:
            override = (f"plant.bench.places={places}",)
            yield _changed(BENCH, (), f"{places} bench places", override, {"places": float(places)})


def pick_rows(plant: Plant, *drivers: str) -> dict[str, float]:
    """Typical seconds of the rows at the machine that are counted by these drivers, by element; the last one holds."""
    rows = (row for row in plant.elements if split_unit(row.unit)[1] in drivers and row.state == UNLOADING)
    return {row.element: row.typical * split_unit(row.unit)[0] for row in rows}


def _slow_picks(plant: Plant, roles: Roles) -> Iterator[PartCase]:
    """Removal alone with picks slower or faster by a factor, standing still in proportion."""
    if roles.removal is None or why_illegal(widened(plant), roles.removal):
        return
    own = make_scenario(widened(plant), roles.removal).plant
    pick_s = book_clocks(own).mean_pick_s
    for share in PICK_SHARES if pick_s else ():
        overrides = tuple(f"elements[{name}].typical*={share:g}" for name in pick_rows(own, "pick", "pick_blocking"))
        facts = {"share": share, "pick_s": share * pick_s}
        yield _changed(PICK, roles.removal, f"{share * pick_s:.3g} s a pick", overrides, facts)


def _failing_picks(plant: Plant, roles: Roles, under: Options) -> Iterator[PartCase]:
    """Picks that fail more often, or never: in the night with removal, where nobody comes, else by removal alone."""
    night = roles.night_with(roles.removal)
    options = roles.removal if night is None else combined(plant, under, night)
    if options is None or why_illegal(widened(plant), options):
        return
    causes = [row for row in make_scenario(widened(plant), options).plant.stops if _fails_picks(row)]
    for share in FAIL_SHARES if causes else ():
        rate = sum(row.rate for row in causes) * share
        overrides = tuple(f"stops[{row.cause}].rate*={share:g}" for row in causes)
        facts = {"share": share, "rate": rate}
        yield _changed(FAIL, options, f"{1000 * rate:g} failed picks in 1,000", overrides, facts)


def _fails_picks(row: Stop) -> bool:
    return row.exposure == "pick" and row.rate > 0
