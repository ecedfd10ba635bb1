"""From an own export to a first report: the commands that a newcomer types, counted."""

from __future__ import annotations

import csv
from pathlib import Path

from simkit.plant.reading import read_plant
from tests.plant.test_adopting import OWN_HEADS, write_foreign
from tests.test_cli import run

MOST = 9
PAGE = "decide"
"""The page that is made here; without --study a report makes all of them."""


def test_an_own_export_reaches_a_first_report_in_under_ten_commands(tmp_path, monkeypatch, capsys):
    """Other heads, semicolons, decimal commas and inches. Typed: four commands of the kit and one copy."""
    typed: list[tuple[str, ...]] = []

    def simkit(*arguments: str) -> str:
        typed.append(("simkit", *arguments))
        assert run(monkeypatch, *arguments) == 0, capsys.readouterr()
        return capsys.readouterr().out

    monkeypatch.chdir(tmp_path)
    simkit("new", "pattern", "--example")
    # by hand: the heads of the own export are written into mapping.toml; the systems' exports lie in one folder
    write_foreign(tmp_path / "pattern", tmp_path / "exports", tmp_path / "mapping.toml")
    assert not {path.stem for path in Path("exports").iterdir()} & set(OWN_HEADS)
    with next(Path("exports").glob("tools*")).open(encoding="utf-8", newline="") as file:
        heads, first, *_ = csv.reader(file, delimiter=";")
    assert heads[:3] == ["Wkz", "Form", "L"]
    assert float(first[2].replace(",", ".")) < 5  # inches, with a decimal comma
    typed.append(("cp", "pattern/{elements,people,stops,...}.csv", "pattern/*.toml", "exports"))
    told = simkit("adopt", "exports", "--into", "mine", "--mapping", "mapping.toml")
    assert "rows read =" in told
    assert "mine: clean" in simkit("check", "mine")
    told = simkit("report", "mine", "--study", PAGE, "--replications", "2", "--weeks", "1", "--workers", "1",
                  "--no-pdf", "--out", "first")  # fmt: skip
    assert told.splitlines()[-1] == "report: first/index.html"
    page = Path("first/index.html").read_text(encoding="utf-8")
    name = read_plant(Path("mine")).settings.name
    assert name in page
    assert "Uncalibrated" in page
    assert "did not finish" not in page
    assert len(typed) <= MOST, typed
    assert len(typed) == 5
