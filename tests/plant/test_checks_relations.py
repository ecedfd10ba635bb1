"""Relations that cannot be: laws and spreads, parts and sheets, hours and weeks, the ends of a price."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from simkit.base.laws import CV_RANGES, Law
from simkit.plant.checks import run_checks
from simkit.plant.checks_usual import capital_beside_others, option_amounts
from simkit.plant.options import CapitalLine, Option, Range, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import ObservedWeek, Person, StartRow
from tests.plant.test_usual_ranges import changed
from tests.small_plant import MONDAY, small_plant, with_element


def told(plant: PlantInputs, column: str, severity: str = "error") -> list[str]:
    """Findings of one severity about a column."""
    found = run_checks(plant)
    return [str(finding) for finding in found if (finding.column, finding.severity) == (column, severity)]


# ---- laws ----


@pytest.mark.parametrize("kind", sorted(CV_RANGES))
def test_a_law_keeps_its_mean_within_its_range_and_draws_numbers(kind: str) -> None:
    low, high = CV_RANGES[kind]
    uniforms = (np.arange(400_000) + 0.5) / 400_000
    for cv, within in ((max(low, 0.05), 1e-3), (min(high, 2.0), 0.02)):
        assert Law(kind, 3.0, cv).draw(uniforms).mean() == pytest.approx(3.0, rel=within)
    assert np.isfinite(Law(kind, 3.0, high).draw(uniforms)).all()


@pytest.mark.parametrize(
    ("law", "cv", "reading"),
    [("weibull", 25.0, "if 25 is in percent, it is 0.25"), ("weibull", 0.01, ""), ("gamma", 25.0, "it is 0.25"),
     ("triangular", 0.5, ""), ("uniform", 60.0, ""), ("lognormal", 35.0, "it is 0.35")],
)  # fmt: skip
def test_a_spread_that_a_law_cannot_hold_is_refused(law: str, cv: float, reading: str) -> None:
    (message,) = told(with_element(small_plant(), "pull_out", law=law, cv=cv), "cv")
    assert f"the law {law} keeps its mean" in message
    assert reading in message
    assert told(with_element(small_plant(), "pull_out", law=law, cv=0.3), "cv") == []


def test_every_law_of_every_table_is_looked_at() -> None:
    assert told(changed("stops", repair_law="weibull", repair_cv=70.0), "repair_cv")
    assert told(changed("tools", life_law="weibull", life_cv=25.0, life_hits=6000.0), "life_cv")
    assert told(changed("upkeep", duration_law="uniform", duration_cv=5.0), "duration_cv")
    assert told(changed("people", elsewhere_law="gamma", elsewhere_cv=50.0, elsewhere_min=5.0), "elsewhere_cv")
    assert told(small_plant(run={"source": "law", "arrival_law": "weibull", "arrival_cv": 0.01}), "run.arrival_cv")


def test_a_spread_that_no_law_reads_does_nothing() -> None:
    (message,) = told(with_element(small_plant(), "pull_out", cv=0.3), "cv", "note")
    assert "does nothing: the law constant has no spread" in message


# ---- parts and sheets ----


def test_a_part_is_no_larger_than_its_sheet_whichever_way_it_lies() -> None:
    """The sheet is 1250 x 1000 mm."""
    assert (
        told(changed("program_parts", per_sheet=1, length_mm=990.0, width_mm=1240.0, mass_kg=14.0), "length_mm") == []
    )
    (message,) = told(changed("program_parts", length_mm=1010.0, width_mm=1020.0), "length_mm")
    assert "1010 x 1020 mm is larger than its sheet, 1250 x 1000 mm" in message
    assert told(changed("program_parts", length_mm=1300.0), "length_mm")


def test_parts_together_take_no_more_than_the_sheet() -> None:
    """A part of 500 x 310 mm is 0.124 of the sheet: eight are 0.99, nine 1.12, thirteen 1.61 of it."""
    assert told(changed("program_parts", per_sheet=8), "program_id", "note") == []
    (noted,) = told(changed("program_parts", per_sheet=9), "program_id", "note")
    assert "take 1.12 times the sheet" in noted
    refused = told(changed("program_parts", per_sheet=13), "program_id")
    assert any("take 1.61 times the sheet" in message for message in refused)


def test_a_part_weighs_what_its_rectangle_does() -> None:
    """500 x 310 mm of 1.5 mm steel weigh 1.825 kg."""
    assert told(changed("program_parts", mass_kg=2.1), "mass_kg", "note") == []
    message = told(changed("program_parts", mass_kg=0.0184), "mass_kg", "note")[0]
    assert "0.0184 kg, but a rectangle of 500 x 310 mm of MS-1.5 weighs 1.83 kg" in message


def test_the_order_of_a_part_is_in_the_book() -> None:
    assert told(changed("program_parts", order_id="1001"), "order_id") == []
    (message,) = told(changed("program_parts", order_id="1010"), "order_id")
    assert 'program_parts.csv order_id "1010": is not in orders.csv' in message
    assert "did you mean '1006'" in message


def test_contours_have_a_usual_length() -> None:
    """9000 mm in 12 contours are 750 mm each."""
    assert told(small_plant(), "cut_length_mm", "note") == []
    short = told(changed("programs", cut_length_mm=9.0), "cut_length_mm", "note")
    assert any("9 mm in 12 contours are 0.75 mm each" in message for message in short)


def test_a_figure_fits_its_station() -> None:
    assert told(small_plant(), "length_mm", "note") == []
    large = told(changed("tools", length_mm=18.0), "length_mm", "note")
    assert any("18 mm does not fit a station of 16 mm" in text for text in large)


def test_what_stands_at_the_start_can_stand_there() -> None:
    start = (StartRow(what="turret", item="TL-001", station=1, clearance_mm=0.25),
             StartRow(what="backlog", item="1001", sheets=4))  # fmt: skip
    assert "TL-001 has no die of this clearance" in told(small_plant(start=start), "clearance_mm", "note")[0]
    assert "1001 is an order of 3 sheets" in told(small_plant(start=start), "sheets")[0]


# ---- hours ----


def week(**hours: float) -> PlantInputs:
    found: dict[str, Any] = {
        "attended_h": 75.0,
        "setup_h": 25.0,
        "handling_h": 15.0,
        "process_h": 21.0,
        "stopped_h": 6.0,
    }
    return small_plant(
        observed=(ObservedWeek(week=1, monday=MONDAY, sheets=200, parts=3000, orders_finished=40, tool_loads=70,
                               die_changes=100, **{**found, **hours}),)
    )  # fmt: skip


def test_a_week_has_168_hours() -> None:
    assert told(week(), "attended_h") == []
    (message,) = told(week(attended_h=4350.0), "attended_h")
    assert "the week has 168 hours at 1 machine(s); if 4350 is in min, it is 72.5 h" in message
    assert told(week(process_h=170.0), "process_h")
    assert "sum to 67 h of 40 attended" in told(week(attended_h=40.0), "attended_h", "note")[0]
    assert told(small_plant(rules={"overtime_cap_h_per_week": 169.0}), "rules.overtime_cap_h_per_week")


def test_sides_of_the_removal_rise() -> None:
    assert told(small_plant(removal={"min_side_mm": 1300.0}), "removal.min_side_mm")


# ---- money ----


def paid(*rates: float) -> tuple[Person, ...]:
    return tuple(
        dataclasses.replace(row, rate_per_h=rate) for row, rate in zip(small_plant().people, rates, strict=True)
    )


def test_a_wage_far_from_the_others_is_noted() -> None:
    (message,) = told(small_plant(people=paid(31, 31_000, 26, 26)), "rate_per_h", "note")
    assert '"31000": is 1090 hours of the median wage, 28.5' in message
    assert "so 7.12 to 114 (common practice, no source)" in message
    assert told(small_plant(people=paid(31, 62, 26, 20)), "rate_per_h", "note") == []


def test_prices_are_held_against_an_hour_of_work_in_any_currency() -> None:
    assert told(changed("materials", price_per_kg=1050.0), "price_per_kg", "note")
    assert told(changed("materials", price_per_kg=0.00105), "price_per_kg", "note")
    assert told(small_plant(money={"energy_per_kwh": 170.0}), "money.energy_per_kwh", "note")
    yen = {"people": paid(4700, 4700, 3900, 3900), "money": {"energy_per_kwh": 26.0, "operator_rate_per_h": 4700.0}}
    assert told(small_plant(**yen), "money.energy_per_kwh", "note") == []
    unpaid = {"people": paid(0, 0, 0, 0), "money": {"operator_rate_per_h": 0.0, "energy_per_kwh": 170.0}}
    assert told(small_plant(**unpaid), "money.energy_per_kwh", "note") == []


def test_scrap_earns_less_than_new_sheet() -> None:
    assert "scrap earns more" in told(changed("materials", scrap_price_per_kg=1.5), "scrap_price_per_kg", "note")[0]


def option(name: str = "A1", low: float = 160e3, quoted: float = 185e3, high: float = 215e3, **more: Any) -> Option:
    return Option(id=name, name=name, kind="bought", capital=Range(low=low, quoted=quoted, high=high), **more)


def test_the_ends_of_a_price_belong_together() -> None:
    assert list(option_amounts(small_plant(), option())) == []
    assert list(option_amounts(small_plant(), option(low=0.0))) == []
    (finding,) = option_amounts(small_plant(), option(low=160.0))
    assert (finding.severity, finding.column) == ("error", "option A1 capital")
    assert "which is no range of one price" in finding.why
    line = CapitalLine(line="floor", low=1, quoted=3000, high=4000)
    yearly = YearlyLine(line="contract", budget="service", low=4, quoted=4000, high=4000)
    found = option_amounts(small_plant(), option(capital_lines=(line,), yearly_lines=(yearly,)))
    assert [f.column for f in found] == ["option A1 capital line 'floor'", "option A1 yearly line 'contract'"]


def test_capital_far_from_an_hour_of_work_or_from_the_other_options_is_told() -> None:
    (finding,) = option_amounts(small_plant(), option(low=29.0, quoted=29.0, high=29.0))
    assert finding.severity == "note"
    others = [option(name, 50e3, 60e3, 70e3) for name in ("B", "C", "D")]
    (far,) = capital_beside_others([*others, option("E", 60.0, 60.0, 60.0)])
    assert (far.severity, far.column) == ("error", "option E capital")
    assert list(capital_beside_others([*others, option("E", 1000.0, 1000.0, 1000.0)])) == []
