"""Each notebook's parameters cell agrees with its schema in the package: names, types, defaults, order."""

from __future__ import annotations

import ast
import dataclasses
import json

import pytest

from simkit.report.parameters import SCHEMAS, kinds_of
from simkit.report.render import studies_folder


def parameters_cell(name: str) -> str:
    notebook = json.loads((studies_folder() / f"{name}.ipynb").read_text(encoding="utf-8"))
    (cell,) = (c for c in notebook["cells"] if "parameters" in c["metadata"].get("tags", []))
    return "".join(cell["source"])


def declared(source: str) -> dict[str, tuple[str, object]]:
    """Name to annotation and default; anything but an annotated plain value is an error."""
    found = {}
    for node in ast.parse(source).body:
        assert isinstance(node, ast.AnnAssign), ast.unparse(node)
        assert node.value is not None
        found[ast.unparse(node.target)] = (ast.unparse(node.annotation), ast.literal_eval(node.value))
    return found


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_cell_agrees_with_the_schema(name):
    defaults = dataclasses.asdict(SCHEMAS[name]())
    kinds = kinds_of(SCHEMAS[name])
    cell = declared(parameters_cell(name))
    assert cell == {key: (kinds[key], value) for key, value in defaults.items()}
    assert list(cell) == list(defaults)


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_parameter_has_a_comment(name):
    assert all("#" in line for line in parameters_cell(name).splitlines() if line.strip())


def test_every_notebook_has_a_schema_or_its_parameters_in_its_own_cell():
    names = [path.stem for path in studies_folder().glob("*.ipynb")]
    assert {name for name in names if "plant_folder" in parameters_cell(name)} == set(SCHEMAS)
    assert all("plant" in parameters_cell(name) for name in names if name != "first_study")


def test_an_extra_or_changed_parameter_is_seen():
    source = parameters_cell("today")
    assert declared(source + "\nextra: int = 3\n") != declared(source)
    assert declared(source.replace("1.0", "2.0")) != declared(source)
