"""Which sets of bought options a study reports: every one with and without the low-capital package."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

from simkit.analysis.low_capital import Options, why_illegal
from simkit.experiment.runner import make_scenarios
from simkit.plant.options import Option, capital_of
from simkit.plant.plant import Plant

Why = Literal["bought", "named", "calendar", "night", "everything"]


@dataclass(frozen=True)
class BoughtSet:
    """A set to report: ``alone`` without and ``with_package`` on top of the low-capital package.

    ``why`` says how it came on the list; ``refused`` why it is not legal with the package (then it is
    reported alone).
    """

    options: Options
    why: Why
    package: Options = ()
    refused: str = ""

    @property
    def with_package(self) -> Options | None:
        """The package and the set together, or None where that is not legal."""
        return None if self.refused else (*self.package, *self.options)


def bought_sets(
    plant: Plant,
    package: Sequence[str] = (),
    named: Sequence[Options] = (),
    overrides: Sequence[str] = (),
) -> tuple[BoughtSet, ...]:
    """Legal sets to report, each once, in this order.

    Each bought option; the named sets; each calendar option that needs nothing (the rivals of any
    machine); each calendar option that needs bought ones, with every smallest choice of what it needs;
    and everything bought that goes together (what nights need comes first where options exclude each
    other), alone and with all of those calendar options. Where any one of several will do, the cheaper
    variants of an option are left out: they are reported by themselves. Within a set, options stand in the
    order of the file. Raises BadInput for a named set that is not legal.
    """
    make_scenarios(plant, named, overrides)
    listed: dict[frozenset[str], BoughtSet] = {}
    place = {name: at for at, name in enumerate(plant.option_by_id)}
    for proposed, why in _proposed(plant, named, overrides):
        options = tuple(sorted(proposed, key=place.__getitem__))
        if frozenset(options) not in listed and not why_illegal(plant, options, overrides):
            refused = why_illegal(plant, (*package, *options), overrides)
            listed[frozenset(options)] = BoughtSet(options, why, tuple(package), refused)
    return tuple(listed.values())


def _proposed(plant: Plant, named: Sequence[Options], overrides: Sequence[str]) -> Iterator[tuple[Options, Why]]:
    bought = [option for option in plant.options if option.kind == "bought"]
    calendar = [option for option in plant.options if option.kind == "calendar"]
    nights = [option for option in calendar if option.needs]
    for option in bought:
        yield from ((options, "bought") for options in _with_needs(plant, option))
    yield from ((options, "named") for options in named)
    yield from (((option.id,), "calendar") for option in calendar if not option.needs)
    for option in nights:
        yield from ((options, "night") for options in _with_needs(plant, option))
    start = next(_with_needs(plant, nights[0]))[:-1] if nights else ()
    whole = _everything(plant, (*start, *(option.id for option in bought)), overrides)
    yield whole, "everything"
    if nights:
        yield (*whole, *(option.id for option in nights)), "everything"


def cheaper_variants(plant: Plant) -> frozenset[str]:
    """Bought options that a dearer bought option excludes: the same thing, smaller."""
    bought = [option for option in plant.options if option.kind == "bought"]
    return frozenset(
        option.id
        for option in bought
        for rival in bought
        if capital_of([rival]) > capital_of([option]) and (option.id in rival.excludes or rival.id in option.excludes)
    )


def _with_needs(plant: Plant, option: Option) -> Iterator[Options]:
    """The option behind each smallest choice of what it needs, and what that needs in turn."""
    variants = cheaper_variants(plant)
    choices = [
        (need,) if isinstance(need, str) else tuple(name for name in need if name not in variants) or need
        for need in option.needs
    ]
    for chosen in product(*choices):
        before: dict[str, None] = {}
        nested = [list(_with_needs(plant, plant.option_by_id[name])) for name in dict.fromkeys(chosen)]
        for path in product(*nested):
            before = {name: None for options in path for name in options}
            yield (*before, option.id)


def _everything(plant: Plant, names: Sequence[str], overrides: Sequence[str]) -> Options:
    """Every option that goes with those before it: exclusive ones go by this order."""
    whole: Options = ()
    waiting = list(dict.fromkeys(names))
    while waiting:
        taken = next((name for name in waiting if not why_illegal(plant, (*whole, name), overrides)), None)
        if taken is None:
            return whole
        waiting.remove(taken)
        whole = (*whole, taken)
    return whole
