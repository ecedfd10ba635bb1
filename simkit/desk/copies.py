"""A copy of a plant folder with an option of one's own in it: the folder that was read is never written to."""

from __future__ import annotations

import filecmp
import shutil
from collections.abc import Sequence
from pathlib import Path

from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding
from simkit.desk.plants import Changes, Plant, as_overrides, read_plant
from simkit.plant import writing
from simkit.plant.edits import parse_overrides
from simkit.plant.options import Option
from simkit.plant.toml_files import toml_text

OPTIONS = "options.toml"
UNPRICED = "not entered: fill in capital and yearly cost before reading its money"


def example_plant(folder: str | Path) -> Path:
    """Lay a small complete plant of ten orders to copy from, invented; return where. BadInput if anything is there."""
    place = Path(folder)
    writing.example_plant(place)
    return place


def write_option(
    plant: Plant, folder: str | Path, option_id: str, name: str, changes: Changes, needs: Sequence[str] = ()
) -> Plant:
    """Write changes as a low-capital option into a copy of the plant's folder, and return the copy as read again.

    ``folder`` is new, or an earlier copy of this very plant, which then gains one more option. Its price is not known:
    the option says so. ``needs`` are options it stands on. Raises BadInput for a folder of something else, an id that
    the plant has already, changes that lead nowhere, and where the copy does not pass the checks; nothing is left
    behind then.
    """
    place = Path(folder).resolve()
    option = _option(option_id, name, changes, needs)
    plant.require_unchanged()
    plant.scenario(name, needs, changes)
    fresh = not place.exists()
    earlier = "" if fresh else _earlier(plant, place, option_id)
    if fresh:
        _require_free(plant, option_id)
        shutil.copytree(plant.folder, place)
        earlier = (place / OPTIONS).read_text(encoding="utf-8") if (place / OPTIONS).is_file() else ""
    write_whole(place / OPTIONS, f"{earlier.rstrip()}\n\n[[option]]\n{toml_text(option, ('option',))}".lstrip())
    try:
        return read_plant(place)
    except BadInput:
        shutil.rmtree(place) if fresh else write_whole(place / OPTIONS, earlier)
        raise


def _option(option_id: str, name: str, changes: Changes, needs: Sequence[str]) -> Option:
    edits, findings = parse_overrides(as_overrides(changes))
    if not changes:
        findings.append(Finding("changes", "there is none", "Change an input first"))
    if findings:
        raise BadInput(findings)
    return Option(
        id=option_id, name=name, kind="low_capital", needs=tuple(needs), edits=tuple(edit for _, edit in edits),
        price_source=UNPRICED,
    )  # fmt: skip


def _require_free(plant: Plant, option_id: str) -> None:
    if option_id in plant.options:
        raise BadInput([Finding(OPTIONS, "an option has this id already", "Name another one", value=option_id)])


def _earlier(plant: Plant, place: Path, option_id: str) -> str:
    """The options of an earlier copy. Raises BadInput where the folder is no copy of this plant."""
    if place == plant.folder or not place.is_dir() or not _same_tables(place, plant.folder):
        why = "exists and is no copy of this plant; nothing is written over"
        raise BadInput([Finding(str(place), why, "Name a new folder")])
    _require_free(read_plant(place), option_id)
    return (place / OPTIONS).read_text(encoding="utf-8")


def _same_tables(one: Path, other: Path) -> bool:
    """Whether two folders hold the same files, byte for byte, options aside."""
    names = [{path.name for path in folder.iterdir() if path.is_file()} - {OPTIONS} for folder in (one, other)]
    return names[0] == names[1] and not any(filecmp.cmpfiles(one, other, names[0], shallow=False)[1:])
