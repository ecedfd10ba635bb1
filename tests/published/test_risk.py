"""Laws, uplifts and shortfall against published and worked values, one row each."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.finance.riskoptimism import UPLIFTS
from tests.published.rows import Row

EXACT = "the law's distribution function, worked by hand"
SHARES = np.array([0.0, 0.25, 0.5, 1.0])

PUBLISHED = [
    Row("triangular law", "simkit.finance.risklaws.quantiles",
        {"law": "triangular", "low": 0.0, "typical": 1.0, "high": 4.0, "share": SHARES},
        (0.0, 1.0, 4.0 - 6.0**0.5, 4.0), "-", 1e-12, "floating point", EXACT, tuple),
    Row("PERT law", "simkit.finance.risklaws.quantiles",
        {"law": "pert", "low": 0.0, "typical": 2.0, "high": 4.0, "share": SHARES[[0, 2, 3]]},
        (0.0, 2.0, 4.0), "-", 1e-9, "iteration", "symmetric: its median is its peak, worked by hand", tuple),
    Row("uniform law", "simkit.finance.risklaws.quantiles",
        {"law": "uniform", "low": 2.0, "typical": 3.0, "high": 6.0, "share": SHARES},
        (2.0, 3.0, 4.0, 6.0), "-", 1e-12, "floating point", EXACT, tuple),
    Row("expected shortfall", "simkit.finance.risksummary.expected_shortfall",
        {"values": np.array([-30.0, -10.0, 5.0, 35.0])}, -20.0, "money", 0.0, "exact", "worked by hand"),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()


def test_d36_the_table_of_uplifts_gives_its_worked_example():
    """30 % non-standard, 70 % standard buildings: 32.1 % of the capital, 14.5 % of the time (HM Treasury guidance)."""
    standard, other = UPLIFTS[:2]
    assert 0.3 * other.capital_upper + 0.7 * standard.capital_upper == pytest.approx(0.321, abs=1e-4)
    assert 0.3 * other.duration_upper + 0.7 * standard.duration_upper == pytest.approx(0.145, abs=1e-4)
