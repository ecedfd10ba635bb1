"""A seeded generator of corruptions of all files of a plant folder, and what must hold after each of them.

``python -m tests.plant.corrupting COUNT FIRST_SEED RUNS`` makes COUNT of them and runs RUNS of the accepted ones for
two days, printing counts by class.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from rich.console import Console

import simkit as sk
from simkit.desk.console import as_table
from simkit.desk.findings import week_table
from simkit.desk.requested_scenarios import asked_for
from simkit.finance.guards import money_findings
from simkit.plant.fields import columns_of
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import check_plant
from simkit.plant.tables import TABLES
from simkit.process.breakfit import break_findings
from simkit.process.findings import physics_notes
from tests.small_plant import write_small_plant

TWO_DAYS_S = 172_800

MORE_FILES = {
    "history.csv": "order_id,machine,started,finished,sheets,scrap\n1001,M1,2026-01-05 06:00,2026-01-05 07:30,3,0\n"
    "1002,M1,2026-01-05 07:30,2026-01-05 10:00,5,1\n",
    "start.csv": "what,item,station,clearance_mm,angle,hits,grinds,sheets,due_in_days\n"
    "turret,TL-001,1,0.3,0,1200,1,0,3\nturret,TL-003,7,0.3,0,10,0,0,3\nbacklog,1001,0,,0,0,0,2,1\n",
    "calendar.csv": "date,shift,change,start,end,note\n2026-01-08,late,closed,,,stock taking\n"
    "2026-01-10,early,added,06:00,12:00,\n",
    "quality.csv": "cause,applies_to,rate,per,rework_min,scrap_share,basis,source\n"
    "scratch,surface_sensitive=true,0.02,lift,1.5,0.1,estimated,foreman\nburr,,0.01,part,0.5,0,default,none\n",
    "load_faults.csv": "fault,applies_to,exchanges,rate,break_share,repair_min,clears\n"
    "wrong die,,tool_load;die_change,0.004,0.1,12,technician\nturned,elongated=true,tool_load,0.002,0,6,clear\n",
    "observed.csv": "week,monday,attended_h,sheets,parts,orders_finished,setup_h,handling_h,process_h,stopped_h,"
    "tool_loads,die_changes,use\n1,2025-12-01,70,120,900,31,20,11,25,3,55,12,calibrate\n"
    "2,2025-12-08,72,118,870,29,21,10,24,4,51,14,validate\n",
    "loads.csv": "min\n1.5\n2\n2.2\n1.9\n",
    "options.toml": '[[option]]\nid = "N1"\nname = "Sequencing, first"\nkind = "low_capital"\n'
    'edits = [{ path = "plant.rules.dispatch", op = "set", value = "grouped" }]\n\n'
    '[[option]]\nid = "A1"\nname = "Loader"\nkind = "bought"\n'
    "capital = { low = 90000, quoted = 100000, high = 130000 }\n"
    'lead_weeks = 20\nneeds = ["N1"]\n'
    'edits = [{ path = "elements[load].typical", op = "multiply", value = 0.5 },\n'
    '  { path = "people[OP-1].rate_per_h", op = "add", value = 2 }]\n',
}
"""Rows of the tables that the small plant leaves empty, a value file and two options."""

TEXTS = [
    "", " ", "0", "-1", "1e999", "1e-300", "nan", "inf", "NaN", "None", "1,5", "1.234,5", "1 000", "12 mm", "5 %",
    "=1+1", "+x", "@x", "-x", '"', "'", "a,b", "x;y", "[red]", "{b}", "$x$", "\u200b", "\x1a", "\x00", "\t", "\u00a0",
    "Total", "# note", "2026-13-01", "01/02/2026", "2026-02-03", "0001-01-01", "9999-12-31", "46000", "06:00", "25:00",
    "true", "TRUE", "yes", "9" * 4301, "1" * 400, "x" * 5000, "Ä", "\ufffd", "１", "1_000", "0x10", "1e3", "99999999",
    "0.0000001", "Mon", "always",
]  # fmt: skip
"""What people, spreadsheet programs and broken exports leave in a cell."""

OTHER_KINDS = {
    "archive": b"PK\x03\x04\x14\x00\x06\x00rest", "picture": b"\x89PNG\r\n\x1a\n\x00\x00",
    "page": b"<html><body>x</body></html>",
    "nothing": b"", "blanks": b"\n\n  \n", "json": b'{"a": [1, 2]}', "heads with tabs": b"a\tb\tc\n1\t2\t3\n",
}  # fmt: skip
VALUES = (
    "true", "nan", "inf", "1e300", "[" * 400, "9" * 4301, "{ x = 1 }", '""', "[]", "0", "1e9", "9999-12-31",
    "0001-01-01", '"$[/x]{"',
)  # fmt: skip
CODES = ("latin-1", "cp1252", "utf-16", "utf-16-le", "utf-8-sig", "utf-32")
ENDS = {"windows": b"\r\n", "old": b"\r"}

Change = Callable[[Path, random.Random], None]


def base_plant(folder: Path) -> Path:
    """Write the small plant with rows in every table, options and a value file."""
    write_small_plant(folder)
    for name, text in MORE_FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    elements = (folder / "elements.csv").read_text()
    old = "load,,load,min/sheet,loading,constant,1.9,0,,"
    assert old in elements
    (folder / "elements.csv").write_text(
        elements.replace(old, "load,,load,min/sheet,loading,empirical,1.9,0,loads.csv,")
    )
    return folder


def _records(path: Path) -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))


def _write(path: Path, records: list[list[str]]) -> None:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(records)
    path.write_text(text.getvalue(), encoding="utf-8")


def _table(folder: Path, dice: random.Random) -> tuple[Path, list[list[str]]]:
    path = dice.choice(sorted(folder.glob("*.csv")))
    return path, _records(path)


def _place(records: list[list[str]], dice: random.Random) -> tuple[int, int]:
    row = (
        dice.randrange(len(records)) if dice.random() < 0.1 else dice.randrange(min(1, len(records) - 1), len(records))
    )
    return row, dice.randrange(len(records[row]))


def cell_deleted(folder: Path, dice: random.Random) -> None:
    path, records = _table(folder, dice)
    row, at = _place(records, dice)
    records[row][at] = ""
    _write(path, records)


def cells_swapped(folder: Path, dice: random.Random) -> None:
    path, records = _table(folder, dice)
    row, at = _place(records, dice)
    other, column = (row, dice.randrange(len(records[row]))) if dice.random() < 0.5 else (_place(records, dice)[0], at)
    records[row][at], records[other][column] = records[other][column], records[row][at]
    _write(path, records)


def cell_retyped(folder: Path, dice: random.Random) -> None:
    path, records = _table(folder, dice)
    row, at = _place(records, dice)
    text = records[row][at]
    near = [
        text.swapcase(),
        f" {text}",
        f"{text} ",
        f"{text}0",
        f"-{text}",
        text[1:],
        text[::-1],
        f"{text}\n",
        f"{text},",
    ]
    records[row][at] = dice.choice(near if dice.random() < 0.4 else TEXTS)
    _write(path, records)


def rows_changed(folder: Path, dice: random.Random) -> None:
    path, records = _table(folder, dice)
    at = dice.randrange(len(records))
    what = dice.choice(("drop", "double", "copy", "stray", "swap"))
    if what == "drop":
        del records[at]
    elif what == "swap":
        other = dice.randrange(len(records))
        records[at], records[other] = records[other], records[at]
    else:
        row = {"double": records[at], "copy": [text.swapcase() for text in records[at]],
               "stray": [dice.choice(TEXTS), *records[at][1:]]}[what]  # fmt: skip
        records.insert(dice.randrange(len(records) + 1), row)
    _write(path, records)


def column_dropped(folder: Path, dice: random.Random) -> None:
    path, records = _table(folder, dice)
    at = dice.randrange(len(records[0]))
    _write(path, [[text for column, text in enumerate(row) if column != at] for row in records])


def column_doubled(folder: Path, dice: random.Random) -> None:
    path, records = _table(folder, dice)
    at = dice.randrange(len(records[0]))
    _write(path, [[*row, row[at] if at < len(row) else ""] for row in records])


def _any_file(folder: Path, dice: random.Random) -> Path:
    return dice.choice(sorted(path for path in folder.iterdir() if path.is_file()))


def file_missing(folder: Path, dice: random.Random) -> None:
    _any_file(folder, dice).unlink()


def file_renamed(folder: Path, dice: random.Random) -> None:
    path = _any_file(folder, dice)
    name = dice.choice((path.name.upper(), f"{path.name}.txt", f"{path.stem} (1){path.suffix}", f"{path.stem}.xlsx",
                        f"old_{path.name}", f"{path.stem}s{path.suffix}", path.stem))  # fmt: skip
    path.rename(folder / name)


def file_of_another_kind(folder: Path, dice: random.Random) -> None:
    path = _any_file(folder, dice)
    kind = dice.choice([*sorted(OTHER_KINDS), "folder", "loop", "other file"])
    content = _any_file(folder, dice).read_bytes() if kind == "other file" else OTHER_KINDS.get(kind)
    path.unlink()
    if kind == "folder":
        path.mkdir()
    elif kind == "loop":
        path.symlink_to(path.name)
    else:
        path.write_bytes(content or b"")


def file_recoded(folder: Path, dice: random.Random) -> None:
    path = _any_file(folder, dice)
    text = path.read_text(encoding="utf-8").replace("a", "ä", dice.randrange(2))
    if dice.random() < 0.3:
        path.write_bytes(text.encode().replace(b"\n", dice.choice(sorted(ENDS.values()))))
    elif dice.random() < 0.3:
        path.write_text(text.replace(",", dice.choice(";\t|"), dice.choice((1, -1))), encoding="utf-8")
    else:
        path.write_bytes(text.encode(dice.choice(CODES)))


def bytes_changed(folder: Path, dice: random.Random) -> None:
    path = _any_file(folder, dice)
    content = bytearray(path.read_bytes())
    for _ in range(dice.choice((1, 1, 1, 5))):
        at = dice.randrange(len(content) + 1)
        content[at : at + dice.randrange(4)] = bytes([dice.choice((dice.randrange(256), *b'",\n.0;='))])
    path.write_bytes(content[: dice.randrange(len(content) + 1)] if dice.random() < 0.15 else content)


def toml_changed(folder: Path, dice: random.Random) -> None:
    path = folder / dice.choice(("plant.toml", "options.toml"))
    lines = path.read_text(encoding="utf-8").split("\n")
    at = dice.randrange(len(lines))
    what = dice.choice(("drop", "double", "swap", "key", "value", "value", "value", "value"))
    if what == "drop":
        del lines[at]
    elif what == "double":
        lines.insert(dice.randrange(len(lines)), lines[at])
    elif what == "swap":
        other = dice.randrange(len(lines))
        lines[at], lines[other] = lines[other], lines[at]
    else:
        key, equals, value = lines[at].partition(" = ")
        if what == "key":
            key = key[:-1] or "x"
        else:
            near = (f'"{value}"', f"[{value}]", f"-{value}", f"{value}0")
            value = dice.choice((*near, *VALUES))
        lines[at] = f"{key}{equals}{value}"
    path.write_text("\n".join(lines), encoding="utf-8")


CHANGES: tuple[Change, ...] = (
    cell_deleted, cells_swapped, cell_retyped, cell_retyped, cell_retyped, rows_changed, rows_changed, column_dropped,
    column_doubled, file_missing, file_renamed, file_of_another_kind, file_recoded, bytes_changed, toml_changed,
    toml_changed,
)  # fmt: skip


def corrupted(folder: Path, seed: int) -> str:
    """Write the base plant and corrupt it once, one in four times twice; return the class of the last change."""
    dice = random.Random(seed)
    base_plant(folder)
    name = ""
    for _ in range(1 + (dice.random() < 0.25)):
        change = dice.choice(CHANGES)
        try:
            change(folder, dice)
            name = change.__name__
        except (OSError, csv.Error, IndexError, ValueError):
            continue  # the first change has left nothing that the second one could change
    return name or "unchanged"


# ---- what must hold ----


@dataclass(frozen=True)
class Outcome:
    """What came of a corrupted folder: refused with findings, or a plant and what differs from a plain reading."""

    kind: str
    plant: PlantInputs | None
    silent: tuple[str, ...] = ()


def outcome(folder: Path) -> Outcome:
    """Check a folder as the command does; every printed line is one line of visible text."""
    plant, findings = check_plant(folder)
    if plant is not None:
        physics = (note.finding for note in physics_notes(plant))
        findings = (*findings, *break_findings(plant), *money_findings(plant), *physics)
    assert all(str(finding).isprintable() for finding in findings)
    if plant is None or any(finding.severity == "error" for finding in findings):
        assert any(finding.severity == "error" for finding in findings)
        return Outcome("refused", None)
    if plant.settings.run.source == "project":
        Console(file=io.StringIO()).print(week_table(plant))
    return Outcome("accepted", plant, tuple(differences(folder, plant)))


def differences(folder: Path, plant: PlantInputs) -> list[str]:
    """Where a plant differs from what csv and tomllib read, with the defaults of the definitions."""
    found = []
    for table, row_type in TABLES.items():
        path = folder / f"{table}.csv"
        read = _plain_rows(path) if path.exists() else []
        rows = getattr(plant, table)
        if len(read) != len(rows):
            found.append(f"{table}: {len(rows)} rows for {len(read)} lines")
            continue
        for cells, row in zip(read, rows, strict=True):
            columns = columns_of(row_type)
            found += [f"{table}: {name}" for name in cells if name not in columns]
            found += [
                f"{table}.{name}: {getattr(row, name)!r} for {cells.get(name)!r}"
                for name, spec in columns.items()
                if not _same(getattr(row, name), cells.get(name, "") or None, spec.default)
            ]
    found += _section(plant.settings, tomllib.loads((folder / "plant.toml").read_text("utf-8-sig")), "plant")
    options = folder / "options.toml"
    entries = tomllib.loads(options.read_text("utf-8-sig")).get("option", []) if options.exists() else []
    if len(entries) != len(plant.options):
        return [*found, "options"]
    for option, entry in zip(plant.options, entries, strict=True):
        found += _section(option, entry, f"option {option.id}")
    for name, values in plant.sequences.items():
        written = [row[0] for row in csv.reader((folder / name).read_text("utf-8-sig").splitlines()) if any(row)]
        found += [] if [float(text) for text in written[-len(values) :]] == list(values) else [name]
        found += [] if len(written) - len(values) in (0, 1) else [f"{name}: {len(values)} of {len(written)}"]
    return found


def _plain_rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        records = [[text.strip() for text in record] for record in csv.reader(file)]
    records = [record for record in records if any(record)]
    heads = records[0]
    return [{head: text for head, text in zip(heads, record, strict=False) if head} for record in records[1:]]


def _same(value: Any, text: str | None, default: Any) -> bool:
    """Whether a value is what a cell says, or the default of an empty one."""
    if text is None:
        return bool(value == default)
    if isinstance(value, bool):
        return text.lower() == str(value).lower()
    if isinstance(value, int | float):
        return float(text) == value
    if isinstance(value, dt.datetime):
        return dt.datetime.fromisoformat(text) == value
    if isinstance(value, dt.date):
        return value.isoformat() == text
    if isinstance(value, tuple):
        items = [item.strip() for item in text.split(";") if item.strip()]
        return len(items) == len(value) and all(map(_same, value, items, (None,) * len(value)))
    return bool(value == text)


def _section(model: BaseModel, content: dict[str, Any], way: str) -> list[str]:
    """Where settings differ from a TOML table."""
    found = [f"{way}.{name}" for name in content if name not in type(model).model_fields]
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        if name not in content:
            found += (
                [] if value == field.get_default(call_default_factory=True) else [f"{way}.{name} is not its default"]
            )
        elif isinstance(value, BaseModel):
            found += _section(value, content[name], f"{way}.{name}")
        elif not _alike(value, content[name]):
            found.append(f"{way}.{name}: {value!r} for {content[name]!r}")
    return found


def _alike(value: Any, written: Any) -> bool:
    if isinstance(value, BaseModel):
        return isinstance(written, dict) and not _section(value, written, "")
    if isinstance(value, dict):
        return isinstance(written, dict) and _alike([*value.items()], [*written.items()])
    if isinstance(value, list | tuple):
        return len(value) == len(written) and all(map(_alike, value, written))
    if isinstance(value, str) and isinstance(written, str):
        return value.replace(" ", "") == written.replace(" ", "") or _size(value) == _size(written) != ""
    if isinstance(value, str) and isinstance(written, dt.date):
        return value == str(written)  # a date without quotation marks where a text belongs
    return bool(value == written) and isinstance(value, bool) == isinstance(written, bool)


def _size(text: str) -> str:
    """A size in mm, in the one way in which the settings keep it; empty for any other text."""
    return f"{float(text):g}" if text.replace(".", "", 1).isdigit() else ""


def run_two_days(folder: Path) -> None:
    """Run today and every option for two days, and print the table of the command."""
    short = ("plant.run.replications=1", f"plant.run.horizon_s={TWO_DAYS_S}", "plant.run.warmup_s=0")
    plant = sk.read_plant(folder)
    asked = asked_for(plant, [(option.id,) for option in plant.inputs.options if not option.needs], short)
    study = sk.simulate(asked.scenarios, workers=1, demand=asked.level, keep=False, progress=False)
    Console(file=io.StringIO()).print(as_table(study, asked))


def main(count: int, first: int, runs: int) -> None:
    """Make many corruptions and print what came of them, by class."""
    counts: Counter[tuple[str, str]] = Counter()
    ran = 0
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory(dir=Path(tempfile.gettempdir())) as place:
            folder = Path(place) / "plant"
            name = corrupted(folder, seed)
            kind = "crashed"
            try:
                found = outcome(folder)
                kind = "silent" if found.silent else found.kind
                if found.silent:
                    print(seed, name, found.silent[:3], flush=True)
                if found.plant is not None and ran < runs:
                    ran += 1
                    run_two_days(folder)
            except Exception as error:
                counts["run" if kind != "crashed" else name, "crashed"] += 1
                print(seed, name, type(error).__name__, str(error)[:300], flush=True)
            counts[name, kind] += 1
    for (name, kind), number in sorted(counts.items()):
        print(f"{name:22} {kind:10} {number}")
    print(f"{ran} accepted plants were run for two days")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:4]))
