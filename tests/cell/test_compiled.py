"""Compiled, the cell gives the same to the last bit; where a source changed, or nothing compiles, the sources run."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from simkit.base import compiled
from simkit.base.compiled import CannotCompile, compile_modules, home, in_use, use
from tests.cell.compiled_runs import STRATEGIES, digests


@pytest.fixture(scope="module")
def told() -> dict[str, object]:
    """What the compiled cell tells of its runs."""
    compile_modules()
    return json.loads(ran("-m", "tests.cell.compiled_runs"))


def ran(*asked: str, **more: str) -> str:
    """What another Python prints."""
    command = [sys.executable, *asked]
    return subprocess.run(
        command, capture_output=True, text=True, check=True, env={**os.environ, "SIMKIT_SOURCES": "", **more}
    ).stdout


def test_compiled_or_not_the_runs_are_the_same(told: dict[str, object]) -> None:
    assert told["compiled"] is True
    assert in_use() is False
    assert told["digests"] == digests()


def test_compiled_it_equals_the_oracle_on_drawn_plants(told: dict[str, object]) -> None:
    assert told["differ"] == dict.fromkeys(STRATEGIES, 0)


def test_a_changed_source_is_not_met_by_what_was_compiled_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = home()
    shutil.copytree(compiled.ROOT, tmp_path / "simkit", ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(compiled, "ROOT", tmp_path / "simkit")
    assert home() == before
    with (tmp_path / "simkit" / "cell" / "stops.py").open("a") as source:
        source.write("# changed\n")
    assert home() != before


def test_what_cannot_be_compiled_says_what_it_needs_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    no_mypy = tmp_path / "python"
    no_mypy.write_text("#!/bin/sh\necho \"ModuleNotFoundError: No module named 'mypyc'\" >&2; exit 1\n")
    no_mypy.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(no_mypy))
    with pytest.raises(CannotCompile, match=r"No module named 'mypyc'\. It needs mypy and setuptools .* C compiler"):
        compile_modules()
    use()
    assert not in_use()
    assert [path.name for path in tmp_path.iterdir()] == ["python"]


def test_what_does_not_load_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    broken = tmp_path / "python"
    broken.write_text(
        '#!/bin/sh\n[ "$1" = -m ] && mkdir "$3/compiled" && exit\necho "ImportError: another libc" >&2\nexit 1\n'
    )
    broken.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(broken))
    with pytest.raises(CannotCompile, match="another libc"):
        compile_modules()
    assert not home().exists()


def test_where_nothing_can_be_kept_it_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "share").write_text("a file where a folder should be")
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    monkeypatch.setattr(compiled, "_python", lambda *asked, **more: None)
    with pytest.raises(CannotCompile, match="nothing can be kept in"):
        compile_modules()


def test_the_sources_run_where_that_is_asked_for(told: dict[str, object]) -> None:
    asked = "import simkit, simkit.cell.run as run; print(run.__file__)"
    assert told["compiled"] is True
    assert ran("-c", asked).strip().endswith(".so")
    assert ran("-c", asked, SIMKIT_SOURCES="1").strip().endswith("run.py")
