"""Small makers for the entries of options.toml."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from simkit.plant.left_out_costs import unanswered
from simkit.plant.options import Option
from simkit.plant.settings import Settings

Entry = dict[str, Any]

VALID_UNTIL = "2026-12-31"
PRICE_SOURCE = "invented for the demo"
WORKS_MANAGER, ENGINEER = "works manager", "production engineer"
NOT_A_QUOTE = ("installation and freight (in the quoted price)", "floor and foundation (none needed)")


def edit(path: str, value: Any, op: str = "set") -> Entry:
    """Return one edit."""
    return {"path": path, "op": op, "value": value}


def add_row(table: str, **columns: Any) -> Entry:
    """Return the edit that adds a row."""
    return {"path": table, "op": "add_row", "value": columns}


def remove_row(path: str) -> Entry:
    """Return the edit that removes rows."""
    return {"path": path, "op": "remove_row"}


def element(name: str, unit: str, state: str, typical: float, task_of: str = "machine", **more: Any) -> Entry:
    """Return the edit that adds a time element; its range is a third below and above, or as told (rule of the demo)."""
    bounds = {"low": more.pop("low", round(typical * 2 / 3, 3)), "high": more.pop("high", round(typical * 4 / 3, 3))}
    return add_row(
        "elements", element=name, task_of=task_of, unit=unit, state=state, typical=typical, **bounds,
        basis=more.pop("basis", "quoted"), source=PRICE_SOURCE, owner=ENGINEER, **more,
    )  # fmt: skip


def fault(cause: str, exposure: str, rate: float, minutes: float, basis: str = "default", **more: Any) -> Entry:
    """Return the edit that adds what a device stops for; the spread of its repair is a rule of the demo."""
    return add_row("stops", cause=cause, exposure=exposure, rate=rate, repair_law="gamma", repair_min=minutes,
                   repair_cv=0.6, clears="clear", basis=basis, source=PRICE_SOURCE, **more)  # fmt: skip


def line(text: str, quoted: float, low: float = 0.0, high: float = 0.0, per: str = "option") -> Entry:
    """Return a part of the capital that is usually left out; an explicit zero is an answer."""
    spread = {"low": low or quoted, "high": high or quoted} if quoted else {}
    return {"line": text, "quoted": float(quoted), **{k: float(v) for k, v in spread.items()}, "per": per}


def zero_lines(*texts: str) -> list[Entry]:
    """Return parts of the capital that were asked for and cost nothing here."""
    return [line(text, 0.0) for text in texts]


ASSESSED = [
    edit("plant.calendar.night.rule", "allowed"),
    edit("plant.calendar.night.assessed_by", "nobody: this entry is invented for the demo, a plant needs its own"),
    edit("plant.calendar.night.assessed_on", "2026-06-05"),
]
"""Edits that allow unattended hours in the demo."""

CONFORMITY = line("conformity assessment of the linked devices", 6000, per="bundle")
FIRE = line("fire detection and remote alarm for unattended hours", 9000, per="bundle")


def option(
    name_id: str, name: str, kind: str, thousand: tuple[float, float, float], *, note: str, edits: Sequence[Entry],
    yearly: float = 0.0, lead: float, life: float | None = None, stop: float = 0.0, lines: Sequence[Entry] = (),
    **more: Any,
) -> Entry:  # fmt: skip
    """Return an option; capital in thousands, yearly cost in thousands, lead in weeks, life in years."""
    soft = kind == "low_capital"
    entry: Entry = {
        "id": name_id, "name": name, "kind": kind,
        "capital": dict(zip(("low", "quoted", "high"), (1000.0 * part for part in thousand), strict=True)),
        "yearly_cost": 1000.0 * yearly, "lead_weeks": float(lead), "stop_days": float(stop),
    }  # fmt: skip
    if life is not None:
        entry["life_years"] = float(life)
    persistence = {"low": 0.5, "quoted": 0.8, "high": 1.0} if soft else {"low": 1.0, "quoted": 1.0, "high": 1.0}
    entry |= {"owner": ENGINEER if kind == "bought" else WORKS_MANAGER, "persistence": persistence, **more}
    if kind == "bought":
        entry |= {"valid_until": VALID_UNTIL}
    entry |= {"price_source": PRICE_SOURCE, "note": note}
    if lines:
        entry["capital_lines"] = list(lines)
    return entry | {"edits": list(edits)}


def finished(entries: Sequence[Entry], settings: Entry, short: Mapping[str, str]) -> list[Entry]:
    """Return the entries that have a short name, in the order of those names, as they are written.

    Rivals that the plant does not have are left out of what an option excludes; bought ones get their explicit zeros.
    """
    by_id = {str(entry["id"]): entry for entry in entries}
    return [_with_explicit_zeros(_with_short_name(by_id[name], short), settings) for name in short]


def _with_short_name(entry: Entry, short: Mapping[str, str]) -> Entry:
    known = {"id": entry["id"], "name": entry["name"], "short": short[str(entry["id"])]}
    rivals = {"excludes": [other for other in entry.get("excludes", ()) if other in short]}
    told = {key: rivals.get(key, value) for key, value in entry.items() if key not in known}
    return {**known, **{key: value for key, value in told.items() if key != "excludes" or value}}


def _with_explicit_zeros(entry: Entry, settings: Entry) -> Entry:
    """Return a bought option with the explicit zero for each usual omission that has no number (invented)."""
    if entry["kind"] != "bought":
        return entry
    missing = unanswered(Option.model_validate(entry), Settings.model_validate(settings))
    edits = entry["edits"]
    return {
        **{key: value for key, value in entry.items() if key != "edits"},
        "nothing_for": list(missing),
        "edits": edits,
    }
