"""Reading CSV files of a plant folder: text, then checked cells, then frozen rows."""

from __future__ import annotations

import csv
import io
import re
import stat
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic.dataclasses import dataclass as row_dataclass

from simkit.base.messages import INVISIBLE, BadInput, Finding, also_rows, nearest, note, some
from simkit.plant.fields import ROW, column, columns_of, key_columns, row_key
from simkit.plant.plant import DraftTable
from simkit.plant.tables import WITHDRAWN_COLUMNS
from simkit.plant.values import CellFault, Number, read_rows

FEW_FAULTS = 3
"""Like faults of a column above this number are told once, with their rows."""


@row_dataclass(frozen=True, config=ROW)
class ListedValue:
    """A value of a value file."""

    value: Number = column("a value of a value file", low=0)


@dataclass(frozen=True)
class RawTable:
    """Heads, cells as text, and the line of each row as an editor shows it."""

    heads: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]


def read_text(path: Path) -> tuple[str, list[Finding]]:
    """Return the text of a UTF-8 file, or an empty text and why it cannot be read."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            return "", [Finding(path.name, "is not a file but a folder, a pipe or a device", "Make it a readable file")]
        content = path.read_bytes()
    except OSError as error:
        return "", [Finding(path.name, f"cannot be read ({error.strerror})", "Make it a readable file")]
    if content.startswith(b"PK\x03\x04"):
        mend = "Save it from the spreadsheet program as CSV UTF-8"
        return "", [Finding(path.name, "is a spreadsheet or archive, not a text file", mend)]
    try:
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        why = f"is not UTF-8 text (byte 0x{content[error.start]:02x})"
        return "", [Finding(path.name, why, "Save it as UTF-8; in spreadsheet programs 'CSV UTF-8'", row=row)]


def read_raw(path: Path) -> tuple[RawTable | None, list[Finding]]:
    """Return a CSV file as text cells with surrounding blanks removed, or why it cannot be read."""
    text, findings = read_text(path)
    if findings:
        return None, findings
    try:
        filled = list(csv_records(path.name, text))
    except BadInput as error:
        return None, list(error.findings)
    if not filled:
        return None, [
            Finding(path.name, "is empty, it has not even a line of heads", "Start from a blank folder's file")
        ]
    return _raw_table(path.name, filled)


def csv_records(place: str, text: str, separator: str = ",") -> Iterator[tuple[int, list[str]]]:
    """Yield every record that holds anything, with the line where it begins; raises BadInput for open quotation."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    try:
        for record in reader:
            if any(map(str.strip, record)):
                yield line, record
            line = reader.line_num + 1
    except csv.Error as error:
        why = f"has quotation marks that do not pair, or a strange sign ({error})"
        raise BadInput([Finding(place, why, "Close or double the quotation marks", row=line)]) from error


def _raw_table(place: str, records: list[tuple[int, list[str]]]) -> tuple[RawTable | None, list[Finding]]:
    """Fit every record to the heads; too many cells or a foreign separator are findings."""
    (first, heads), *body = records
    heads = [head.strip() for head in heads]
    while heads and not heads[-1]:
        heads.pop()
    foreign = next((s for s in (";", "\t") if len(heads) == 1 and s in heads[0]), "")
    if foreign:
        named = "semicolons" if foreign == ";" else "tabs"
        mend = "Save it with commas between columns and points in numbers"
        return None, [Finding(place, f"has {named} between its columns instead of commas", mend, row=first)]
    findings = _head_findings(place, heads, first)
    cells, lines, padded = [], [], []
    for line, record in body:
        if any(map(str.strip, record[len(heads) :])):
            why = f"has {len(record)} cells under {len(heads)} heads"
            mend = "Put texts that contain a comma into quotation marks, and write numbers with a decimal point"
            findings.append(Finding(place, why, mend, row=line, value=",".join(record)[:60]))
            continue
        row = list(map(str.strip, record[: len(heads)]))
        padded += [line] if row != record[: len(heads)] else []
        cells.append((*row, *[""] * (len(heads) - len(row))))
        lines.append(line)
    if padded:
        why = (
            f"has cells with blanks around them in {len(padded)} rows{also_rows([0, *padded])}; the blanks are ignored"
        )
        findings.append(note(place, why, "Remove the blanks at the source", row=padded[0]))
    return RawTable(tuple(heads), tuple(cells), tuple(lines)), findings


