"""Measures of money against published and worked values, one row each.

Grades: A published value seen and recomputed; B inputs seen, published value from memory, recomputed;
C inputs published, answer computed for this list only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from simkit.finance import measures as m


@dataclass(frozen=True)
class Row:
    id: str
    measure: Callable[[], float | tuple[float, ...]]
    expected: float | tuple[float, ...]
    tolerance: float
    source: str


BMA = "Brealey-Myers slides"


def _years(result: m.Payback) -> float:
    assert result.years is not None
    return result.years


def _value(result: m.Rate) -> float:
    assert result.value is not None
    return result.value


def _only(flows: list[float], timing: m.Timing = "end_year") -> float:
    result = m.irr(flows, timing)
    assert result.status == "one"
    return result.roots[0]


def _roots(flows: list[float]) -> tuple[float, ...]:
    return m.irr(flows).roots


D01 = [-40000.0, 5000, 8000, 12000, 30000]
D06 = {"A": [-2000.0, 500, 500, 5000], "B": [-2000.0, 500, 1800, 0], "C": [-2000.0, 1800, 500, 0]}
D07_SMT = [-500000.0] + [92500.0] * 10
D07_WY = [-55000.0] + [13000.0] * 8
D08 = [-12000.0, 3000, 4000, 6000, 5000]
D11_A = [-10000.0] + [3000.0] * 5
D11_B = [-13500.0, 3000, 3500, 4000, 4500, 5000]
D12_X = [-84.0, 65, 65, 65 + 40]
D12_Y = [-146.0, 91, 91, 91 + 47]
D14_A = [-200.0, 80, 80, 80, 80]
D14_B = [-200.0, 100, 100, 100, 0]
D28 = [-985.0, 75, 120, 100, 1200]


def _pi(flows: list[float]) -> float:
    value = m.profitability_index(flows, 0.11, 200.0).value
    assert value is not None
    return value


def _annual(flows: list[float], rate: float) -> float:
    return m.equivalent_annual_value(m.npv(rate, flows), rate, len(flows) - 1)


def _machine_life(n: int) -> float:
    """D17: 7500 first cost, maintenance 0 then +900 a year, operating 500 then +400 a year."""
    flows = [7500.0] + [900.0 * (t - 1) + 500.0 + 400.0 * (t - 1) for t in range(1, n + 1)]
    return _annual(flows, 0.08)


NEWNAN = "Newnan, Engineering Economic Analysis"
NEWNAN_713 = f"{NEWNAN} Ex 7-13"
PARK = "course notes after Park ch. 5; computed"
LIBS = "numpy-financial docstring and pyxirr tests"
ROWS = [
    Row("D01 npv, t0 first", lambda: m.npv(0.08, D01), 3065.22267, 1e-5, LIBS),
    Row("D01 whole row discounted once more", lambda: m.npv(0.08, D01) / 1.08, 2838.169137203, 1e-5, LIBS),
    Row("D01 irr", lambda: _only(D01), 0.10582259840, 1e-8, LIBS),
    Row("D01 second series", lambda: m.npv(0.08, [-1000, 500, 300, 800]), 355.2304018696, 1e-5, "apache/poi PR 256"),
    Row("D02 a", lambda: _only([-150000, 15000, 25000, 35000, 45000, 60000]), 0.05243288885, 1e-8, LIBS),
    Row("D02 b", lambda: _only([-100, 0, 0, 74]), -0.09549583034, 1e-8, LIBS),
    Row("D02 c", lambda: _only([-100, 39, 59, 55, 20]), 0.28094842116, 1e-8, LIBS),
    Row("D02 d", lambda: _only([-100, 100, 0, 7]), 0.06205848562, 1e-8, LIBS),
    Row("D02 e", lambda: _only([-250000, 100000, 150000, 200000, 250000, 300000]), 0.5672303344, 1e-8, LIBS),
    Row("D02 two roots", lambda: _roots([-100, 100, 0, -7]), (-0.67889437, -0.08329966618), 1e-8, "computed"),
    Row("D02 three roots", lambda: _roots([-5, 10.5, 1, -8, 1]), (-0.87020125, 0.08859834, 0.70955953), 1e-8,
        "computed; libraries give the middle one only"),
    Row("D03 strip mine, both roots", lambda: _roots([-14, 42, -29]), (0.0774229, 0.9225771), 1e-6, "homework thread"),
    Row("D03 npv", lambda: tuple(m.npv(r, [-14, 42, -29]) for r in (0.03, 0.13, 0.8, 1.2)),
        (-0.559, 0.457, 0.383, -0.901), 1e-3, "homework thread, with 42"),
    Row("D04 npv without a rate", lambda: m.npv(0.10, [1000, -3000, 2500]), 338.84, 0.01,
        "Brealey-Myers pitfall example, from memory"),
    Row("D05 a", lambda: _value(m.mirr([-120000, 39000, 30000, 21000, 37000, 46000], 0.10, 0.12)), 0.126094, 1e-6,
        "numpy-financial test"),
    Row("D05 b", lambda: _value(m.mirr([-1000, 100, 250, 500, 500], 0.1, 0.1)), 0.10401626745, 1e-6, "pyxirr test"),
    Row("D06 payback", lambda: tuple(_years(m.payback(D06[k])) for k in "ABC"), (2.2, 1.8333, 1.4), 0.01, BMA),
    Row("D06 npv", lambda: tuple(m.npv(0.1, D06[k]) for k in "ABC"), (2624.34, -57.85, 49.59), 0.01, BMA),
    Row("D06 discounted", lambda: tuple(_years(m.payback(D06[k], 0.1)) for k in "AC"), (2.3014, 1.8800), 0.01, BMA),
    Row("D07 discounted, linear", lambda: _years(m.payback(D07_SMT, 0.10)), 8.1662, 1e-3, "studyzin, published 8.17"),
    Row("D07 simple", lambda: _years(m.payback(D07_SMT)), 5.4054, 1e-3, "studyzin"),
    Row("D07 second", lambda: _years(m.payback(D07_WY, 0.07)), 5.1960, 1e-3, "wyzant, published 5.1959"),
    Row("D08 interpolated", lambda: _years(m.payback(D08)), 2.8333, 1e-3, PARK),
    Row("D08 discounted", lambda: _years(m.payback(D08, 0.10)), 3.4272, 1e-3, PARK),
    Row("D11 npv at 7 %", lambda: (m.npv(0.07, D11_A), m.npv(0.07, D11_B)), (2300.59, 2623.92), 0.01, NEWNAN_713),
    Row("D11 own irr", lambda: (_only(D11_A), _only(D11_B)), (0.1524, 0.1339), 5e-4, NEWNAN_713),
    Row("D11 incremental irr", lambda: _only(list(np.subtract(D11_B, D11_A))), 0.0944, 5e-4, NEWNAN_713),
    Row("D12 irr", lambda: (_only(D12_X), _only(D12_Y)), (0.6785, 0.4778), 5e-4, "Blank-Tarquin style test bank"),
    Row("D12 npv", lambda: (m.npv(0.15, D12_X), m.npv(0.15, D12_Y)), (90.710, 92.677), 5e-4, "test bank"),
    Row("D12 incremental", lambda: _only(list(np.subtract(D12_Y, D12_X))), 0.16828, 5e-4, "test bank (16.83 %)"),
    Row("D14 npv at 11 %", lambda: (m.npv(0.11, D14_A), m.npv(0.11, D14_B)), (48.196, 44.371), 5e-3, "BMM ch. 8"),
    Row("D14 npv at 16 %", lambda: (m.npv(0.16, D14_A), m.npv(0.16, D14_B)), (23.854, 24.589), 5e-3, "BMM ch. 8"),
    Row("D14 irr", lambda: (_only(D14_A), _only(D14_B)), (0.21862, 0.23375), 5e-5, "BMM ch. 8"),
    Row("D14 profitability index", lambda: (_pi(D14_A), _pi(D14_B)), (0.2410, 0.2219), 5e-4, "BMM ch. 8, NPV / I"),
    Row("D14 crossover", lambda: _only(list(np.subtract(D14_B, D14_A))), 0.15091, 5e-5, "computed"),
    Row("D14 payback", lambda: (_years(m.payback(D14_A)), _years(m.payback(D14_B))), (2.5, 2.0), 1e-9, "BMM ch. 8"),
    Row("D15 equivalent annual cost", lambda: (_annual([15, 4, 4, 4], 0.06), _annual([10, 6, 6], 0.06),
        _annual([15, 5, 5, 5], 0.06)), (9.612, 11.454, 10.612), 5e-3, BMA),
    Row("D17 minimum-cost life", lambda: tuple(_machine_life(n) for n in range(1, 9)),
        (8600, 5330.8, 4643.6, 4589.6, 4778.8, 5081.6, 5442.3, 5833.2), 1.0, f"{NEWNAN} Ex 13-1"),
    Row("D27 real rate", lambda: m.real_rate(0.20, 0.10), 0.090909, 1e-6, "course notes, published 9.1 %"),
    Row("D27 nominal = real", lambda: (
        m.npv(0.20, [-15000, 9000, 8000, 7000]),
        m.npv(m.real_rate(0.20, 0.10), [-15000, 9000 / 1.1, 8000 / 1.1**2, 7000 / 1.1**3])),
        (2106.48, 2106.48), 0.01, "course notes; computed"),
    Row("D28 end of year", lambda: m.npv(0.10, D28), 77.10, 0.01, "spreadsheet newsgroup"),
    Row("D28 end of year irr", lambda: _only(D28), 0.1237, 1e-4, "spreadsheet newsgroup"),
    Row("D28 mid-year", lambda: m.npv(0.10, D28, "mid_year"), 128.94, 0.01, "spreadsheet newsgroup"),
    Row("D28 mid-year irr", lambda: _only(D28, "mid_year"), 0.1455, 1e-4, "spreadsheet newsgroup"),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_published_value(row: Row) -> None:
    assert row.measure() == pytest.approx(row.expected, abs=row.tolerance), row.source


def test_d04_no_real_rate_is_said_in_words() -> None:
    assert m.irr([1000, -3000, 2500]) == m.Irr("none", (), "no internal rate between -99 % and 1000 % a year")


def test_d05_all_positive_has_no_modified_rate() -> None:
    assert m.mirr([39000, 30000, 21000], 0.1, 0.12) == m.Rate(None, "no modified rate: all flows have one sign")


def test_d06_b_never_pays_back_when_discounted() -> None:
    assert m.payback(D06["B"], 0.1) == m.Payback(None, "does not pay back within 3 years")


def test_d09_never_pays_back() -> None:
    """1,000,000 against 9,000 a year at 3.46 %: worth 260,116 for ever (question in a German forum)."""
    flows = [-1_000_000.0] + [9_000.0] * 200
    assert m.payback(flows, 0.0346).text == "does not pay back within 200 years"
    assert _years(m.payback(flows)) == pytest.approx(111.1, abs=0.05)


def test_d10_scale_incremental_irr_prefers_the_larger() -> None:
    options = [m.Alternative("F", 20000, (-20000, 35000)), m.Alternative("E", 10000, (-10000, 20000))]
    first, second = m.incremental_analysis(options, 0.10)
    assert (first.name, first.incremental_irr.roots[0]) == ("E", pytest.approx(1.0))
    assert second.incremental_irr.roots[0] == pytest.approx(0.5)
    assert second.verdict == "better than E"
    assert second.incremental_npv == pytest.approx(11818.18 - 8181.82, abs=0.01)


def test_d11_chain_chooses_the_lower_own_rate() -> None:
    options = [m.Alternative("A", 10000, tuple(D11_A)), m.Alternative("B", 13500, tuple(D11_B))]
    steps = m.incremental_analysis(options, 0.07)
    assert [s.accepted for s in steps] == [True, True]
    assert steps[1].incremental_irr.roots[0] == pytest.approx(0.0944, abs=5e-4)


def test_d13_four_designs_stop_at_c() -> None:
    """ISE460 slides: costs 150/220/300/340, net 45/60/100/105 for 10 years, 15 %; increments computed."""
    data = {"A": (150, 45), "B": (220, 60), "C": (300, 100), "D": (340, 105)}
    options = [m.Alternative(k, c, (-c, *(net,) * 10)) for k, (c, net) in data.items()]
    assert [m.npv(0.15, o.flows) for o in options] == pytest.approx([75.84, 81.13, 201.88, 186.97], abs=0.01)
    assert [_only(list(o.flows)) for o in options] == pytest.approx([0.2732, 0.2413, 0.3111, 0.2833], abs=5e-4)
    steps = m.incremental_analysis(options, 0.15)
    assert [s.incremental_irr.roots[0] for s in steps[1:]] == pytest.approx([0.1695, 0.4908, 0.0428], abs=5e-4)
    assert [(s.against, s.accepted) for s in steps] == [("today", True), ("A", True), ("B", True), ("C", False)]
