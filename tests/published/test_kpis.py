"""Indicators in the manner of ISO 22400-2, worked by hand and as printed."""

from __future__ import annotations

from operator import attrgetter

import pytest

from tests.published.rows import Row

KPI = "simkit.experiment.kpis."
EXACT = "arithmetic on exact numbers"
DIGITS = "half a unit of the last digit"
BY_HAND = "formulas read in an open ontology of ISO 22400-2; worked by hand"
PAGE = "page that explains the OEE, recomputed (it prints 79.1 % after rounding the first factor)"
RELIABILITY = "formula of reliability textbooks (from memory), worked by hand"
MEMORY = "ISO 22400-2, 2014 text as remembered (from memory, check the edition), worked by hand"

DAY = {"PBT": 900, "APT": 612, "AUST": 108, "ADET": 72, "ADOT": 108, "AUPT": 720, "AUBT": 792, "AOET": 900,
       "PQ": 1450, "GQ": 1421, "SQ": 14.5, "RQ": 29, "PRI": 0.40, "APWT": 410, "APAT": 480,
       "CMT": 30, "PMT": 90}  # fmt: skip
LONGER = {**DAY, "PBT": 960}
"""The same day with an hour more planned than the orders took, so that PBT and AOET differ."""
SHIFT = {"PBT": 480, "APT": 420, "PRI": 1.0, "PQ": 400, "GQ": 380}
FAILURES = {"TBF": [40, 55, 38, 67], "TTR": [1.5, 2, 0.75, 3.25]}


def value(prefix: str, name: str, elements: dict, expected: float, tolerance: float, source: str) -> Row:
    reason = DIGITS if tolerance else EXACT
    return Row(f"{prefix} {name}", KPI + "evaluate", {"name": name, "elements": elements}, expected, "1", tolerance,
               reason, source, read=attrgetter("value"))  # fmt: skip


def day(name: str, expected: float, tolerance: float = 5e-7) -> Row:
    return value("KPI-D1", name, DAY, expected, tolerance, BY_HAND)


PUBLISHED = [
    Row("KPI-D1 processing and busy time", KPI + "time_model", {"apt": 612, "aust": 108, "adet": 72, "adot": 108},
        (720, 792, 900), "min", 0.0, EXACT, BY_HAND, read=attrgetter("AUPT", "AUBT", "AOET")),
    Row("planned busy time", KPI + "planned_busy_time", {"planned_operation": 960, "planned_downtime": 60}, 900, "min",
        0.0, EXACT, BY_HAND),
    day("allocation efficiency", 0.8800), day("utilization efficiency", 0.772727), day("availability", 0.6800),
    day("effectiveness", 0.947712), day("quality ratio", 0.9800), day("OEE index", 0.631556),
    day("NEE index", 0.743007), day("setup ratio", 0.1500), day("technical efficiency", 0.894737),
    day("worker efficiency", 0.854167), day("throughput rate", 1.611111), day("production process ratio", 0.6800),
    day("allocation ratio", 0.8800), day("scrap ratio", 0.01), day("rework ratio", 0.02),
    day("corrective maintenance ratio", 0.25),
    *(value("KPI-D1, an hour more planned,", name, LONGER, expected, 5e-7, BY_HAND) for name, expected in (
        ("allocation efficiency", 0.825), ("allocation ratio", 0.88), ("availability", 0.6375),
        ("production process ratio", 0.68), ("throughput rate", 1.611111), ("OEE index", 0.592083),
        ("NEE index", 0.696569),
    )),
    value("KPI-D2", "availability", SHIFT, 0.875, 5e-7, PAGE),
    value("KPI-D2", "effectiveness", SHIFT, 0.952381, 5e-7, PAGE),
    value("KPI-D2", "quality ratio", SHIFT, 0.95, 5e-7, PAGE),
    value("KPI-D2", "OEE index", SHIFT, 0.791667, 5e-7, PAGE),
    value("KPI-D3", "mean time between failures, by intervals", FAILURES, 50.0, 0.0, BY_HAND),
    value("KPI-D3", "mean time between failures, by intervals and one", FAILURES, 40.0, 0.0, MEMORY),
    value("KPI-D3", "mean time to restoration", FAILURES, 1.875, 0.0, BY_HAND),
    value("KPI-D3", "inherent availability", FAILURES, 0.963855, 5e-7, RELIABILITY),
    Row("every indicator of a shift", KPI + "evaluate_all", {"elements": SHIFT}, 4, "indicators", 0.0, "a count",
        BY_HAND, read=len),
    Row("the OEE index as it is defined", KPI + "describe_kpi", {"name": "OEE index"},
        "(APT / PBT) (PRI PQ / APT) (GQ / PQ)", "words", 0.0, "words", BY_HAND, read=attrgetter("formula")),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
