"""The workbook as a file: stored values, form of the formulas, and what a library of formulas makes of it."""

from __future__ import annotations

import re

import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.formula.translate import Translator
from xlsxwriter.worksheet import Worksheet

from simkit.report.workbook import write_workbook
from simkit.report.workbook.expr import as_expr
from simkit.report.workbook.grid import FIRST_YEAR, YEAR_ROW, Sheet, column_name, fixed, moving
from tests.report.recalculated import by_library, differences, errors, stored, written
from tests.report.workbook_cases import (
    MORE_TERMS,
    cell_of,
    demo_study,
    expected,
    finance_of,
    money_prices,
    scenario_names,
    small_study,
    summary_of,
    with_plant,
)

FORBIDDEN = {"OFFSET(", "INDIRECT(", "VDB(", "XLOOKUP(", "LET(", "FILTER(", "SORT(", "UNIQUE(", "TODAY(", "NOW("}
LONGEST = 260
"""Characters of a formula: about two lines of a screen."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    cash = demo_study(folder / "results")
    write_workbook(cash, folder / "demo.xlsx")
    return cash, folder / "demo.xlsx"


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    folder = tmp_path_factory.mktemp("small")
    cash = small_study(folder)
    write_workbook(cash, folder / "small.xlsx", ["A1"])
    return cash, folder / "small.xlsx"


@pytest.fixture(scope="module")
def formulas_of(demo):
    return written(demo[1])


@pytest.mark.parametrize("which", ["demo", "small"])
def test_stored_values_are_those_of_the_cash_flow_table(which, request):
    cash, path = request.getfixturevalue(which)
    names = scenario_names(cash) if which == "demo" else ["A1"]
    names = [n for n in names if which == "small" or n in ("N1+N2", "A1", "N1+N2+A1")]
    assert differences(expected(cash, names), summary_of(stored(path), cash, names)) == []


@pytest.mark.parametrize("terms", MORE_TERMS)
def test_other_terms_give_what_the_cash_flow_table_gives(terms, tmp_path):
    cash = small_study(tmp_path, **MORE_TERMS[terms])
    write_workbook(cash, tmp_path / "book.xlsx", ["A1", "N1+A1"])
    values = stored(tmp_path / "book.xlsx")
    assert differences(expected(cash, ["A1", "N1+A1"]), summary_of(values, cash, ["A1", "N1+A1"])) == []
    assert [c for (sheet, c), v in values.items() if sheet == "Checks" and v is False] == []


def test_stored_lines_are_those_of_the_cash_flow_table(demo):
    """Sum over the years of every line and class, before tax, beside the rows of the register and of the sheets."""
    cash, path = demo
    values, frame = stored(path), cash.cashflow.frame
    rows = {v: c[1:] for (sheet, c), v in values.items() if sheet == "A1" and c[0] == "A"}
    own = frame[frame["scenario"] == "A1"].groupby("line")["amount"].sum()
    assert values["A1", f"C{rows['Purchase (A1)']}"] == pytest.approx(own["capital"], abs=1e-6)
    assert values["A1", f"C{rows['Training']}"] == pytest.approx(own["training"], abs=1e-6)
    relief = values["A1", f"C{rows['Tax relief by depreciation']}"]
    assert relief == pytest.approx(own["tax_relief_depreciation"], abs=1e-6)


def test_the_same_study_gives_the_same_bytes(small, tmp_path):
    cash, path = small
    write_workbook(cash, tmp_path / "again.xlsx", ["A1"])
    assert (tmp_path / "again.xlsx").read_bytes() == path.read_bytes()


def test_no_formula_holds_a_typed_in_number(formulas_of):
    assert [(where, text) for where, text in formulas_of.items() if typed_in(text)] == []
    assert typed_in("=A1*47") == ["47"]
    assert typed_in("=A1*(1+0.5)-0") == []


def test_formulas_are_short_and_of_functions_that_every_program_has(formulas_of):
    assert [(where, text) for where, text in formulas_of.items() if len(text) > LONGEST] == []
    used = {name for text in formulas_of.values() for name in re.findall(r"[A-Z.]+\(", text)}
    assert used & FORBIDDEN == set()
    assert not any("_xl" in text for text in formulas_of.values())


def test_the_file_library_would_change_no_formula(formulas_of):
    """The writer leaves out the library's search for functions that need a prefix: here is what it would find."""
    prepared = {where: Worksheet()._prepare_formula(text, True) for where, text in formulas_of.items()}
    assert [where for where, text in formulas_of.items() if "=" + prepared[where] != text] == []
    assert Worksheet()._prepare_formula("=SEC(A1)", True) == "_xlfn.SEC(A1)"