def _head_findings(place: str, heads: list[str], line: int) -> list[Finding]:
    findings = []
    for head in dict.fromkeys(heads):
        if not head:
            findings.append(Finding(place, "has a column without a head", "Name the column or remove it", row=line))
        elif heads.count(head) > 1:
            mend = "Keep one of them"
            findings.append(Finding(place, "stands twice in the heads", mend, row=line, column=head))
    return findings


def read_sheet(path: Path, row_type: type) -> tuple[DraftTable, list[Finding]]:
    """Return the rows of a table that can be read, and every fault of the file at once."""
    raw, findings = read_raw(path)
    if raw is None or len(set(raw.heads)) < len(raw.heads):
        return DraftTable(spoiled=True), findings
    raw, strays = _without_strays(path.name, raw)
    findings += strays
    columns = columns_of(row_type)
    missing = [name for name, spec in columns.items() if spec.required and name not in raw.heads]
    known = [(at, head) for at, head in enumerate(raw.heads) if head in columns]
    records = [{head: cells[at] for at, head in known if cells[at]} for cells in raw.cells]
    rows, faults = read_rows(row_type, records)
    findings += _column_findings(path.name, raw.heads, missing, row_type)
    findings += _cell_findings(path.name, [fault for fault in faults if fault[1] not in missing], raw.lines)
    lines = tuple(raw.lines[at] for at in rows)
    findings += duplicates(path.name, tuple(rows.values()), lines, row_type)
    spoiled = any(finding.severity == "error" for finding in findings)
    key = key_columns(row_type)[0]
    keys = frozenset(record.get(key, "") for record in records) if key in raw.heads else frozenset()
    return DraftTable(tuple(rows.values()), lines, keys, spoiled, raw.heads), findings


COMMENT = re.compile(r"#|//|--|/\*|<!--|;|%|!|\*|'")
TOTAL = re.compile(
    r"(?:(?:grand |sub[- ]?)?totals?|sums?|averages?|mean|(?:gesamt|zwischen)?summe|gesamt|somme|totale|suma)"
    r"\s*(?:[:=(\d].*|(?:of|for|all|orders|sheets|hours)\b.*)?",
    re.IGNORECASE,
)
REMARK = re.compile(
    r"end of \w+.*|page \d+.*|(?:notes?|remarks?|comments?)\s*[:=].*|\d+ (?:rows|records|lines)\b.*"
    r"|n/?a|nan|null|none|nil",
    re.IGNORECASE,
)
"""How exports and hand-kept lists end: common practice, no source."""


def stray(cells: tuple[str, ...], heads: tuple[str, ...]) -> str:
    """Why a line of a table is taken for no row, or nothing."""
    first = next(filter(None, cells), "")
    if cells == heads:
        return "repeats the heads"
    if COMMENT.match(first):
        return "looks like a comment"
    if TOTAL.fullmatch(first):
        return "looks like a total"
    return "looks like a remark" if REMARK.fullmatch(first) else ""


def unseen(text: str) -> str:
    """Why a text is refused for a control character or one without width in it, or nothing."""
    found = INVISIBLE.search(text)
    if found is None:
        return ""
    name = unicodedata.name(found[0], "control character").lower()
    return f"holds a sign that cannot be seen, U+{ord(found[0]):04X} ({name})"


def _without_strays(place: str, raw: RawTable) -> tuple[RawTable, list[Finding]]:
    """Take out the lines that are no rows, and those with a cell that holds what nobody sees; each is a finding."""
    kept: list[int] = []
    found: dict[str, list[Finding]] = {}
    for at, cells in enumerate(raw.cells):
        if why := unseen("\n".join(cells)):
            head, text = next(cell for cell in zip(raw.heads, cells, strict=True) if unseen(cell[1]))
            finding = Finding(place, why, "Type the cell anew", row=raw.lines[at], column=head, value=text)
        elif why := stray(cells, raw.heads):
            mend = "Remove the line; if it is a row, give it another identifier"
            finding = Finding(place, f"{why}, and would count as a row", mend, raw.lines[at], value=",".join(cells))
        else:
            kept.append(at)
            continue
        found.setdefault(why, []).append(finding)
    table = RawTable(raw.heads, tuple(raw.cells[at] for at in kept), tuple(raw.lines[at] for at in kept))
    return table, [finding for group in found.values() for finding in _told_once(group)]


