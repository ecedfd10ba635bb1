"""Writes the folder of a demo plant: its tables, plant.toml and options.toml.

The folders in the repository are the frozen output: random draws may change between versions of the libraries, so
each is made once and kept.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from toml_text import dump

from simkit.plant.fields import columns_of
from simkit.plant.tables import TABLES

HEAD = "# {what} of the demo plant. Every number is invented for the demo; prices are not market prices.\n\n"
Tables = Mapping[str, Sequence[Any]]
Content = tuple[Tables, dict[str, Any], list[dict[str, Any]]]
"""A plant: rows of its tables by file name without ending, its settings, its options."""


def cell_text(value: Any) -> str:
    """Return a value as it is written in a table."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return ";".join(cell_text(item) for item in value)
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() else repr(value)
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def write_table(path: Path, row_type: type, rows: Sequence[Any]) -> None:
    """Write rows under all columns of their table."""
    names = list(columns_of(row_type))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        writer.writerows([cell_text(getattr(row, name)) for name in names] for row in rows)


def write_plant(folder: Path, content: Content) -> None:
    """Write the whole folder."""
    tables, settings, options = content
    for name, rows in tables.items():
        write_table(folder / f"{name}.csv", TABLES[name], rows)
    (folder / "plant.toml").write_text(HEAD.format(what="Settings") + dump(settings), encoding="utf-8")
    (folder / "options.toml").write_text(HEAD.format(what="Options") + dump({"option": options}), encoding="utf-8")


def main(make: Callable[[], Content]) -> int:
    """Write a demo plant into an empty folder; return 2 when the folder is not empty."""
    parser = argparse.ArgumentParser(description="Makes the folder of a demo plant from its description.")
    parser.add_argument("--into", type=Path, required=True, metavar="EMPTY_FOLDER")
    folder = parser.parse_args().into
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        print(f"{folder} is not an empty folder; nothing was written. Name a new one.", file=sys.stderr)
        return 2
    folder.mkdir(parents=True, exist_ok=True)
    write_plant(folder, make())
    return 0
