"""The audit from the command line: a blank sheet, a filled one, and what is wrong with one."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest

from simkit.cli import main
from simkit.desk.audits import RESULTS, RUN, write_kept
from tests.report.option_plant import write_option_plant
from tests.report.workbook_cases import SMALL_SCENARIOS, study_of


def run(monkeypatch: pytest.MonkeyPatch, folder: Path, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["simkit", "audit", str(folder / "plant"), "--report", str(folder), *words])
    with pytest.raises(SystemExit) as caught:
        main()
    return int(caught.value.code or 0)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A plant with what its report kept when something was bought."""
    plant = write_option_plant(tmp_path / "plant")
    write_kept(tmp_path, study_of(plant, SMALL_SCENARIOS, (1.0, 1.25)), ())
    return tmp_path


def filled(path: Path, values: dict[str, str]) -> None:
    """Fill in the counts at 3 months and leave the others open."""
    rows = list(csv.DictReader(path.read_text().splitlines()))
    for row in rows:
        row["achieved"] = values.get(row["measure"], "") if row["months"] == "3" else ""
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_a_sheet_is_written_filled_and_compared(monkeypatch, folder, capsys) -> None:
    sheet = folder / "a1.csv"
    assert run(monkeypatch, folder, "--achieved", str(sheet), "--form", "A1") == 0
    assert "blank sheet of" in capsys.readouterr().out
    heads = sheet.read_text().splitlines()[0]
    assert heads == "scenario,months,measure,unit,achieved,demand_factor,owner,note"
    filled(sheet, {"hours_needed": "300", "state_changeover_h": "14.3"})  # 71 x 0.89 / 4 x 47 / 52
    monkeypatch.setenv("COLUMNS", "200")
    assert run(monkeypatch, folder, "--achieved", str(sheet)) == 0
    out = capsys.readouterr().out
    assert "above: worse" in out
    assert "1 of 2 counts within the predicted interval; outside: hours_needed at 3 months." in out
    assert "Uncalibrated" in " ".join(out.split())


def test_nothing_is_written_over(monkeypatch, folder, capsys) -> None:
    sheet = folder / "a1.csv"
    sheet.write_text("mine")
    assert run(monkeypatch, folder, "--achieved", str(sheet), "--form", "A1") == 2
    assert "nothing is written over" in capsys.readouterr().err
    assert sheet.read_text() == "mine"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (None, "is not a file"),
        ("scenario,months\nA1,3\n", "required column that is missing"),
        ("scenario,months,measure,unit,achieved\nA1,3,hours_needed,h/week,much\n", "much"),
        ("scenario,months,measure,unit,achieved\nA1,3,hours_needed,h/week,\n", "no achieved value"),
        ("scenario,months,measure,unit,achieved\nA1,5,hours_neded,h/week,1\nB1,3,x,h,1\n", "2 problems"),
        ("scenario,months,measure,unit,achieved\n" + "A1,3,hours_needed,h/week,1\n" * 2, "may stand only once"),
    ],
)
def test_a_bad_sheet_is_one_message(monkeypatch, folder, capsys, text, why) -> None:
    sheet = folder / "a1.csv"
    if text is not None:
        sheet.write_text(text)
    assert run(monkeypatch, folder, "--achieved", str(sheet)) == 2
    caught = capsys.readouterr()
    assert why in caught.err
    assert "Traceback" not in caught.err
    assert caught.out == ""


def test_an_unknown_scenario_and_a_missing_or_foreign_report(monkeypatch, folder, capsys) -> None:
    words = ("--achieved", str(folder / "x.csv"), "--form")
    assert run(monkeypatch, folder, *words, "A9") == 2
    assert "is not a case of the report" in capsys.readouterr().err
    card = (folder / RUN).read_text(encoding="utf-8")
    for text, why in ((card.replace("Small plant", "Other plant"), "the report is of 'Other plant'"),
                      (card[:-9], "is not a run card")):  # fmt: skip
        (folder / RUN).write_text(text, encoding="utf-8")
        assert run(monkeypatch, folder, *words, "A1") == 2
        assert why in capsys.readouterr().err
    (folder / RESULTS).unlink()
    assert run(monkeypatch, folder, *words, "A1") == 2
    assert "Make the report first" in capsys.readouterr().err
    assert not (folder / "x.csv").exists()
