"""Packages import only from those to their left, and each keeps to the libraries it may use."""

from __future__ import annotations

import ast
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from tests.house import MODULES, ORDER, SOURCES, at_run_time, imported, module_name, named, room, tree_of

LEAN_PACKAGES = ("process", "tooling", "cell")
LEAN_MODULES = (
    *(name for name in MODULES if name.split(".")[1:2] and name.split(".")[1] in LEAN_PACKAGES),
    *(f"simkit.experiment.{name}" for name in ("replication", "cache", "measures")),
)
HEAVY = {"pandas"}


def imports_of(path: Path) -> set[str]:
    return imported(tree_of(path), module_name(path), path.name == "__init__.py")


def upward(importer: str, names: set[str]) -> list[str]:
    """Names imported from a room to the right of the importer's."""
    here = ORDER.index(room(importer))
    return sorted(name for name in names if room(name) and ORDER.index(room(name)) > here)


def module_graph(imports: dict[str, set[str]]) -> dict[str, set[str]]:
    """Which module needs which, where ``from a.b import c`` may name module ``a.b.c`` or a thing in ``a.b``."""
    known = set(imports)
    return {
        importer: {target for name in names if (target := name if name in known else name.rpartition(".")[0]) in known}
        - {importer}
        for importer, names in imports.items()
    }


@pytest.mark.parametrize("path", [p for p in SOURCES if room(module_name(p))], ids=named)
def test_imports_only_from_the_left(path):
    assert upward(module_name(path), imports_of(path)) == []


def test_every_package_has_its_place():
    assert {room(name) for name in MODULES} - {""} <= set(ORDER)


def test_no_module_imports_in_a_circle():
    """Names needed by the type checker alone may point back inside a package; they are not loaded."""
    loaded = {
        module_name(path): imported(at_run_time(tree_of(path)), module_name(path), path.name == "__init__.py")
        for path in SOURCES
    }
    graph = module_graph(loaded)
    list(TopologicalSorter(graph).static_order())


def test_only_the_cell_imports_the_event_engine():
    users = {room(module_name(p)) for p in SOURCES if any(n.split(".")[0] == "simpy" for n in imports_of(p))}
    assert users <= {"cell"}


def test_the_cell_and_its_workers_load_no_table_library():
    code = (
        "import importlib, sys\n"
        "for name in sys.argv[1:]: importlib.import_module(name)\n"
        f"print(sorted({HEAVY!r} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code, *LEAN_MODULES], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert run.stdout.strip() == "[]"


@pytest.mark.parametrize("path", [p for p in SOURCES if room(module_name(p)) in LEAN_PACKAGES], ids=named)
def test_lean_packages_name_no_table_library(path):
    assert not {name.split(".")[0] for name in imports_of(path)} & HEAVY


# ---- the checks themselves can fail ----


def test_an_upward_import_is_seen():
    names = imported(ast.parse("def f():\n    from simkit.finance.table import build"), "simkit.cell.run")
    assert upward("simkit.cell.run", names) == ["simkit.finance.table.build"]


def test_a_relative_import_is_seen():
    assert imported(ast.parse("from ..finance import table"), "simkit.cell.run") == {"simkit.finance.table"}
    assert imported(ast.parse("from .run import f"), "simkit.cell", is_package=True) == {"simkit.cell.run.f"}


def test_an_import_by_name_is_seen():
    assert imported(ast.parse("importlib.import_module('simkit.report.pages').make()"), "simkit.cell.run") == {
        "simkit.report.pages"
    }


def test_names_for_the_type_checker_are_left_out_of_circles():
    tree = ast.parse("import a.x\nif TYPE_CHECKING:\n    import a.y")
    assert imported(at_run_time(tree), "a.z") == {"a.x"}


def test_a_circle_is_seen():
    graph = module_graph({"a.x": {"a.y.f"}, "a.y": {"a.x"}})
    with pytest.raises(CycleError):
        list(TopologicalSorter(graph).static_order())
