"""The studies run from top to bottom, show every exhibit, and answer with the numbers of the results."""

from __future__ import annotations

import os
import subprocess
import sys

import nbformat
import papermill
import pytest

from simkit.report.exhibits import HTML, PNG, SVG
from simkit.report.moneystudy import money_of
from simkit.report.nightstudy import nights_of
from simkit.report.parameters import SCHEMAS
from simkit.report.render import studies_folder
from simkit.report.sections.answers import answer_options, answer_today
from simkit.report.sections.money import answer_payback
from simkit.report.sections.nights import answer_nights
from simkit.report.sections.times import answer_times
from simkit.report.timestudy import times_of
from simkit.report.words import plus_minus, with_unit

LEAST = {"today": (5, 8), "options": (6, 5), "nights": (3, 11), "times": (4, 19),
         "payback": (1, 7)}  # fmt: skip
"""Figures and tables that each study shows at least."""


def outputs(rendering, name):
    notebook = nbformat.read(rendering.out_dir / "notebooks" / f"{name}.ipynb", as_version=4)
    return [output for cell in notebook.cells if cell.cell_type == "code" for output in cell.outputs]


@pytest.mark.parametrize("name", SCHEMAS)
def test_a_study_shows_its_exhibits_and_nothing_else(rendering, name):
    shown = outputs(rendering, name)
    assert {output.output_type for output in shown} == {"display_data"}
    kinds = [next(iter({SVG, PNG, HTML} & set(output.data))) for output in shown]
    tables = sum("<table" in output.data[HTML] for output in shown if HTML in output.data)
    assert kinds.count(SVG) + kinds.count(PNG) >= LEAST[name][0]
    assert tables >= LEAST[name][1]


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_answer_comes_first_and_at_night_the_cautions_before_it(rendering, name):
    shown = outputs(rendering, name)
    cautions = 2 if name == "nights" else 0
    assert all("answer" not in output.metadata.get(HTML, {}) for output in shown[:cautions])
    assert "answer" in shown[cautions].metadata[HTML]
    assert cautions == 0 or "Lone work" in shown[0].data[HTML]


def test_answers_are_those_of_the_package(rendering, study):
    answers = {page.name: page.answer for page in rendering.studies}
    assert answers["today"] == answer_today(study).text
    assert answers["options"] == answer_options(study).text
    assert answers["nights"] == answer_nights(nights_of(study)).text
    assert answers["times"] == answer_times(times_of(study)).text
    assert answers["payback"] == answer_payback(money_of(study)).text


def test_the_answer_holds_the_simulated_hours(rendering, study):
    answer = next(page.answer for page in rendering.studies if page.name == "today")
    assert f"needs {plus_minus(study.results.estimate('today', 'hours_needed', 1.0))} h" in answer
    assert with_unit(study.results.values("N1+N2", "hours_needed", 1.0).mean(), "h") in answer


def test_nbval_accepts_a_study_with_small_data(rendering, tmp_path):
    fast = tmp_path / "today.ipynb"
    places = {"plant_folder": str(rendering.plant_folder), "results_dir": str(rendering.out_dir / "results")}
    papermill.execute_notebook(
        str(studies_folder() / "today.ipynb"), str(fast), parameters=places, prepare_only=True, progress_bar=False
    )
    command = [sys.executable, "-m", "pytest", "--nbval-lax", "-p", "no:cacheprovider", "-c", os.devnull, str(fast)]
    run = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    cells = sum(cell.cell_type == "code" for cell in nbformat.read(fast, as_version=4).cells)
    assert run.returncode == 0, run.stdout + run.stderr
    assert f"{cells} passed" in run.stdout
