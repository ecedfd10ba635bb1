"""Texts of the blank plant folder, made from the field definitions."""

from __future__ import annotations

import typing
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from simkit.plant.drivers import NEEDS
from simkit.plant.fields import columns_of, limits
from simkit.plant.options import Option
from simkit.plant.settings import Settings
from simkit.plant.tables import Element
from simkit.plant.toml_files import toml_value

HEAD = """# Settings of one plant. A line that starts with # is a comment; a commented key shows its default.
# Take the # away to change a value. Write numbers with a decimal point, texts in quotation marks,
# dates as 2026-01-05. Keys that are not listed here are refused.
"""

CALENDAR_LINES = (
    "# shifts: one { } for each shift of the weekly pattern\n"
    "#   name: name people refer to; days: weekdays on which it starts; start, end: HH:MM wall time, an end\n"
    "#   that is not after the start lies on the next day; breaks: [from, to]\n"
    "shifts = [\n"
    '    { name = "early", days = ["Mon", "Tue", "Wed", "Thu", "Fri"], start = "06:00", end = "14:00", '
    'breaks = [["09:00", "09:15"], ["11:30", "12:00"]] },\n'
    "]\n"
)

REQUIRED_LINES = {"name": 'name = "Name of the plant"\n', "shifts": CALENDAR_LINES}
"""Lines that stand uncommented, since the settings have no default for them."""

EXAMPLES = {
    "Calendar.overtime": '[{ days = ["Sat"], start = "06:00", end = "12:00" }]',
    "Calendar.closed_days": "[2026-05-01]",
    "NightSettings.windows": '[{ days = ["Mon", "Tue", "Wed", "Thu"], start = "22:00", end = "06:00" }]',
    "MachineSettings.stations": "[{ size_mm = 16, count = 14 }, { size_mm = 30, count = 9 }, "
    "{ size_mm = 30, count = 1, turning = true }]",
    "Magazine.places": '{ "16" = 50, "30" = 44 }',
    "Magazine.dies_per_place": '{ "16" = 3, "30" = 2 }',
    "Magazine.contents": '["TL-001@0.20", "TL-002"]',
    "Rules.pinned": '["TL-001", "TL-002@0.20"]',
    "Finance.growth_of_lines": "{ energy = 0.04, service = 0.03 }",
    "Finance.depreciation_table": '"macrs_7"',
    "Finance.depreciation_percent": "[14.29, 24.49, 17.49, 12.49, 8.93, 8.92, 8.93, 4.46]",
    "Finance.season": "[[35, 1.05], [12, 0.854]]",
    "Finance.payments_at": "[0, 0.9, 1]",
    "Finance.capital_budgets": "[150000, 100000]",
    "Finance.budget_lines": '[{ line = "overtime", account = "cost centre 4711, overtime", owner = "works manager", '
    'falls_from = "2026-07-01" }]',
    "People.may_interrupt": '["clear > bench", "rush > preparation"]',
    "People.priorities": '["clear", "rush", "unload", "load"]',
}
"""Examples for keys whose default is empty."""

OPTIONS_HEAD = """# Options: named sets of edits to the plant, plus money. An option does nothing but its edits.
# Paths: plant.section.key, table[key].field, table[*].field, table[field=value].field; op: set, multiply,
# add, add_row (path: the table, value: its columns) or remove_row (path: table[key]).
# Take the first # of each line away and write your own; every option starts with a line [[option]].
#
# [[option]]
"""

OPTION_EXAMPLES = {
    "id": '"N1"',
    "name": '"Sequencing rule"',
    "kind": '"low_capital"',
    "capital": "{ low = 0, quoted = 1000, high = 3000 }",
    "capital_lines": '[{ line = "installation", low = 0, quoted = 0, high = 0 }]',
    "yearly_lines": '[{ line = "service contract", budget = "service", quoted = 4000 }]',
    "once": '[{ line = "stock counted in May", amount = 3000, year = 1, what = "stock" }]',
    "edits": '[{ path = "plant.rules.dispatch", op = "set", value = "grouped" }]',
}


def blank_elements() -> Iterator[list[str]]:
    """Yield the usual rows of elements.csv, by column, without what only the plant knows."""
    for row in (row for need in NEEDS if need.everywhere for row in need.usual):
        cells = row.cells(value=False)
        yield [cells.get(name, "") for name in columns_of(Element)]


def options_text() -> str:
    """Return ``options.toml`` with one option as an example, commented: every key with its meaning."""
    lines = OPTIONS_HEAD.splitlines()
    for name, field in Option.model_fields.items():
        mark = "# #" if field.default is None else "#"
        lines += [f"# # {field.description}{_allowed(field)}", f"{mark} {_value_line(name, field, OPTION_EXAMPLES)}"]
    return "\n".join(lines) + "\n"


def settings_text() -> str:
    """Return ``plant.toml`` with every key: meaning, then the key with its default, commented unless required."""
    return HEAD + "".join(_section_lines(Settings, ()))


def _section_lines(section: type[BaseModel], way: tuple[str, ...]) -> Iterator[str]:
    """Yield the lines of a section: its own keys first, then its sections."""
    inner: list[tuple[str, type[BaseModel]]] = []
    for name, field in section.model_fields.items():
        kind = field.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            inner.append((name, kind))
        elif name in REQUIRED_LINES and field.is_required():
            yield f"\n# {field.description}\n" if name == "name" else "\n"
            yield REQUIRED_LINES[name]
        else:
            yield f"\n# {field.description}{_allowed(field)}\n{_key_line(section, name, field)}"
    for name, kind in inner:
        yield f"\n\n[{'.'.join((*way, name))}]\n# {(kind.__doc__ or '').splitlines()[0]}\n"
        yield from _section_lines(kind, (*way, name))


def _allowed(field: FieldInfo) -> str:
    legal = legal_values(field)
    return f" ({legal})" if legal else ""


def legal_values(field: FieldInfo) -> str:
    """Return the known words or the limits of a settings field, in words, or nothing."""
    words = _words(field.annotation)
    if words:
        return f"one of {', '.join(words)}"
    return limits(field) or "; ".join(legal_values(inner) for inner in _items(field.annotation))


def _items(kind: Any) -> list[Any]:
    """Fields with limits of their own inside a list or dict."""
    return [
        found
        for inner in typing.get_args(kind)
        for found in ([inner] if isinstance(inner, FieldInfo) else _items(inner))
    ]


def _words(kind: Any) -> list[str]:
    """Return the words of a Literal, also of one inside a tuple or dict."""
    if typing.get_origin(kind) is typing.Literal:
        return [str(word) for word in typing.get_args(kind)]
    return [word for inner in typing.get_args(kind) for word in _words(inner)]


def models_in(kind: Any) -> list[type[BaseModel]]:
    """Return the sections that a type holds, one or many."""
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return [kind]
    return [model for inner in typing.get_args(kind) for model in models_in(inner)]


def _key_line(section: type[BaseModel], name: str, field: FieldInfo) -> str:
    example = EXAMPLES.get(f"{section.__name__}.{name}")
    if example and field.default is not None:
        return f"# default: none; for example\n# {name} = {example}\n"
    return f"# {_value_line(name, field, {})}\n"


def _value_line(name: str, field: FieldInfo, examples: Mapping[str, str]) -> str:
    """Return a key with its example or default; or say that it has neither."""
    default = field.get_default(call_default_factory=True)
    if name in examples:
        return f"{name} = {examples[name]}"
    if default is PydanticUndefined or default is None:
        return f"{name} =    (no value: leave it out)"
    return f"{name} = {toml_value(default)}"
