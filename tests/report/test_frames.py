"""The one renderer of tables: headings with units, intervals with their digits, long tables folded, text escaped."""

from __future__ import annotations

import math

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest

from simkit.report.columns import column_of
from simkit.report.frames import CSV_PLACE, cell_text, frame_html
from simkit.report.pictures import picture_html, told


@pytest.mark.parametrize(
    ("name", "heading"),
    [
        ("wait_min", "wait, min"),
        ("hours_per_week", "hours a week"),
        ("wait_h_per_week", "wait, h a week"),
        ("late_share", "late share, %"),
        ("tool", "tool"),
        ("scenario", "case"),
    ],
)
def test_a_column_reads_as_its_name_does(name, heading):
    assert column_of(name).heading == heading


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, "–"), (math.nan, "–"), (True, "yes"), (np.int64(1200), "1,200"), (math.inf, "∞"), (0.256, "0.26"),
     (pd.Timestamp("2026-06-08"), "2026-06-08"), ("<b>", "<b>")],
)  # fmt: skip
def test_a_cell_as_text(value, text):
    assert cell_text(value, column_of("amount")) == text


def test_mean_half_width_and_unit_are_one_cell_and_text_is_escaped():
    frame = pd.DataFrame(
        {"scenario": ["<Manual>"], "measure": ["late_share"], "mean": [0.0162], "half_width": [0.003], "unit": ["1"]}
    )
    frame.attrs = {"title": "Few orders are late", "note": "12 weeks"}
    html = frame_html(frame)
    assert "&lt;Manual&gt;" in html
    assert "1.6 ± 0.3\u00a0%" in html
    assert "late orders" in html
    assert "<figcaption>Few orders are late</figcaption>" in html
    assert "half" not in html.lower()


def test_a_long_table_is_folded_and_has_its_file():
    long = pd.DataFrame({"order": range(13), "wait_min": 1.0})
    assert "<details" in frame_html(long)
    assert CSV_PLACE in frame_html(long)
    assert "<details" not in frame_html(long.head(12))


def test_an_empty_table_is_a_line_and_what_does_not_vary_has_no_range():
    none = pd.DataFrame(columns=["order", "wait_min"])
    none.attrs["title"] = "No order waits"
    assert frame_html(none).strip().endswith('<p class="nothing">No order waits</p>')
    still = pd.DataFrame({"scenario": ["Manual"], "mean": [36.2], "half_width": [0.0], "unit": ["h"]})
    assert "36.2\u00a0h" in frame_html(still)
    assert "±" not in frame_html(still)
    money = pd.DataFrame({"choice": ["Prepared nights"], "npv": [-5058.669], "npv_half_width": [0.0]})
    assert "\u22125,060<" in frame_html(money)
    unknown = money.assign(npv_half_width=math.nan)
    assert "\u22125,059<" in frame_html(unknown)


def test_a_figure_without_anything_to_draw_is_a_line():
    axes = plt.subplots()[1]
    axes.set_axis_off()
    html, table = picture_html(told(axes, "No exchange is hidden").figure)
    assert html.strip() == '<p class="nothing">No exchange is hidden</p>'
    assert table is None
    plt.close("all")


@pytest.mark.parametrize("amounts", [(0.0, 0.0), (math.nan, math.nan), (0.0, 2.0)])
@pytest.mark.parametrize("lying", [True, False])
def test_a_picture_of_nothing_but_zeros_is_a_line(lying, amounts):
    axes = plt.subplots()[1]
    if lying:
        axes.barh(range(2), amounts)
        axes.set_yticks(range(2), labels=["a", "b"])
        axes.axvline(0)
    else:
        axes.errorbar([4.0, 8.0], amounts, yerr=[0.0, 0.0])
        axes.set_xticks([4.0, 8.0])
        axes.axhline(0)
    html, table = picture_html(told(axes, "No order waits", numbers=pd.DataFrame({"amount": amounts})).figure)
    if 2.0 in amounts:
        assert "<figure" in html
        assert table is not None
    else:
        line = "No order waits (no picture: all of it would be zero)"
        assert html.strip() == f'<p class="nothing">{line}</p>'
        assert table is None
    plt.close("all")
