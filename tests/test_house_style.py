"""Size, words, layout and notebooks. Docstrings and annotations are checked by ruff (D1) and mypy (strict)."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import pytest

from tests.house import NOTEBOOKS, ROOT, SOURCES, named, tracked_files, tree_of

MODULE_LINES = 400
BODY_LINES = 60
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "constraints.txt", "Makefile", "data", "studies", "simkit",
             "tests"}  # fmt: skip
UNFINISHED = re.compile(r"\b(TO" r"DO|FIX" r"ME|XX" r"X|NotImpl" r"ementedError)\b")
MACHINE_PATH = re.compile(r"""(?:^|[\s"'(=])/(?:home|root|tmp|work|Users)/""", re.MULTILINE)
TEXT_SUFFIXES = {".py", ".md", ".toml", ".ipynb", ".csv", ".txt", ".css", ".j2", ".html"}


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function from its first statement after the docstring to its end."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (function.end_lineno or 0) - body[0].lineno + 1 if body else 0


def long_functions(tree: ast.Module) -> list[str]:
    functions = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))
    return [f"{f.name}: {body_lines(f)} lines" for f in functions if body_lines(f) > BODY_LINES]


@pytest.mark.parametrize("path", SOURCES, ids=named)
def test_modules_and_functions_are_short(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MODULE_LINES
    assert long_functions(tree_of(path)) == []


def test_a_long_function_is_seen():
    code = "def f():\n    '''Doc.'''\n" + "    x = 1\n" * (BODY_LINES + 1)
    assert long_functions(ast.parse(code)) == ["f: 61 lines"]


def test_top_level_is_the_layout():
    assert {name.split("/")[0] for name in tracked_files() if not name.startswith(".")} <= TOP_LEVEL


def test_no_unfinished_marks_and_no_paths_of_a_machine():
    found = []
    for name in tracked_files():
        path = ROOT / name
        if path.suffix not in TEXT_SUFFIXES or not path.exists():
            continue
        text = path.read_text(encoding="utf-8")
        if name.startswith(("simkit/", "studies/", "data/")):
            found += [f"{name}: {match.group()}" for match in UNFINISHED.finditer(text)]
        found += [f"{name}: {match.group().strip()}" for match in MACHINE_PATH.finditer(text)]
    assert found == []


def test_no_test_is_switched_off():
    off = re.compile(r"pytest\.mark\.(?:skip|xfail)|pytest\.(?:skip|xfail)\(|importorskip")
    here = named(Path(__file__))
    tests = [name for name in tracked_files() if name.startswith("tests/") and name.endswith(".py") and name != here]
    assert [name for name in tests if off.search((ROOT / name).read_text(encoding="utf-8"))] == []


# ---- notebooks: one question each, no formula, no function ----


def code_cells(path: Path) -> list[dict]:
    return [cell for cell in json.loads(path.read_text(encoding="utf-8"))["cells"] if cell["cell_type"] == "code"]


def defined_in(source: str) -> list[str]:
    """Functions, lambdas and classes that a cell defines."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)
    return [type(node).__name__ for node in ast.walk(ast.parse(source)) if isinstance(node, kinds)]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=named)
def test_notebook_starts_with_its_parameters(path):
    tagged = ["parameters" in cell["metadata"].get("tags", []) for cell in code_cells(path)]
    assert tagged[0]
    assert sum(tagged) == 1


TUTORIALS = ("first_study", "own_option")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=named)
def test_notebook_holds_no_output_and_defines_nothing(path):
    """Tutorials alone keep what they showed, words and tables without pictures: a test looks whether it still holds."""
    for cell in code_cells(path):
        kinds = {kind for output in cell["outputs"] for kind in output.get("data", {"text/plain": ""})}
        assert kinds <= ({"text/plain", "text/html"} if path.stem in TUTORIALS else set())
        assert cell["execution_count"] is None
        assert defined_in("".join(cell["source"])) == []


def test_a_definition_in_a_cell_is_seen():
    assert defined_in("f = lambda x: x\ndef g(): pass") == ["FunctionDef", "Lambda"]
