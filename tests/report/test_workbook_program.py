"""The workbook calculated anew by a spreadsheet program: same values, and changed cells give what Python gives."""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass, field
from typing import Any

import openpyxl
import pytest

from simkit.plant.settings_money import DemandYear
from simkit.report.workbook import write_workbook
from simkit.report.workbook.lists import REGISTER
from tests.report.recalculated import by_library, by_program, differences, errors, stored, written
from tests.report.workbook_cases import (
    cell_of,
    demo_study,
    edited,
    expected,
    finance_of,
    money_prices,
    option_values,
    small_study,
    summary_of,
    wage,
    with_plant,
)

DEMO_NAMES = ["N1+N2", "A1", "N1+N2+A1"]
PACKAGE, ALONE, ON_TOP = "Package", "A1", "Package + A1"


@dataclass
class Change:
    """Cells to type over by label, and the same change in Python."""

    cells: list[tuple[str, str, str, str, Any]]
    """Sheet, label, column, label of a row above it (or nothing), value."""
    plant: Any = None
    case: str = "quoted"
    moved: tuple[str, ...] = ()
    """Sheets whose lines of money must move; those of the others must not."""
    kept: list[str] = field(default_factory=list)


FIRST_VALUE = "C6"
SHEETS = (PACKAGE, ALONE, ON_TOP)
CHANGES = {
    "wage": Change([("Inputs", "OP-E", "E", "", 44.0)], wage("OP-E", 44.0), moved=SHEETS),
    "capital": Change([("Inputs", "Capital", "E", "A1: ", 150e3)], None, moved=(ALONE, ON_TOP)),
    "discount rate": Change([("Inputs", "Discount rate, nominal", "E", "", 0.13)], finance_of(discount_rate=0.13)),
    "tax": Change([("Inputs", "Tax rate", "E", "", 0.35)], finance_of(tax_rate=0.35)),
    "demand": Change([("Inputs", f"year {y}", "E", "", 1.1) for y in range(2, 9)],
                     finance_of(demand=(DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=1.1))),
                     moved=SHEETS),
    "margin": Change([("Inputs", "Contribution margin of an hour sold", "E", "", 60.0)],
                     money_prices(margin_per_h=60.0), moved=SHEETS),
    "weeks": Change([("Inputs", "Production weeks a year", "E", "", 44.0)], finance_of(production_weeks=44.0),
                    moved=SHEETS),
    "timing": Change([("Inputs", "When the flows of a year fall: 1 at its end, 2 in its middle, 3 in twelve parts", "E",
                       "", 2)], finance_of(timing="mid_year")),
    "growth": Change([("Inputs", "Growth of wages", "E", "", 0.0), ("Inputs", "Growth of prices", "E", "", 0.06)],
                     finance_of(wage_growth=0.0, price_growth=0.06), moved=SHEETS),
    "ramp": Change([("Inputs", "Months from there to the full benefit", "E", "", 18.0)], finance_of(ramp_months=18.0),
                   moved=SHEETS),
    "horizon": Change([("Inputs", "Years looked at", "E", "", 6)], finance_of(horizon_years=6), moved=SHEETS),
    "low": Change([("Scenarios", "Case in force (choose from the list)", "B", "", "low")], None, "low", moved=SHEETS),
    "high": Change([("Scenarios", "Case in force (choose from the list)", "B", "", "high")], None, "high",
                   moved=SHEETS),
}  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo's workbook, every changed copy of it, and all of them calculated anew in one go."""
    folder = tmp_path_factory.mktemp("program")
    cash = demo_study(folder / "results")
    path = folder / "demo.xlsx"
    write_workbook(cash, path, DEMO_NAMES)
    small = small_study(folder)
    write_workbook(small, folder / "small.xlsx")
    paths = {"demo": path, "small": folder / "small.xlsx", "planted": planted(path, folder / "planted.xlsx")}
    for name, change in CHANGES.items():
        cells = {(s, cell_of(path, s, label, column, after=above)): v for s, label, column, above, v in change.cells}
        paths[name] = edited(path, folder / f"{name.replace(' ', '_')}.xlsx", cells)
    paths["broken sum"] = edited(path, folder / "broken.xlsx", {(ALONE, money_cell(path)): 1e6})
    paths["simulated"] = edited(path, folder / "simulated.xlsx", {("Simulated", simulated_cell(path)): 99.0})
    return cash, small, paths, by_program(list(paths.values()), folder)


def value_of(demo, name):
    return demo[3][demo[2][name].name]


def money_cell(path):
    """A cell of a money row in the middle of the years."""
    return cell_of(path, ALONE, "Training", "G")


