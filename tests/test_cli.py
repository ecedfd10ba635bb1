"""The command line: what it prints, and its exit codes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from simkit.cli import main
from simkit.experiment.glossary import MEASURES
from simkit.plant.tables import Stop
from simkit.report.cautions import STANDING
from tests.process.test_findings import without_loading
from tests.report.option_plant import write_option_plant
from tests.small_plant import write_small_plant

DEMO = Path(__file__).resolve().parents[1] / "data" / "tarnholt"
NO_RATES = {"subcontract_per_h": 0.0}
"""Nothing is ever given out in the small plant: no price of it is a note."""


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["simkit", *arguments])
    with pytest.raises(SystemExit) as caught:
        main()
    return int(caught.value.code or 0)


Output = pytest.CaptureFixture[str]


def test_check_of_a_sound_plant(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = write_small_plant(tmp_path / "p", elements=without_loading(), money=NO_RATES)
    assert run(monkeypatch, "check", str(folder)) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[-1] == f"{folder}: clean, no findings."
    assert [cell.strip() for cell in said[-3].strip("│").split("│")] == ["2026-01-05", "6", "21", "5.5"]


def test_check_notes_what_physics_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = write_small_plant(tmp_path / "p", machine={"press_capacity_kn": 30}, money=NO_RATES)
    assert run(monkeypatch, "check", str(folder)) == 0
    out = capsys.readouterr().out
    assert "note  tools.csv TL-005: rectangle 5x50" in out
    assert f"{STANDING}\nPunching, clamps, moving sheet: the edge" in out
    assert "Manual lifting: sheet masses" in out
    assert "Gas: " not in out
    assert out.endswith(f"{folder}: clean, 4 notes.\n")


def test_check_tells_what_is_begun_anew_for_ever(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output
) -> None:
    folder = write_small_plant(tmp_path / "p", people={"break_rules": {"clear": "stop"}}, stops=(
        Stop(cause="breakdown", exposure="running_hour", rate=0.01, repair_min=181, clears="technician"),))  # fmt: skip
    assert run(monkeypatch, "check", str(folder)) == 2
    assert 'error plant.toml people.break_rules.clear "stop": breakdown takes 181 min' in capsys.readouterr().out


def test_notebooks_are_copied_with_the_demo_and_never_over_anything(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output
) -> None:
    folder = tmp_path / "mine"
    assert run(monkeypatch, "notebooks", str(folder)) == 0
    assert (folder / "studies" / "compare.ipynb").read_bytes() == Path("studies/compare.ipynb").read_bytes()
    assert (folder / "studies" / "../data/tarnholt/plant.toml").is_file()
    capsys.readouterr()
    assert run(monkeypatch, "notebooks", str(folder)) == 2
    assert "nothing is written over" in capsys.readouterr().err


def test_check_with_a_note_only(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = write_small_plant(tmp_path / "p", rules={"other_losses": 0.1})
    assert run(monkeypatch, "check", str(folder)) == 0
    assert "note  plant.toml rules.other_losses" in capsys.readouterr().out


def test_check_shows_the_calendar(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = str(write_small_plant(tmp_path / "p", elements=without_loading(), money=NO_RATES))
    assert run(monkeypatch, "check", folder, "--calendar", "--weeks", "2", "--from", "2026-03-23") == 0
    out = capsys.readouterr().out
    assert "Calendar from Mon 23 Mar to Sun 5 Apr 2026, wall time of UTC; nothing has been run." in out
    assert out.count("attended 80 h, unattended 0 h, closed 88 h") == 2
    assert out.endswith(f"{folder}: clean, no findings.\n")
    assert run(monkeypatch, "check", folder, "--calendar", "--from", "23.3.26") == 2
    assert '--from "23.3.26": is not a date' in capsys.readouterr().err


def test_the_calendar_of_an_option(monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    assert run(monkeypatch, "check", str(DEMO), "--calendar", "--options", "C2") == 0
    out = capsys.readouterr().out
    assert "Sat 9 May: attended 6 h" in out
    assert "Week from Mon 4 May: attended 86 h" in out
    assert run(monkeypatch, "check", str(DEMO), "--calendar", "--options", "C9") == 2


def test_check_writes_the_calendar_as_a_page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder, page = str(write_small_plant(tmp_path / "p", elements=without_loading())), tmp_path / "week.html"
    assert run(monkeypatch, "check", folder, "--page", str(page), "--from", "2026-03-23") == 0
    out = capsys.readouterr().out
    assert f"{page}: calendar written as a page" in out
    assert "attended 80 h" not in out, "the text is shown when asked for"
    assert "Calendar from Mon 23 Mar to Sun 29 Mar 2026" in page.read_text(encoding="utf-8")
    assert run(monkeypatch, "check", folder, "--calendar", "--page", str(page)) == 2
    assert "nothing is written over" in capsys.readouterr().err


def test_no_page_of_a_plant_with_errors(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder, page = write_small_plant(tmp_path / "p"), tmp_path / "week.html"
    (folder / "plant.toml").write_text("name = 1\n")
    assert run(monkeypatch, "check", str(folder), "--page", str(page)) == 2
    assert not page.exists()
    assert "no calendar was written" in capsys.readouterr().out
    good = write_small_plant(tmp_path / "q")
    assert run(monkeypatch, "check", str(good), "--page", str(tmp_path / "none" / "week.html")) == 2
    assert "the folder is not there" in capsys.readouterr().err


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


def test_the_example_to_copy_from_is_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = str(tmp_path / "p")
    assert run(monkeypatch, "new", folder, "--example") == 0
    assert run(monkeypatch, "check", folder) == 0
    assert run(monkeypatch, "new", folder, "--example") == 2
    capsys.readouterr()
    assert (
        run(monkeypatch, "run", folder, "--options", "N1", "A1", "--replications", "2", "--json", "--workers", "1") == 0
    )
    hours = {
        name: found["hours_needed"]["mean"] for name, found in json.loads(capsys.readouterr().out)["scenarios"].items()
    }
    assert hours["today"] > hours["A1"] > 0


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


def test_run_gives_every_measure_of_every_scenario_as_json(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output
) -> None:
    folder = write_option_plant(tmp_path / "p")
    words = ("run", str(folder), "--options", "N1", "N1+N2", "--replications", "2", "--weeks", "1", "--workers", "1")
    assert run(monkeypatch, *words, "--json") == 0
    first = capsys.readouterr().out
    content = json.loads(first)
    assert list(content) == [
        "plant", "inputs_sha256", "seed", "replications", "weeks", "scenarios", "values", "differences", "machines",
    ]  # fmt: skip
    assert (content["replications"], content["weeks"]) == (2, 1.0)
    assert list(content["scenarios"]) == ["today", "N1", "N1+N2"]
    needed = content["scenarios"]["N1+N2"]["hours_needed"]
    assert list(needed) == ["mean", "half_width", "unit"]
    assert needed["unit"] == "h"
    assert sum(content["values"]["N1+N2"]["hours_needed"]) == pytest.approx(2 * needed["mean"])
    assert set(MEASURES) <= set(content["scenarios"]["today"])
    assert run(monkeypatch, *words, "--json") == 0
    assert capsys.readouterr().out == first


def test_run_takes_a_changed_input_and_says_null_where_one_replication_cannot_tell(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output
) -> None:
    folder = str(write_option_plant(tmp_path / "p"))
    words = ("run", folder, "--replications", "1", "--weeks", "1", "--json", "--set")
    assert run(monkeypatch, *words, "elements[load].typical=0") == 0
    today = json.loads(capsys.readouterr().out)["scenarios"]["today"]
    assert today["state_loading_h"] == {"mean": 0.0, "half_width": None, "unit": "h"}


def test_run_tells_all_that_is_wrong_at_once(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output) -> None:
    folder = str(write_option_plant(tmp_path / "p"))
    assert run(monkeypatch, "run", folder, "--options", "N9", "C1", "--set", "plant.rules.dispach=due") == 2
    message = capsys.readouterr().err
    assert "3 problems" in message
    for piece in ("N9", "C1", "did you mean 'dispatch'?"):
        assert piece in message


def test_report_of_a_plant_with_an_error_writes_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Output
) -> None:
    folder = write_option_plant(tmp_path / "p")
    (folder / "materials.csv").unlink()
    assert run(monkeypatch, "report", str(folder), "--out", str(tmp_path / "out")) == 2
    assert "materials.csv: is required" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert run(monkeypatch, "report", str(folder), "--study", "todday") == 2
    assert "did you mean 'today'?" in capsys.readouterr().err


SLOW_TO_LOAD = {
    "matplotlib",
    "scipy.stats",
    "scipy.optimize",
    "SALib",
    "IPython",
    "ipywidgets",
    "nbconvert",
    "papermill",
}


@pytest.mark.parametrize(
    ("command", "free_of"),
    [(("check",), {*SLOW_TO_LOAD, "pandas", "simpy"}),
     (("run", "--replications", "1", "--weeks", "1", "--workers", "1"), SLOW_TO_LOAD)],
)  # fmt: skip
def test_a_command_loads_no_library_that_it_does_not_use(tmp_path: Path, command: tuple[str, ...], free_of: set[str]):
    name, *more = command
    arguments = ["simkit", name, str(write_small_plant(tmp_path / "p")), *more]
    code = (
        "import sys\n"
        f"sys.argv = {arguments!r}\n"
        "from simkit.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        f"print(sorted({free_of!r} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.stdout.splitlines()[-1] == "[]", ran.stderr
