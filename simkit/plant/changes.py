"""A plant as if its files held other values: what ``--set`` does to all that is told of a plant."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

from simkit.base.messages import BadInput
from simkit.plant.edits import make_row, parse_override
from simkit.plant.hashes import hashes
from simkit.plant.option_changes import ENDS
from simkit.plant.options import Edit
from simkit.plant.paths import OPTIONS, SETTINGS, split_path, table_targets
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import TABLES
from simkit.plant.values import Refusal


def one_demand(demand: float | None) -> tuple[str, ...]:
    """The changes by which one demand, as a factor of the book, holds in the run and in every year of the money."""
    if demand is None:
        return ()
    return (
        f"plant.run.demand_factor={float(demand)!r}",
        f"plant.finance.demand=[{{from_year = 1, factor = {float(demand)!r}, signed = true}}]",
    )


def changed_plant(plant: PlantInputs, overrides: Sequence[str]) -> PlantInputs:
    """Return the plant with ``path=value`` changes, before any option acts on it.

    A path that names rows which only options add changes them in those options. Raises BadInput with every problem,
    among them a path that leads to neither.
    """
    own: list[str] = []
    added: dict[str, list[Edit]] = {}
    for text in overrides:
        in_options = dict(_in_options(plant, text))
        if not in_options or _holds_alone(plant, text):
            own.append(text)
        for name, edits in in_options.items():
            added.setdefault(name, []).extend(edits)
    changed = make_scenario(plant, (), tuple(own)).plant if own else plant
    if not added:
        return changed
    options = tuple(
        option.model_copy(update={"edits": (*option.edits, *added.get(option.id, ()))}) for option in changed.options
    )
    return dataclasses.replace(changed, options=options)


def idle_changes(plant: PlantInputs, overrides: Sequence[str]) -> Iterator[str]:
    """Yield, in words, each change that leaves all that the cell and the money read as it is."""
    before = hashes(plant)
    for text in overrides:
        try:
            after = hashes(changed_plant(plant, (text,)))
        except BadInput:
            continue  # it holds beside another change alone, so that it changes something
        if after == before:
            yield f"--set {text}: changes nothing, the plant holds this value already"


def moved_ranges(plant: PlantInputs, overrides: Sequence[str]) -> Iterator[str]:
    """Yield, in words, each range of a price whose low and high change in proportion with its quoted value alone."""
    aside = {"edits"}
    after = {option.id: option.model_dump(exclude=aside) for option in changed_plant(plant, overrides).options}
    for option in plant.options:
        for way, old, new in _ranges(option.model_dump(exclude=aside), after[option.id], f"{OPTIONS}[{option.id}]"):
            if not any(f"{way}.{end}" in text for text in overrides for end in ("low", "high")):
                ends = ", ".join(f"{end} {_short(old[end])} to {_short(new[end])}" for end in ENDS)
                yield f"{way}: low and high keep their proportion to quoted: {ends}"


def _ranges(old: Any, new: Any, way: str) -> Iterator[tuple[str, dict[str, Any], dict[str, Any]]]:
    """Each low, quoted and high within an option of which all that are given have changed: path, before and after."""
    if isinstance(old, dict) and set(ENDS) <= set(old):
        if old["quoted"] != new["quoted"] and (old["low"], old["high"]) != (new["low"], new["high"]):
            yield way, old, new
    elif isinstance(old, dict):
        for name in old:
            yield from _ranges(old[name], new[name], f"{way}.{name}")
    elif isinstance(old, tuple | list):
        for row, (each, other) in enumerate(zip(old, new, strict=True)):
            name = next(iter(each.values())) if isinstance(each, dict) else row
            yield from _ranges(each, other, f"{way}[{name}]")


def _short(amount: float) -> str:
    return f"{float(f'{amount:.6g}'):,.12g}"


def options_that_add(plant: PlantInputs, text: str) -> tuple[str, ...]:
    """Options whose own rows a change names, where no other row of the plant has that name; else none."""
    named = tuple(name for name, _ in _in_options(plant, text))
    return () if not named or _holds_alone(plant, text) else named


def _holds_alone(plant: PlantInputs, text: str) -> bool:
    try:
        make_scenario(plant, (), (text,))
    except BadInput:
        return False
    return True


def _in_options(plant: PlantInputs, text: str) -> Iterator[tuple[str, list[Edit]]]:
    """The options that add rows which a change names, each with the edits that change them."""
    try:
        edit = parse_override(text)
        if edit.path.split(".")[0].strip() == SETTINGS:
            return
        table = split_path(edit.path)[0]
    except Refusal:
        return  # what is wrong with it is told where it is applied to the plant
    for option in plant.options:
        rows = tuple(
            make_row(table, each.value) for each in option.edits if each.op == "add_row" and each.path == table
        )
        try:
            targets = table_targets(edit.path, {**dict.fromkeys(TABLES, ()), table: rows}) if rows else []
        except Refusal:
            continue
        if targets:
            yield option.id, [edit.model_copy(update={"path": str(target)}) for target in targets]
