"""Cases that only the study of parts simulates: ways to hand sheets over, nights, places, and slower or failing picks.

Each combines options of the widened plant, see :mod:`simkit.analysis.hand_over`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from simkit.analysis.cases import Case
from simkit.analysis.hand_over import CHUTE, HandOver
from simkit.analysis.low_capital import Options
from simkit.analysis.part_clocks import book_clocks
from simkit.base.vocabulary import UNLOADING
from simkit.plant.conditions import split_unit
from simkit.plant.plant import Plant
from simkit.plant.tables import Stop

WAY, NIGHT, STACKS, SIZING, BENCH, PICK, FAIL = "way", "night", "stacks", "sizing", "bench", "pick", "failure"
PICK_SHARES = (0.0, 0.5, 2.0, 4.0)
FAIL_SHARES = (0.0, 4.0, 12.0, 30.0)
BENCH_PLACES = (1, 2, 5, 10)
STACK_SHARES = (0.5, 2.0)
"""Points of the curves, as multiples of what is offered or as places: common practice, no source."""

PLENTY = 60
"""Places that no night fills (common practice, no source): what a night needs shows when none binds."""


def part_cases(over: HandOver) -> tuple[Case, ...]:
    """All legal cases, each name once."""
    found: dict[str, Case] = {}
    for case in (*_ways(over), *_pair_cases(over), *_stack_cases(over), *_sizing(over), *_bench_cases(over.plant),
                 *_slow_picks(over), *_failing_picks(over)):  # fmt: skip
        if case.name not in found and not case.why_illegal(over.wide):
            found[case.name] = case
    return tuple(found.values())


def _ways(over: HandOver) -> Iterator[Case]:
    """Ways to hand over that no set of bought options holds: a second person at the bench, parts down the chute, first
    pieces through a drawer; and both ways of a night."""
    roles = over.roles
    for base in dict.fromkeys([(), tuple(over.package)]):
        if roles.bench_person and not set(roles.bench_person) <= set(base):
            yield _plain(WAY, "a second person at the bench", (*base, *roles.bench_person))
        if roles.removal is not None:
            yield _plain(WAY, "what cannot be picked goes down the chute", (*base, *roles.removal, CHUTE))
            options = (*base, *roles.removal)
            yield _changed(WAY, options, "sample drawer", ("plant.removal.sample_drawer=true",), {})
    for night in over.nights:
        yield _plain(NIGHT, "a night", night)
    if over.both_ways is not None:
        yield _plain(WAY, "removal, and the stack for sheets it cannot empty", over.both_ways)
    if roles.night_with(roles.stack) and roles.bench_person and not set(roles.bench_person) <= set(over.under):
        options = over.combined(over.night(roles.stack), roles.bench_person)
        yield _plain(WAY, "whole-sheet stack and a second person", options)


def _plain(group: str, what: str, options: Options) -> Case:
    return Case("+".join(options), group, what, options)


def _pair_cases(over: HandOver) -> Iterator[Case]:
    """The corners of each pair, by day and at night."""
    for name, pair in over.roles.pairs.items():
        for base in ((), over.night_bases.get(name)):
            for options in over.corners(pair, base) if base is not None else ():
                if options:
                    yield _plain(NIGHT, f"removal and {name}, one without the other", options)


def _stack_cases(over: HandOver) -> Iterator[Case]:
    """The night with removal at other numbers of places for stacks, and by other rules of stacking."""
    options = over.night(over.roles.removal)
    if options is None or not over.legal(options):
        return
    removal = over.with_options(options).settings.removal
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


def _sizing(over: HandOver) -> Iterator[Case]:
    """A night without stops and first pieces, and with more places than it can fill: what it would need at most."""
    options = over.both_ways or over.night(over.roles.removal)
    if options is None or not over.legal(options):
        return
    own = over.with_options(options)
    overrides = [f"plant.removal.stack_places={PLENTY}", "plant.rules.first_piece=never"]
    overrides += [f"plant.stack.places={PLENTY}"] if own.settings.stack.places else []
    overrides += ["stops[*].rate*=0"] if own.stops else []
    yield _changed(SIZING, options, "no stop, no first piece, plenty of places", tuple(overrides), {})


def _changed(group: str, options: Options, what: str, overrides: tuple[str, ...], facts: Mapping[str, float]) -> Case:
    return Case(f"{'+'.join(options) or 'today'}, {what}", group, what, options, overrides, facts)


def _bench_cases(plant: Plant) -> Iterator[Case]:
    for places in BENCH_PLACES:
        if places != plant.settings.bench.places:
            override = (f"plant.bench.places={places}",)
            yield _changed(BENCH, (), f"{places} bench places", override, {"places": float(places)})


def pick_rows(plant: Plant, *drivers: str) -> dict[str, float]:
    """Typical seconds of the rows at the machine that are counted by these drivers, by element; the last one holds."""
    rows = (row for row in plant.elements if split_unit(row.unit)[1] in drivers and row.state == UNLOADING)
    return {row.element: row.typical * split_unit(row.unit)[0] for row in rows}


def _slow_picks(over: HandOver) -> Iterator[Case]:
    """Removal alone with picks slower or faster by a factor, standing still in proportion."""
    removal = over.roles.removal
    if removal is None or not over.legal(removal):
        return
    own = over.with_options(removal)
    pick_s = book_clocks(own).mean_pick_s
    for share in PICK_SHARES if pick_s else ():
        overrides = tuple(f"elements[{name}].typical*={share:g}" for name in pick_rows(own, "pick", "pick_blocking"))
        facts = {"share": share, "pick_s": share * pick_s}
        yield _changed(PICK, removal, f"{share * pick_s:.3g} s a pick", overrides, facts)


def _failing_picks(over: HandOver) -> Iterator[Case]:
    """Picks that fail more often, or never: in the night with removal, where nobody comes, else by removal alone."""
    night = over.night(over.roles.removal)
    options = over.roles.removal if night is None else night
    if options is None or not over.legal(options):
        return
    causes = [row for row in over.with_options(options).stops if _fails_picks(row)]
    for share in FAIL_SHARES if causes else ():
        rate = sum(row.rate for row in causes if row.acts_in(attended=night is None)) * share
        overrides = tuple(f"stops[{cause}].rate*={share:g}" for cause in dict.fromkeys(row.cause for row in causes))
        facts = {"share": share, "rate": rate}
        yield _changed(FAIL, options, f"{1000 * rate:g} failed picks in 1,000", overrides, facts)


def _fails_picks(row: Stop) -> bool:
    return row.exposure == "pick" and row.rate > 0
