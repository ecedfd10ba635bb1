"""A report of a small plant: pages from notebooks, linked, files beside them; refusals before anything is written."""

from __future__ import annotations

import html
import json
import re
import shutil

import nbformat
import pytest

import simkit as sk
from simkit.desk.report_comparison import compared
from simkit.desk.reporting import DETAILS, report
from simkit.report.notebooks import read_notebook, studies_folder
from tests.report.option_plant import write_option_plant
from tests.report.rendered import ASKED, CHANGES, SMALL


@pytest.fixture(scope="module")
def plant_folder(tmp_path_factory):
    return write_option_plant(tmp_path_factory.mktemp("report") / "plant")


def test_no_page_failed_and_all_files_are_there(rendering):
    out = rendering.out_dir
    assert not rendering.report.failed, rendering.said
    assert rendering.report.exit_code == 0
    for name in ("index.html", "compare.html", *(f"{name}.html" for name in DETAILS), "workbook.xlsx", "money.csv"):
        assert (out / name).is_file(), name
    assert (out / "scenarios" / "tool-magazine-part-removal.html").is_file()


def test_every_link_leads_to_a_file(rendering):
    for page in rendering.pages:
        for href in re.findall(r'href="([^"#]+)"', page.read_text(encoding="utf-8")):
            assert (page.parent / href).is_file(), (page.name, href)


def test_the_first_page_says_what_the_desk_says(rendering):
    text = html.unescape((rendering.out_dir / "index.html").read_text(encoding="utf-8"))
    plant = sk.read_plant(rendering.plant_folder)
    decision = sk.recommend(plant, ASKED, changes={"elements[load].typical": 1.5}, **SMALL)
    for paragraph in decision.answer.paragraphs:
        assert paragraph in text
    for choice in decision.table()["choice"]:
        assert choice in text


def test_every_page_bears_its_marks_and_no_code(rendering):
    for page in rendering.pages:
        text = page.read_text(encoding="utf-8")
        assert "elements[load].typical=1.5" in text, page
        assert "Uncalibrated" in text, page
        assert "import simkit" not in text, page
        assert "<script" not in text, page
        assert "http" not in re.sub(r"data:[^\"]+|xmlns[:\w]*=\"[^\"]*\"", "", text.split("<main")[1]), page


def test_one_page_alone_leaves_those_that_hold_and_withdraws_the_others(rendering, tmp_path):
    plant_folder, said = rendering.plant_folder, []
    out = shutil.copytree(rendering.out_dir, tmp_path / "out")
    before = (out / "compare.html").read_text(encoding="utf-8")
    how = {"studies": ["trust"], "options": ASKED, "say": said.append, "paper": None, **SMALL}
    report(plant_folder, out, changes=CHANGES, **how)
    assert (out / "compare.html").read_text(encoding="utf-8") == before
    assert 'href="compare.html"' in (out / "trust.html").read_text(encoding="utf-8")
    report(plant_folder, out, changes=["elements[load].typical=1.6"], **how)
    assert "Withdrawn" in (out / "compare.html").read_text(encoding="utf-8")
    assert "compare.html: was made from other inputs" in " ".join(said)
    assert 'href="compare.html"' not in (out / "trust.html").read_text(encoding="utf-8")
    stamp = json.loads((out / "run.json").read_text(encoding="utf-8"))["inputs_sha256"]
    assert stamp != sk.read_plant(plant_folder).inputs_sha256
    page = (out / "trust.html").read_text(encoding="utf-8")
    assert (page.count(stamp), page.count(stamp[:16])) == (1, 2), "the table of the card, and the foot"


def test_a_failed_page_names_its_cell_and_the_others_are_made(plant_folder, tmp_path, monkeypatch):
    studies, said = tmp_path / "studies", []
    shutil.copytree(studies_folder(), studies)
    book = read_notebook(studies / "trust.ipynb")
    number = next(place for place, cell in enumerate(book.cells, 1) if "card()" in cell.source)
    book.cells[number - 1].source = "study.crad()"
    nbformat.write(book, studies / "trust.ipynb")
    monkeypatch.setattr("simkit.desk.reporting.studies_folder", lambda: studies)
    made = report(plant_folder, tmp_path / "out", studies=["trust", "compare"], say=said.append, paper=None, **SMALL)
    assert made.exit_code == 3
    assert list(made.failed) == ["trust.html"]
    assert made.failed["trust.html"].cell == number
    text = (tmp_path / "out" / "trust.html").read_text(encoding="utf-8")
    assert f"It stopped in cell {number}" in text
    assert "study.crad()" in text
    assert "Traceback" not in text
    assert "did not finish" not in (tmp_path / "out" / "compare.html").read_text(encoding="utf-8")
    assert any(line.startswith(f"Trust: failed in cell {number}") for line in said)


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"studies": ["trusst"]}, "did you mean 'trust'"),
        ({"options": ["A9"]}, "A9"),
        ({"changes": ["elements[laod].typical=1"]}, "laod"),
        ({"changes": ["nothing"]}, "path=value"),
    ],
)
def test_bad_input_is_refused_before_anything_is_written(plant_folder, tmp_path, given, why):
    with pytest.raises(sk.BadInput, match=re.escape(why)):
        report(plant_folder, tmp_path / "new", say=lambda line: None, **given, **SMALL)
    assert not (tmp_path / "new").exists()


def test_a_foreign_folder_is_refused_before_anything_runs(plant_folder, tmp_path, monkeypatch):
    monkeypatch.setattr("simkit.desk.reporting.recommend", None)
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(sk.BadInput, match="did not write"):
        report(plant_folder, tmp_path, say=lambda line: None, **SMALL)
    assert (tmp_path / "mine.txt").read_text(encoding="utf-8") == "mine"


def test_two_reports_are_compared_by_input_and_answer(rendering, tmp_path):
    report(rendering.plant_folder, tmp_path / "out", studies=["trust"], say=lambda line: None, paper=None, **SMALL)
    lines = compared(tmp_path / "out", rendering.out_dir)
    assert lines[0] == f"1 input differ from {rendering.out_dir}:".replace("differ", "differs")
    assert "elements[load].typical" in lines[1]
    assert any("Tool magazine: " in line for line in lines[2:])
    assert compared(tmp_path / "out", tmp_path / "out") == [
        f"the same inputs as {tmp_path / 'out'}",
        "no answer changed",
    ]
    with pytest.raises(sk.BadInput, match=r"choices\.csv"):
        compared(tmp_path / "out", tmp_path)


def test_the_first_page_alone_leads_to_no_page_that_is_not_there(plant_folder, tmp_path):
    report(plant_folder, tmp_path / "out", studies=["decide"], say=lambda line: None, **SMALL)
    text = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert "Times and rates" in text
    for href in re.findall(r'href="([^"#]+)"', text):
        assert (tmp_path / "out" / href).is_file(), href
    assert not (tmp_path / "out" / "report.pdf").exists()
