"""What can end an unattended night, in words, and the edits of a plant that take each of it away.

A want is a cause of stops.csv, a task of upkeep.csv, or a word of ``NIGHT_WANTS``. Taking it away is a what-if, not an
option: it says what the want costs, not how to be rid of it. It holds by day as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from simkit.analysis.cases import EditRow
from simkit.base.vocabulary import NIGHT_WANTS, TASKS
from simkit.plant.conditions import split_unit
from simkit.plant.plant import Plant

STOP, CARE, RELEASE, TOOL, MATERIAL, OUTPUT, SHIFT = "stop", "care", "release", "tool", "material", "output", "shift"
GROUPS = (STOP, CARE, RELEASE, TOOL, MATERIAL, OUTPUT)
"""Kinds of wants that can be left alone while all others are taken away."""

WORDS: dict[str, tuple[str, str]] = {
    "first_piece": (RELEASE, "a first piece that somebody has to release"),
    "unproven_program": (RELEASE, "a program that is not proven"),
    "tool_by_hand": (TOOL, "a tool or die that is not in the magazine"),
    "worn_tool": (TOOL, "a worn tool"),
    "wrong_tool": (TOOL, "a tool loaded wrongly"),
    "set_up": (MATERIAL, "a nozzle, gas or clamp change by hand"),
    "material_fetch": (MATERIAL, "a material fetched by hand"),
    "pack_change": (MATERIAL, "a pack of sheets changed by hand"),
    "store_empty": (MATERIAL, "an empty store"),
    "loading_by_hand": (MATERIAL, "sheets loaded by hand"),
    "bench_full": (OUTPUT, "a full bench"),
    "stack_full": (OUTPUT, "a full stack of whole sheets"),
    "stacks_full": (OUTPUT, "full stacks of parts"),
    "skeletons_full": (OUTPUT, "a full pallet of skeletons"),
    "unloading_by_hand": (OUTPUT, "a sheet that somebody has to pull out"),
    "left_by_shift": (SHIFT, "work that the shift left unfinished when it went"),
}
"""Kind and meaning of each word of ``NIGHT_WANTS``."""

MORNING, QUEUE = "", "queue"
PLENTY = 10_000
MANY_PLACES, MANY_DIES = 400, 40


def kind_of(plant: Plant, want: str) -> str:
    """Kind of a want: one of ``GROUPS``, or ``shift``."""
    if any(row.cause == want for row in plant.stops):
        return STOP
    return CARE if any(row.task == want for row in plant.upkeep) else WORDS[want][0]


def words_of(plant: Plant, limit: str, want: str) -> str:
    """What ended a night, as readers see it; empty words: the morning."""
    if not limit:
        return "nothing: it reached the morning"
    if limit == QUEUE:
        return "no more orders released"
    if want in WORDS:
        return WORDS[want][1]
    kind = "care" if kind_of(plant, want) == CARE else "stop"
    return f"{kind} “{want.replace('_', ' ')}”"


def all_wants(plant: Plant) -> tuple[str, ...]:
    """Everything that can end a night of this plant: stops and care that need a person, and the words."""
    stops = (row.cause for row in plant.stops if row.clears != "nobody")
    care = (row.task for row in plant.upkeep if row.needs_person)
    return (*stops, *care, *NIGHT_WANTS)


def removal(plant: Plant, want: str) -> tuple[EditRow, ...] | None:
    """Edits that take a want away from a plant; None where no edit of this plant does."""
    if any(row.cause == want for row in plant.stops):
        return (_edit(f"stops[{want}]", None, "remove_row"),)
    if any(row.task == want for row in plant.upkeep):
        return (_edit(f"upkeep[{want}].needs_person", False),)
    return _worded(plant, want)


def removals(plant: Plant, wants: Iterable[str]) -> tuple[EditRow, ...]:
    """Edits that take all of these away that can be, each edit once."""
    found: list[EditRow] = []
    for want in wants:
        found += [edit for edit in removal(plant, want) or () if edit not in found]
    return tuple(found)


def _worded(plant: Plant, want: str) -> tuple[EditRow, ...] | None:
    settings = plant.settings
    output = (_edit("plant.bench.places", PLENTY), *_if(settings.stack.places, _edit("plant.stack.places", PLENTY)))
    edits: dict[str, tuple[EditRow, ...] | None] = {
        "first_piece": _if(settings.rules.first_piece == "each_order",
                           _edit("plant.rules.first_piece", "attended_only")),
        "unproven_program": (_edit("programs[*].proven", True),),
        "tool_by_hand": _full_magazine(plant),
        "worn_tool": _if(plant.tools, _edit("tools[*].life_hits", "none"),
                         _edit("tools[*].regrind_limit_hits", "none")),
        "wrong_tool": _if(plant.load_faults, _edit("load_faults[*].rate", 0.0)),
        "set_up": (_edit("plant.machine.nozzle_automatic", True), _edit("plant.machine.clamps_automatic", True),
                   *_by_machine(plant, "gas_change")),
        "material_fetch": (*_if(settings.store.shelves, _edit("plant.store.shelves", len(plant.materials))),
                           *_by_machine(plant, "material_change")),
        "pack_change": _by_machine(plant, "pack_change"),
        "store_empty": _if(settings.store.packs, _edit("plant.store.packs", 0)),
        "loading_by_hand": _of_task(plant, "load"),
        "bench_full": output,
        "stack_full": output,
        "stacks_full": (_edit("plant.removal.stack_places", PLENTY),),
        "skeletons_full": (_edit("plant.removal.skeleton_places", 0),),
        "unloading_by_hand": (*_of_task(plant, "unload"), *output),
        "left_by_shift": tuple(_edit(f"plant.people.break_rules.{task}", "finish") for task in _AT_MACHINE),
    }  # fmt: skip
    return edits[want] or None


_AT_MACHINE = tuple(task for task in TASKS if task not in ("rush", "bench", "preparation"))


def _edit(path: str, value: Any, op: str = "set") -> EditRow:
    return {"path": path, "op": op, "value": value}


def _if(there: Any, *edits: EditRow) -> tuple[EditRow, ...]:
    return edits if there else ()


def _full_magazine(plant: Plant) -> tuple[EditRow, ...]:
    """A magazine that holds every tool and die; nothing where there is none."""
    magazine = plant.settings.magazine
    if not magazine.places:
        return ()
    return (
        _edit("plant.magazine.places", dict.fromkeys(magazine.places, MANY_PLACES)),
        _edit("plant.magazine.dies_per_place", dict.fromkeys(magazine.places, MANY_DIES)),
        *_if(magazine.contents, _edit("plant.magazine.contents", [])),
    )


def _by_machine(plant: Plant, driver: str) -> tuple[EditRow, ...]:
    """Elements counted per this driver that hold the machine need nobody."""
    rows = (row for row in plant.elements if split_unit(row.unit)[1] == driver and row.state != "outside")
    return _no_task(row.element for row in rows if row.task_of != "machine")


def _of_task(plant: Plant, task: str) -> tuple[EditRow, ...]:
    return _no_task(row.element for row in plant.elements if row.task_of == task)


def _no_task(elements: Iterable[str]) -> tuple[EditRow, ...]:
    return tuple(_edit(f"elements[{name}].task_of", "machine") for name in dict.fromkeys(elements))
