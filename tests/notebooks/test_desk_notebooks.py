"""Notebooks that run the cell: with other parameters, on small plants and the demo; tutorials say what they said."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import papermill
import pytest

import simkit as sk
from simkit.report.notebooks import studies_folder
from tests.report.option_plant import write_option_plant

DEMO = Path("data/tarnholt").resolve()
PLUS_MINUS = re.compile(r"([−-]?[\d.,]+) ± ([\d.,]+)")
SHORT = {"replications": 2, "weeks": 1.0, "demand": 1.0}
TUTORIALS = ("first_study", "own_option")


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return write_option_plant(tmp_path_factory.mktemp("small") / "plant")


@pytest.fixture(scope="module")
def ten_orders(tmp_path_factory):
    return sk.example_plant(tmp_path_factory.mktemp("ten") / "plant")


def run(name: str, folder: Path, **parameters):
    """The notebook run in its place, with these parameters."""
    executed = folder / f"{name}.ipynb"
    papermill.execute_notebook(
        str(studies_folder() / f"{name}.ipynb"), str(executed), parameters=parameters, progress_bar=False,
        log_output=False, cwd=str(folder),
    )  # fmt: skip
    return nbformat.read(executed, as_version=4)


def shown(notebook) -> list[str]:
    """What each cell shows, as text."""
    return [
        "\n".join("".join(o.get("data", {}).get("text/html") or o.get("text") or "") for o in cell.get("outputs", ()))
        for cell in notebook.cells
    ]


def test_compare_on_a_small_plant_moves_with_a_changed_input(small, tmp_path):
    options = {"Removal": ["A4", "C1"]}
    found = {}
    for factor in (1.0, 3.0):
        changes = {"elements[load].typical*": factor}
        book = run("compare", tmp_path, plant=str(small), options=options, changes=changes, **SHORT)
        found[factor] = shown(book)[-3]
    assert "Removal" in found[1.0]
    assert found[1.0] != found[3.0]


def test_scenario_on_a_plant_of_ten_orders_says_what_the_desk_says(ten_orders, tmp_path):
    given = {"replications": 2, "weeks": 2.0, "demand": 1.0}
    book = run("scenario", tmp_path, plant=str(ten_orders), options=["A1"], package=["N1"], **given)
    plant = sk.read_plant(ten_orders)
    option = plant.options["A1"]
    made = plant.scenarios({"Today": [], "Package": ["N1"], option: ["N1", "A1"]})
    study = sk.simulate(made, progress=False, workers=1, **given)
    said = "".join(shown(book))
    for sentence in sk.answer(study, study.money(), against="Package").sentences:
        assert sentence.text in said.replace("&#39;", "'")


def test_the_demo_as_a_page(tmp_path):
    page = sk.render(studies_folder() / "scenario.ipynb", tmp_path / "a7.html", plant=DEMO, options=["A7"], **SHORT)
    text = page.read_text(encoding="utf-8")
    assert "Nozzle changer" in text
    assert "sk.simulate" not in text
    compared = sk.render(studies_folder() / "compare.ipynb", tmp_path / "c.html", plant=DEMO, **SHORT)
    assert "Part removal" in compared.read_text(encoding="utf-8")
    assert "what_if" not in compared.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"replicatons": 2}, "did you mean 'replications'"),
        ({"replications": "two"}, "a int is needed"),
        ({"options": ["A1"]}, "a dict is needed"),
    ],
)
def test_wrong_parameters_are_answered_before_anything_runs(given, why, tmp_path):
    with pytest.raises(sk.BadInput, match=why):
        sk.render(studies_folder() / "compare.ipynb", tmp_path / "page.html", **given)


def test_a_wrong_path_is_answered_with_the_nearest(small, tmp_path):
    changes = {"elements[laod].typical": 1.0}
    with pytest.raises(sk.ScenarioFailed, match="did you mean 'load'"):
        sk.render(studies_folder() / "compare.ipynb", tmp_path / "page.html", plant=small, changes=changes,
                  options={"Removal": ["A4"]})  # fmt: skip


@pytest.mark.parametrize("name", TUTORIALS)
def test_tutorials_still_say_what_they_said(name, tmp_path):
    """Numbers within the intervals that are stored, and the same words around them."""
    kept = nbformat.read(studies_folder() / f"{name}.ipynb", as_version=4)
    parameters = {"plant": str(DEMO)} if name == "own_option" else {}
    now = shown(run(name, tmp_path, **parameters))[-1]
    before = shown(kept)[-1]
    pairs = list(zip(PLUS_MINUS.findall(before), PLUS_MINUS.findall(now), strict=True))
    assert pairs
    for (old, width), (new, _) in pairs:
        assert abs(_number(new) - _number(old)) <= _number(width) + 1e-9
    assert PLUS_MINUS.sub("", now) == PLUS_MINUS.sub("", before)


def _number(text: str) -> float:
    return float(text.replace(",", "").replace("−", "-"))
