"""Inputs that do nothing: what no code reads is refused, what has no effect in a run is said."""

from __future__ import annotations

import ast

import pytest

from simkit.base.vocabulary import STATES
from simkit.desk.belief import OBSERVED
from simkit.plant.blank import models_in
from simkit.plant.fields import columns_of
from simkit.plant.options import Option
from simkit.plant.settings import Settings
from simkit.plant.settings_base import Section
from simkit.plant.tables import TABLES, WITHDRAWN_COLUMNS
from tests.house import SOURCES, tree_of
from tests.plant.conftest import Folder

BY_NAME = {"bench_rate_per_h", *OBSERVED}
"""Read by a name that is put together, f"{work}_rate_per_h", or that stands in a table of columns."""


def attributes_read() -> set[str]:
    """Names of attributes that some code of the kit reads."""
    return {node.attr for path in SOURCES for node in ast.walk(tree_of(path)) if isinstance(node, ast.Attribute)}


def sections(section: type[Section]) -> list[type[Section]]:
    inner = [m for field in section.model_fields.values() for m in models_in(field.annotation)]
    return [section, *(s for model in inner for s in sections(model))]  # type: ignore[arg-type]


def test_every_column_and_key_is_read() -> None:
    read = attributes_read() | BY_NAME
    columns = {name for row_type in TABLES.values() for name in columns_of(row_type)}
    keys = {name for section in [*sections(Settings), *sections(Option)] for name in section.model_fields}
    assert sorted((columns | keys) - read) == []


@pytest.mark.parametrize("column", sorted(WITHDRAWN_COLUMNS))
def test_a_column_that_nothing_read_is_refused_with_the_reason(folder: Folder, column: str) -> None:
    name = "programs.csv" if column == "material_yield" else "tools.csv"
    text = (folder.path / name).read_text(encoding="utf-8").splitlines()
    lines = [f"{line},{column if at == 0 else 0}" for at, line in enumerate(text)]
    (folder.path / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    message = folder.only()
    assert f"{name} row 1 {column}: is withdrawn, since nothing was worked out from it" in message
    assert "Remove the column" in message


def test_every_state_is_entered_by_some_rule_of_the_cell() -> None:
    """A state is a name that the cell or the rules of its measures use, beside the list itself."""
    names = {node.id for path in SOURCES if path.parts[-2] in ("cell", "experiment", "process")
             for node in ast.walk(tree_of(path)) if isinstance(node, ast.Name)}  # fmt: skip
    assert [state for state in STATES if state.upper() not in names] == []
