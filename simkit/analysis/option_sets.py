"""Sets of options: what costs little, what goes together, and which sets of bought options a study reports.

Which of those that cost little make the best package is the question of :mod:`simkit.analysis.package`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from simkit.base.messages import BadInput
from simkit.experiment.runner import make_scenarios
from simkit.plant.options import Option, capital_of
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario

Options = tuple[str, ...]
"""A set of options, by id."""


def low_capital_options(plant: Plant) -> Options:
    """Ids of the options marked low_capital, in the order of the file."""
    return tuple(option.id for option in plant.options if option.kind == "low_capital")


def why_illegal(plant: Plant, options: Sequence[str]) -> str:
    """Why these options cannot go together, or an empty text."""
    try:
        make_scenario(plant, options)
    except BadInput as error:
        return error.whys
    return ""


def bought_sets(plant: Plant, named: Sequence[Options] = ()) -> tuple[Options, ...]:
    """Legal sets to report, each once, in this order.

    Each bought option; the named sets; each calendar option that needs nothing (the rivals of any machine); each
    calendar option that needs bought ones, with every smallest choice of what it needs. Where any one of several will
    do, the cheaper variants of an option are left out: they are reported by themselves. Within a set, options stand in
    the order of the file. Raises BadInput for a named set that is not legal.
    """
    make_scenarios(plant, named)
    place = {name: at for at, name in enumerate(plant.option_by_id)}
    listed = dict.fromkeys(tuple(sorted(set(options), key=place.__getitem__)) for options in _proposed(plant, named))
    return tuple(options for options in listed if not why_illegal(plant, options))


def _proposed(plant: Plant, named: Sequence[Options]) -> Iterator[Options]:
    bought = [option for option in plant.options if option.kind == "bought"]
    calendar = [option for option in plant.options if option.kind == "calendar"]
    for option in bought:
        yield from _with_needs(plant, option)
    yield from named
    yield from ((option.id,) for option in calendar if not option.needs)
    for option in calendar:
        yield from _with_needs(plant, option) if option.needs else ()


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
