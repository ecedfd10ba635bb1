"""Usual ranges: each belongs to a field, what lies outside is a note with the range and the other reading."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path
from typing import Any

import pytest

from simkit.base.messages import plain
from simkit.base.units import OTHER_UNITS
from simkit.plant.blank import models_in
from simkit.plant.checks import run_checks
from simkit.plant.checks_usual import IN_WAGES, time_range
from simkit.plant.fields import columns_of
from simkit.plant.options import Edit, Option
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import check_plant
from simkit.plant.reference import reference_markdown
from simkit.plant.settings import Settings
from simkit.plant.tables import TABLES
from simkit.plant.usual_ranges import COLUMNS, INTERVALS, OPTIONS, RATES, SETTINGS, Usual
from tests.small_plant import small_plant, with_element, write_small_plant

DEMO = Path(__file__).parents[2] / "data" / "tarnholt"


def noted(plant: PlantInputs, column: str) -> list[str]:
    """Notes about a column; errors are a fault of the test."""
    findings = [finding for finding in run_checks(plant) if finding.column == column]
    assert {finding.severity for finding in findings} <= {"note"}
    return [str(finding) for finding in findings]


def changed(table: str, **columns: Any) -> PlantInputs:
    """The small plant with columns of the first row of a table changed."""
    first, *rest = getattr(small_plant(), table)
    return small_plant(**{table: (dataclasses.replace(first, **columns), *rest)})


def test_the_demo_has_no_false_note() -> None:
    assert check_plant(DEMO, calibrated=False)[1] == ()


def test_every_range_belongs_to_a_field_and_holds_its_default() -> None:
    for path, usual in COLUMNS.items():
        table, name = path.split(".")
        spec = columns_of(TABLES[table])[name]
        assert spec.kind in (int, float), path
        assert not spec.default or isinstance(spec.default, tuple) or spec.required or spec.default in usual, path
    for path, usual in SETTINGS.items():
        section: Any = Settings
        *way, name = path.split(".")
        for key in way:
            section = next(iter(models_in(section.model_fields[key].annotation)))
        default = section.model_fields[name].get_default(call_default_factory=True)
        assert not isinstance(default, int | float) or default == 0 or default in usual, path
    assert set(OPTIONS) <= set(Option.model_fields)
    for path in IN_WAGES:
        head, *keys = path.split(".")
        assert keys[-1] in (columns_of(TABLES[head]) if head in TABLES else columns_in(keys[0])), path


def columns_in(section: str) -> set[str]:
    return set(models_in(Settings.model_fields[section].annotation)[0].model_fields)


def test_ranges_rise_and_their_units_have_other_readings() -> None:
    for usual in (*COLUMNS.values(), *SETTINGS.values(), *OPTIONS.values(), *RATES.values(), *INTERVALS.values()):
        assert 0 < usual.low < usual.high
        assert usual.source
    assert {usual.unit for usual in COLUMNS.values()} & set(OTHER_UNITS) > {"mm", "MPa", "s", "min", "kg", "fraction"}


READINGS = [
    ("programs", {"sheet_length_mm": 96.0}, "96 mm is outside what is usual, 500 to 4500 mm (common practice, no "
     "source); if 96 is in inches, it is 2438.4 mm"),
    ("materials", {"shear_strength_mpa": 43.5}, "43.5 MPa is outside what is usual, 62 to 552 MPa (trade chart, "
     "aluminium 1100-O to medium-carbon steel); if 43.5 is in ksi, it is 299.922 MPa"),
    ("materials", {"pierce_s": 250.0}, "if 250 is in ms, it is 0.25 s"),
    ("materials", {"density_kg_m3": 500.0}, "outside what is usual, 1700 to 9000 kg/m3"),
    ("materials", {"thickness_mm": 0.125}, "if 0.125 is in inches, it is 3.175 mm"),
    ("materials", {"cutting_speed_m_min": 200.0}, "if 200 is in mm/s, it is 12 m/min"),
    ("stops", {"repair_min": 4680.0}, "if 4680 is in s, it is 78 min"),
    ("stops", {"rate": 1149.0}, "0.0005 to 30 stops/h (common practice, no source), counted per running_hour"),
    ("upkeep", {"interval": 8000.0}, "outside what is usual, 0.5 to 4000 h"),
    ("tools", {"life_hits": 60.0}, "if 60 is in thousands, it is 60000 hits"),
]  # fmt: skip


@pytest.mark.parametrize(("table", "columns", "words"), READINGS, ids=[str(row[1]) for row in READINGS])
def test_a_number_outside_is_told_with_the_range_and_the_other_reading(
    table: str, columns: dict[str, Any], words: str
) -> None:
    (name,) = columns
    assert noted(small_plant(), name) == []
    assert any(words in text for text in noted(changed(table, **columns), name))


def test_many_of_a_column_are_one_note() -> None:
    rows = tuple(dataclasses.replace(row, sheets=5000) for row in small_plant().orders)
    (text,) = noted(small_plant(orders=rows), "sheets")
    assert "5000 sheets is outside what is usual, 1 to 500 sheets" in text
    assert "so it is in 5 more rows" in text


def test_an_explicit_zero_is_never_noted() -> None:
    assert noted(changed("materials", pierce_s=0.0), "pierce_s") == []
    assert noted(with_element(small_plant(), "pull_out", typical=0.0), "typical") == []


def test_a_time_is_held_against_what_is_usual_for_what_it_is_counted_per() -> None:
    """A sheet is loaded in 1 to 5 min; a row is noted above three times that, all rows of a driver below a third."""
    plant = small_plant()
    assert noted(plant, "typical") == []
    for minutes, words in ((1900.0, "load: 1900 min"), (15.1, "load: 15.1 min is outside what is usual, 1 to 5 min")):
        assert any(words in text for text in noted(with_element(plant, "load", typical=minutes), "typical"))
    assert noted(with_element(plant, "load", typical=15.0), "typical") == []
    (text,) = noted(with_element(plant, "die_change", unit="s/die_change"), "typical")
    assert "die_change: 1.5 s is outside what is usual, 42 to 180 s" in text
    assert "if 1.5 is in min, it is 90 s" in text
    assert noted(with_element(plant, "tool_search", typical=0.1), "typical") == []
    assert any(
        "tool_search: 0.001 min" in text for text in noted(with_element(plant, "tool_search", typical=0.001), "typical")
    )


def test_the_ends_of_a_time_are_looked_at_too() -> None:
    plant = with_element(small_plant(), "die_change", low=0.001, high=1500.0)
    assert "0.001 min" in noted(plant, "low")[0]
    assert "1500 min" in noted(plant, "high")[0]


def test_a_time_range_is_that_of_its_state() -> None:
    rows = {row.element: row for row in small_plant().elements}
    assert time_range(rows["load"]) == Usual(1, 5, "min")
    assert time_range(rows["pull_out"]) == Usual(0.6, 3, "min")
    assert time_range(dataclasses.replace(rows["load"], state="cutting")) is None


SETTING_READINGS = [
    ({"machine": {"running_kw": 14_000.0}}, "machine.running_kw", "if 14000 is in W, it is 14 kW"),
    ({"machine": {"motion": {"x_speed_m_s": 0.002, "x_accel_m_s2": 5.0}}}, "machine.motion.x_speed_m_s",
     "0.2 to 4 m/s"),
    ({"machine": {"stations": [{"size_mm": 0.63}]}}, "machine.stations.size_mm",
     "if 0.63 is in inches, it is 16.002 mm"),
    ({"rules": {"late_share_limit": 0.00005}}, "rules.late_share_limit", "0.00005 is outside what is usual"),
]  # fmt: skip


@pytest.mark.parametrize(("sections", "column", "words"), SETTING_READINGS, ids=[row[1] for row in SETTING_READINGS])
def test_settings_are_looked_at_too(sections: dict[str, Any], column: str, words: str) -> None:
    plant = small_plant(**sections)
    findings = [finding for finding in run_checks(plant) if finding.column == column]
    assert any(words in finding.why for finding in findings)


def test_an_option_is_noted_for_what_its_edits_bring(tmp_path: Path) -> None:
    edit = Edit(path="elements[load].typical", value=900)
    folder = write_small_plant(tmp_path / "p", options=(Option(id="X1", name="x", kind="low_capital", edits=(edit,),
                                                               lead_weeks=2000 / 7, life_years=0.5),))  # fmt: skip
    texts = [str(finding) for finding in check_plant(folder)[1] if finding.place == "options.toml"]
    assert any('option X1: elements.csv typical "900"' in text and "1 to 5 min" in text for text in texts)
    assert any("option X1 lead_weeks" in text for text in texts)
    assert any("option X1 life_years" in text for text in texts)


def test_numbers_are_written_as_people_do() -> None:
    assert [plain(value) for value in (0.000084, 14_000, 5e6, 0.25, 2438.4, 1 / 3)] == [
        "0.000084", "14000", "5000000", "0.25", "2438.4", "0.333333",
    ]  # fmt: skip


def test_the_reference_page_shows_the_usual_ranges() -> None:
    text = reference_markdown()
    (line,) = re.findall(r"\| `sheet_length_mm` \|.*", text)
    assert "usual 500 to 4500 mm (common practice, no source)" in line
    (line,) = re.findall(r"\| `running_kw` \|.*", text)
    assert "usual 2 to 120 kW" in line
