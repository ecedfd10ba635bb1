"""What the tests of the house look at: the files of the project and the imports of the package."""

from __future__ import annotations

import ast
import subprocess
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCES = tuple(sorted((ROOT / "simkit").rglob("*.py")))
NOTEBOOKS = tuple(sorted(p for p in (ROOT / "studies").rglob("*.ipynb") if ".ipynb_checkpoints" not in p.parts))


def named(path: Path) -> str:
    """The path as the project knows it, for messages and test names."""
    return path.relative_to(ROOT).as_posix()


def module_name(path: Path) -> str:
    """The dotted name of a module of the package."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


ORDER = ("base", "plant", "process", "tooling", "cell", "experiment", "finance", "analysis", "report", "desk", "cli")
"""Packages: each imports only from those to its left."""


def room(dotted: str) -> str:
    """``base`` of ``simkit.base.units``; empty for the top of the package and for other libraries."""
    parts = dotted.split(".")
    if parts[0] != "simkit" or len(parts) == 1:
        return ""
    return "cli" if parts[1] == "__main__" else parts[1]


MODULES = tuple(module_name(path) for path in SOURCES)


@cache
def tree_of(path: Path) -> ast.Module:
    """The parsed module."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=named(path))


def at_run_time(tree: ast.Module) -> ast.Module:
    """The module without what stands under ``if TYPE_CHECKING``."""
    body = [n for n in tree.body if not (isinstance(n, ast.If) and ast.unparse(n.test).endswith("TYPE_CHECKING"))]
    return ast.Module(body=body, type_ignores=[])


def imported(tree: ast.Module, importer: str, is_package: bool = False) -> set[str]:
    """Dotted names that a module imports anywhere in it, also inside functions and by ``import_module("a.b")``.

    ``from a import b`` gives ``a.b``.
    """
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            up = importer.split(".")[: len(importer.split(".")) - node.level + is_package] if node.level else []
            base = ".".join([*up, *([node.module] if node.module else [])])
            names.update(f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in ("import_module", "__import__"):
            names.update(arg.value for arg in node.args[:1] if isinstance(arg, ast.Constant))
    return names


def tracked_files() -> list[str]:
    """Files under version control; in a copy without it, every file that is not a build product."""
    if (ROOT / ".git").exists():
        listing = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
        return listing.stdout.splitlines()
    made = ("reports", "build", "simkit.egg-info", "__pycache__")
    return [named(p) for p in ROOT.rglob("*") if p.is_file() and not set(p.relative_to(ROOT).parts) & set(made)]
