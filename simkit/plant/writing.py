"""Writing a plant as a folder, and the blank folder to start from. Nothing is ever written over."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from simkit.base.messages import BadInput, Finding
from simkit.plant.blank import blank_elements, options_text, settings_text
from simkit.plant.fields import columns_of
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import TABLES, Element, place_of
from simkit.plant.toml_files import toml_text
from simkit.plant.values import write_value

EXAMPLE = Path(__file__).parent / "example"
"""A small complete plant, invented."""


def write_plant(plant: PlantInputs, folder: Path) -> None:
    """Write a plant as a folder that reads back to the same plant; raise BadInput if the folder holds anything."""
    _claim(folder)
    (folder / "plant.toml").write_text(toml_text(plant.settings), encoding="utf-8")
    for table, row_type in TABLES.items():
        write_csv(folder / place_of(table), columns_of(row_type), (vars(row).values() for row in getattr(plant, table)))
    if plant.options:
        text = "\n".join("[[option]]\n" + toml_text(option, ("option",)) for option in plant.options)
        (folder / "options.toml").write_text(text, encoding="utf-8")
    for name, values in plant.sequences.items():
        if not name.endswith(":repair"):
            repairs = plant.sequences.get(f"{name}:repair")
            if repairs is None:
                write_csv(folder / name, ["value"], ([value] for value in values))
            else:
                write_csv(folder / name, ["exposure", "repair_min"], zip(values, repairs, strict=True))


def new_plant(folder: Path) -> None:
    """Write the blank folder: every table with its heads, every setting with meaning, unit and default.

    The table of elements has the usual rows without their values, so that the check asks for them. Raises BadInput if
    the folder exists and holds anything.
    """
    _claim(folder)
    (folder / "plant.toml").write_text(settings_text(), encoding="utf-8")
    (folder / "options.toml").write_text(options_text(), encoding="utf-8")
    for table, row_type in TABLES.items():
        rows = blank_elements() if row_type is Element else ()
        write_csv(folder / place_of(table), columns_of(row_type), rows)


def example_plant(folder: Path) -> None:
    """Write a small complete plant to copy from, invented; raises BadInput if the folder exists and holds anything."""
    _claim(folder)
    for path in sorted(EXAMPLE.iterdir()):
        shutil.copyfile(path, folder / path.name)


def require_empty(folder: Path) -> None:
    """Raise BadInput where a folder, or a file of this name, holds anything."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        what = "is not empty" if folder.is_dir() else "is a file"
        raise BadInput([Finding(str(folder), f"{what}, and nothing is written over", "Name a new or an empty folder")])


def _claim(folder: Path) -> None:
    """Make the folder, or refuse to write where something is."""
    require_empty(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput([Finding(str(folder), f"cannot be made ({error.strerror})", "Name another folder")]) from error


def write_csv(path: Path, heads: Iterable[str], rows: Iterable[Iterable[Any]]) -> None:
    """Write values under their heads, each as its column reads it back."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heads)
        writer.writerows([write_value(value) for value in row] for row in rows)
