"""The forecast of regrinds reads the book week by week, and repeats it."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.tool_questions import book_forecast, grinding_s
from tests.small_plant import small_plant


def worn_plant(limit: float):
    tools = tuple(
        dataclasses.replace(tool, tracked=True, regrind_limit_hits=limit if tool.tool_id == "TL-001" else 1e9)
        for tool in small_plant().tools
    )
    return small_plant(tools=tools)


def test_the_book_repeats_in_its_own_weeks():
    """TL-001 does (3 + 2 + 6) · 200 + (5 + 4 + 1) · 120 = 3,400 hits a week."""
    for limit, due in ((3399.0, 0), (3400.0, 1), (6799.0, 1), (6800.0, 2)):
        monday, (own, *_) = book_forecast(worn_plant(limit), weeks=3)
        assert (own.tool.tool_id, own.due_week) == ("TL-001", due)
    assert f"{monday:%Y-%m-%d}" == "2026-01-05"


def test_hours_of_grinding_are_regrinds_times_their_time():
    plant = worn_plant(1200.0)
    _, forecast = book_forecast(plant, weeks=2)
    assert grinding_s(plant) == 12 * 60
    assert sum(own.planned.sum() for own in forecast) > 0
    for own in forecast:
        assert own.off_line_h == pytest.approx((own.planned - own.replaced) * 0.2)


def test_no_orders_no_forecast():
    assert book_forecast(small_plant(orders=()))[1] == ()


def test_no_tools_no_grinding():
    assert grinding_s(small_plant(tools=(), program_tools=())) == 0.0
