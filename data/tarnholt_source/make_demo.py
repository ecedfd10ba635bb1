"""Makes the demo plant's folder from its description. Run it with ``--into EMPTY_FOLDER``.

The folder in the repository is the frozen output of this program: random draws may change between
versions of the libraries, so it is made once and kept.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cell_rows
import work_rows
from book import draw_book, make_streams
from option_text import option_settings
from options_low_capital import Uses
from settings_text import plant_settings
from toml_text import dump

from simkit.plant.fields import columns_of
from simkit.plant.tables import TABLES

HEAD = "# {what} of the demo plant. Every number is invented for the demo; prices are not market prices.\n\n"


def make_tables() -> tuple[dict[str, Sequence[Any]], Uses]:
    """Return the rows of every table, by file name without ending, and the uses of tools that options read."""
    streams = make_streams()
    book = draw_book(streams)
    programs = book.programs
    uses = cell_rows.uses_of_tools(programs, book.described)
    tables: dict[str, Sequence[Any]] = {
        "orders": work_rows.order_rows(programs, book.orders),
        "programs": work_rows.program_rows(programs),
        "program_parts": work_rows.part_rows(programs),
        "program_tools": work_rows.program_tool_rows(programs),
        "tools": cell_rows.tool_rows(uses, streams["tools"]),
        "materials": work_rows.material_rows(),
        "elements": cell_rows.element_rows(),
        "machines": cell_rows.machine_rows(),
        "people": cell_rows.people_rows(),
        "calendar": (),
        "start": cell_rows.start_rows(uses, book.orders),
        "stops": cell_rows.stop_rows(),
        "load_faults": cell_rows.load_fault_rows(),
        "upkeep": cell_rows.upkeep_rows(),
        "quality": cell_rows.quality_rows(),
    }
    return tables, uses


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


def write_plant(folder: Path) -> None:
    """Write the whole folder."""
    tables, uses = make_tables()
    for name, rows in tables.items():
        write_table(folder / f"{name}.csv", TABLES[name], rows)
    (folder / "plant.toml").write_text(HEAD.format(what="Settings") + dump(plant_settings()), encoding="utf-8")
    options = dump({"option": option_settings(uses)})
    (folder / "options.toml").write_text(HEAD.format(what="Options") + options, encoding="utf-8")


def main() -> int:
    """Write the demo plant into an empty folder; return 2 when the folder is not empty."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--into", type=Path, required=True, metavar="EMPTY_FOLDER")
    folder = parser.parse_args().into
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        print(f"{folder} is not an empty folder; nothing was written. Name a new one.", file=sys.stderr)
        return 2
    folder.mkdir(parents=True, exist_ok=True)
    write_plant(folder)
    return 0


if __name__ == "__main__":
    sys.exit(main())
