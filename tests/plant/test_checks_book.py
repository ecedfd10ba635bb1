"""One wrong date would empty a year: orders far from the rest of the book are findings with their row."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.reading import check_plant
from simkit.plant.tables import Order
from simkit.plant.writing import write_plant
from tests.small_plant import MONDAY, small_plant

LATER = dt.timedelta(5)


def book(*released: dt.date, **run: object) -> PlantInputs:
    """The small plant with twenty orders of two weeks, and more orders released on these days."""
    days = [MONDAY + dt.timedelta(number % 12) for number in range(20)]
    orders = tuple(
        Order(order_id=str(number), program_id="P-1", sheets=1, released=day, due=day + LATER)
        for number, day in enumerate([*days, *released], 1)
    )
    return dataclasses.replace(small_plant(run=run), orders=orders)


def findings(folder: Path, plant: PlantInputs, severity: str = "error") -> list[str]:
    write_plant(plant, folder)
    return [str(finding) for finding in check_plant(folder)[1] if finding.severity == severity]


def test_a_book_without_gaps_is_clean(tmp_path: Path) -> None:
    plant = book(MONDAY + dt.timedelta(11 + 14))
    assert findings(tmp_path / "a", plant) == findings(tmp_path / "b", plant, "note") == []


@pytest.mark.parametrize(
    ("day", "gap", "meant"),
    [
        (dt.date(2027, 1, 6), "50 weeks", "2026-01-06"),
        (dt.date(2025, 1, 8), "51 weeks", "2026-01-08"),
        (dt.date(2026, 10, 1), "36 weeks", "2026-01-10"),
        (dt.date(2062, 1, 6), "1876 weeks", ""),
    ],
)
def test_one_order_released_in_another_year_or_month(tmp_path: Path, day: dt.date, gap: str, meant: str) -> None:
    (message,) = findings(tmp_path / "plant", book(day))
    assert message.startswith(f'orders.csv row 22 released "{day}": is far from the rest of the book')
    assert f"{gap} without a release would be drawn as weeks without work" in message
    assert meant in message
    assert ("would fit" in message) == bool(meant)


def test_a_few_orders_together_are_told_with_their_rows(tmp_path: Path) -> None:
    day = MONDAY + dt.timedelta(400)
    assert "(also row 23)" in findings(tmp_path / "plant", book(day, day))[0]


def test_a_long_gap_between_two_parts_of_a_book_is_a_note(tmp_path: Path) -> None:
    holidays = [MONDAY + dt.timedelta(40 + number) for number in range(6)]
    plant = book(*holidays)
    assert findings(tmp_path / "a", plant) == []
    (message,) = findings(tmp_path / "b", plant, "note")
    assert message.startswith("orders.csv row 22 released: no order is released between 2026-01-16 and 2026-02-14")
    assert "3 weeks without a release" in message


def test_a_replay_takes_days_as_they_are(tmp_path: Path) -> None:
    plant = book(dt.date(2027, 1, 6), source="replay")
    assert findings(tmp_path / "a", plant) == []
    assert len(findings(tmp_path / "b", plant, "note")) == 1


def test_an_order_due_in_another_year_is_a_note(tmp_path: Path) -> None:
    plant = book()
    late = dataclasses.replace(plant.orders[3], due=plant.orders[3].due.replace(year=2027))
    plant = dataclasses.replace(plant, orders=(*plant.orders[:3], late, *plant.orders[4:]))
    (message,) = findings(tmp_path / "plant", plant, "note")
    assert message.startswith('orders.csv row 5 due "2027-01-13": is 370 days after the release; usual in this book: 5')


def test_a_run_without_an_end_and_one_within_its_warm_up(tmp_path: Path) -> None:
    (message,) = findings(tmp_path / "a", small_plant(run={"source": "saturated"}))
    assert "run.horizon_s: a saturated queue never ends" in message
    (message,) = findings(tmp_path / "b", small_plant(run={"horizon_s": 3600, "warmup_s": 3600}))
    assert "run.warmup_s" in message
    assert "cuts off the whole run of 3600 s" in message
