"""The workbook worked out anew by a spreadsheet program: each case picked in turn, and a controller's changes."""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass
from typing import Any

import openpyxl
import pytest

from simkit.desk.money import content_of
from simkit.plant.settings_money import DemandYear
from simkit.report.workbook import build_book, write_workbook
from tests.report.recalculated import by_program, differences, errors, stored, written
from tests.report.workbook_cases import (
    cell_of,
    demo_cash,
    edited,
    finance_of,
    labels_of,
    money_prices,
    option_values,
    people_terms,
    picked,
    unlike,
    wage,
    with_plant,
)


@dataclass
class Probe:
    """Inputs that a controller types over, by name, and the same change in Python."""

    inputs: dict[str, Any]
    plant: Any = None
    case: str = "quoted"


ON_TOP = "N1+N2+A1"
"""The case on which the probes are tried: it fades in part, and has a purchase, a stop, a life and yearly costs."""

PROBES = {
    "rate": Probe({"discount_rate": 0.13}, finance_of(discount_rate=0.13)),
    "wage, typed once": Probe({"operator_wage": 44.0}, wage("operator", 31.0, 44.0)),
    "premium": Probe({"overtime_premium": 0.6}, people_terms(overtime_premium=0.6)),
    "limit of paid hours": Probe({"utilisation_limit": 0.7}, people_terms(utilisation_limit=0.7)),
    "capital": Probe({"capital 3": 150e3}, None),
    "yearly cost": Probe({"yearly cost 3": 20e3}, option_values("A1", yearly_cost=20e3)),
    "demand": Probe({f"demand {year}": 1.1 for year in range(2, 9)},
                    finance_of(demand=(DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=1.1)))),
    "tax": Probe({"tax_rate": 0.35}, finance_of(tax_rate=0.35)),
    "losses": Probe({"loss_rule": "carried forward"}, finance_of(losses="carried_forward")),
    "horizon": Probe({"horizon_years": 6}, finance_of(horizon_years=6)),
    "growth": Probe({"wage_growth": 0.0, "price_growth": 0.06}, finance_of(wage_growth=0.0, price_growth=0.06)),
    "prices": Probe({"subcontract_price": 90.0, "margin_per_hour": 60.0, "energy_price": 0.4},
                    money_prices(subcontract_per_h=90.0, margin_per_h=60.0, energy_per_kwh=0.4)),
    "timing": Probe({"flow_timing": "monthly"}, finance_of(timing="monthly")),
    "low prices": Probe({"price_case": "low"}, None, "low"),
    "high prices": Probe({"price_case": "high"}, None, "high"),
}  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo's workbook and every changed copy of it, all worked out anew in one go."""
    folder = tmp_path_factory.mktemp("program")
    cash = demo_cash()
    path = folder / "demo.xlsx"
    write_workbook(content_of(cash), path)
    book, labels = build_book(content_of(cash)), labels_of(cash)
    paths = {"as built": path, "planted": planted(path, folder / "planted.xlsx")}
    for number, (name, label) in enumerate(labels.items()):
        paths[f"pick {name}"] = edited(path, folder / f"pick{number}.xlsx", picked(book, "Case", label))
    for number, (name, probe) in enumerate(PROBES.items()):
        cells = {cell_of(book, key): value for key, value in probe.inputs.items()}
        cells |= picked(book, "Case", labels[ON_TOP])
        paths[name] = edited(path, folder / f"probe{number}.xlsx", cells)
    hours = {("Hours", f"C{book.names['hours case'].row + 1}"): 99.0}
    paths["hours typed over"] = edited(path, folder / "hours.xlsx", hours)
    found = by_program(list(paths.values()), folder)
    return cash, book, path, {name: found[own.name] for name, own in paths.items()}


def planted(path, target):
    """A copy in which a stored value is wrong: the value of the picked case on 'Summary'."""
    inside = f"xl/worksheets/sheet{openpyxl.load_workbook(path).sheetnames.index('Summary') + 1}.xml"
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(target, "w") as out:
        for item in source.infolist():
            text = source.read(item)
            if item.filename == inside:
                text, count = re.subn(rb'(<c r="D5"[^>]*><f>[^<]*</f><v>)[^<]*(</v>)', rb"\g<1>123.456\2", text)
                assert count == 1
            out.writestr(item, text)
    return target


def test_the_program_gives_every_stored_value(demo):
    cells, before, after = written(demo[2]), stored(demo[2]), demo[3]["as built"]
    assert len(cells) > 5000
    assert differences({w: before.get(w) for w in cells}, {w: after.get(w) for w in cells}) == []


def test_no_copy_shows_an_error(demo):
    assert {name: errors(values)[:3] for name, values in demo[3].items() if errors(values)} == {}


def test_a_planted_wrong_value_is_put_right(demo):
    """Otherwise all comparisons here could pass on stale numbers."""
    assert demo[3]["planted"]["Summary", "D5"] == pytest.approx(stored(demo[2])["Summary", "D5"], abs=1e-6)


def test_picking_each_case_in_turn_gives_what_python_gives(demo):
    cash, book, _, values = demo
    for name in cash.results:
        assert unlike(cash, name, values[f"pick {name}"], book.sheets["Case"]) == []
        assert values[f"pick {name}"]["Checks", "B4"] == 1


@pytest.mark.parametrize("name", PROBES)
def test_a_controllers_change_gives_what_python_gives(demo, name):
    cash, book, _, values = demo
    change = PROBES[name].plant or (lambda plant: plant)
    if name == "capital":
        quoted = cash.plant.option_by_id["A1"].capital.model_copy(update={"quoted": 150e3})
        change = option_values("A1", capital=quoted)
    changed = with_plant(cash, change, PROBES[name].case)
    sheet = book.sheets["Case"]
    own = {cell: value for cell, value in values[name].items() if cell[0] == "Case"}
    assert unlike(changed, ON_TOP, {**own}, sheet) == []
    assert unlike(cash, ON_TOP, {**own}, sheet) != []
    assert values[name]["Checks", "B4"] == 1


def test_the_checks_see_hours_typed_over(demo):
    assert demo[3]["hours typed over"]["Checks", "B4"] == 0
