"""Sets of options: what costs little, what goes together, what a study reports, what touches tools, parts or nights.

Which of those that cost little make the best package is the question of :mod:`simkit.analysis.package`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from itertools import product

from simkit.base.messages import BadInput
from simkit.experiment.runner import make_scenarios
from simkit.plant.options import Edit, Option, capital_of
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario

Options = tuple[str, ...]
"""A set of options, by id."""


def low_capital_options(plant: PlantInputs) -> Options:
    """Ids of the options marked low_capital, in the order of the file."""
    return tuple(option.id for option in plant.options if option.kind == "low_capital")


def why_illegal(plant: PlantInputs, options: Sequence[str]) -> str:
    """Why these options cannot go together, or an empty text."""
    try:
        make_scenario(plant, options)
    except BadInput as error:
        return error.whys
    return ""


def bought_sets(plant: PlantInputs, named: Sequence[Options] = ()) -> tuple[Options, ...]:
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


def _proposed(plant: PlantInputs, named: Sequence[Options]) -> Iterator[Options]:
    bought = [option for option in plant.options if option.kind == "bought"]
    calendar = [option for option in plant.options if option.kind == "calendar"]
    for option in bought:
        yield from _with_needs(plant, option)
    yield from named
    yield from ((option.id,) for option in calendar if not option.needs)
    for option in calendar:
        yield from _with_needs(plant, option) if option.needs else ()


def cheaper_variants(plant: PlantInputs) -> frozenset[str]:
    """Bought options that a dearer bought option excludes: the same thing, smaller."""
    bought = [option for option in plant.options if option.kind == "bought"]
    return frozenset(
        option.id
        for option in bought
        for rival in bought
        if capital_of([rival]) > capital_of([option]) and (option.id in rival.excludes or rival.id in option.excludes)
    )


def _with_needs(plant: PlantInputs, option: Option) -> Iterator[Options]:
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


# ---- what an option is about ----


PATHS = {
    "tools": re.compile(
        r"plant\.(rules\.(dispatch|pinned|eviction)|magazine)\b|tools\b|load_faults\b|materials\[.*\.clearance_mm"
    ),
    "parts": re.compile(r"plant\.(bench|removal|stack)\b|program_parts\b|programs\[.*\.handover"),
}
"""What an option that touches a subject edits, beside the rows of elements that :data:`DRIVERS` count."""

DRIVERS = {
    "tools": ("tool_load", "die_change", "angle_change", "magazine_exchange", "magazine_die_change"),
    "parts": ("part", "tab", "pick", "chute_part"),
}
KIND_ORDER = ("low_capital", "bought")
DEVICES = {
    "magazine": "plant.magazine.places", "removal": "plant.removal.pickers", "stack": "plant.stack.places",
    "store": "plant.store.shelves",
}  # fmt: skip
"""Setting that is above nothing where a plant has the device."""
NIGHT = "plant.calendar.night.rule"


def touching(plant: PlantInputs, subject: str) -> dict[str, Options]:
    """Options that touch a subject, with what each needs, by name: low-capital ones first, then by capital.

    ``subject`` is a key of :data:`PATHS`. An option that cannot be taken by itself, nor with the first of what it
    needs, is left out.
    """
    found = [option for option in plant.options if option.kind in KIND_ORDER and _touches(plant, option, subject)]
    found.sort(key=lambda option: (KIND_ORDER.index(option.kind), capital_of((option,))))
    sets = {option.called: with_needs(plant, (option.id,)) for option in found}
    return {name: options for name, options in sets.items() if not why_illegal(plant, options)}


def bringing(plant: PlantInputs, device: str) -> Options | None:
    """The options with which a plant has a device of :data:`DEVICES`: none if it has it today, else the first bought.

    None where no option brings it.
    """
    if _has(plant, device):
        return ()
    bought = (option for option in plant.options if option.kind == "bought")
    sets = (with_needs(plant, (o.id,)) for o in bought if any(edit.path == DEVICES[device] for edit in o.edits))
    return next((options for options in sets if not why_illegal(plant, options)), None)


def nights(plant: PlantInputs, package: Options) -> dict[str, Options]:
    """Unattended nights by how sheets leave: the whole-sheet stack, part removal, both; on the package if it goes.

    Each with the plant's magazine and store, as far as there are any, and with what else the night needs; empty where
    no option allows a night.
    """
    night = _night(plant)
    if night is None:
        return {}
    devices = {name: bringing(plant, name) for name in DEVICES}
    base = [*(devices["magazine"] or ()), *(devices["store"] or ())]
    stack, removal = devices["stack"], devices["removal"]
    ways = {"Night, whole-sheet stack": stack, "Night, part removal": removal}
    if stack is not None and removal is not None:
        ways["Night, removal and stack"] = (*removal, *stack)
    sets = {name: with_needs(plant, (*base, *way, *night)) for name, way in ways.items() if way is not None}
    for under in (package, ()):
        legal = {name: options for name, each in sets.items()
                 if not why_illegal(plant, options := tuple(dict.fromkeys((*under, *each))))}  # fmt: skip
        if legal:
            return legal
    return {}


def _night(plant: PlantInputs) -> Options | None:
    """The first calendar option that allows unattended nights; nothing where the plant allows them today."""
    if plant.settings.calendar.night.rule == "allowed":
        return ()
    calendar = (option for option in plant.options if option.kind == "calendar")
    return next(((option.id,) for option in calendar if any(edit.path == NIGHT for edit in option.edits)), None)


def on_top(plant: PlantInputs, package: Sequence[str], options: Options | None) -> Options | None:
    """Options on top of a package; None without either, or where they do not go together."""
    if not package or not options:
        return None
    both = tuple(dict.fromkeys((*package, *options)))
    return None if why_illegal(plant, both) else both


def with_needs(plant: PlantInputs, options: Sequence[str]) -> Options:
    """Options with the first of what each needs, as far as it is not there."""
    found = list(options)
    for name in found:
        for need in plant.option_by_id[name].needs:
            choice = (need,) if isinstance(need, str) else need
            found += [] if set(choice) & set(found) else [choice[0]]
    return tuple(found)


def _has(plant: PlantInputs, device: str) -> bool:
    _, section, key = DEVICES[device].split(".")
    return bool(getattr(getattr(plant.settings, section), key))


def _touches(plant: PlantInputs, option: Option, subject: str) -> bool:
    drivers = DRIVERS[subject]
    counted = {row.element for row in plant.elements if _driver(row.unit) in drivers}
    return any(_edits(edit, subject, counted) for edit in option.edits)


def _edits(edit: Edit, subject: str, counted: Collection[str]) -> bool:
    """Whether an edit is one of a subject; ``counted`` are the elements that it counts."""
    named = re.match(r"elements\[([^\]]*)\]", edit.path)
    if PATHS[subject].match(edit.path) or (named and named[1] in counted):
        return True
    row = edit.value if edit.op == "add_row" and isinstance(edit.value, dict) else {}
    hands = subject == "parts" and edit.path == "people" and "bench" in row.get("skills", ())
    return hands or (edit.path == "elements" and _driver(row.get("unit", "")) in DRIVERS[subject])


def _driver(unit: str) -> str:
    return unit.partition("/")[2]
