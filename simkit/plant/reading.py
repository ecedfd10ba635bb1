"""Reading a plant folder: every file, every cell, every rule, and all findings in one message; what nothing reads."""

from __future__ import annotations

import dataclasses
import os
import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, cast

from simkit.base.messages import BadInput, Finding, nearest, note
from simkit.plant.calibration_file import CALIBRATION_FILE, LOG_FILE, with_calibration
from simkit.plant.check_register import row_error
from simkit.plant.checks import run_checks
from simkit.plant.checks_options import check_options
from simkit.plant.csv_files import read_numbers, read_sheet
from simkit.plant.fields import columns_of
from simkit.plant.options import Option
from simkit.plant.plant import DraftTable, PlantInputs
from simkit.plant.settings import Settings
from simkit.plant.tables import REQUIRED_TABLES, TABLES, place_of
from simkit.plant.toml_files import read_options, read_settings

SETTINGS_FILE = "plant.toml"
OPTIONS_FILE = "options.toml"
OWN_FILES = ("adoption", CALIBRATION_FILE, LOG_FILE)
"""What the kit itself puts into a plant folder, and the log of the machine, which is read apart."""

FILE_LAWS = ("empirical", "sequence")
NO_ROWS_NEEDED = ("people",)
"""Required files that may hold no rows (a cell that needs nobody)."""


def read_plant(folder: Path, *, calibrated: bool = True) -> PlantInputs:
    """Return the checked plant of a folder, or its first guess; raise BadInput with all errors of all files."""
    plant, findings = check_plant(folder, calibrated=calibrated)
    errors = [finding for finding in findings if finding.severity == "error"]
    if errors or plant is None:
        raise BadInput(errors)
    return plant


def check_plant(folder: Path, *, calibrated: bool = True) -> tuple[PlantInputs | None, tuple[Finding, ...]]:
    """Return the plant, or None when it has errors, and every finding: errors first, then notes.

    Where it is not to be ``calibrated`` it is the first guess, whatever calibration lies in the folder.
    """
    folder = Path(folder)
    try:
        os.listdir(folder)
    except OSError as error:
        known = {FileNotFoundError: "does not exist", NotADirectoryError: "is not a folder"}
        what = known.get(type(error), f"cannot be listed ({error.strerror})")
        mend = "Name the folder of a plant, or make one with: simkit new DIR"
        return None, (Finding(str(folder), what, mend),)
    read, findings = _read(folder)
    findings += run_checks(read)
    plant = None
    if not _errors(findings):
        plant = dataclasses.replace(read, files={})
        findings += check_options(plant)
        plant, notes = with_calibration(plant, folder) if calibrated else (plant, [])
        findings += notes
    ordered = sorted(dict.fromkeys(findings), key=lambda finding: finding.severity != "error")
    return (None if _errors(findings) else plant), tuple(ordered)


def _errors(findings: list[Finding]) -> bool:
    return any(finding.severity == "error" for finding in findings)


def _read(folder: Path) -> tuple[PlantInputs, list[Finding]]:
    """Read all files into a plant that is not yet checked as a whole; it has no settings where they are unreadable."""
    findings: list[Finding] = []
    settings: Settings | None = None
    options: tuple[Option, ...] = ()
    if _is_there(folder / SETTINGS_FILE):
        settings, faults = read_settings(folder / SETTINGS_FILE)
        findings += faults
    else:
        findings.append(_missing(folder, SETTINGS_FILE))
    if _is_there(folder / OPTIONS_FILE):
        options, faults = read_options(folder / OPTIONS_FILE)
        findings += faults
    sheets = {}
    for table, row_type in TABLES.items():
        sheets[table], faults = _read_table(folder, table, row_type)
        findings += faults
    named = {row.file for table in ("elements", "stops") for row in sheets[table].rows}
    unread, misnamed = unread_files(folder, [SETTINGS_FILE, OPTIONS_FILE, *OWN_FILES, *map(place_of, TABLES)], named)
    for table in TABLES:
        if not _is_there(folder / place_of(table)):
            misread = place_of(table) in misnamed
            faults = [] if misread else _lacking(folder, table, sheets)
            findings += faults
            sheets[table] = DraftTable(spoiled=misread or bool(faults))
    rows: dict[str, Any] = {table: sheet.rows for table, sheet in sheets.items()}
    files = sheets if settings else {**sheets, "settings": DraftTable(spoiled=True)}
    plant = PlantInputs(settings=cast(Settings, settings), options=options, files=files, **rows)
    sequences, faults = _read_sequences(folder, plant)
    findings += [*faults, *unread]
    return dataclasses.replace(plant, sequences=sequences), findings


def _lacking(folder: Path, lacking: str, sheets: Mapping[str, DraftTable]) -> list[Finding]:
    """One finding of a table that must be there, or whose rows others name: not one for each name."""
    if lacking in REQUIRED_TABLES:
        return [_missing(folder, place_of(lacking))]
    by = [
        f"{len(sheets[table].rows)} row{'s' * (len(sheets[table].rows) != 1)} of {place_of(table)}"
        for table, row_type in TABLES.items()
        if sheets[table].rows and any(spec.refers_to == lacking for spec in columns_of(row_type).values())
    ]
    if not by:
        return []
    mend = f"Add it, or take out {' and '.join(by)}"
    return [Finding(place_of(lacking), f"is not in the folder, but {' and '.join(by)} name what it holds", mend)]


