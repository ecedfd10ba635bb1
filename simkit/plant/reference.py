"""The field reference: every file, column and settings key with unit, meaning, default and limits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from simkit.base.vocabulary import DRIVERS
from simkit.plant.blank import legal_values, models_in
from simkit.plant.conditions import (
    NO_SHEET_DRIVERS,
    NUMBER_FACTS,
    PART_DRIVERS,
    PART_NUMBER_FACTS,
    PART_TEXT_FACTS,
    TEXT_FACTS,
    TOOL_DRIVERS,
    TOOL_NUMBER_FACTS,
    TOOL_TEXT_FACTS,
)
from simkit.plant.drivers import NEEDS
from simkit.plant.fields import columns_of
from simkit.plant.options import Option
from simkit.plant.settings import Settings
from simkit.plant.tables import REQUIRED_TABLES, TABLES, place_of
from simkit.plant.toml_files import toml_value
from simkit.plant.usual_ranges import COLUMNS, OPTIONS, SETTINGS, Usual
from simkit.plant.values import ID_WORDS, KIND_WORDS, write_value

PIPE = "\\|"
"""A bar inside a cell."""

INTRODUCTION = f"""# Field reference

A plant folder holds CSV tables and two TOML files. CSV: UTF-8, commas between columns, decimal point, dates as
YYYY-MM-DD, one unit per column, lists separated by `;`. An empty cell takes the default; a column without a default
is required. Unknown columns and keys are errors. An identifier is {ID_WORDS};
identifiers of a column differ by more than case and blanks. Names are free text. This page is made from the
definitions that the checks use.
"""


def reference_markdown() -> str:
    """Return the whole field reference as Markdown."""
    return "\n".join([INTRODUCTION, *_tables(), *_settings(), *_options(), *_notations()])


def _tables() -> Iterator[str]:
    for table, row_type in TABLES.items():
        needed = "required" if table in REQUIRED_TABLES else "optional"
        yield f"## {place_of(table)} ({needed})\n\nOne row is: {_first_line(row_type)}\n"
        yield "| column | meaning | unit | kind | default | limits |\n|--|--|--|--|--|--|"
        for name, spec in columns_of(row_type).items():
            shown = "required" if spec.required else write_value(spec.default) or "empty"
            legal = f"one of {', '.join(spec.choices)}" if spec.choices else spec.limits
            legal += f"a row of {place_of(spec.refers_to)}" if spec.refers_to else ""
            legal = _with_usual(legal, COLUMNS.get(f"{table}.{name}"))
            mark = " (key)" if spec.key else ""
            word = "identifier" if spec.is_id else f"{KIND_WORDS[spec.kind]}{'s, ;' * spec.is_list}"
            yield _line(f"`{name}`{mark}", spec.meaning, spec.unit, word, shown, legal)
        yield ""


def _with_usual(legal: str, usual: Usual | None) -> str:
    return "; ".join(filter(None, (legal, f"usual {usual}" if usual else "")))


def _first_line(described: type) -> str:
    return (described.__doc__ or "").splitlines()[0].replace("``", "`")


def _line(*cells: str) -> str:
    return f"| {' | '.join(cell.replace('|', PIPE) for cell in cells)} |"


def _settings() -> Iterator[str]:
    yield "## plant.toml (required)\n\nAddressed by options and overrides as `plant.section.key`.\n"
    yield from _section(Settings, "plant")


def _options() -> Iterator[str]:
    yield "## options.toml (optional)\n\nOne `[[option]]` is: a named set of edits to the plant, and what it costs.\n"
    yield from _section(Option, "option")


def _section(section: type[BaseModel], way: str) -> Iterator[str]:
    """Yield the table of one section, then those of its sections."""
    yield f"### {way}\n\n{_first_line(section)}\n"
    yield "| key | meaning | default | limits |\n|--|--|--|--|"
    for name, field in section.model_fields.items():
        if not models_in(field.annotation):
            usual = OPTIONS.get(name) if way == "option" else SETTINGS.get(f"{way}.{name}".removeprefix("plant."))
            yield _line(f"`{name}`", field.description or "", _default(field), _with_usual(legal_values(field), usual))
            continue
        yield _line(f"`{name}`", field.description or "see below", _default(field) if field.description else "", "")
    yield ""
    for name, field in section.model_fields.items():
        for inner in models_in(field.annotation):
            yield from _section(inner, f"{way}.{name}")


def _default(field: Any) -> str:
    default = field.get_default(call_default_factory=True)
    if default is PydanticUndefined:
        return "required"
    return "none" if default is None else f"`{toml_value(default)}`"


def _notations() -> Iterator[str]:
    yield "## Units of elements\n\nA time unit (s, min, h), a slash, and what the time is counted per. What occurs in"
    yield "the order book needs a row, with 0 if it truly takes no time; usual means are common practice, no source:\n"
    yield "| driver | is | usual rows |\n|--|--|--|"
    yield from (_line(f"`{name}`", meaning, _usual(name)) for name, meaning in DRIVERS.items())
    yield "\n## Conditions (`applies_to`)\n\nEmpty for all, or comparisons joined by ` and `:\n"
    yield "- about the sheet and its program, in every row:"
    yield from _facts(TEXT_FACTS, NUMBER_FACTS)
    yield f"- about the tool, in load_faults.csv and in elements counted per {', '.join(TOOL_DRIVERS)}:"
    yield from _facts(TOOL_TEXT_FACTS, TOOL_NUMBER_FACTS)
    yield f"- about the part, in quality.csv and in elements counted per {', '.join(PART_DRIVERS)}:"
    yield from _facts(PART_TEXT_FACTS, PART_NUMBER_FACTS)
    yield f"\nRows per {' and per '.join(NO_SHEET_DRIVERS)} are for no sheet and ask about the tool alone."
    yield "`elongated=true`: longer than wide. Where a row asks about the part, all rows of its element are for parts"
    yield "one by one, and `surface_sensitive` is that of the part; else it is true if any part of the sheet is.\n"
    yield "Of the rows of one element that match, the last one in the file holds; of load_faults.csv all count.\n"
    yield "## Paths of edits\n\n" + PATHS


def _usual(driver: str) -> str:
    rows = [row for need in NEEDS if need.driver == driver for row in need.usual]
    return "; ".join(
        f"{row.element} ({row.state}, by {row.task_of}): {row.typical:g} {row.unit.partition('/')[0]}, "
        f"{row.low:g} to {row.high:g}"
        for row in rows
    )


def _facts(words: tuple[str, ...], numbers: tuple[str, ...]) -> Iterator[str]:
    yield f"  - words, with `=`: {', '.join(f'`{name}`' for name in words)}"
    yield f"  - numbers, with `=`, `>` or `<`: {', '.join(f'`{name}`' for name in numbers)}"


PATHS = """| path | is |
|--|--|
| `plant.section.key` | a value of plant.toml; `plant.calendar.shifts[early].start` enters a list by name |
| `table[key].field` | a value of the row with this key; key parts are joined by \\|, the first alone matches all |
| `table[*].field` | this column of all rows |
| `table[field=value].field`, `table[field>number].field` | this column of the rows that compare so |
| `table` with add_row, `table[key]` with remove_row | a row |

Rows are removed and added first; then each value is set, multiplied, added to, whatever the order of the options. When
only `typical` of an element changes, `low` and `high` follow in proportion.
"""
