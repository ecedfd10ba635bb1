from __future__ import annotations

import math
import re

import pandas as pd
import pytest

from simkit.analysis.capacity import BETWEEN_LEVELS, CANNOT_TELL, EVERY_LEVEL_FITS, NO_LEVEL_FITS, Capacity, Level
from simkit.experiment.intervals import Estimate
from simkit.report import figures
from simkit.report.exhibits import MARKS_IN_SVG, PNG, SVG, Exhibit
from simkit.report.figures.bars import Difference
from simkit.report.palette import GAIN, GREY_MARK, LOSS, PERSON_COLOURS
from tests.report.fake_results import fake_ribbon

STATES_H = pd.DataFrame(
    {"punching": [20.0, 20.0], "changeover": [30.0, 15.0], "no_work": [18.0, 33.0], "closed": [100.0, 100.0]},
    index=["today", "N2"],
)
BARS = [
    Difference("N1", Estimate(-10.0, 3.0, 10, "h")),
    Difference("A2", Estimate(1.0, 4.0, 10, "h")),
    Difference("A4", Estimate(8.0, 2.0, 10, "h")),
]
DEMAND = pd.DataFrame(
    [
        ("Today", 1.0, 270.0, True),
        ("Today", 1.25, 340.0, False),
        ("N2", 1.0, 240.0, True),
        ("N2", 1.25, 300.0, True),
    ],
    columns=["scenario", "demand_factor", "hours_h", "fits"],
)
CASH = pd.DataFrame({"year": [0, 1, 2, 3], "simple": [-100.0, -40, 20, 80], "discounted": [-100.0, -45, 5, 50]})
LATE = pd.DataFrame({"scenario": ["Today", "N2"], "share": [0.08, 0.02], "low": [0.03, 0.0], "high": [0.12, 0.04]})
ENDS = pd.DataFrame({"limit": ["stop", "queue"], "nights": [9.0, 4.0], "lost_h": [20.0, 30.0]})


def capacity(state: str = BETWEEN_LEVELS) -> Capacity:
    level = Level(1.0, 270.0, Estimate(0.05, 0.015, 8), Estimate(0.25, 0.3, 8))
    return Capacity("today", 285.0, 1.06, state, (), level if state == CANNOT_TELL else None)


def week() -> Exhibit:
    ribbon = fake_ribbon()
    is_calendar = ribbon["resource"] == "calendar"
    return figures.week_ribbon(ribbon[~is_calendar], ribbon[is_calendar], name="today")


EXHIBITS = {
    "time in state": lambda: figures.time_in_state(STATES_H, "per week"),
    "people": lambda: figures.stacked_hours(
        STATES_H[["punching"]].rename(columns={"punching": "load"}), PERSON_COLOURS, "h", "People work 20 h"
    ),
    "differences": lambda: figures.difference_bars(BARS, quantity="hours needed", unit="h", against="today"),
    "demand": lambda: figures.hours_against_demand(DEMAND, capacity=capacity(), attended_h=290.0, per="in 4 weeks"),
    "cash": lambda: figures.cumulative_cash(
        CASH, name="A1", currency="CU", simple_payback_years=1.67, discounted_payback_years=1.9
    ),
    "late": lambda: figures.lateness_bars(LATE, limit_share=0.05),
    "night ends": lambda: figures.night_ends(ENDS, name="C1"),
    "night hours": lambda: figures.night_hours([3.0, 7.0, 8.0], allowed_h=8.0, name="C1"),
    "week": week,
}


@pytest.mark.parametrize("name", EXHIBITS)
def test_title_is_a_sentence_with_a_number_and_the_description_has_numbers(name):
    exhibit = EXHIBITS[name]()
    assert re.search(r"\d", exhibit.title)
    assert len(exhibit.title.split()) >= 4
    assert re.search(r"\d", exhibit.alt)
    assert len(exhibit.alt) > 30


@pytest.mark.parametrize("name", EXHIBITS)
def test_the_same_data_give_the_same_bytes(name):
    first, second = EXHIBITS[name](), EXHIBITS[name]()
    assert (first.png() == second.png()) if first.marks > MARKS_IN_SVG else (first.svg() == second.svg())


@pytest.mark.parametrize("name", EXHIBITS)
def test_a_figure_displays_with_its_description(name):
    exhibit = EXHIBITS[name]()
    data, about = exhibit._repr_mimebundle_()
    kind = PNG if exhibit.marks > MARKS_IN_SVG else SVG
    assert data[kind]
    assert about[kind]["alt"] == exhibit.alt
    assert about[kind]["caption"] == exhibit.title


