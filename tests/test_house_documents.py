"""README and DEVELOPERS name only commands, switches, files and packages that exist, and stay short."""

from __future__ import annotations

import re

import pytest
import typer

from simkit import cli
from tests.house import ORDER, ROOT, SOURCES
from tests.house_picture import differences, drawing, drawn, picture_in

DOCUMENTS = ("README.md", "DEVELOPERS.md", "simkit/desk/README.md", "tests/published/README.md")
LENGTH = {"README.md": 100, "DEVELOPERS.md": 80, "simkit/desk/README.md": 110, "tests/published/README.md": 40}
COMMANDS = typer.main.get_command(cli.app).commands
TARGETS = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
HOST = re.compile(r"https?://")


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def code_of(text: str) -> list[str]:
    """Lines of code blocks and pieces of code in running text."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    rest = re.sub(r"^```\w*\n.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    return [line.strip() for block in blocks for line in block.splitlines()] + re.findall(r"`([^`\n]+)`", rest)


def unknown_targets(text: str) -> set[str]:
    """Make targets that the text names and the Makefile lacks."""
    return {name for code in code_of(text) for name in re.findall(r"^make ([a-z]+)", code)} - TARGETS


def unknown_commands(text: str) -> set[str]:
    """Commands and switches of the kit that the text names and the kit lacks."""
    unknown = set()
    for code in code_of(text):
        match = re.match(r"(?:\.venv/bin/)?simkit ([a-z]+)(.*)", code)
        if match and match[1] not in COMMANDS:
            unknown.add(match[1])
        elif match:
            known = {switch for option in COMMANDS[match[1]].params for switch in option.opts}
            used = set(re.findall(r"(--[a-z-]+)", match[2]))
            unknown |= {f"{match[1]} {switch}" for switch in used - known}
    return unknown


def unknown_paths(text: str) -> set[str]:
    """Files and folders of the project that the text names and that do not exist."""
    paths = {p for code in code_of(text) for p in re.findall(r"(?:^| )((?:simkit|tests|studies|data)/[\w./*]+)", code)}
    paths |= set(re.findall(r"\]\(([\w./-]+)\)", text))
    return {path for path in paths if not any(ROOT.glob(path.rstrip("/")))}


def unknown_names(text: str) -> set[str]:
    """Modules as ``orders`` or ``orders.py``, methods as ``Orders.take`` and constants that no source has."""
    modules, source = {path.stem for path in SOURCES}, "\n".join(path.read_text(encoding="utf-8") for path in SOURCES)
    unknown = set()
    for name in code_of(text):
        if match := re.fullmatch(r"([A-Z]\w+)\.(\w+)", name):
            classes = re.findall(rf"^class {match[1]}\b.*?(?=^\S|\Z)", source, re.MULTILINE | re.DOTALL)
            known = any(f"def {match[2]}(" in body for body in classes)
        elif re.fullmatch(r"[A-Z][A-Z_]+", name):
            known = re.search(rf"^{name}\b", source, re.MULTILINE) is not None
        elif re.fullmatch(r"[A-Z]\w+", name):
            known = re.search(rf"^class {name}\b", source, re.MULTILINE) is not None
        elif re.fullmatch(r"_\w+", name):
            known = f"def {name}(" in source
        elif re.fullmatch(r"[a-z_]+(\.py)?", name):
            known = name.removesuffix(".py") in modules or f"def {name}(" in source
        else:
            continue
        unknown |= set() if known else {name}
    return unknown


@pytest.mark.parametrize("name", DOCUMENTS)
def test_document_names_only_what_exists(name):
    text = text_of(name)
    assert unknown_targets(text) == set()
    assert unknown_commands(text) == set()
    assert unknown_paths(text) == set()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_document_is_short_and_names_no_host(name):
    assert len(text_of(name).splitlines()) <= LENGTH[name]
    assert not HOST.search(text_of(name))


def test_readme_lists_every_command():
    shown = set(re.findall(r"^\| `simkit ([a-z]+)", text_of("README.md"), re.MULTILINE))
    assert shown == set(COMMANDS)


def test_developers_map_has_every_package_in_order():
    rows = re.findall(r"^\| `simkit/(\w+)(?:\.py)?` \|", text_of("DEVELOPERS.md"), re.MULTILINE)
    assert tuple(rows) == ORDER


def test_developers_map_names_every_module_of_analysis():
    modules = {path.stem for path in (ROOT / "simkit" / "analysis").glob("*.py")} - {"__init__"}
    map_of_modules = text_of("DEVELOPERS.md").split("## Where things live")[1].split("## Recipes")[0]
    assert modules - set(re.findall(r"`(\w+)`", map_of_modules)) == set()


def test_developers_names_modules_methods_and_words_that_exist():
    rest = text_of("DEVELOPERS.md").split("## Where things live")[1].split("## Tests")[0]
    assert unknown_names(rest) == set()


def test_developers_picture_is_what_the_imports_draw():
    assert differences(picture_in(text_of("DEVELOPERS.md")), drawn()) == [], "run: python -m tests.house_picture"


def test_pinned_versions_name_no_host_and_no_path():
    lines = text_of("constraints.txt").splitlines()
    assert [line for line in lines if not re.fullmatch(r"[\w.-]+==[\w.]+( ; [\w\s.='<>!*()]+)?", line)] == []


# ---- the checks themselves can fail ----


def test_unknown_names_are_seen():
    text = "```\nmake tea\nsimkit brew\nsimkit check PLANT --loudly\n```\nsee `simkit/kitchen/tea.py` and [it](tea.md)"
    assert unknown_targets(text) == {"tea"}
    assert unknown_commands(text) == {"brew", "check --loudly"}
    assert unknown_paths(text) == {"simkit/kitchen/tea.py", "tea.md"}


def test_a_new_arrow_and_another_size_are_seen():
    nothing = dict.fromkeys(ORDER, (10, 1000))
    alone = drawing({name: set() for name in ORDER}, nothing)
    assert differences(alone, drawing({name: set() for name in ORDER}, {**nothing, "cell": (11, 1080)})) == []
    assert len(differences(alone, drawing({name: set() for name in ORDER}, {**nothing, "cell": (12, 1000)}))) == 1
    assert len(differences(alone, drawing({name: set() for name in ORDER}, {**nothing, "cell": (10, 1200)}))) == 1
    known = {name: {"base"} if name == "plant" else set[str]() for name in ORDER}
    assert differences(alone, drawing(known, nothing)) == ["     10   1000  plant"]


def test_unknown_modules_methods_and_words_are_seen():
    text = (
        "`run` and `run.py`, `Cell._machine`, `STATES`, `Batch`, `_who`; `kitchen`, `stove.py`, `Cell.cook`, `DISHES`"
    )
    assert unknown_names(text + ", `Cook`, `_stir`") == {
        "kitchen", "stove.py", "Cell.cook", "DISHES", "Cook", "_stir",
    }  # fmt: skip