def _column_findings(place: str, heads: Iterable[str], missing: Iterable[str], row_type: type) -> list[Finding]:
    """Unknown and missing columns; an unknown one near a missing one is told once."""
    columns = columns_of(row_type)
    missing = list(missing)
    findings = []
    for name in (head for head in heads if head and head not in columns):
        if name in WITHDRAWN_COLUMNS:
            why = f"is withdrawn, since nothing was worked out from it: {WITHDRAWN_COLUMNS[name]}"
            findings.append(Finding(place, why, "Remove the column", row=1, column=name))
            continue
        hint = nearest(name.lower().replace(" ", "_"), missing) if missing else ""
        if hint.startswith("did you mean"):
            missing.remove(hint.split("'")[1])
        else:
            hint = nearest(name, columns)
        mend = f"Rename or remove it; {hint}"
        findings.append(Finding(place, "is not a column of this table", mend, row=1, column=name))
    for name in missing:
        spec = columns[name]
        unit = f", in {spec.unit}" if spec.unit else ""
        mend = f"Add it to the heads and fill it: {spec.meaning}{unit}"
        findings.append(Finding(place, "is a required column that is missing", mend, row=1, column=name))
    return findings


def _cell_findings(place: str, faults: Iterable[CellFault], lines: tuple[int, ...]) -> list[Finding]:
    """One finding per faulty cell; many like faults of a column become one with all rows."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for at, name, text, fault in faults:
        found = Finding(place, fault.why, fault.mend, row=lines[at], column=name, value=text)
        groups.setdefault((name, fault.kind), []).append(found)
    return [finding for group in groups.values() for finding in _told_once(group)]


def _told_once(group: list[Finding]) -> list[Finding]:
    if len(group) <= FEW_FAULTS:
        return group
    first, *more = group
    rows = some([finding.row for finding in more])
    return [replace(first, why=f"{first.why}; the same kind of fault stands in {len(more)} more rows ({rows})")]


def duplicates(place: str, rows: Iterable[Any], lines: Iterable[int], row_type: type) -> list[Finding]:
    """Return one finding per key that stands in several rows, naming the rows."""
    names, keys = key_columns(row_type), list(map(row_key(row_type), rows))
    if len(set(keys)) == len(keys):
        return []
    seen: dict[tuple[Any, ...], list[int]] = {}
    for key, line in zip(keys, lines, strict=True):
        seen.setdefault(key, []).append(line)
    findings = []
    for key, where in seen.items():
        if len(where) == 1:
            continue
        rows_text = f"rows {', '.join(map(str, where))}" if where[0] else f"{len(where)} rows"
        why = f"stands in {rows_text}, but may stand only once"
        mend = "Keep one of them, or give the others their own " + " or ".join(names)
        value = " | ".join("" if part is None else str(part) for part in key)
        findings.append(Finding(place, why, mend, row=where[-1], column=" + ".join(names), value=value))
    return findings


def read_numbers(path: Path, columns: int) -> tuple[tuple[tuple[float, ...], ...], list[Finding]]:
    """Return the columns of a value file: numbers of zero or more, a line of heads allowed."""
    raw, findings = read_raw(path)
    if raw is None:
        return (), findings
    rows = list(zip(raw.lines, raw.cells, strict=True))
    if all(head.replace(".", "").replace(",", "").isdigit() for head in raw.heads):
        rows.insert(0, (1, raw.heads))
    if len(raw.heads) != columns:
        why = f"has {len(raw.heads)} columns where {columns} {'is' if columns == 1 else 'are'} expected"
        mend = "Write one value a line, with a decimal point"
        if columns > 1:
            mend = "Write two columns: exposure until the stop, time to clear it, with decimal points"
        return (), [*findings, Finding(path.name, why, mend)]
    read = [read_rows(ListedValue, [{"value": cells[at]} for _, cells in rows]) for at in range(columns)]
    for at, _, text, fault in sorted((fault for _, faults in read for fault in faults), key=lambda fault: fault[0]):
        findings.append(Finding(path.name, fault.why, fault.mend, row=rows[at][0], value=text))
    sound = [at for at in range(len(rows)) if all(at in found for found, _ in read)]
    if not sound and not findings:
        findings = [Finding(path.name, "holds no values", "Write one value a line")]
    return tuple(tuple(found[at].value for at in sound) for found, _ in read), findings
