"""Laws, uplifts and shortfall against published and worked values, one row each."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.rows import Row

BLEND = "simkit.finance.riskoptimism.blended_uplift"
TENTH = "one decimal is printed"
GUIDANCE = "HM Treasury guidance on optimism bias after Mott MacDonald, worked example"
EXACT = "the law's distribution function, worked by hand"
SHARES = np.array([0.0, 0.25, 0.5, 1.0])

PUBLISHED = [
    Row("D36 capital", BLEND, {"shares": (0.3, 0.7), "uplifts": (51.0, 24.0)}, 32.1, "%", 0.01, TENTH, GUIDANCE),
    Row("D36 duration", BLEND, {"shares": (0.3, 0.7), "uplifts": (39.0, 4.0)}, 14.5, "%", 0.01, TENTH, GUIDANCE),
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
