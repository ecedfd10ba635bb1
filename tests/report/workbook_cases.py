"""Cash flows whose workbooks are recalculated: the demo plant with made-up hours, a small plant with other terms."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
from xlsxwriter.utility import xl_rowcol_to_cell

import simkit as sk
from simkit.desk.money import content_of
from simkit.desk.runs import RunNumbers
from simkit.desk.study import Study
from simkit.experiment.results import Results, results_from
from simkit.finance.cashflow import FIGURE_CLASSES, build_cashflow, figure_flows
from simkit.finance.evaluate import evaluate
from simkit.finance.inputs import ScenarioTotals, totals_from
from simkit.finance.lines import COST_AVOIDED, LINES, NOT_MONETISED, TAX_LINES
from simkit.finance.timeline import deflator
from simkit.plant.options import OnceLine, PriceCase, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings_money import DemandYear, Finance
from simkit.report.workbook import case_labels
from simkit.report.workbook.inputs import INPUTS, TYPICAL
from simkit.report.workbook.model import ELSEWHERE, MEASURES, SECTIONS
from simkit.report.workbook.pages import static_measures
from simkit.report.workbook.sheets import FormulaSheet, LiveWorkbook
from tests.house import ROOT
from tests.report.option_plant import option_plant
from tests.report.recalculated import Values, differences
from tests.small_plant import write_small_plant

DEMO = ROOT / "data" / "tarnholt"
FIGURES = ("flow headline", "flow with avoided", "flow with sales")
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


LEFT = {"N1": 0.97, "N2": 0.91, "A1": 0.89, "A4": 0.98}
"""Share of the hours needed that each option leaves; shares of several options multiply."""


def fake_results(
    scenarios: Mapping[str, Sequence[str]], levels: Sequence[float], replications: int = 5, weeks: float = 4.0
) -> Results:
    """Results by simple arithmetic; luck depends on the replication alone, so that differences are paired."""

    def rows() -> Iterator[tuple[str, float, int, dict[str, float]]]:
        for level in levels:
            for replication in range(replications):
                for name, options in scenarios.items():
                    yield name, level, replication, _totals(options, level, replication, weeks)

    names = _totals((), 1.0, 0, weeks)
    return results_from(rows(), {name: "h" if name.endswith("_h") else "1" for name in names})


def _totals(options: Sequence[str], level: float, replication: int, weeks: float) -> dict[str, float]:
    """What a cell attended 70 h a week needs, what it makes in overtime, gives out and refuses, and what it uses."""
    rng = np.random.default_rng([41, replication])
    made = level * weeks * (1 + 0.03 * rng.normal())
    noise = {option: 1 + 0.01 * np.random.default_rng([replication, *map(ord, option)]).normal() for option in options}
    needed = 71.0 * made * math.prod(LEFT.get(option, 1.0) * noise[option] for option in options)
    over = max(needed - 70.0 * weeks, 0.0)
    overtime, given_out = min(max(over - 6.5 * weeks, 0.0), 4.5 * weeks), min(over, 6.5 * weeks)
    unmet = over - overtime - given_out
    return {
        "span_weeks": weeks, "hours_needed": needed, "inhouse_h": needed - given_out - unmet,
        "attended_h": 72.5 * weeks, "overtime_h": overtime, "subcontract_h": given_out, "unmet_h": unmet,
        "late_share": 0.02, "refused_share": unmet / needed,
        "person_overrun_h": 0.4 * weeks, "state_changeover_h": 0.25 * needed, "sheets": 278 * made,
        "parts": 3668 * made, "parts_scrapped": 21 * made, "parts_reworked": 14 * made, "tools_reground": 1.6 * made,
        "energy_kwh": 760 * made, "gas_m3": 420 * made,
    }  # fmt: skip


def study_of(folder: Path, scenarios: dict[str, tuple[str, ...]], levels: tuple[float, ...]) -> Study:
    """A study of a plant folder with such hours."""
    plant = sk.read_plant(folder)
    numbers = RunNumbers(replications=5, weeks=4.0, seed=41, given=None, level=1.0, levels=levels)
    return Study(plant, plant.scenarios(scenarios), fake_results(scenarios, levels), numbers)


def cash_of(folder: Path, scenarios: dict[str, tuple[str, ...]], levels: tuple[float, ...]) -> sk.CashFlow:
    """Its cash flow."""
    return study_of(folder, scenarios, levels).money()


def demo_cash() -> sk.CashFlow:
    """The demo plant with such hours, and amounts of everything that the money reads."""
    return enriched(cash_of(DEMO, DEMO_SCENARIOS, DEMO_LEVELS))


def enriched(cash: sk.CashFlow, seed: int = 7) -> sk.CashFlow:
    """A cash flow in which people are busy, sheets are used and tools wear, differently in every scenario."""
    rng = np.random.default_rng(seed)
    totals = {name: dataclasses.replace(t, levels={f: _amounts(t, f, cash.plant, rng) for f in t.levels})
              for name, t in cash.totals.items()}  # fmt: skip
    return rebuilt(cash, cash.plant, totals)


def rebuilt(
    cash: sk.CashFlow, plant: PlantInputs, totals: dict[str, ScenarioTotals], case: PriceCase = "quoted"
) -> sk.CashFlow:
    """The cash flow of other prices and totals."""
    today, *others = totals.values()
    flow = build_cashflow(plant, today, others, case=case)
    return dataclasses.replace(cash, plant=plant, totals=totals, flow=flow, results=evaluate(flow))


def _amounts(totals: ScenarioTotals, factor: float, plant: PlantInputs, rng: np.random.Generator) -> dict[str, float]:
    """Totals of a level with every further measure near a plausible amount a week."""
    per_week = {"tool_lives": 3, "tools_broken": 0.4, "tools_broken_expected": 0.3, "tools_reground": 4, "on_call_h": 1,
                "care_by_others_h": 2, "preparation_h": 4, "programming_h": 3, "parts_kg": 2000, "parts_scrapped": 12,
                "parts_reworked": 3, "sheets_in_span": 200, "energy_kwh": 900, "gas_m3": 300}  # fmt: skip
    per_week |= {f"busy_h_{post.person_id}": post.h_per_week * 0.85 for post in totals.roster.posts}
    for material in plant.materials:
        per_week[f"material_kg_{material.material_id}"] = 400
        per_week |= {f"{kind}_kg_{material.metal}": 20 for kind in ("lost", "lost_expected")}
        per_week[f"scrap_kg_{material.metal}"] = 100
    level = totals.levels[factor]
    weeks = factor * level["span_weeks"]
    return {**level, **{name: amount * weeks * rng.uniform(0.8, 1.2) for name, amount in per_week.items()}}


def small_cash(folder: Path, **more: Any) -> sk.CashFlow:
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
    return cash_of(path, SMALL_SCENARIOS, (0.9, 1.0, 1.25, 1.4))


def with_plant(
    cash: sk.CashFlow, change: Callable[[PlantInputs], PlantInputs], case: PriceCase = "quoted"
) -> sk.CashFlow:
    """The same amounts with a changed plant: prices, wages and rosters anew, and low or high prices of options."""
    plant = change(cash.plant)
    made = [make_scenario(plant, totals.option_ids, name=name) for name, totals in cash.totals.items()]
    bare = totals_from(cash.study.results, made)
    totals = {name: dataclasses.replace(bare[name], levels=own.levels) for name, own in cash.totals.items()}
    return rebuilt(cash, plant, totals, case)


def finance_of(**changes: Any) -> Callable[[PlantInputs], PlantInputs]:
    """A change of finance settings."""

    def change(plant: PlantInputs) -> PlantInputs:
        finance = Finance.model_validate({**plant.settings.finance.model_dump(), **changes})
        return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"finance": finance}))

    return change


def money_prices(**changes: float) -> Callable[[PlantInputs], PlantInputs]:
    """A change of wages or prices."""

    def change(plant: PlantInputs) -> PlantInputs:
        money = plant.settings.money.model_copy(update=changes)
        return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"money": money}))

    return change


def wage(work: str, before: float, rate_per_h: float) -> Callable[[PlantInputs], PlantInputs]:
    """A change of the wage of a kind of work, and of all people who earned it."""

    def change(plant: PlantInputs) -> PlantInputs:
        people = tuple(
            dataclasses.replace(p, rate_per_h=rate_per_h) if p.rate_per_h == before else p for p in plant.people
        )
        return money_prices(**{f"{work}_rate_per_h": rate_per_h})(dataclasses.replace(plant, people=people))

    return change


def people_terms(**changes: float) -> Callable[[PlantInputs], PlantInputs]:
    """A change of settings of people."""

    def change(plant: PlantInputs) -> PlantInputs:
        people = plant.settings.people.model_copy(update=changes)
        return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"people": people}))

    return change


def option_values(option_id: str, **changes: Any) -> Callable[[PlantInputs], PlantInputs]:
    """A change of an option's money."""

    def change(plant: PlantInputs) -> PlantInputs:
        options = tuple(o.model_copy(update=changes) if o.id == option_id else o for o in plant.options)
        return dataclasses.replace(plant, options=options)

    return change


