"""A killed process cleans nothing up: its workers and kernels end by themselves, its folders go at the next start."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest
from filelock import FileLock

from simkit.base.temporary import own_folder
from tests.house import ROOT

TRIES = 1200
RUN = """
import os, time
from pathlib import Path
from simkit.experiment.workers import on_processes

class Job:
    def packed(self):
        return b"a job"

def busy(number, kept):
    Path(os.environ["PIDS"], str(os.getpid())).write_text(kept.read_text())
    while number:
        time.sleep(0.01)

import simkit.experiment.workers as pool
pool._run_kept = busy
if __name__ == "__main__":
    list(on_processes(Job(), [1, 1], 2))
"""
RENDER = """
import os, time, nbformat
from pathlib import Path
from simkit.desk.rendering import render

cell = "import os, pathlib, time; pathlib.Path(os.environ['PIDS'], str(os.getpid())).touch(); time.sleep(600)"
given = nbformat.v4.new_code_cell("weeks = 1", metadata={"tags": ["parameters"]})
book = nbformat.v4.new_notebook(cells=[given, nbformat.v4.new_code_cell(cell)])
nbformat.write(book, "wait.ipynb")
if __name__ == "__main__":
    render("wait.ipynb", "wait.html")
"""


def until(so: Callable[[], bool]) -> bool:
    """Wait for something that comes within a second, and much longer on a machine that is busy."""
    for _ in range(TRIES):
        if so():
            return True
        time.sleep(0.05)
    return False


def lives(pid: int) -> bool:
    """Whether a process is there and is not a dead one that nobody has asked after."""
    try:
        return bool(psutil.Process(pid).status() != psutil.STATUS_ZOMBIE)
    except psutil.NoSuchProcess:
        return False


@pytest.fixture
def aside():
    """A folder for temporary files with a short path: that of a socket may have a hundred letters."""
    with tempfile.TemporaryDirectory(prefix="k") as folder:
        yield Path(folder)


@pytest.mark.parametrize(("script", "children"), [(RUN, 2), (RENDER, 1)], ids=["workers", "kernel"])
def test_nothing_outlives_a_killed_process(script: str, children: int, tmp_path, aside: Path, monkeypatch) -> None:
    pids = tmp_path / "pids"
    pids.mkdir()
    (tmp_path / "killed.py").write_text(script, encoding="utf-8")
    given = {**os.environ, "PIDS": str(pids), "TMPDIR": str(aside), "PYTHONPATH": f"{ROOT}:{tmp_path}"}
    given |= {"HOME": str(tmp_path), "JUPYTER_RUNTIME_DIR": str(tmp_path / "runtime")}
    with (tmp_path / "said").open("wb") as said:
        child = subprocess.Popen([sys.executable, "killed.py"], cwd=tmp_path, env=given, stderr=said)
    try:
        assert until(lambda: len(list(pids.iterdir())) == children or child.poll() is not None)
        assert child.poll() is None, (tmp_path / "said").read_text(encoding="utf-8")
    finally:
        child.kill()
        child.wait()
    left = [int(path.name) for path in pids.iterdir()]
    assert until(lambda: not any(map(lives, left))), "workers and kernels end with their main process"
    assert list(aside.glob("simkit-*[!k]")), "a killed process leaves its folder"
    monkeypatch.setattr("tempfile.tempdir", str(aside))
    with own_folder() as mine:
        assert {path.stem for path in aside.glob("simkit-*")} == {mine.name}
    assert not list(aside.glob("simkit-*"))


def test_folders_of_living_processes_and_of_others_stay(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    for name in ("simkit-alive", "simkit-dead", "simkit-unknown", "other-dead"):
        (tmp_path / name).mkdir()
    (tmp_path / "simkit-dead" / "job").touch()
    (tmp_path / "simkit-dead.lock").touch()
    (tmp_path / "other-dead.lock").touch()
    with FileLock(tmp_path / "simkit-alive.lock"), own_folder() as first, own_folder() as second:
        assert first.is_dir()
        assert second.is_dir()
        assert first != second
        assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == {
            "simkit-alive", "simkit-unknown", "other-dead", first.name, second.name,
        }  # fmt: skip
    assert not first.exists()
