"""Studies whose workbooks are recalculated: the demo plant with made-up hours, and a small plant with other terms."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl

from simkit.finance.costs import PriceCase
from simkit.plant.options import OnceLine, YearlyLine
from simkit.plant.plant import Plant
from simkit.plant.reading import read_plant
from simkit.plant.settings_money import DemandYear, Finance
from simkit.report.moneystudy import MoneyStudy, money_of
from simkit.report.study import open_study
from simkit.report.studydata import TODAY
from simkit.report.workbook.lists import MEASURES, SUMMARY
from tests.house import ROOT
from tests.report.fake_results import write_fake_study
from tests.report.option_plant import option_plant
from tests.report.recalculated import Values
from tests.small_plant import write_small_plant

DEMO = ROOT / "data" / "tarnholt"
DEMO_SCENARIOS = {"today": (), "N1+N2": ("N1", "N2"), "N2": ("N2",), "A1": ("A1",), "N1+N2+A1": ("N1", "N2", "A1")}
DEMO_LEVELS = (0.8, 1.0, 1.25, 1.6)
SMALL_SCENARIOS = {"today": (), "N1": ("N1",), "A1": ("A1",), "N1+A1": ("N1", "A1")}
OTHER_TERMS: dict[str, Any] = {
    "horizon_years": 4, "timing": "mid_year", "discount_rate": 0.07, "tax_rate": 0.3, "depreciation_years": 3,
    "wage_growth": 0.04, "price_growth": 0.01, "residual_share": 0.2, "ramp_start": 0.3, "ramp_months": 4.0,
    "production_weeks": 45.0, "training": 4000.0, "losses": "carried_forward", "payments_at": (0.0, 0.8, 1.0),
    "residual_rule": "remaining_life", "depreciation": "declining_balance", "growth_of_lines": {"energy": 0.08},
    "demand": (DemandYear(from_year=1, factor=1.1), DemandYear(from_year=3, factor=1.25)),
}  # fmt: skip
"""Terms unlike the demo's: other timing, growth, tax rules and horizon, demand between simulated levels."""

MORE_TERMS: dict[str, dict[str, Any]] = {
    "real, after two years of waiting": {
        "rate_basis": "real", "growth_basis": "real", "inflation": 0.03, "start_after_years": 2, "timing": "monthly",
        "losses": "lost",
    },
    "seasons": {"season": ((30.0, 0.96), (15.0, 1.08)), "losses": "used_at_once"},
    "table of depreciation": {"depreciation": "table", "depreciation_table": "macrs_3", "losses": "used_at_once"},
}  # fmt: skip
"""Changes of those terms that no other case has."""


def demo_study(folder: Path) -> MoneyStudy:
    """The demo plant with hours made by simple arithmetic."""
    write_fake_study(folder, read_plant(DEMO), DEMO_SCENARIOS, package="N1+N2", factors=DEMO_LEVELS)
    return money_of(open_study(DEMO, folder))


def small_study(folder: Path, **more: Any) -> MoneyStudy:
    """The small plant with other terms, a short life that is bought again, a grant, stock and costs of every kind."""
    plant = option_plant()
    service = YearlyLine(line="service contract", budget="service", low=2000, quoted=3000, high=3500)
    once = (OnceLine(line="stock counted", amount=7000, year=1, what="stock"), OnceLine(line="old device", amount=-900))
    changes = {"A1": {"life_years": 2.0, "lead_weeks": 60.0, "yearly_labour_h": 40.0, "owner": "production engineer",
                      "yearly_lines": (service,), "yearly_cost": 0.0, "grant_share": 0.1, "once": once}}  # fmt: skip
    changes["N1"] = {"working_capital": -2000.0}
    options = tuple(option.model_copy(update=changes.get(option.id, {})) for option in plant.options)
    settings = plant.settings.model_copy(update={"finance": Finance(**{**OTHER_TERMS, **more})})
    plant = dataclasses.replace(plant, options=options, settings=settings)
    fields = {field.name: getattr(plant, field.name) for field in dataclasses.fields(plant)}
    path = write_small_plant(folder / "plant", **fields)
    write_fake_study(folder / "results", plant, SMALL_SCENARIOS, package="N1", factors=(0.9, 1.0, 1.25, 1.4))
    return money_of(open_study(path, folder / "results"))


