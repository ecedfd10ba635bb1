from __future__ import annotations

import os
import subprocess
import sys

import nbformat
import papermill
import pytest

from simkit.base.files import no_formula, write_whole
from simkit.base.messages import BadInput
from simkit.report.folder import LOCK, MARKER, alone_in, claim_folder, seal_folder
from simkit.report.notebooks import kernels_by_themselves


def test_a_new_and_an_empty_folder_are_ours(tmp_path):
    claim_folder(tmp_path / "new")
    (tmp_path / "empty").mkdir()
    claim_folder(tmp_path / "empty")
    assert (tmp_path / "new" / MARKER).is_file()
    assert (tmp_path / "empty" / MARKER).is_file()


def test_a_folder_with_other_files_is_refused_and_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="nothing is written over"):
        claim_folder(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="this is a file"):
        claim_folder(tmp_path / "out")
    with pytest.raises(BadInput, match="this is a file"), alone_in(tmp_path / "out"):
        pass


def test_the_folder_of_another_plant_is_refused_and_its_pages_stay(tmp_path):
    claim_folder(tmp_path / "out", "First plant")
    (tmp_path / "out" / "index.html").write_text("first", encoding="utf-8")
    seal_folder(tmp_path / "out", ["index.html"])
    with pytest.raises(BadInput, match="report of 'First plant', and this plant is 'Second plant'"):
        claim_folder(tmp_path / "out", "Second plant")
    assert (tmp_path / "out" / "index.html").read_text(encoding="utf-8") == "first"


def test_what_somebody_changed_is_kept_under_another_name_and_said(tmp_path):
    out, said = tmp_path / "out", []
    claim_folder(out, "Plant")
    for name in ("workbook.xlsx", "money.csv"):
        (out / name).write_text("ours", encoding="utf-8")
    seal_folder(out, ["workbook.xlsx", "money.csv", "never_written.html"])
    for round_, text in enumerate(("first edit", "second edit"), 1):
        (out / "workbook.xlsx").write_text(text, encoding="utf-8")
        claim_folder(out, "Plant", said.append)
        assert not (out / "workbook.xlsx").exists()
        assert (out / f"workbook-changed-{round_}.xlsx").read_text(encoding="utf-8") == text
    assert (out / "money.csv").read_text(encoding="utf-8") == "ours"
    assert said == [
        "workbook.xlsx was changed since the report wrote it; it is kept as workbook-changed-1.xlsx",
        "workbook.xlsx was changed since the report wrote it; it is kept as workbook-changed-2.xlsx",
    ]


def test_a_second_report_in_the_same_folder_waits_outside(tmp_path):
    with alone_in(tmp_path / "out"):
        claim_folder(tmp_path / "out", "Plant")  # the lock beside it is not a file of somebody else
        again = "import sys; from pathlib import Path; from simkit.report.folder import alone_in\n"
        again += "with alone_in(Path(sys.argv[1])): print('entered')"
        second = subprocess.run(
            [sys.executable, "-c", again, tmp_path / "out"], capture_output=True, text=True, check=False
        )
    assert second.returncode != 0
    assert "another report is being written" in second.stderr
    with alone_in(tmp_path / "out"):
        pass


def test_a_report_that_was_refused_leaves_no_folder_behind(tmp_path):
    with pytest.raises(BadInput), alone_in(tmp_path / "out"):
        raise BadInput([])
    assert not (tmp_path / "out").exists()
    (tmp_path / "theirs").mkdir()
    with alone_in(tmp_path / "theirs"):
        pass
    assert [path.name for path in (tmp_path / "theirs").iterdir()] in ([LOCK], [])


def test_a_file_is_written_whole_or_stays_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "new" / "page.html"
    write_whole(path, "öld\n")
    assert path.read_bytes() == "öld\n".encode()
    monkeypatch.setattr("simkit.base.files.Path.write_bytes", lambda *_: (_ for _ in ()).throw(OSError("disk full")))
    with pytest.raises(OSError, match="disk full"):
        write_whole(path, "new")
    assert path.read_bytes() == "öld\n".encode()
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-3 CU x 2", "@name", "\tx"])
def test_a_text_is_no_formula(text):
    assert no_formula(text) == f"'{text}"
    assert no_formula(f"a{text}") == f"a{text}"


def test_a_kernel_runs_no_code_of_the_user(tmp_path, monkeypatch):
    """A module of the working folder, a start-up file and plotting settings of the user stay outside."""
    home, work = tmp_path / "home", tmp_path / "work"
    startup = home / "profile_default" / "startup"
    startup.mkdir(parents=True)
    work.mkdir()
    (startup / "00.py").write_text("started = True\n", encoding="utf-8")
    (work / "colorsys.py").write_text("raise RuntimeError('a module of the user')\n", encoding="utf-8")
    (work / "matplotlibrc").write_text("font.size: 31\n", encoding="utf-8")
    monkeypatch.setenv("IPYTHONDIR", str(home))
    monkeypatch.chdir(work)
    asked = (
        "import colorsys, matplotlib\nassert 'started' not in globals()\nassert matplotlib.rcParams['font.size'] == 10"
    )
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(asked)])
    nbformat.write(notebook, tmp_path / "asks.ipynb")
    with kernels_by_themselves() as kernel:
        papermill.execute_notebook(tmp_path / "asks.ipynb", tmp_path / "asked.ipynb", progress_bar=False, **kernel)
    assert os.environ["IPYTHONDIR"] == str(home)
