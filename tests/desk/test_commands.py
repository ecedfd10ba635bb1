"""The command line on the desk: changed beside unchanged, one demand for run and report, and numbers made again."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys

import pandas as pd
import pytest

import simkit as sk
from simkit.cli import main
from simkit.desk.audits import read_kept
from simkit.experiment.glossary import NEEDED
from simkit.experiment.results import Results
from simkit.plant.options import Edit, Option
from simkit.plant.tables import MachineRow
from tests.house import ROOT
from tests.report.option_plant import option_plant
from tests.small_plant import write_small_plant

SHORT = ("--replications", "3", "--weeks", "1", "--workers", "1")
REMNANT = {"element": "remnant", "task_of": "load", "unit": "min/sheet", "state": "loading", "law": "constant",
           "typical": 1.0}  # fmt: skip
ADDS = Option(id="S1", name="Scanning", kind="low_capital", edits=(
    Edit(path="elements", op="add_row", value={**REMNANT, "element": "scan"}),))  # fmt: skip


def written(folder, **changes):
    """The option plant with an option that adds a row."""
    plant = option_plant()
    fields = {field.name: getattr(plant, field.name) for field in dataclasses.fields(plant)}
    return write_small_plant(folder, **{**fields, "options": (*plant.options, ADDS), **changes})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return written(tmp_path_factory.mktemp("commands") / "plant")


def run(monkeypatch, capsys, *words):
    """Run a command; return its exit code, what it printed, and what it said beside that."""
    monkeypatch.setattr(sys, "argv", ["simkit", *map(str, words)])
    with pytest.raises(SystemExit) as caught:
        main()
    said = capsys.readouterr()
    return int(caught.value.code or 0), said.out, said.err


def as_json(monkeypatch, capsys, *words):
    code, out, err = run(monkeypatch, capsys, "run", *words, "--json")
    assert code == 0, err
    return json.loads(out)


# ---- changed beside unchanged ----


def test_changed_today_stands_beside_unchanged_today(folder, monkeypatch, capsys):
    found = as_json(monkeypatch, capsys, folder, *SHORT, "--set", "elements[load].typical*=2")
    plain = as_json(monkeypatch, capsys, folder, *SHORT)
    assert list(found["scenarios"]) == ["today unchanged", "today"]
    assert found["scenarios"]["today unchanged"] == plain["scenarios"]["today"]
    values = found["values"]["today"][NEEDED], found["values"]["today unchanged"][NEEDED]
    gaps = [changed - before for changed, before in zip(*values, strict=True)]
    gap = found["differences"]["today"]["measures"][NEEDED]
    assert found["differences"]["today"]["against"] == "today unchanged"
    assert gap["mean"] == pytest.approx(sum(gaps) / 3)
    assert 0 < gap["half_width"] < min(gaps)


def test_a_changed_option_stands_beside_the_unchanged_one(folder, monkeypatch, capsys):
    words = (folder, *SHORT, "--options", "S1", "N1", "--set", "elements[scan].typical=6")
    found = as_json(monkeypatch, capsys, *words)
    assert list(found["scenarios"]) == ["today", "S1 unchanged", "S1", "N1"]
    assert {name: one["against"] for name, one in found["differences"].items()} == {
        "S1": "S1 unchanged", "N1": "today",
    }  # fmt: skip
    assert found["differences"]["S1"]["measures"]["state_loading_h"]["mean"] > 1.0


def test_the_table_shows_both_and_the_paired_difference(folder, monkeypatch, capsys):
    code, out, _ = run(monkeypatch, capsys, "run", folder, *SHORT, "--set", "elements[load].typical*=2")
    assert code == 0
    assert "unchanged" in out
    assert "its unchanged twin" in " ".join(out.split())
    row = next(line for line in out.splitlines() if "machine hours needed, h" in line)
    assert "(+0." in row
    assert row.count("±") == 3


def test_without_changes_options_stand_beside_today(folder, monkeypatch, capsys):
    found = as_json(monkeypatch, capsys, folder, *SHORT, "--options", "N1", "N1+N2")
    assert list(found["scenarios"]) == ["today", "N1", "N1+N2"]
    assert {one["against"] for one in found["differences"].values()} == {"today"}
    study = sk.read_plant(folder)
    study = sk.simulate([study.scenario("today"), study.scenario("N1", "N1"), study.scenario("N1+N2", "N1+N2")],
                        replications=3, weeks=1, workers=1, demand=1.0, progress=False)  # fmt: skip
    own = study.differences(measures=[NEEDED]).set_index("scenario")
    for name in ("N1", "N1+N2"):
        gap = found["differences"][name]["measures"][NEEDED]
        assert (gap["mean"], gap["half_width"]) == pytest.approx(tuple(own.loc[name, ["mean", "half_width"]]))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("plant.money.subcontract_per_h=300", "changes no hour, only money"),
        ("people[OP-1].rate_per_h=77", "changes no hour, only money"),
        ("elements[load|].typical=1.9", "the plant holds this value already"),
        ("elements[load].typical=3", ""),
        ("plant.run.seed=3", ""),
    ],
)
def test_a_change_that_does_nothing_here_says_so(folder, monkeypatch, capsys, change, said):
    code, _, err = run(monkeypatch, capsys, "run", folder, *SHORT, "--json", "--set", change)
    assert code == 0
    assert said in err if said else err == ""


def test_prices_alone_give_no_table_of_equal_columns(folder, monkeypatch, capsys):
    monkeypatch.setattr("simkit.desk.study.run_all", None)
    change = "options[A1].capital.quoted*=2"
    code, out, err = run(monkeypatch, capsys, "run", folder, "--set", change, "plant.money.subcontract_per_h=300")
    assert code == 0
    assert "moves no hour" in out
    assert f"simkit report {folder} --set '{change}' --set plant.money.subcontract_per_h=300" in out
    assert "options[A1].capital: low and high keep their proportion to quoted: " in err


def test_changes_that_hold_only_together_are_not_called_idle(folder, monkeypatch, capsys):
    both = ("plant.removal.min_side_mm=3500", "plant.removal.max_side_mm=4000")
    code, _, err = run(monkeypatch, capsys, "run", folder, *SHORT, "--json", "--set", *both)
    assert (code, "changes nothing" in err) == (0, False)


def test_a_change_of_the_run_holds_for_both(folder, monkeypatch, capsys):
    words = (folder, *SHORT, "--set", "elements[load].typical*=2", "plant.run.seed=3")
    found, plain = as_json(monkeypatch, capsys, *words), as_json(monkeypatch, capsys, folder, *SHORT, "--seed", "3")
    assert found["values"]["today unchanged"] == plain["values"]["today"]


def test_a_path_that_reaches_nothing_is_refused_before_anything_runs(folder, monkeypatch, capsys):
    monkeypatch.setattr("simkit.desk.study.run_all", None)
    code, _, err = run(monkeypatch, capsys, "run", folder, "--options", "N1", "--set", "elements[scan].typical=6")
    assert code == 2
    assert "'scan' is not a row of elements" in err


def test_events_are_those_of_the_run(folder, tmp_path, monkeypatch, capsys):
    words = (folder, *SHORT, "--demand", "1.5", "--seed", "3", "--set", "elements[load].typical*=2")
    code, out, err = run(monkeypatch, capsys, "run", *words, "--json", "--events", tmp_path / "events.csv")
    assert code == 0, err
    found = pd.read_csv(tmp_path / "events.csv").query("state == 'loading' and resource == 'M1'")
    hours = (found["end_h"] - found["start_h"]).groupby(found["scenario"]).sum()
    values = json.loads(out)["values"]
    assert set(hours.index) == {"today unchanged", "today"}
    for name in hours.index:
        assert hours[name] == pytest.approx(values[name]["state_loading_h"][0], abs=1e-3)
    words = (folder, *SHORT, "--set", "orders[1001].sheets=30", "--events", tmp_path / "more.csv")
    code, _, err = run(monkeypatch, capsys, "run", *words)
    assert code == 2
    assert "different orders" in err
    assert not (tmp_path / "more.csv").exists()


# ---- machines ----


def test_machines_sum_to_the_cell(tmp_path, monkeypatch, capsys):
    two = written(tmp_path / "plant", machines=(MachineRow(machine_id="M1"), MachineRow(machine_id="M2")))
    found = as_json(monkeypatch, capsys, two, *SHORT)
    machines, cell = found["machines"]["today"], found["scenarios"]["today"]
    assert set(machines) == {"M1", "M2"}
    for measure in ("state_cutting_h", "state_closed_h", "sheets_in_span"):
        parts = [machine[measure]["mean"] for machine in machines.values()]
        assert sum(parts) == pytest.approx(cell[measure]["mean"])
        assert min(parts) > 0


def test_a_single_machine_is_the_cell(folder, monkeypatch, capsys):
    found = as_json(monkeypatch, capsys, folder, *SHORT)
    assert found["machines"]["today"]["M1"]["state_cutting_h"] == found["scenarios"]["today"]["state_cutting_h"]


# ---- a report of the same numbers ----


def kept(out) -> tuple[dict, Results]:
    """How a report was run, and its totals."""
    return json.loads((out / "run.json").read_text(encoding="utf-8")), Results.from_csv(out / "results.csv")


def test_run_and_report_answer_at_the_plants_own_demand(tmp_path, monkeypatch, capsys):
    settings = option_plant().settings
    run_settings = settings.run.model_copy(update={"demand_factor": 1.6})
    plant = written(tmp_path / "plant", settings=settings.model_copy(update={"run": run_settings}))
    needed = as_json(monkeypatch, capsys, plant, *SHORT)["scenarios"]["today"][NEEDED]["mean"]
    code, _, err = run(monkeypatch, capsys, "report", plant, *SHORT, "--study", "trust", "--out", tmp_path / "out")
    assert code == 0, err
    card, results = kept(tmp_path / "out")
    assert card["demand"] == 1.6
    assert results.estimate("Today", NEEDED, 1.6).mean == pytest.approx(needed)


def test_a_demand_that_was_not_planned_and_changed_inputs_hold_for_the_whole_report(
    folder, tmp_path, monkeypatch, capsys
):
    """That demand is simulated and priced in every year; a row that an option adds is changed in that option."""
    monkeypatch.setenv("SIMKIT_RUNS", str(tmp_path / "runs"))
    changes = ("elements[load].typical*=2", "elements[scan].typical=6", "plant.bench.places=3")
    words = (folder, *SHORT, "--demand", "1.7")
    code, out, err = run(monkeypatch, capsys, "report", *words, "--study", "trust", "--out", tmp_path / "out",
                         "--set", *changes)  # fmt: skip
    assert code == 0, err
    assert "--set plant.bench.places=3: changes nothing, the plant holds this value already" in out
    card, results = kept(tmp_path / "out")
    assert results.demand_factors == (1.7,)
    plant, audit = read_kept(folder, tmp_path / "out")
    assert {entry.factor for entry in audit.plant.settings.finance.demand} == {1.7}
    assert plant.inputs.settings.finance.demand != audit.plant.settings.finance.demand
    load = {"elements[load].typical*": 2}
    today, scan = plant.scenario("Today", changes=load), plant.scenario("Scanning", "S1", {**load, changes[1][:-2]: 6})
    own = sk.simulate((today, scan), replications=3, weeks=1, demand=1.7, workers=1, progress=False).results
    for one in (today, scan):
        assert own.raw(one.name, NEEDED, 1.7).tolist() == results.raw(one.name, NEEDED, 1.7).tolist()
    assert card["scenarios"]["Scanning"] == ["S1"]
    assert card["inputs_sha256"] not in ("", plant.inputs_sha256), "a stamp of its own"


# ---- a number of a report, made again ----

SCRIPT = """
import sys
import simkit as sk
plant = sk.read_plant(sys.argv[1])
today, removal = plant.scenario("Today"), plant.scenario("Removal", options=["A4"])
study = sk.simulate([today, removal], replications=3, weeks=1, workers=1, progress=False)
gap = study.differences(measures="hours_needed").iloc[0]
value = study.money().measures().iloc[0]
print(repr(float(gap["mean"])), repr(float(value["npv"])))
"""


def test_ten_lines_elsewhere_make_numbers_of_the_report_again(folder, tmp_path):
    assert len(SCRIPT.strip().splitlines()) <= 10
    decision = sk.recommend(sk.read_plant(folder), replications=3, weeks=1, workers=1, progress=False)
    removal = next(choice for choice in decision.choices if choice.options == ("A4",))
    (tmp_path / "elsewhere").mkdir()
    script = tmp_path / "elsewhere" / "again.py"
    script.write_text(SCRIPT, encoding="utf-8")
    command = [sys.executable, str(script), str(folder)]
    made = subprocess.run(command, cwd=script.parent, env={**os.environ, "PYTHONPATH": str(ROOT)}, text=True,
                          capture_output=True, check=True)  # fmt: skip
    hours, value = map(float, made.stdout.split())
    assert not decision.package
    assert hours == pytest.approx(removal.hours_a_week.mean)
    assert value == pytest.approx(removal.value.mean)
