"""The workbook as a file: every case equal to the cash-flow table, form of formulas and sheets, and a second engine."""

from __future__ import annotations

import dataclasses
import re

import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.formula.translate import Translator
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from simkit.desk.money import content_of
from simkit.report.workbook import build_book, case_labels, write_workbook
from simkit.report.workbook.formula import FUNCTIONS, compiled, evaluate
from simkit.report.workbook.options import MODELS
from simkit.report.workbook.sheets import FIRST_YEAR, LiveWorkbook
from tests.report.recalculated import by_library, differences, errors, stored, written
from tests.report.workbook_cases import (
    DEMO,
    DEMO_LEVELS,
    MORE_TERMS,
    cash_of,
    cell_of,
    demo_cash,
    enriched,
    finance_of,
    labels_of,
    option_values,
    picked,
    read_book,
    small_cash,
    unlike,
    wage,
    with_plant,
)

LONGEST = 460
"""Characters of a formula: three to four lines of a screen."""

SHEETS = ["Read me", "Summary", "Inputs", "Hours", "Options", "Case", "Compare", "Checks", "Sources", "Changes"]


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    cash = demo_cash()
    write_workbook(content_of(cash), folder / "demo.xlsx")
    return cash, folder / "demo.xlsx"


@pytest.fixture(scope="module")
def formulas_of(demo):
    return written(demo[1])


@pytest.mark.parametrize("first", [0, 2])
def test_every_case_shows_what_the_cash_flow_table_holds(demo, first):
    """All lines of all years, three figures by year, and the measures, on both sheets with a live model."""
    cash = demo[0]
    names = list(cash.results)[first : first + 2]
    book = build_book(content_of(cash), names)
    for name, model in zip(names, MODELS, strict=True):
        assert unlike(cash, name, read_book(book), book.sheets[model]) == []
    assert unlike(cash, names[0], read_book(book), book.sheets["Compare"]) != []


@pytest.mark.parametrize("terms", ["", *MORE_TERMS])
def test_other_terms_give_what_the_cash_flow_table_gives(terms, tmp_path):
    cash = small_cash(tmp_path, **MORE_TERMS.get(terms, {}))
    for names in (["N1", "A1"], ["N1+A1", "A1"]):
        book = build_book(content_of(cash), names)
        for name, model in zip(names, MODELS, strict=True):
            assert unlike(cash, name, read_book(book), book.sheets[model]) == []
        assert [cell.value for cell in book.sheets["Checks"].cells.values() if cell.look == "check"].count(0) == 0


def test_a_case_of_changed_inputs_alone_is_live_too():
    cash = enriched(cash_of(DEMO, {"today": (), "quicker": (), "slower": ()}, DEMO_LEVELS))
    book = build_book(content_of(cash), ["quicker", "slower"])
    for name, model in zip(("quicker", "slower"), MODELS, strict=True):
        assert unlike(cash, name, read_book(book), book.sheets[model]) == []
        assert cash.results[name].npv != 0


def test_a_wage_and_every_price_stand_once(demo):
    """No two inputs of the book hold the same wage: a person follows the wage of the work."""
    book = build_book(content_of(demo[0]))
    cells = book.sheets["Inputs"].cells
    people = [name for name in book.names if re.fullmatch(r"wage \d+", name)]
    typed = [name for name in people if not cells[book.names[name].row, book.names[name].column].formula]
    assert len(people) >= 7
    assert typed == []


def test_ten_sheets_in_order_all_visible_ready_to_print(demo):
    book = openpyxl.load_workbook(demo[1])
    assert book.sheetnames == SHEETS
    for sheet in book:
        assert sheet.sheet_state == "visible"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.print_area
        assert sheet.freeze_panes or sheet.title == "Read me"
        assert not any(row.hidden for row in sheet.row_dimensions.values())
        assert not any(column.hidden for column in sheet.column_dimensions.values())


def test_every_input_is_validated_and_looks_like_one(demo):
    sheet = openpyxl.load_workbook(demo[1])["Inputs"]
    checked = {cell for rule in sheet.data_validations.dataValidation for cell in str(rule.sqref).split()}
    inputs = {cell.coordinate for row in sheet for cell in row if cell.fill.fgColor.rgb == "FFFFF8DC"}
    assert len(inputs) > 120
    assert inputs == checked
    listed = [rule for rule in sheet.data_validations.dataValidation if rule.type == "list"]
    assert len(listed) >= 9


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-A1", "@SUM(A1)"])
def test_text_of_a_plant_is_never_a_formula(text, tmp_path):
    cash = small_cash(tmp_path)
    plant = option_values("A1", name=text, owner=text, price_source=text)(cash.plant)
    plant = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"name": text}))
    content = dataclasses.replace(content_of(cash), plant=plant, run_id=text)
    write_workbook(content, tmp_path / "a.xlsx")
    found = [cell for sheet in openpyxl.load_workbook(tmp_path / "a.xlsx") for row in sheet for cell in row
             if isinstance(cell.value, str) and text in cell.value]  # fmt: skip
    assert len(found) >= 4
    assert all(cell.data_type == "s" for cell in found)
    assert [cell.coordinate for cell in found if cell.value.startswith(text)] == []


def test_every_case_has_a_label_of_its_own_that_no_program_misreads(tmp_path):
    cash = small_cash(tmp_path)
    content = content_of(cash)
    today, first, second, third = content.totals.values()
    named = {"today": today, "what? a*b~": first, "TODAY": second, f"=1+{'long ' * 20}": third}
    labels = case_labels(dataclasses.replace(content, totals=named))
    assert list(labels.values()) == ["today", "what- a-b-", "TODAY (2)", f"'=1+{'long ' * 20}"[:61]]