def test_a_formula_names_every_sheet_but_its_own():
    sum_of_both = (fixed("A", 0, 1, 2.0) + moving("B A", 2, 3, 3.0)) * as_expr(0.5)
    assert sum_of_both.value == 2.5
    assert sum_of_both.text("A") == "($B$1+'B A'!D3)*0.5"
    assert sum_of_both.text("B A") == "('A'!$B$1+D3)*0.5"
    with pytest.raises(ValueError, match="read as a sheet"):
        as_expr("not 'A'!B1")


def test_one_formula_per_row_copied_across(demo, formulas_of):
    """A row over the years holds one formula: translated from the first year it gives all others."""
    book = openpyxl.load_workbook(demo[1])
    first, broken, rows = column_name(FIRST_YEAR), [], 0
    for sheet in book:
        if sheet.cell(YEAR_ROW + 1, 1).value != "Year":
            continue
        for (name, cell), text in formulas_of.items():
            letters, row = re.match(r"([A-Z]+)(\d+)", cell).groups()
            origin = formulas_of.get((name, f"{first}{row}"))
            if name != sheet.title or openpyxl.utils.column_index_from_string(letters) <= FIRST_YEAR + 1:
                continue
            rows += 1
            if origin is None or Translator(origin, f"{first}{row}").translate_formula(cell) != text:
                broken.append((name, cell, text))
    assert broken == []
    assert rows > 1000


def test_the_same_column_is_the_same_year_on_every_sheet(demo):
    values = stored(demo[1])
    titles = openpyxl.load_workbook(demo[1], read_only=True).sheetnames
    with_years = [name for name in titles if values.get((name, f"A{YEAR_ROW + 1}")) == "Year"]
    assert len(with_years) >= 5
    for name in with_years:
        heads = [values[name, f"{column_name(FIRST_YEAR + year)}{YEAR_ROW + 1}"] for year in range(9)]
        assert heads == list(range(9))


def test_every_sheet_shows_the_master_check_and_is_ready_to_print(demo):
    book, values = openpyxl.load_workbook(demo[1]), stored(demo[1])
    for sheet in book:
        own = [v for (name, cell), v in values.items() if name == sheet.title and int(re.sub(r"\D", "", cell)) <= 5]
        assert True in own, sheet.title
        assert sheet.print_area
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_state == "visible"
        assert sheet.title in ("Read me",) or sheet.freeze_panes


def test_no_stored_value_is_an_error_and_no_check_fails(demo, small):
    for _, path in (demo, small):
        values = stored(path)
        assert errors(values) == []
        assert [cell for (sheet, cell), v in values.items() if sheet == "Checks" and v is False] == []
    assert errors({("A", "B1"): "#DIV/0!"}) == [("A", "B1")]


def test_a_number_in_a_formula_and_an_error_are_refused_while_building():
    with pytest.raises(ValueError, match="give it a cell"):
        as_expr(47)
    sheet = Sheet("S")
    with pytest.raises(ValueError, match=r"S!A1 would show an error: 1/0"):
        sheet.put(0, 0, as_expr(1) / as_expr(0))


# ---- recalculated by a library of formulas ----


@pytest.fixture(scope="module")
def solved(small):
    return by_library(small[1])


def test_a_library_of_formulas_gives_every_stored_value(small, solved):
    """Three ways: stored values, this library, and (in the test of the program) a spreadsheet program."""
    cells = written(small[1])
    before = stored(small[1])
    assert len(cells) > 1500
    assert differences({w: before.get(w) for w in cells}, {w: solved.get(w) for w in cells}) == []


def test_a_changed_input_gives_what_python_gives(small):
    """Wage and discount rate changed in the cells, against the cash-flow table built anew with that change."""
    cash, path = small
    wage = cell_of(path, "Inputs", "Operator, loaded rate", "E")
    rate = cell_of(path, "Inputs", "Discount rate, nominal", "E")
    values = by_library(path, {("Inputs", wage): 41.0, ("Inputs", rate): 0.11})
    changed = with_plant(cash, lambda p: finance_of(discount_rate=0.11)(money_prices(operator_rate_per_h=41.0)(p)))
    assert differences(expected(changed, ["A1"]), summary_of(values, cash, ["A1"])) == []
    assert differences(expected(cash, ["A1"]), summary_of(values, cash, ["A1"])) != []


def typed_in(formula: str) -> list[str]:
    """Numbers in a formula other than 0, 1 and 0.5."""
    tokens = Tokenizer(formula).items
    return [t.value for t in tokens if t.subtype == "NUMBER" and float(t.value) not in (0.0, 1.0, 0.5)]
