"""Workbook and table of amounts that a cash flow writes: what they hold, and that nothing is written over."""

from __future__ import annotations

import openpyxl
import pandas as pd
import pytest

import simkit as sk
from tests.report.workbook_cases import small_cash


@pytest.fixture(scope="module")
def cash(tmp_path_factory):
    return small_cash(tmp_path_factory.mktemp("files"))


def test_both_files_hold_what_the_cash_flow_holds(cash, tmp_path):
    workbook, table = cash.write(tmp_path / "out")
    read = pd.read_csv(table, keep_default_na=False)
    assert list(read.columns) == list(cash.lines.columns)
    assert read["amount"].tolist() == pytest.approx(cash.lines["amount"].tolist(), rel=1e-12)
    summary = openpyxl.load_workbook(workbook, data_only=True)["Summary"]
    shown = {row[0].value: row[3].value for row in summary.iter_rows(min_row=11, max_row=10 + len(cash.results))}
    assert shown == pytest.approx({name: one.npv for name, one in cash.results.items()})


def test_the_same_files_are_written_again_but_nothing_else_is_written_over(cash, tmp_path):
    first = [path.read_bytes() for path in cash.write(tmp_path)]
    assert [path.read_bytes() for path in cash.write(tmp_path)] == first
    (tmp_path / "money.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(sk.BadInput, match=r"money\.csv.*nothing is written over"):
        cash.write(tmp_path)
    assert (tmp_path / "money.csv").read_text(encoding="utf-8") == "mine"