def read_book(book: LiveWorkbook) -> Values:
    """Values of a workbook as the kit works them out, by sheet and address."""
    return {(name, xl_rowcol_to_cell(row, column)): cell.value
            for name, sheet in book.sheets.items() for (row, column), cell in sheet.cells.items()}  # fmt: skip


def amounts(values: Values, sheet: FormulaSheet, name: str) -> list[Any]:
    """What a named cell or row of a live model shows."""
    place = sheet.names[name]
    return [values.get((sheet.name, xl_rowcol_to_cell(place.row, column)))
            for column in range(place.column, place.last_column + 1)]  # fmt: skip


def lines_of(sheet: FormulaSheet) -> list[tuple[str, str]]:
    """Every line of the statement, as (section, line)."""
    listed = [name.partition(" ")[::2] for name in sheet.names]
    return [(of, line) for of, line in listed if of in SECTIONS and line in LINES]


def shown(values: Values, sheet: FormulaSheet) -> dict[str, list[Any]]:
    """All that a live model shows of its case: every line and figure by year, and its measures."""
    found = {f"{of} {line}": amounts(values, sheet, f"{of} {line}") for of, line in lines_of(sheet)}
    found |= {name: amounts(values, sheet, name) for name in FIGURES}
    return found | {name: amounts(values, sheet, name) for name, *_ in MEASURES}


