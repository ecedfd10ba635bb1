"""The page of money: what it shows is what the desk says, within its budget, with other parameters too."""

from __future__ import annotations

import html
import re

import openpyxl
import pandas as pd
import pytest

import simkit as sk
from simkit.report.frames import frame_html
from simkit.report.notebooks import studies_folder
from tests.notebooks.pages import BUDGET, seen
from tests.report.option_plant import write_option_plant

RUN = {"replications": 2, "weeks": 1.0}

pytestmark = pytest.mark.usefixtures("kept_kernel")


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return write_option_plant(tmp_path_factory.mktemp("money") / "plant")


@pytest.fixture(scope="module")
def page(plant, tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    given = {"options": {"Magazine": ["A1"], "Removal": ["A4", "C1"]}, "package": ["N1", "N2"], **RUN}
    sk.render(studies_folder() / "money.ipynb", folder / "money.html", plant=plant, files=str(folder), **given)
    return folder


@pytest.fixture(scope="module")
def cash(plant):
    package = ["N1", "N2"]
    more = {"Package + Magazine": [*package, "A1"], "Package + Removal": [*package, "A4", "C1"]}
    sets = {"Today": [], "Package": package, **more}
    study = sk.simulate(sk.read_plant(plant).scenarios(sets), progress=False, workers=1, **RUN)
    return study.money().with_times(progress=False, workers=1)


def text_of(page) -> str:
    return (page / "money.html").read_text(encoding="utf-8")


def cells_of(text: str) -> list[list[str]]:
    """Cells of every row of all tables, as a reader sees them."""
    rows = re.findall(r"<tr>(.*?)</tr>", text, re.DOTALL)
    return [[html.unescape(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)] for row in rows]


def test_the_page_shows_what_the_desk_says(page, cash):
    text, case = text_of(page), cash.best()
    for sentence in cash.answer().paragraphs:
        assert sentence in html.unescape(text)
    shown = cash.measures(beyond="Package")[["scenario", "capital", "npv", "half_width", "extra", "extra_half_width"]]
    rows = [*cells_of(frame_html(shown)), *cells_of(frame_html(cash.trace(case)))]
    page_rows = cells_of(text)
    assert len(rows) == 4 + 13
    assert [row for row in rows if row not in [own[: len(row)] for own in page_rows]] == []
    for table in (cash.yearly(case), cash.owners(case), cash.other_terms(), cash.rules(), cash.buying()):
        assert table.attrs["title"] in html.unescape(text)
    for figure in (cash.by_year(), cash.steps(case), cash.over_demand(), cash.risk(), cash.swings(case)):
        assert f"<figcaption>{figure.attrs['title']}</figcaption>" in text


def test_the_page_keeps_its_budget_and_shows_no_code(page):
    found = seen(page / "money.html")
    assert found.over_budget == {}
    assert found.figures == BUDGET["figures"]
    assert "cash." not in found.text
    assert found.says("no tax or investment advice")


def test_workbook_and_table_of_amounts_stand_beside_the_page(page, cash):
    table = pd.read_csv(page / "money.csv", keep_default_na=False)
    assert table["amount"].tolist() == pytest.approx(cash.lines["amount"].tolist())
    summary = openpyxl.load_workbook(page / "workbook.xlsx", data_only=True)["Summary"]
    shown = {row[0].value: row[3].value for row in summary.iter_rows(min_row=11, max_row=13)}
    assert shown == pytest.approx({name: one.npv for name, one in cash.results.items()})


def test_a_plant_of_ten_orders_one_demand_and_a_changed_price(tmp_path):
    plant = sk.example_plant(tmp_path / "plant")
    given = {"options": {"Tool magazine": ["A1"]}, "demand": 1.0, "case": "Tool magazine", **RUN}
    prices = {"plant.finance.discount_rate": 0.12}
    sk.render(studies_folder() / "money.ipynb", tmp_path / "m.html", plant=plant, prices=prices, **given)
    text = (tmp_path / "m.html").read_text(encoding="utf-8")
    assert "12\u00a0% a year over" in text
    assert "simulated at demand 1 alone" in text
