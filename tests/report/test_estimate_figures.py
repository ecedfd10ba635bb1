"""Points of estimates and lines of a ramp: what is drawn is described, zeros are left out, measured ones are filled."""

from __future__ import annotations

import pytest

from simkit.report.exhibits import MARKS_IN_SVG, PNG, SVG
from simkit.report.figures.estimates import Point, estimate_points, ramp_lines
from simkit.report.palette import PAPER

POINTS = [
    Point("P-1", "LOCK", 100.0, 90.0, measured=False),
    Point("P-2", "LOCK", 200.0, 220.0, measured=True),
    Point("P-3", "BOOK", 50.0, 50.0, measured=False),
    Point("P-4", "", 0.0, 50.0, measured=False),
]


def drawn(points=POINTS, named=("P-2",)):
    return estimate_points(points, named=named, tolerance=0.05, title="3 programs")


def test_points_are_described_by_family():
    alt = drawn().alt
    assert "LOCK: 2, estimate 0.90 to 1.10 times" in alt
    assert "BOOK: 1, estimate 1.00 to 1.00 times" in alt
    assert "no family" not in alt


def test_measured_points_are_filled_and_others_hollow():
    lines = drawn().figure.axes[0].get_lines()
    faces = {float(line.get_xdata()[0]): line.get_markerfacecolor() for line in lines if len(line.get_xdata()) == 1}
    assert faces[100.0] == faces[50.0] == PAPER
    assert faces[200.0] != PAPER


def test_the_ratio_stands_below_and_names_are_written():
    below = drawn().figure.axes[1]
    heights = {
        float(x): float(y) for line in below.get_lines() for x, y in [(line.get_xdata()[0], line.get_ydata()[0])]
    }
    assert heights[100.0] == pytest.approx(0.9)
    assert [text.get_text() for text in below.texts] == ["P-2"]


def test_many_points_become_pixels():
    many = [Point(f"P-{n}", "LOCK", 10.0 + n, 11.0 + n, measured=False) for n in range(MARKS_IN_SVG)]
    assert PNG in drawn(many)._repr_mimebundle_()[0]
    assert SVG in drawn()._repr_mimebundle_()[0]


def test_ramp_lines_tell_their_first_and_last_week():
    exhibit = ramp_lines([1, 2, 3], {"in force": [0.6, 0.8, 1.0]}, title="Week 1 gives 60 %")
    assert "in force: 60\u00a0% in week 1, 100\u00a0% in week 3" in exhibit.alt
    (axes,) = exhibit.figure.axes
    assert list(axes.get_lines()[0].get_ydata()) == pytest.approx([60.0, 80.0, 100.0])
