"""Tables of nights: ranking, shares, weekdays and the closed form, by hand."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from simkit.analysis.night_tables import (
    NIGHT_COLUMNS,
    by_want,
    by_weekday,
    expected_run_h,
    expected_shares,
    mean_expected_h,
    night_mean,
    nights_differ,
    ranked_wants,
    ranking,
    share_below_half,
    share_whole,
    stop_rates,
)
from simkit.plant.tables import Stop
from tests.cell.bench_plant import plant


def nights(*rows: tuple[int, float, str, str, float]) -> pd.DataFrame:
    """Nights of 8 h: replication, hours worked, what ended it, hours lost."""
    zero = dict.fromkeys(NIGHT_COLUMNS, 0.0)
    return pd.DataFrame([
        {**zero, "replication": r, "allowed_h": 8.0, "running_h": h, "ended_by": limit, "want": want, "lost_h": lost,
         "start_h": 24.0 * at + 22.0} for at, (r, h, limit, want, lost) in enumerate(rows)
    ])  # fmt: skip


FOUR = nights((0, 2.0, "stop", "jam", 6.0), (0, 8.0, "", "", 0.0), (1, 1.0, "tool", "left", 7.0),
              (1, 3.0, "output", "left", 5.0))  # fmt: skip


def test_means_are_over_replications_and_ranges_over_nights() -> None:
    mean = night_mean(FOUR, "running_h")
    assert mean.mean == (5.0 + 2.0) / 2
    assert mean.n == 2
    assert nights_differ(FOUR, "running_h").low == pytest.approx(np.quantile([1, 2, 3, 8], 0.1))
    assert share_below_half(FOUR).mean == (0.5 + 1.0) / 2
    assert share_whole(FOUR) == 0.25


def test_ends_are_ranked_by_hours_and_a_want_is_added_up_over_its_limits() -> None:
    assert [(e.limit, e.want, e.nights, e.share, e.lost_h) for e in ranking(FOUR)] == [
        ("tool", "left", 1, 0.25, 7.0), ("stop", "jam", 1, 0.25, 6.0), ("output", "left", 1, 0.25, 5.0)]  # fmt: skip
    assert [(e.want, e.nights, e.share, e.lost_h) for e in by_want(FOUR)] == [
        ("left", 2, 0.5, 12.0), ("jam", 1, 0.25, 6.0)]  # fmt: skip
    assert ranked_wants(FOUR) == [("tool", "left"), ("stop", "jam")]


def test_count_and_hours_rank_differently() -> None:
    late = nights((0, 1.0, "stop", "jam", 7.0), (0, 7.0, "queue", "", 1.0), (0, 7.0, "queue", "", 1.0))
    assert [end.limit for end in ranking(late)] == ["stop", "queue"]
    assert max(ranking(late), key=lambda end: end.nights).limit == "queue"


def test_nights_are_told_apart_by_the_weekday_on_which_they_start() -> None:
    days = by_weekday(nights(*[(0, float(n), "", "", 0.0) for n in range(8)]))
    assert list(days) == [0, 1, 2, 3, 4, 5, 6]
    assert list(days[0]["running_h"]) == [0.0, 7.0]


def test_the_closed_form() -> None:
    assert expected_run_h(0.25, 8.0) == pytest.approx(4 * (1 - math.exp(-2)))
    assert expected_run_h(0.0, 8.0) == 8.0
    assert mean_expected_h(0.25, [8.0, 0.0]) == pytest.approx(2 * (1 - math.exp(-2)))
    shares = expected_shares(0.25, 8.0, [0.0, 4.0, 8.0])
    assert shares == pytest.approx([1 - math.exp(-1), math.exp(-1)])
    assert shares.sum() == pytest.approx(1.0)


def test_rates_are_put_on_the_clock_of_hours_worked() -> None:
    """Ten hours worked, five of them process, 40 sheets of 3 parts, two picks a sheet."""
    frame = nights((0, 10.0, "", "", 0.0)).assign(process_h=5.0, sheets=40, parts=120)
    causes = (
        Stop(cause="hourly", exposure="running_hour", rate=0.4, repair_min=1),
        Stop(cause="picks", exposure="pick", rate=0.01, retries=1, retry_success=0.9, repair_min=1),
        Stop(cause="young", exposure="sheet", rate=0.1, repair_min=1, early_factor=3.0, settle_weeks=8.0),
        Stop(cause="alone", exposure="part", rate=1.0, repair_min=1, clears="nobody"),
    )
    rates = {row.cause: row for row in stop_rates(plant(stops=causes), frame, {"pick": 2.0})}
    assert set(rates) == {"hourly", "picks", "young"}
    assert rates["hourly"].settled_per_h == pytest.approx(0.4 * 0.5)
    assert rates["picks"].settled_per_h == pytest.approx(0.01 * 0.1 * 2 * 4)
    assert (rates["young"].settled_per_h, rates["young"].early_per_h) == pytest.approx((0.4, 1.2))
    assert stop_rates(plant(stops=causes), frame.assign(running_h=0.0), {"pick": 2.0}) == ()
