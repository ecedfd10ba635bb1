from __future__ import annotations

import json
import shutil

import nbformat
import pandas as pd
import pytest
from openpyxl import load_workbook

from simkit.base.messages import BadInput
from simkit.report.folder import claim_folder, seal_folder
from simkit.report.pages import answer_of, title_of
from simkit.report.parameters import SCHEMAS
from simkit.report.render import exit_code, render_studies, studies_folder


def test_bad_parameters_are_refused_before_anything_is_written(simulated, tmp_path):
    plant_folder, out_dir = simulated
    with pytest.raises(BadInput, match="did you mean 'demand_factor'"):
        render_studies(plant_folder, tmp_path / "out", parameters={"demand_factr": 1}, results_dir=out_dir / "results")
    assert not (tmp_path / "out").exists()


def test_all_studies_finish_and_say_one_line_each(rendering):
    assert [study.failure for study in rendering.studies] == [None] * len(SCHEMAS)
    assert exit_code(rendering.studies) == 0
    assert sorted(rendering.said) == sorted(f"{name}: {name}.html" for name in SCHEMAS)


def test_the_index_has_each_answer(rendering):
    index = (rendering.out_dir / "index.html").read_text(encoding="utf-8")
    assert all(study.answer and study.page.name in index for study in rendering.studies)
    assert "With today&#39;s cell the 4-week order book needs" in index


def test_the_cash_flow_table_is_written_beside_the_pages(rendering):
    table = pd.read_csv(rendering.out_dir / "money.csv")
    assert list(table.columns) == ["scenario", "year", "line", "benefit_class", "amount", "basis", "owner", "item"]
    assert table["basis"].notna().all()


def test_the_workbook_is_written_and_linked_from_the_payback_page_and_the_index(rendering):
    sheets = load_workbook(rendering.out_dir / "workbook.xlsx", read_only=True).sheetnames
    assert {"Read me", "Inputs", "Case", "Compare", "Checks", "Changes"} <= set(sheets)
    linked = [p.name for p in rendering.pages if 'href="workbook.xlsx"' in p.read_text(encoding="utf-8")]
    assert sorted(linked) == ["index.html", "payback.html"]


def test_pages_are_the_same_bytes_when_rendered_again(rendering, tmp_path):
    claim_folder(tmp_path / "out")
    shutil.copytree(rendering.out_dir / "results", tmp_path / "out" / "results")
    (again,) = render_studies(rendering.plant_folder, tmp_path / "out", studies=["today"], say=lambda line: None)
    first, second = ((f / "today.html").read_text(encoding="utf-8") for f in (rendering.out_dir, tmp_path / "out"))
    assert again.page == tmp_path / "out" / "today.html"
    assert first.split("<main")[1] == second.split("<main")[1]


def test_a_report_of_one_study_keeps_the_others_that_still_hold_in_the_index(rendering, tmp_path):
    out = tmp_path / "out"
    shutil.copytree(rendering.out_dir, out)
    claim_folder(out)
    (out / "nights.html").write_text("<p>made from other inputs</p>", encoding="utf-8")
    seal_folder(out, ["nights.html"])
    said: list[str] = []
    render_studies(rendering.plant_folder, out, studies=["today"], say=said.append)
    assert "made from other inputs and is withdrawn" in " ".join(said)
    assert "Withdrawn" in (out / "nights.html").read_text(encoding="utf-8")
    index, today = ((out / page).read_text(encoding="utf-8") for page in ("index.html", "today.html"))
    assert "nights.html" not in index + today
    for name in set(SCHEMAS) - {"nights"}:
        assert f'href="{name}.html"' in index
        assert f'href="{name}.html"' in today
    assert index.index("today.html") < index.index("options.html") < index.index("payback.html")


@pytest.fixture
def broken(tmp_path):
    """The studies, with a cell in the middle of ``today`` that fails."""
    folder = tmp_path / "studies"
    shutil.copytree(studies_folder(), folder)
    notebook = json.loads((folder / "today.ipynb").read_text(encoding="utf-8"))
    number = next(i for i, c in enumerate(notebook["cells"]) if "late_orders" in "".join(c["source"]))
    notebook["cells"][number]["source"] = ["show(today.late_ordres(study))"]
    (folder / "today.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    return folder, number + 1


def test_a_failed_study_names_its_cell_and_the_others_go_on(rendering, tmp_path, broken):
    notebooks, number = broken
    said = []
    studies = render_studies(
        rendering.plant_folder, tmp_path / "out", studies=["today", "options"], notebooks=notebooks,
        results_dir=rendering.out_dir / "results", say=said.append,
    )  # fmt: skip
    today, options = studies
    assert exit_code(studies) == 3
    assert options.failure is None
    assert today.failure is not None
    assert today.failure.cell == number
    page = today.page.read_text(encoding="utf-8")
    assert f"It stopped in cell {number}" in page
    assert "show(today.late_ordres(study))" in page
    assert "Late orders" in page.split("It stopped in cell")[1][:200]
    assert "Traceback" not in page
    assert "This study did not finish" in (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert any(line.startswith(f"today: failed in cell {number}") for line in said)


def test_an_executed_notebook_gives_its_answer(rendering):
    notebook = nbformat.read(rendering.out_dir / "notebooks" / "today.ipynb", as_version=4)
    assert answer_of(notebook) == next(study.answer for study in rendering.studies if study.name == "today")


def test_a_title_is_the_first_heading():
    assert title_of(studies_folder() / "payback.ipynb") == "What is each option worth in money?"