def test_text_stays_text_and_no_date_is_written():
    svg = EXHIBITS["differences"]().svg()
    assert "difference in hours needed against today" in svg
    assert "<dc:date>" not in svg


def test_many_marks_are_drawn_as_pixels():
    assert PNG in week()._repr_mimebundle_()[0]


def test_state_bars_must_sum_to_the_same_calendar():
    with pytest.raises(ValueError, match="same calendar hours"):
        figures.time_in_state(STATES_H.assign(closed=[100.0, 99.0]), "per week")


def test_shares_in_the_title_of_state_bars():
    title = figures.time_in_state(STATES_H, "per week").title
    assert "68.0 h per week" in title
    assert "29\u00a0% process" in title
    assert "44\u00a0% go to set-up" in title


def bar_colours(exhibit):
    (axes,) = exhibit.figure.axes
    return [tuple(round(255 * c) for c in patch.get_facecolor()[:3]) for patch in axes.patches]


def rgb(colour):
    return tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))


def test_a_difference_whose_interval_holds_zero_is_grey():
    assert bar_colours(EXHIBITS["differences"]()) == [rgb(GAIN), rgb(GREY_MARK), rgb(LOSS)]


def test_higher_may_be_better():
    exhibit = figures.difference_bars(BARS, quantity="sheets", unit="", against="today", better="higher")
    assert bar_colours(exhibit) == [rgb(LOSS), rgb(GREY_MARK), rgb(GAIN)]


def test_the_title_of_differences_names_the_best_and_counts_the_unclear():
    assert EXHIBITS["differences"]().title == (
        "Hours needed against today: N1 −10.0 ± 3.0 h; 1 of 3 cannot be told from zero"
    )
    unclear = figures.difference_bars(BARS[1:2], quantity="hours needed", unit="h", against="today")
    assert unclear.title.startswith("None of 1 option differs")


def test_a_single_run_is_grey_and_drawn_without_an_interval():
    exhibit = figures.difference_bars(
        [Difference("N1", Estimate(-3.0, math.inf, 1))], quantity="hours needed", unit="h", against="today"
    )
    assert bar_colours(exhibit) == [rgb(GREY_MARK)]
    assert "no interval from 1 run" in exhibit.alt


def test_uncalibrated_bars_are_pale_and_dashed():
    sure, pale = (
        figures.difference_bars(BARS, quantity="h", unit="h", against="today", calibrated=c).figure.axes[0].patches[0]
        for c in (True, False)
    )
    assert (sure.get_linestyle(), sure.get_alpha()) == ("-", 1.0)
    assert pale.get_linestyle() != "-"
    assert pale.get_alpha() < 1


@pytest.mark.parametrize(
    ("state", "words"),
    [(BETWEEN_LEVELS, "up to demand 1.06"), (EVERY_LEVEL_FITS, "even at demand 1.25: 340 h"),
     (NO_LEVEL_FITS, "late even at demand 1"), (CANNOT_TELL, "cannot tell up to what demand today delivers as "
      "promised: at 1 5.0 ± 1.5 % of orders are late or refused, and the backlog grows in 2 of 8 runs")],
)  # fmt: skip
def test_the_title_of_the_demand_figure_says_what_is_known_of_capacity(state, words):
    exhibit = figures.hours_against_demand(DEMAND, capacity=capacity(state), attended_h=290.0, per="in 4 weeks")
    assert words in exhibit.title
    assert "340 h at 1.25 (limits not held)" in exhibit.alt


def test_a_payback_that_is_never_reached_is_the_word_never():
    exhibit = figures.cumulative_cash(
        CASH, name="A4", currency="CU", simple_payback_years=None, discounted_payback_years=None
    )
    assert "simple payback never, discounted never" in exhibit.title


def test_counts_and_hours_of_nights_rank_differently():
    assert (
        EXHIBITS["night ends"]().title == "C1: 60\u00a0% of 50.0 lost night hours are lost to no more orders released"
    )


def test_short_nights_are_counted():
    assert "33\u00a0% run less than half" in EXHIBITS["night hours"]().title


def test_lateness_counts_cases_within_the_limit():
    assert EXHIBITS["late"]().title.startswith("1 of 2 cases keep late orders within")


def test_the_ribbon_counts_process_hours_and_attended_hours():
    exhibit = week()
    ribbon = fake_ribbon()
    own = ribbon[(ribbon["resource"] == "M1") & ribbon["state"].isin(["punching", "cutting"])]
    assert f"{(own['end_h'] - own['start_h']).sum():.1f} h" in exhibit.title
    assert "of 70.0 attended hours" in exhibit.title
