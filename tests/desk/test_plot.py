"""Exhibits: drawn from a table onto given axes, with what the table says in them."""

from __future__ import annotations

import itertools

import matplotlib.pyplot as plt
import pandas as pd
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

import simkit as sk
from simkit.report.sentences_calibration import MODELS, USES

GAPS = pd.DataFrame({
    "scenario": ["A", "B"], "against": "Today", "measure": "hours_needed", "mean": [-4.0, 1.0],
    "half_width": [1.0, 2.0], "unit": "h", "replications": 4, "sign": ["sure", "cannot tell"],
})  # fmt: skip
SPLIT = pd.DataFrame({
    "scenario": ["A", "A", "B", "B"], "state": ["cutting", "closed"] * 2, "hours_per_week": [68.0, 100.0, 60.0, 108.0],
    "half_width": 0.0,
})  # fmt: skip
WEEK = pd.DataFrame({
    "resource": ["M1", "calendar"], "state": ["cutting", "shift"], "start_h": [7.0, 6.0], "end_h": [9.0, 14.0],
})  # fmt: skip
ORDERS = pd.DataFrame({"there_h": [20.0, 80.0, None], "due_h": [48.0, 48.0, 48.0]})
NIGHTS = pd.DataFrame({"allowed_h": [8.0, 8.0], "running_h": [3.0, 8.0]})
CASH = pd.DataFrame({"scenario": ["A", "A"], "year": [0, 1], "cash": [-5.0, 7.0], "cumulative": [-5.0, 2.0]})
RISK = pd.DataFrame({"scenario": ["A"], "p10": [-2.0], "p50": [1.0], "p90": [4.0]})
FREED = pd.DataFrame({
    "scenario": ["Today", "A", "B"], "freed_h_per_week": [None, 4.0, -1.0],
    "freed_h_per_week_half_width": [None, 1.0, 2.0], "how_sure": ["", "sure", "cannot tell"],
})  # fmt: skip
EXCHANGES = pd.DataFrame({
    "tool": ["T-1", "T-2"], "standing_min_per_week": [30.0, 10.0], "standing_share": [0.75, 0.25],
})  # fmt: skip
SIZES = pd.DataFrame({
    "places": [0, 10, 20], "by_hand_per_week": [50.0, 5.0, 1.0], "more_h_per_week": [4.0, 0.5, None],
    "more_h_per_week_half_width": [1.0, 1.0, None], "enough": [False, True, False],
})  # fmt: skip
LOOK_AHEAD = pd.DataFrame({
    "family": ["LOCK"], "laser_share": [0.4], "hidden_min_per_week": [10.0], "visible_min_per_week": [20.0],
})  # fmt: skip
SET_UP = pd.DataFrame({
    "scenario": ["Today"], "exchanges_h_per_week": [9.0], "fixed_minutes_h_per_week": [8.0],
    "first_pieces_h_per_week": [5.0],
})  # fmt: skip
CLOCKS = pd.DataFrame({"family": ["LOCK", "all"], "machine_min": [7.0, 8.0], "person_min": [1.0, 3.0]})
PICKS = pd.DataFrame({
    "pick_s": [4.5, 9.0], "freed_h_per_week": [1.0, -2.0], "freed_h_per_week_half_width": [1.0, 1.0],
    "closed_form_h_per_week": [2.0, 0.0],
})  # fmt: skip
OF_TOOLS = {
    "clocks": CLOCKS,
    "picks": PICKS,
    "freed": FREED,
    "exchanges": EXCHANGES,
    "sizes": SIZES,
    "look_ahead": LOOK_AHEAD,
    "set_up": SET_UP,
}
DEMANDS = pd.DataFrame({
    "scenario": "A", "demand": [1.0, 2.0], "needed_h_per_week": [70.0, 130.0], "needed_h_per_week_half_width": 1.0,
    "attended_h_per_week": 72.0, "makes_the_book": ["yes", "no"],
})  # fmt: skip
TASKS = pd.DataFrame({"task": ["loading", "bench work"], "hours_per_week": [12.0, 8.0]})
DAY = pd.DataFrame({
    "resource": ["M1", "M1", "OP", "calendar"], "state": ["cutting", "stopped", "load", "shift"],
    "start_h": [31.0, 33.0, 30.5, 30.0], "end_h": [33.0, 50.0, 31.0, 38.0],
})  # fmt: skip
VALUE = pd.DataFrame({"choice": ["A"], "npv": [9.0], "npv_half_width": [2.0], "verdict": ["do it"], "turns": [""]})
CAUSES = pd.DataFrame({
    "scenario": ["Today", "A"], "state": "changeover", "hours_per_week": [20.0, 12.0],
})  # fmt: skip
SHEET = pd.DataFrame({
    "where": ["run of the machine", "at the bench"], "element": ["hits", "sort"], "seconds_s": [20.0, 6.0],
})  # fmt: skip
RUN_TIMES = pd.DataFrame({
    "program": ["P1", "P2"], "family": ["X", "Y"], "runs_use_s": [100.0, 50.0], "estimated_s": [90.0, 51.0],
    "measured_s": [100.0, None], "estimated_over_used": [0.9, 1.02], "apart_h": [-1.0, 0.1],
})  # fmt: skip
EFFECTS = pd.DataFrame({
    "element": ["load"], "rests_on": ["estimated"], "low": [1.0], "typical": [2.0], "high": [3.0],
    "at_low_h_per_week": [-4.0], "at_low_h_per_week_half_width": [1.0], "at_high_h_per_week": [5.0],
    "at_high_h_per_week_half_width": [1.0],
})  # fmt: skip
ENDS = pd.DataFrame({
    "ended_by": ["a full bench", "no more work released"], "of_the_nights_share": [0.6, 0.4],
    "of_the_hours_lost_share": [0.7, 0.3],
})  # fmt: skip
HOURS = pd.DataFrame({
    "scenario": ["Night", "Longer"], "allowed_h": 16.0, "worked_h": [4.0, 9.0], "lost_without_work_h": [0.0, 2.0],
})  # fmt: skip
STEPS = pd.DataFrame({"step": ["Purchase", "Sum"], "amount": [-5.0, -5.0], "is_sum": [False, True]})
SWINGS = pd.DataFrame({
    "title": "wage", "unit": "CU/h", "low": [20.0], "high": [40.0], "basis": "default", "npv_at_low": [-2.0],
    "npv": [1.0], "npv_at_high": [4.0],
})  # fmt: skip
OVER_DEMAND = pd.DataFrame({"scenario": "A", "demand": [1.0, 2.0], "npv": [-5.0, 7.0]})
WEEKS = pd.DataFrame(
    {
        "measure": "sheets",
        "unit": "sheets",
        "week": [1, 2, 0, 1, 2, 0],
        "use": [USES["calibrate"], USES["validate"], USES["validate"]] * 2,
        "model": [MODELS["first guess"]] * 3 + [MODELS["replay"]] * 3,
        "observed": [9.0, 8.0, 8.0] * 2,
        "simulated": [8.0, 7.0, 7.0, 9.0, 8.5, 8.5],
        "low": [7.0, 6.0, 6.0, 8.0, 7.5, 7.5],
        "high": [9.0, 8.0, 8.0, 10.0, 9.5, 9.5],
        "tolerance": [0.0, 0.0, 0.4] * 2,
    }
)
TABLES = {
    "observed_weeks": WEEKS,
    "waterfall": STEPS, "swings": SWINGS, "over_demand": OVER_DEMAND,
    **OF_TOOLS,
    "demands": DEMANDS, "tasks": TASKS, "day": DAY, "sheet": SHEET, "run_times": RUN_TIMES, "effects": EFFECTS,
    "night_ends": ENDS, "night_runs": NIGHTS, "ladder": HOURS, "values": VALUE,
    "causes": CAUSES,
    "time_split": SPLIT, "differences": GAPS, "week": WEEK, "orders": ORDERS,
    "cash": CASH, "risk": RISK,
}  # fmt: skip


