"""Writing a plant as a folder, and the blank folder to start from. Nothing is ever written over."""

from __future__ import annotations

import csv
import datetime as dt
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from simkit.base.messages import BadInput, Finding
from simkit.plant.blank import OPTIONS_TEXT, settings_text
from simkit.plant.drafts import place_of
from simkit.plant.fields import columns_of
from simkit.plant.plant import Plant
from simkit.plant.tables import TABLES
from simkit.plant.values import write_value


def write_plant(plant: Plant, folder: Path) -> None:
    """Write a plant as a folder that reads back to the same plant; raise BadInput if the folder holds anything."""
    _claim(folder)
    (folder / "plant.toml").write_text(toml_text(plant.settings), encoding="utf-8")
    for table, row_type in TABLES.items():
        _write_csv(
            folder / place_of(table), columns_of(row_type), (vars(row).values() for row in getattr(plant, table))
        )
    if plant.options:
        text = "\n".join("[[option]]\n" + toml_text(option, ("option",)) for option in plant.options)
        (folder / "options.toml").write_text(text, encoding="utf-8")
    for name, values in plant.sequences.items():
        if not name.endswith(":repair"):
            repairs = plant.sequences.get(f"{name}:repair")
            if repairs is None:
                _write_csv(folder / name, ["value"], ([value] for value in values))
            else:
                _write_csv(folder / name, ["exposure", "repair_min"], zip(values, repairs, strict=True))


def new_plant(folder: Path) -> None:
    """Write the blank folder: every table with its heads, every setting with meaning, unit and default.

    Raises BadInput if the folder exists and holds anything.
    """
    _claim(folder)
    (folder / "plant.toml").write_text(settings_text(), encoding="utf-8")
    (folder / "options.toml").write_text(OPTIONS_TEXT, encoding="utf-8")
    for table, row_type in TABLES.items():
        _write_csv(folder / place_of(table), columns_of(row_type), ())


def _claim(folder: Path) -> None:
    """Make the folder, or refuse to write where something is."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        what = "is not empty" if folder.is_dir() else "is a file"
        raise BadInput([Finding(str(folder), f"{what}, and nothing is written over", "Name a new or an empty folder")])
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput([Finding(str(folder), f"cannot be made ({error.strerror})", "Name another folder")]) from error


def _write_csv(path: Path, heads: Iterable[str], rows: Iterable[Iterable[Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heads)
        writer.writerows([write_value(value) for value in row] for row in rows)


def toml_text(section: BaseModel, above: tuple[str, ...] = ()) -> str:
    """Return a settings section as TOML: plain values first, then its sections; None is left out."""
    plain, sections = [], []
    for name in type(section).model_fields:
        value = getattr(section, name)
        if isinstance(value, BaseModel):
            sections.append((name, value))
        elif value is not None:
            plain.append(f"{name} = {toml_value(value)}")
    text = "\n".join(plain) + "\n"
    for name, inner in sections:
        way = (*above, name)
        text += f"\n[{'.'.join(way)}]\n{toml_text(inner, way)}"
    return text


def toml_value(value: Any) -> str:
    """Return a value as TOML on one line."""
    if isinstance(value, BaseModel):
        return toml_value({name: getattr(value, name) for name in type(value).model_fields})
    if isinstance(value, dict):
        pairs = (f"{_toml_key(key)} = {toml_value(inner)}" for key, inner in value.items() if inner is not None)
        return "{ " + ", ".join(pairs) + " }" if value else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(inner) for inner in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _toml_key(key: str) -> str:
    return key if key.replace("_", "").replace("-", "").isalnum() and key.isascii() else json.dumps(key)
