"""Recalculation of a workbook by two programs that know nothing of the kit: a spreadsheet program and a library."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import formulas
import openpyxl

from tests.tools import SPREADSHEET, found

ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item>
</oor:items>
"""
"""Profile that makes the program calculate every formula on loading; by default it keeps the stored values."""

Values = dict[tuple[str, str], Any]
"""Value of each cell by sheet and address."""

_KEY = re.compile(r"^'\[[^]]*\](?P<sheet>.+)'!(?P<cell>[A-Z]+\d+)$")


def stored(path: Path) -> Values:
    """Values as they stand in the file."""
    book = openpyxl.load_workbook(path, data_only=True)
    return {(sheet.title, cell.coordinate): cell.value for sheet in book for row in sheet for cell in row
            if cell.value is not None}  # fmt: skip


def written(path: Path) -> dict[tuple[str, str], str]:
    """Formulas of the file."""
    book = openpyxl.load_workbook(path)
    return {(sheet.title, cell.coordinate): str(cell.value) for sheet in book for row in sheet for cell in row
            if cell.data_type == "f"}  # fmt: skip


def by_program(paths: Sequence[Path], folder: Path) -> dict[str, Values]:
    """Values of each file, by its name, after the spreadsheet program has calculated everything anew."""
    program = found(SPREADSHEET)
    assert program is not None, f"{SPREADSHEET} is not installed"
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True, exist_ok=True)
    (profile / "user" / "registrymodifications.xcu").write_text(ALWAYS, encoding="utf-8")
    out = folder / "recalculated"
    command = [
        str(program), f"-env:UserInstallation={profile.as_uri()}", "--headless", "--convert-to",
        "xlsx:Calc MS Excel 2007 XML", "--outdir", str(out), *(str(path) for path in paths),
    ]  # fmt: skip
    run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=600)
    missing = [path.name for path in paths if not (out / path.name).is_file()]
    assert missing == [], run.stderr
    return {path.name: stored(out / path.name) for path in paths}


def by_library(path: Path, *changes: Mapping[tuple[str, str], Any]) -> list[Values]:
    """Values as the library of formulas computes them, once for each set of changed cells (default: none)."""
    model = formulas.ExcelModel().loads(str(path)).finish()
    names = {sheet.upper(): sheet for sheet in openpyxl.load_workbook(path, read_only=True).sheetnames}
    found = []
    for change in changes or ({},):
        inputs = {f"'[{path.name}]{sheet.upper()}'!{cell}": value for (sheet, cell), value in change.items()}
        values: Values = {}
        for key, item in model.calculate(inputs=inputs).items():
            match = _KEY.match(str(key))
            if match and hasattr(item, "value"):
                values[names[match["sheet"]], match["cell"]] = _plain(item.value[0, 0])
        found.append(values)
    return found


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value


def differences(first: Mapping[Any, Any], second: Mapping[Any, Any], tolerance: float = 1e-6) -> list[Any]:
    """Where two sets of values differ: numbers by more than the tolerance (relative above 1), other things at all."""
    found = []
    for key, one in first.items():
        other = second.get(key)
        pairs = zip(one, other, strict=True) if isinstance(one, list) and isinstance(other, list) else [(one, other)]
        found += [(key, a, b) for a, b in pairs if not _same(a, b, tolerance)]
    return found


def _same(a: Any, b: Any, tolerance: float) -> bool:
    numbers = (int, float)
    if isinstance(a, numbers) and isinstance(b, numbers):
        return abs(a - b) <= tolerance * max(1.0, abs(a))
    return bool(a == b)


def errors(values: Values) -> list[tuple[str, str]]:
    """Cells that show an error."""
    return [where for where, value in values.items() if isinstance(value, str) and value.startswith("#")]