def wanted(cash: sk.CashFlow, scenario: str, sheet: FormulaSheet) -> dict[str, list[Any]]:
    """The same from the cash-flow table. Lines stand in money of their year, figures in that of the table."""
    frame, years = cash.flow.frame, range(sheet.years + 1)
    own = frame[(frame["scenario"] == scenario) & (frame["benefit_class"] != NOT_MONETISED)]
    avoided = own["benefit_class"] == COST_AVOIDED
    found: dict[str, list[Any]] = {}
    for of, line in lines_of(sheet):
        rows = own[(own["line"] == line) & (avoided == (of == "avoided"))].groupby("year")["amount"].sum()
        level = [deflator(cash.flow.finance, year) for year in years]
        found[f"{of} {line}"] = [float(rows.get(year, 0.0)) / level[year] for year in years]
    listed = {line for _, line in lines_of(sheet)}
    assert set(own[own["amount"] != 0]["line"]) - listed <= set(TAX_LINES)
    for name, figure in zip(FIGURES, FIGURE_CLASSES, strict=True):
        flows = figure_flows(cash.flow, scenario, figure).tolist()
        found[name] = flows + [0.0] * (sheet.years + 1 - len(flows))
    return found | {name: [value] for name, value in static_measures(cash.results[scenario]).items()}


def unlike(cash: sk.CashFlow, scenario: str, values: Values, sheet: FormulaSheet) -> list[Any]:
    """Where a live model differs from the cash-flow table; cells that point to the static table are let be."""
    found = differences(wanted(cash, scenario, sheet), shown(values, sheet))
    return [(key, expected, there) for key, expected, there in found if there != ELSEWHERE]


def labels_of(cash: sk.CashFlow) -> dict[str, str]:
    """Words by which each case can be picked."""
    return {name: label for name, label in case_labels(content_of(cash)).items() if name in cash.results}


def cell_of(book: LiveWorkbook, name: str) -> tuple[str, str]:
    """Sheet and address of an input by its name: where a user types, not where it is in force."""
    place = book.names[name]
    column = TYPICAL if place.sheet == INPUTS else place.column
    return place.sheet, xl_rowcol_to_cell(place.row, column)


def picked(book: LiveWorkbook, model: str, label: str) -> dict[tuple[str, str], Any]:
    """The change of cells that picks a case."""
    place = book.sheets[model].names["pick"]
    return {(model, xl_rowcol_to_cell(place.row, place.column)): label}


def edited(path: Path, target: Path, changes: dict[tuple[str, str], Any]) -> Path:
    """A copy of a workbook with some cells typed over."""
    book = openpyxl.load_workbook(path)
    for (sheet, cell), value in changes.items():
        book[sheet][cell].value = value
    book.save(target)
    return target
