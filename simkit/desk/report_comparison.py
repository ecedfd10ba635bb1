"""Two reports side by side: which inputs differ, and which answers changed with them."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding
from simkit.desk.recommending import Decision
from simkit.plant.csv_files import read_raw
from simkit.plant.toml_files import read_toml
from simkit.report.words import plural

INPUTS, CHOICES = "inputs.json", "choices.csv"
SHOWN = 20
"""Differing inputs that are listed one by one; the rest are counted by file."""
ANSWERS = ("verdict", "npv", "freed_h_per_week", "turns")
"""Columns of the table of choices that are compared."""


def write_compared(folder: Path, decision: Decision, changes: tuple[str, ...]) -> tuple[str, str]:
    """Write what a later report is compared with: every input by its place, and the table of all choices."""
    found = {**inputs_of(decision.plant.folder), **{f"--set {one.partition('=')[0]}": one for one in changes}}
    write_whole(folder / INPUTS, json.dumps(found, ensure_ascii=False, indent=0, sort_keys=True) + "\n")
    write_whole(folder / CHOICES, decision.all_choices().to_csv(index=False))
    return INPUTS, CHOICES


def inputs_of(folder: Path) -> dict[str, str]:
    """Every value of a plant folder by its place: ``orders.csv W-101 sheets``, ``plant.toml run.weeks``."""
    found: dict[str, str] = {}
    for path in sorted(folder.glob("*.csv")):
        seen: Counter[str] = Counter()
        table, _ = read_raw(path)
        heads, rows = (table.heads, table.cells) if table else ((), ())
        for row in rows:
            seen[row[0]] += 1
            place = f"{path.name} {row[0]}" + (f" ({seen[row[0]]})" if seen[row[0]] > 1 else "")
            found |= {f"{place} {name}": value for name, value in zip(heads, row, strict=True) if name and value}
    for path in sorted(folder.glob("*.toml")):
        found |= {f"{path.name} {place}": value for place, value in _flat(read_toml(path)[0] or {})}
    return found


def _flat(value: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """The leaves of a TOML file with their places; entries of a list by their id or line where they have one."""
    if isinstance(value, Mapping):
        for name, part in value.items():
            yield from _flat(part, f"{place}.{name}" if place else str(name))
    elif isinstance(value, list) and any(isinstance(part, Mapping) for part in value):
        for number, part in enumerate(value, 1):
            name = next((str(part[key]) for key in ("id", "line", "input", "path", "name") if key in part), number)
            yield from _flat(part, f"{place}[{name}]")
    else:
        yield place, str(value)


def compared(folder: Path, other: Path) -> list[str]:
    """What differs between two report folders, in lines: inputs first, then answers. Raises BadInput."""
    require_report(folder)
    require_report(other)
    before, after = (json.loads((one / INPUTS).read_text(encoding="utf-8")) for one in (other, folder))
    places = [place for place in {**before, **after} if before.get(place) != after.get(place)]
    lines = [
        f"{plural(len(places), 'input')} {'differs' if len(places) == 1 else 'differ'} from {other}:"
        if places
        else f"the same inputs as {other}"
    ]
    lines += [f"  {place}: {before.get(place, 'nothing')} -> {after.get(place, 'nothing')}" for place in places[:SHOWN]]
    rest = Counter(place.split(" ")[0] for place in places[SHOWN:])
    lines += [f"  and {count} more in {file}" for file, count in rest.items()]
    return [*lines, *_answers(folder, other)]


def _answers(folder: Path, other: Path) -> Iterator[str]:
    before, after = (pd.read_csv(one / CHOICES, dtype={"turns": str}).set_index("choice") for one in (other, folder))
    changed = 0
    for name in dict.fromkeys([*after.index, *before.index]):
        if name not in before.index or name not in after.index:
            changed += 1
            yield f"  {name}: {'new' if name in after.index else 'no longer there'}"
            continue
        gaps = [column for column in ANSWERS if str(before.at[name, column]) != str(after.at[name, column])]
        if gaps:
            changed += 1
            told = (
                f"{column} {_short(before.at[name, column])} -> {_short(after.at[name, column])}" for column in gaps
            )
            yield f"  {name}: {'; '.join(told)}"
    yield f"{plural(changed, 'choice')} changed" if changed else "no answer changed"


def _short(value: Any) -> str:
    return f"{value:,.4g}" if isinstance(value, float) else str(value)


def require_report(folder: Path) -> None:
    """Refuse a folder that holds no report to compare with. Raises BadInput."""
    missing = [name for name in (INPUTS, CHOICES) if not (folder / name).is_file()]
    if missing:
        mend = "Name a folder that simkit report wrote"
        raise BadInput(Finding(str(folder), f"holds no {name}", mend) for name in missing)