def test_every_exhibit_is_tried():
    assert set(TABLES) == set(sk.plot.__all__)


@pytest.mark.parametrize("name", sk.plot.__all__)
def test_an_exhibit_draws_on_the_axes_it_is_given(name):
    axes = Figure().subplots()
    assert getattr(sk.plot, name)(TABLES[name], ax=axes) is axes
    assert axes.get_xlabel() or name in ("week", "observed_weeks")
    assert axes.patches or axes.lines or axes.collections or axes.child_axes


@pytest.mark.parametrize("name", sk.plot.__all__)
def test_an_exhibit_makes_a_figure_where_none_is_given(name):
    with plt.rc_context({"backend": "agg"}):
        before = plt.get_fignums()
        axes = getattr(sk.plot, name)(TABLES[name])
        assert axes.figure.number in set(plt.get_fignums()) - set(before)
        plt.close(axes.figure)


@pytest.mark.parametrize("name", sk.plot.__all__)
def test_a_table_of_another_kind_is_refused(name):
    with pytest.raises(sk.BadInput, match="the table has no column"):
        getattr(sk.plot, name)(pd.DataFrame({"x": [1.0]}), ax=Figure().subplots())


def test_bars_are_the_numbers_of_the_table():
    axes = sk.plot.differences(GAPS.sort_values("mean", ascending=False), ax=Figure().subplots())
    assert [bar.get_width() for bar in axes.patches] == [1.0, -4.0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["B", "A"]
    assert axes.patches[0].get_facecolor() != axes.patches[1].get_facecolor()
    with pytest.raises(sk.BadInput, match="no row of this measure"):
        sk.plot.differences(GAPS, measure="late_share")


def test_late_orders_stand_right_of_zero():
    axes = sk.plot.orders(ORDERS, ax=Figure().subplots())
    counts = {round(bar.get_x()): bar.get_height() for bar in axes.patches}
    assert sum(counts.values()) == 2
    assert [day for day, count in counts.items() if count] == [-2, 1]


@pytest.mark.parametrize("name", OF_TOOLS)
def test_a_table_without_rows_says_so(name):
    axes = getattr(sk.plot, name)(OF_TOOLS[name].iloc[:0], ax=Figure().subplots())
    assert [text.get_text() for text in axes.texts] == ["nothing to draw"]


def test_the_base_has_no_bar_and_what_is_not_drawn_is_counted():
    assert len(sk.plot.freed(FREED, ax=Figure().subplots()).patches) == 2
    assert "1 more tools not drawn" in sk.plot.exchanges(EXCHANGES, Figure().subplots(), most=1).get_xlabel()


def test_states_are_drawn_in_families_and_closed_hours_left_out():
    axes = sk.plot.time_split(SPLIT, ax=Figure().subplots())
    assert [bar.get_width() for bar in axes.patches] == [68.0, 60.0]
    assert "of 68.0\u00a0h a week" in axes.get_title(loc="left")


def test_a_day_is_cut_to_its_hours():
    axes = sk.plot.day(DAY, ax=Figure().subplots(), weekday="Tue", from_h=6.0, to_h=14.0)
    title = axes.get_title(loc="left")
    assert title.startswith("A simulated Tuesday, 6:30 to 14:00: M1 processes sheets for 2.00\u00a0h")
    assert [label.get_text() for label in axes.get_yticklabels()] == ["M1", "OP"]
    with pytest.raises(sk.BadInput, match="nothing happens"):
        sk.plot.day(DAY, ax=Figure().subplots(), weekday="Sun")


def test_demands_that_are_not_met_are_hollow():
    axes = sk.plot.demands(DEMANDS, ax=Figure().subplots())
    hollow = [line for line in axes.lines if line.get_linestyle() == "None" and line.get_markerfacecolor() == "#ffffff"]
    assert [list(line.get_xdata()) for line in hollow] == [[2.0]]


def test_a_ladder_sums_to_the_hours_allowed():
    axes = sk.plot.ladder(HOURS, ax=Figure().subplots())
    widths = [bar.get_width() for bar in axes.patches]
    assert sum(widths) == pytest.approx(32.0)
    assert widths[:2] == [4.0, 9.0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["Night", "+ Longer"]


def test_effects_stand_left_and_right_of_today():
    axes = sk.plot.effects(EFFECTS, ax=Figure().subplots())
    assert [bar.get_width() for bar in axes.patches] == [-4.0, 5.0]
    assert {"1.00", "3.00"} <= {text.get_text() for text in axes.texts}


def test_measured_programs_are_filled():
    axes = sk.plot.run_times(RUN_TIMES, ax=Figure().subplots())
    faces = [points.get_facecolor()[0].tolist() for points in axes.collections[1:]]
    assert faces[0][:3] != [1.0, 1.0, 1.0]
    assert faces[1][:3] == [1.0, 1.0, 1.0]
    assert "1 of 2 programs" in axes.get_title(loc="left")


def not_drawn(axis):
    """Labels of ticks that lie beyond the ends of their axis."""
    low, high = sorted(axis.get_view_interval())
    for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
        if not low <= tick.get_loc() <= high:
            yield from (tick.label1, tick.label2)


def texts_of(figure):
    """Every drawn text with its box in pixels, ticks outside the axes' limits left out."""
    renderer = figure.canvas.get_renderer()
    beyond = {label for axes in figure.axes for axis in (axes.xaxis, axes.yaxis) for label in not_drawn(axis)}
    for text in figure.findobj(Text):
        if text not in beyond and text.get_visible() and text.get_text().strip():
            box = text.get_window_extent(renderer)
            if box.width > 1 and box.height > 1:
                yield text.get_text(), box


@pytest.mark.parametrize("name", TABLES)
def test_no_text_of_a_picture_lies_on_another_or_outside(name):
    axes = getattr(sk.plot, name)(TABLES[name])
    axes.set_title("", loc="left")  # a page sets it as text above the picture
    figure = axes.figure
    figure.canvas.draw()
    width, height = figure.canvas.get_width_height()
    found = list(texts_of(figure))
    outside = [text for text, box in found if min(box.x0, box.y0) < -2 or box.x1 > width + 2 or box.y1 > height + 2]
    crossing = [
        (one, other)
        for (one, box), (other, beside) in itertools.combinations(found, 2)
        if box.padded(-1.5).overlaps(beside.padded(-1.5))
    ]
    plt.close("all")
    assert outside == []
    assert crossing == []