def test_the_same_study_gives_the_same_bytes(demo, tmp_path):
    write_workbook(content_of(demo[0]), tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == demo[1].read_bytes()


def test_formulas_hold_no_typed_in_number_and_known_functions_only(formulas_of):
    assert [(where, text) for where, text in formulas_of.items() if typed_in(text)] == []
    assert typed_in("=A1*47") == ["47"]
    assert {name for text in formulas_of.values() for name in re.findall(r"([A-Z]+)\(", text)} <= set(FUNCTIONS)
    assert [(where, len(text)) for where, text in formulas_of.items() if len(text) > LONGEST] == []


def test_the_file_library_would_change_no_formula(formulas_of):
    """The writer leaves out the library's search for functions that need a prefix: here is what it would find."""
    prepared = {where: Worksheet()._prepare_formula(text, True) for where, text in formulas_of.items()}
    assert [where for where, text in formulas_of.items() if "=" + prepared[where] != text] == []


def test_one_formula_per_row_copied_across(demo, formulas_of):
    """A row over the years holds one formula: translated from the first year it gives all others."""
    book, broken, rows = build_book(content_of(demo[0])), [], 0
    for model in (*MODELS, "Options"):
        sheet = book.sheets[model]
        places = {place for names in (sheet.names, book.names) for place in names.values() if place.sheet == model}
        for row in {row for place in places if place.yearly for row in range(place.row + 1, place.last_row + 2)}:
            cells = [xl_rowcol_to_cell(row - 1, FIRST_YEAR + year) for year in range(sheet.years + 1)]
            origin = formulas_of.get((model, cells[0]))
            rows += origin is not None
            broken += [cell for cell in cells if origin and
                       Translator(origin, cells[0]).translate_formula(cell) != formulas_of[model, cell]]  # fmt: skip
    assert broken == []
    assert rows > 500


def test_no_stored_value_is_an_error_and_every_check_holds(demo):
    values = stored(demo[1])
    assert errors(values) == []
    checks = [v for (sheet, cell), v in values.items() if sheet == "Checks" and cell[0] == "B" and int(cell[1:]) > 9]
    assert len(checks) > 20
    assert set(checks) == {1}


def test_a_typed_in_number_and_an_error_are_refused_while_building():
    sheet = LiveWorkbook().sheet("S", "Title", ())
    with pytest.raises(ValueError, match="47 may not stand in a formula"):
        sheet.put(3, 0, "=1+47")
    with pytest.raises(ValueError, match="S!A4 would show an error"):
        sheet.put(3, 0, "=1/0")
    with pytest.raises(KeyError, match="no cell is named 'wage'"):
        sheet.put(3, 0, "=[wage]")


WORKED = {
    "IF(1=1,0.5,0)": 0.5, "0.5^(1+1)": 0.25, "MAX(0,MIN(1,0.5))": 0.5, "-INT(0-0.5)": 1.0, 'IF("a"<>"b",1,0)': 1,
    "SUM(1,1,0.5)": 2.5, 'CONCATENATE("a",1)': "a1", "IFERROR(INT(0)/INT(0),1)": 1, "AND(1>0,0>1)": False,
}  # fmt: skip


@pytest.mark.parametrize(("template", "value"), WORKED.items())
def test_a_formula_has_the_value_a_spreadsheet_gives(template, value):
    assert evaluate(compiled(template)[0], []) == value


# ---- worked out by a library of formulas ----


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A study of three years and three cases, and changes of its cells that the library works out in one go."""
    folder = tmp_path_factory.mktemp("small")
    cash = small_cash(folder, horizon_years=3, timing="end_year", losses="used_at_once")
    path = folder / "small.xlsx"
    write_workbook(content_of(cash), path)
    book, labels = build_book(content_of(cash)), labels_of(cash)
    changes = {name: picked(book, "Case", label) for name, label in labels.items()}
    rate = cash.plant.settings.money.operator_rate_per_h
    more = {cell_of(book, "operator_wage"): rate + 10, cell_of(book, "discount_rate"): 0.11}
    changes["wage and rate"] = {**picked(book, "Case", labels["N1+A1"]), **more}
    solved = dict(zip(("none", *changes), by_library(path, {}, *changes.values()), strict=True))
    changed = with_plant(cash, lambda p: finance_of(discount_rate=0.11)(wage("operator", rate, rate + 10)(p)))
    return cash, path, book, solved, changed


def test_the_library_gives_every_stored_value(small):
    """Three ways: stored values, this library, and (in the test of the program) a spreadsheet program."""
    cells, before = written(small[1]), stored(small[1])
    assert len(cells) > 2000
    after = small[3]["none"]
    assert differences({w: before.get(w) for w in cells}, {w: after.get(w) for w in cells}) == []


@pytest.mark.parametrize("name", ["N1", "A1", "N1+A1"])
def test_picking_a_case_in_the_library_gives_what_python_gives(small, name):
    cash, _, book, solved, _ = small
    assert unlike(cash, name, solved[name], book.sheets["Case"]) == []


def test_a_changed_wage_and_rate_in_the_library_give_what_python_gives(small):
    cash, _, book, solved, changed = small
    assert unlike(changed, "N1+A1", solved["wage and rate"], book.sheets["Case"]) == []
    assert unlike(cash, "N1+A1", solved["wage and rate"], book.sheets["Case"]) != []


def typed_in(formula: str) -> list[str]:
    """Numbers in a formula other than 0, 1 and 0.5."""
    tokens = Tokenizer(formula).items
    return [t.value for t in tokens if t.subtype == "NUMBER" and float(t.value) not in (0.0, 1.0, 0.5)]
