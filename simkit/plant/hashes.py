"""Content hashes: one over what the cell reads (physics), one over everything else (money).

Every input is covered by exactly one of the two, so that a change of money never re-runs the cell, and
no change of the physics is ever answered from a cache.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections import defaultdict
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from simkit.plant.equal_rows import ByIdentity
from simkit.plant.options import Option
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import TABLES

MONEY_SETTINGS: tuple[str, ...] = (
    "name", "currency", "as_of", "study_paid_by", "options_sold_by", "money", "finance", "financing",
    "scrap", "risk",
    "people.overtime_premium", "people.night_premium", "people.minimum_attendance",
    "people.utilisation_limit",
    "calendar.night.assessed_by", "calendar.night.assessed_on",
    "overflow.subcontractor", "overflow.subcontract_confirmed_h_per_week",
    "rules.late_share_limit", "run.replications", "run.demand_levels",
)  # fmt: skip
"""Settings, and whole sections of them, that the cell does not read."""

MONEY_COLUMNS: dict[str, tuple[str, ...]] = {
    "programs": (),
    "tools": ("price",),
    "materials": ("price_per_kg", "scrap_price_per_kg"),
    "elements": ("low", "high", "basis", "n", "source", "owner", "date"),
    "people": ("rate_per_h", "employment"),
    "calendar": ("note",),
    "stops": ("basis", "source"),
    "load_faults": ("basis", "source"),
    "upkeep": ("basis", "source"),
    "quality": ("basis", "source"),
}
"""Columns that the cell does not read: prices, rates, and where numbers come from."""

MONEY_TABLES = ("observed", "measured")
"""Whole tables that the cell does not read. Options act only through their edits, which are applied already."""


_digests: defaultdict[str, ByIdentity[tuple[str, str]]] = defaultdict(ByIdentity)
"""(physics, money) per table and of options: one that no edit touches is worked out once."""


def hashes(plant: PlantInputs, option_ids: Sequence[str] = ()) -> tuple[str, str]:
    """Return (physics hash, money hash) of a plant to which these options have been applied."""
    settings = plant.settings.model_dump(mode="json")
    money_settings = {path: _cut(settings, path.split(".")) for path in MONEY_SETTINGS}
    physics: dict[str, Any] = {"settings": settings, "sequences": dict(sorted(plant.sequences.items()))}
    money: dict[str, Any] = {"settings": money_settings, "option_ids": list(option_ids)}
    money["options"] = _digests["options"].of(_of_options, plant.options)[1]
    for table in TABLES:
        physics[table], money[table] = _digests[table].of(partial(_of_table, table), getattr(plant, table))
    return sha256_of(physics), sha256_of(money)


def _of_options(options: Sequence[Option]) -> tuple[str, str]:
    return "", sha256_of([option.model_dump(mode="json") for option in options])


def _of_table(table: str, table_rows: Sequence[Any]) -> tuple[str, str]:
    """Return the digests of what the cell reads of a table and of the rest."""
    rows = [dict(vars(row)) for row in table_rows]
    if table in MONEY_TABLES:
        return "", sha256_of(rows)
    aside = MONEY_COLUMNS.get(table, ())
    money = [{name: row.pop(name) for name in aside} for row in rows]
    return sha256_of(rows), sha256_of(money)


def physics_of_table(table: str, rows: Sequence[Any]) -> str:
    """Digest of what can change a run in some rows of a table; of observed weeks and measurements, of all of them."""
    physics, money = _of_table(table, rows)
    return physics or money


def physics_of_settings(plant: PlantInputs, without: Sequence[str] = ()) -> str:
    """Digest of the settings that the cell reads, without some sections."""
    settings = plant.settings.model_dump(mode="json")
    for path in (*MONEY_SETTINGS, *without):
        if path.split(".")[0] in settings:
            _cut(settings, path.split("."))
    return sha256_of(settings)


def _cut(content: dict[str, Any], steps: list[str]) -> Any:
    """Take a value out of nested settings and return it."""
    for step in steps[:-1]:
        content = content[step]
    return content.pop(steps[-1])


def sha256_of(content: Any) -> str:
    """Digest of a content that JSON can hold, whatever the order of its keys."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def inputs_sha256(folder: Path) -> str:
    """Return the hash over names and bytes of all tables, settings and texts of a plant folder.

    A file that cannot be read counts by its name: no plant was read from it.
    """
    total = hashlib.sha256()
    for path in sorted(folder.iterdir()):
        if path.is_file() and path.suffix in (".csv", ".toml", ".txt"):
            content = path.read_bytes() if os.access(path, os.R_OK) else b""
            total.update(f"{path.name}\0{hashlib.sha256(content).hexdigest()}\n".encode(errors="surrogateescape"))
    return total.hexdigest()


def with_changes(digest: str, changes: Sequence[str]) -> str:
    """Return the hash of inputs with these changes ``path=value``; without any that of the inputs."""
    return sha256_of([digest, *changes]) if changes else digest