def _read_table(folder: Path, table: str, row_type: type) -> tuple[DraftTable, list[Finding]]:
    path = folder / place_of(table)
    if not _is_there(path):
        return DraftTable(), []
    sheet, findings = read_sheet(path, row_type)
    if table in REQUIRED_TABLES and table not in NO_ROWS_NEEDED and not findings and not sheet.rows:
        mend = f"Write at least one row under the heads: {(row_type.__doc__ or '').splitlines()[0].rstrip('.')}"
        findings.append(Finding(path.name, "has heads but no rows", mend))
        sheet = dataclasses.replace(sheet, spoiled=True)
    return sheet, findings


def _is_there(path: Path) -> bool:
    """Whether a folder holds this name, written exactly so, even as a link that leads nowhere."""
    return path.name in {other.name for other in path.parent.iterdir()}


def _missing(folder: Path, name: str) -> Finding:
    near = nearest(name, sorted(path.name for path in folder.iterdir()))
    hint = f"; {near}" if near.startswith("did you mean") else ""
    return Finding(
        name, "is required but not in the folder", f"Add it, or copy it from a blank folder (simkit new){hint}"
    )


def _read_sequences(folder: Path, plant: PlantInputs) -> tuple[dict[str, tuple[float, ...]], list[Finding]]:
    """Read the value files that elements and stops name."""
    sequences: dict[str, tuple[float, ...]] = {}
    findings: list[Finding] = []
    done: set[str] = set()
    for table, law, columns in (("elements", "law", 1), ("stops", "repair_law", 2)):
        for row in getattr(plant, table):
            if not row.file and getattr(row, law) in FILE_LAWS:
                why, mend = f"is empty, but the law {getattr(row, law)} reads a file", "Name the file of values"
                findings.append(row_error(plant, row, "file", why, mend))
            elif row.file and (fault := _file_fault(folder, row.file)):
                findings.append(row_error(plant, row, "file", *fault))
            elif row.file and row.file not in done:
                done.add(row.file)
                values, faults = read_numbers(folder / row.file, columns)
                findings += faults
                names = (row.file, f"{row.file}:repair")[:columns]
                sequences.update(zip(names, values, strict=False))
    return sequences, findings


def _file_fault(folder: Path, name: str) -> tuple[str, str] | None:
    """Why a value file of this name cannot be read and how to mend it, or None."""
    if Path(name).name != name:
        return "leads out of the plant folder", "Put the file into the folder and write its bare name"
    if not (folder / name).is_file():
        files = [path.name for path in sorted(folder.iterdir()) if path.is_file()]
        return "is not in the folder", f"Add the file or correct the name; {nearest(name, files)}"
    return None


MOST_ALIKE = 0.8
"""Two names with this share of common letters are taken for one that is mistyped (common practice, no source)."""
DOCUMENTS = (".pdf", ".docx", ".doc", ".md", ".html", ".png", ".jpg", ".jpeg", ".svg", ".dxf", ".ipynb", ".py")
"""Endings of what is kept beside the tables to be read by people; such a file is taken for no table."""
OF_PROGRAMS = (".", "~$", "thumbs.db", "desktop.ini")
"""How names of the files begin that programs leave behind, as while a table is open."""
COPY = re.compile(r"(?:[\s_.()\d-]|copy.*|kopie.*|new|neu|old|alt|bak|backup|final|v\d)*", re.IGNORECASE)
COPY_OF = re.compile(r"(?:(?:copy|kopie)[ _-](?:of|von)|new|neu|old|alt|bak|backup)[ _-]", re.IGNORECASE)


def unread_files(folder: Path, known: Iterable[str], named: set[str]) -> tuple[list[Finding], set[str]]:
    """Tell what is not read in a folder whose ``known`` files are read, and the value files that tables ``name``.

    Also return which of the known files other names seem to stand for.
    """
    known = list(known)
    findings: list[Finding] = []
    others, misnamed = [], set()
    for path in sorted(folder.iterdir()):
        if path.name in known or path.name in named:
            continue
        meant = _meant(path, known)
        if meant is None:
            others.append(path.name)
            continue
        mend = f"Rename it to {meant} if it is meant, else move it out of the folder"
        misnamed.add(meant)
        findings.append(Finding(path.name, f"is not read, though its name resembles {meant}", mend))
    if others:
        what = "file is" if len(others) == 1 else "files are"
        why = f"{len(others)} {what} not read: {', '.join(others)}"
        findings.append(note(str(folder.name), why, "Nothing to do, unless a table or a value file should read it"))
    return findings, misnamed


def _meant(path: Path, known: list[str]) -> str | None:
    """Return the file that a name may stand for, or None."""
    name = path.name.strip().casefold()
    if name.startswith(OF_PROGRAMS) or name.endswith(DOCUMENTS) or (path.is_dir() and not path.suffix):
        return None
    stems = {Path(one).stem: one for one in known}
    stem = COPY_OF.sub("", name).split(".")[0].strip()
    near = [one for one in stems if stem.startswith(one) and COPY.fullmatch(stem[len(one) :])]
    near = near or get_close_matches(stem, stems, n=1, cutoff=MOST_ALIKE)
    return stems[near[0]] if near else None