def with_plant(cash: MoneyStudy, change: Callable[[Plant], Plant]) -> MoneyStudy:
    """The same results with a changed plant."""
    return money_of(dataclasses.replace(cash.study, plant=change(cash.study.plant)))


def finance_of(**changes: Any) -> Callable[[Plant], Plant]:
    """A change of finance settings."""

    def change(plant: Plant) -> Plant:
        finance = Finance.model_validate({**plant.settings.finance.model_dump(), **changes})
        return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"finance": finance}))

    return change


def money_prices(**changes: float) -> Callable[[Plant], Plant]:
    """A change of wages or prices."""

    def change(plant: Plant) -> Plant:
        money = plant.settings.money.model_copy(update=changes)
        return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"money": money}))

    return change


def wage(person_id: str, rate_per_h: float) -> Callable[[Plant], Plant]:
    """A change of one person's rate."""

    def change(plant: Plant) -> Plant:
        people = tuple(
            dataclasses.replace(p, rate_per_h=rate_per_h) if p.person_id == person_id else p for p in plant.people
        )
        return dataclasses.replace(plant, people=people)

    return change


def option_values(option_id: str, **changes: Any) -> Callable[[Plant], Plant]:
    """A change of an option's money."""

    def change(plant: Plant) -> Plant:
        options = tuple(o.model_copy(update=changes) if o.id == option_id else o for o in plant.options)
        return dataclasses.replace(plant, options=options)

    return change


def expected(cash: MoneyStudy, names: list[str], case: PriceCase = "quoted") -> dict[str, list[Any]]:
    """Measures of the summary by scenario, from the cash-flow table."""
    results = cash.in_case(case, names)
    found = {}
    for name in names:
        r = results[name]
        rates = {"none": "no internal rate", "several": "several rates: use the net present value"}
        most = r.break_even_capital
        found[name] = [
            r.capital, r.npv, r.npv_with_avoided, r.npv_with_signed_sales,
            r.payback.years or r.payback.text, r.discounted_payback.years or r.discounted_payback.text,
            rates.get(r.irr.status) or r.irr.roots[0], r.mirr.text if r.mirr.value is None else r.mirr.value,
            r.equivalent_annual_value, most.text if most.capital is None else most.capital,
        ]  # fmt: skip
        assert len(found[name]) == len(MEASURES)
    return found


def summary_of(values: Values, cash: MoneyStudy, names: list[str]) -> dict[str, list[Any]]:
    """Measures of the summary by scenario, from a recalculated workbook."""
    rows = {v: int(cell[1:]) for (sheet, cell), v in values.items() if sheet == SUMMARY and cell[0] == "A"}
    columns = "BCDEFGHIJKLMN"[: len(MEASURES)]
    found = {}
    for name in names:
        row = min(
            int(cell[1:]) for (sheet, cell), v in values.items()
            if sheet == SUMMARY and cell[0] == "A" and v == cash.study.named(name)
        )  # fmt: skip
        found[name] = [values.get((SUMMARY, f"{column}{row}")) for column in columns]
    assert rows
    return found


def cell_of(path: Path, sheet: str, label: str, column: str, nth: int = 0, after: str = "") -> str:
    """Address in a column of the row with this label (the nth of several, below the row that begins with ``after``)."""
    cells = list(openpyxl.load_workbook(path)[sheet]["A"])
    start = next(cell.row for cell in cells if str(cell.value).startswith(after)) if after else 0
    return f"{column}{[cell.row for cell in cells if cell.value == label and cell.row > start][nth]}"


def edited(path: Path, target: Path, changes: dict[tuple[str, str], Any]) -> Path:
    """A copy of a workbook with some cells typed over."""
    book = openpyxl.load_workbook(path)
    for (sheet, cell), value in changes.items():
        book[sheet][cell].value = value
    book.save(target)
    return target


def scenario_names(cash: MoneyStudy) -> list[str]:
    """All scenarios but today."""
    return [name for name in cash.results if name != TODAY]
