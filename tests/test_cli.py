"""The command line: what it prints, and its exit codes."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from simkit.cli import main
from tests.small_plant import write_small_plant


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["simkit", *arguments])
    with pytest.raises(SystemExit) as caught:
        main()
    return int(caught.value.code or 0)


Output = pytest.CaptureFixture[str]


def test_check_of_a_sound_plant(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = write_small_plant(tmp_path / "p")
    assert run(monkeypatch, "check", str(folder)) == 0
    assert capsys.readouterr().out == f"{folder}: clean, no findings.\n"


def test_check_with_a_note_only(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = write_small_plant(tmp_path / "p", rules={"other_losses": 0.1})
    assert run(monkeypatch, "check", str(folder)) == 0
    assert "note  plant.toml rules.other_losses" in capsys.readouterr().out


def test_check_with_errors(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = write_small_plant(tmp_path / "p")
    (folder / "plant.toml").write_text("name = 1\n[market]\n")
    (folder / "machines.csv").unlink()
    assert run(monkeypatch, "check", str(folder)) == 2
    out = capsys.readouterr().out
    assert "error plant.toml row 1 name" in out
    assert "error machines.csv: is required" in out
    assert "4 errors, 0 notes. Nothing can run yet." in out


def test_check_of_a_missing_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    assert run(monkeypatch, "check", str(tmp_path / "none")) == 2
    assert "does not exist" in capsys.readouterr().out


def test_new_makes_a_blank_and_refuses_to_write_over(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output
) -> None:
    folder = str(tmp_path / "p")
    assert run(monkeypatch, "new", folder) == 0
    assert run(monkeypatch, "check", folder) == 2
    capsys.readouterr()
    assert run(monkeypatch, "new", folder) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "is not empty, and nothing is written over" in caught.err
    assert "Traceback" not in caught.err


def test_fields(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    assert run(monkeypatch, "fields") == 0
    assert "| `order_id` (key) |" in capsys.readouterr().out
    page = tmp_path / "fields.html"
    assert run(monkeypatch, "fields", "--out", str(page)) == 0
    assert page.read_text().startswith("<!doctype html>")
    assert run(monkeypatch, "fields", "--out", str(page)) == 2


def test_an_unknown_command(monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    assert run(monkeypatch, "chek") == 2
    assert "Traceback" not in capsys.readouterr().err
