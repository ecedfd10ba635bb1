"""Writing what was adopted: the plant folder, and beside its tables what was mended and refused, and the mapping."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from simkit.base.files import no_formula, write_whole
from simkit.plant.adopting import OUTCOMES, AdoptedTable, Adoption, read_exports
from simkit.plant.adopting_files import text_of
from simkit.plant.adopting_mapping import MappingOf, mapping_text
from simkit.plant.calibration_file import LOG_FILE
from simkit.plant.fields import columns_of
from simkit.plant.tables import TABLES, place_of
from simkit.plant.writing import new_plant, require_empty, write_csv

ADOPTION = "adoption"
"""Folder inside the plant's that holds the mapping, the refused rows and what was mended."""
TEXTS = ("plant.toml", "options.toml")


def adopt(exports: Path, into: Path, mapping: MappingOf | None = None) -> Adoption:
    """Make a plant folder of exports; raises BadInput if the folder holds anything, or the mapping does not fit.

    What no export gives is as in a blank folder. Whether the plant holds together is for ``check_plant``.
    """
    require_empty(into)
    adoption = read_exports(exports, mapping)
    new_plant(into)
    for table in adoption.tables.values():
        columns = columns_of(TABLES[table.table])
        write_csv(into / place_of(table.table), columns, (vars(row.row).values() for row in table.kept()))
    for name in (*TEXTS, *sorted(_value_files(adoption))):
        text = text_of(exports, name)
        if text is not None:
            write_whole(into / name, text)
    if (exports / LOG_FILE).is_file():
        shutil.copyfile(exports / LOG_FILE, into / LOG_FILE)
    _write_lists(into / ADOPTION, adoption)
    return adoption


def _value_files(adoption: Adoption) -> set[str]:
    """Files of values that the adopted elements and stops name, inside the folder."""
    named = {
        row.row.file for table in ("elements", "stops") if table in adoption.tables
        for row in adoption.tables[table].kept()
    }  # fmt: skip
    return {name for name in named if name and Path(name).name == name}


def _write_lists(folder: Path, adoption: Adoption) -> None:
    tables = adoption.tables.values()
    write_whole(folder / "mapping.toml", mapping_text(adoption.mapping))
    counts = (
        [table.table, table.name, len(table.rows), *(table.count(outcome) for outcome in OUTCOMES)] for table in tables
    )
    _write(folder / "counts.csv", ("table", "file", "rows", "used", "fixed", "refused"), counts)
    fixed = ([t.name, row.line, "; ".join(row.fixes)] for t in tables for row in t.kept() if row.fixes)
    _write(folder / "fixed.csv", ("file", "row", "what"), fixed)
    refused = (
        [table.name, row.line, "; ".join(map(str, row.reasons)), row.reasons[0].mend, "follows" if follows else "fault",
         " | ".join(row.cells)]
        for table, row in adoption.refused() for follows in [all(reason.follows for reason in row.reasons)]
    )  # fmt: skip
    _write(folder / "refused.csv", ("file", "row", "reason", "mend", "kind", "cells"), refused)


def _write(path: Path, heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows([no_formula(str(value)) for value in row] for row in rows)
    write_whole(path, text.getvalue())


def adoption_lines(adoption: Adoption, into: Path) -> Iterator[str]:
    """Yield in words what became of every export, and every fault that was found, with its place."""
    for table in adoption.tables.values():
        yield _count_line(table)
    for name in adoption.left:
        yield f"{name}: no table was made of it"
    for table, row in adoption.refused():
        for reason in row.reasons:
            if not reason.follows:
                yield f"refused {table.name} row {row.line} {reason}. {reason.mend}"
    following = sum(all(reason.follows for reason in row.reasons) for _, row in adoption.refused())
    if following:
        yield f"{following} more rows are refused because they belong to a refused one"
    yield f"mapping, refused and mended rows: {into / ADOPTION}"


def _count_line(table: AdoptedTable) -> str:
    counts = " + ".join(f"{table.count(outcome)} {outcome}" for outcome in OUTCOMES)
    unused = f"; heads not used: {', '.join(table.unused)}" if table.unused else ""
    return f"{place_of(table.table)} from {table.name}: {len(table.rows)} rows read = {counts}{unused}"