def simulated_cell(path):
    levels = int(cell_of(path, "Simulated", "Demand level", "A", nth=1)[1:])
    return f"D{levels + 1}"


def planted(path, target):
    """A copy in which a stored value is wrong: the headline value of the first case in the summary."""
    sheet = openpyxl.load_workbook(path).sheetnames.index("Summary") + 1
    pattern = f'(<c r="{FIRST_VALUE}"[^>]*><f>[^<]*</f><v>)[^<]*(</v>)'.encode()
    inside = f"xl/worksheets/sheet{sheet}.xml"
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(target, "w") as out:
        for item in source.infolist():
            text = source.read(item)
            if item.filename == inside:
                text, count = re.subn(pattern, rb"\g<1>123.456\2", text)
                assert count == 1
            out.writestr(item, text)
    return target


@pytest.mark.parametrize("which", ["demo", "small"])
def test_the_program_gives_every_stored_value(demo, which):
    path = demo[2][which]
    cells, before, after = written(path), stored(path), value_of(demo, which)
    assert len(cells) > 2500
    assert differences({w: before.get(w) for w in cells}, {w: after.get(w) for w in cells}) == []


def test_no_copy_shows_an_error(demo):
    assert {name: errors(values) for name, values in demo[3].items() if errors(values)} == {}


def test_a_planted_wrong_value_is_put_right_by_both(demo):
    """Otherwise all comparisons here could pass on stale numbers."""
    path = demo[2]["planted"]
    assert stored(path)["Summary", FIRST_VALUE] == 123.456
    right = stored(demo[2]["demo"])["Summary", FIRST_VALUE]
    assert value_of(demo, "planted")["Summary", FIRST_VALUE] == pytest.approx(right, abs=1e-6)


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_cell_gives_what_python_gives(demo, name):
    cash, _, _, _ = demo
    change = CHANGES[name]
    plant_change = change.plant
    if name == "capital":
        option = next(o for o in cash.study.plant.options if o.id == "A1")
        plant_change = option_values("A1", capital=option.capital.model_copy(update={"quoted": 150e3}))
    changed = with_plant(cash, plant_change) if plant_change else cash
    found = summary_of(value_of(demo, name), cash, DEMO_NAMES)
    assert differences(expected(changed, DEMO_NAMES, case=change.case), found) == []
    assert differences(expected(cash, DEMO_NAMES), found) != []


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_cell_moves_the_right_lines(demo, name):
    """Lines before tax move on the sheets named, on no others, and the master check still holds."""
    before, after = value_of(demo, "demo"), value_of(demo, name)
    amounts = {w: v for w, v in before.items() if w[0] == REGISTER and w[1][0] == "D" and int(w[1][1:]) > 5}
    assert len(amounts) > 30
    moved = set()
    for sheet in SHEETS:
        costs = {w: v for w, v in before.items() if w[0] == sheet and w[1] == cell_before_tax(before, sheet)}
        own = {w: v for w, v in amounts.items() if before.get((REGISTER, f"A{w[1][1:]}")) == sheet} | costs
        if differences(own, after):
            moved.add(sheet)
    if name == "capital":
        moved = {s for s in SHEETS if before[s, investment(before, s)] != after[s, investment(before, s)]}
    assert moved == set(CHANGES[name].moved)
    assert after["Checks", "B5"] == 1


def cell_before_tax(values, sheet):
    return next(c.replace("A", "C") for (s, c), v in values.items() if s == sheet and v == "Other payments, sum")


def investment(values, sheet):
    return next(c.replace("A", "C") for (s, c), v in values.items() if s == sheet and v == "Investment and stock, sum")


@pytest.mark.parametrize("name", ["broken sum", "simulated"])
def test_the_master_check_sees_a_number_typed_over(demo, name):
    assert value_of(demo, "demo")["Checks", "B5"] == 1
    assert value_of(demo, name)["Checks", "B5"] == 0
    on_sheet = [v for (s, c), v in value_of(demo, name).items() if s == ALONE and int(re.sub(r"\D", "", c)) == 3]
    assert False in on_sheet


def test_the_library_puts_the_planted_value_right_too(demo, tmp_path):
    cash = demo[1]
    write_workbook(cash, tmp_path / "one.xlsx", ["N1"])
    wrong = planted(tmp_path / "one.xlsx", tmp_path / "wrong.xlsx")
    right = stored(tmp_path / "one.xlsx")["Summary", FIRST_VALUE]
    assert by_library(wrong)["Summary", FIRST_VALUE] == pytest.approx(right, abs=1e-6)
