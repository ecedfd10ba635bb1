"""Key performance indicators in the manner of ISO 22400-2: none without its definition.

An indicator is a frozen record: name, definition in the kit's own words, formula, unit, scope, timing, what it
is often misread as, and the function. A value never travels without its record, and its text prints both.
Formulas were read in an open ontology of the standard; scope, timing, and whatever else says so, is from
memory: check the edition before citing. Times of one call share one unit; elements take numbers or arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.messages import nearest

Floats = NDArray[np.float64]
Formula = Callable[[Mapping[str, Floats]], Floats]

ELEMENTS = {
    "PBT": "planned busy time: planned operation time less planned downtime",
    "APT": "actual production time: the unit produces",
    "AUST": "actual unit setup time: the unit is set up for an order",
    "ADET": "actual unit delay time: the unit has an order and stands, setup apart",
    "ADOT": "actual down time without an order: available, but nothing to do",
    "AUPT": "actual unit processing time: setup and production",
    "AUBT": "actual unit busy time: processing and delay",
    "AOET": "actual order execution time: production, setup, delay and time without an order",
    "PRI": "planned run time of one item",
    "PQ": "produced quantity, good or not",
    "GQ": "good quantity, without rework",
    "SQ": "scrap quantity",
    "RQ": "rework quantity",
    "APWT": "actual personnel work time on orders",
    "APAT": "actual personnel attendance time",
    "CMT": "corrective maintenance time",
    "PMT": "planned maintenance time",
    "TBF": "intervals between failures, one value each",
    "TTR": "times to restore, one value each",
}
"""Elements of the formulas with their meaning."""

TIMING = "on demand or by period, after the period's orders are booked (from memory)"
ONTOLOGY = "ISO 22400-2, formula read in an open ontology of the standard"
MEMORY = "ISO 22400-2, 2014 text as remembered: from memory, check the edition"
TEXTBOOK = "textbook of reliability, from memory"

NOT_COMPARABLE = (
    "values of other plants are not comparable: they differ in what counts as planned, as setup and as a cycle"
)
SETUP_IS_LOSS = "setup counts as loss here; logs register breakdowns far more completely than setups"


@dataclass(frozen=True)
class Kpi:
    """What an indicator is, and how it is reckoned from the elements that it needs."""

    name: str
    definition: str
    formula: str
    needs: tuple[str, ...]
    function: Formula
    trap: str = ""
    unit: str = "1"
    scope: str = "a work unit (from memory)"
    timing: str = TIMING
    source: str = ONTOLOGY

    def __str__(self) -> str:
        """Return the printed definition: everything but the value."""
        unit = "a ratio" if self.unit == "1" else f"in {self.unit}"
        trap = f" Mind: {self.trap}." if self.trap else ""
        of = f"{unit}, for {self.scope}, {self.timing}"
        return f"{self.name}: {self.definition}; {self.formula}, {of}.{trap} Source: {self.source}."


@dataclass(frozen=True)
class KpiValue:
    """A value with the record that says what it is; nan where a denominator is zero."""

    kpi: Kpi
    value: Floats

    def __str__(self) -> str:
        """Return value and definition together."""
        undefined = bool(np.isnan(self.value).all())
        shown = "not defined, a denominator is zero" if undefined else f"{np.round(self.value, 4)}"
        return f"{shown} = {self.kpi}"


@dataclass(frozen=True)
class TimeModel:
    """Elements that follow from others; times in the unit of the inputs."""

    AUPT: Floats
    AUBT: Floats
    AOET: Floats


def time_model(apt: ArrayLike, aust: ArrayLike, adet: ArrayLike, adot: ArrayLike) -> TimeModel:
    """Processing, busy and order execution time from production, setup, delay and time without an order.

    AUPT and AUBT as in ISO 22400-2, AOET as in OPC 40501-1.
    """
    production, setup, delay, idle = (np.asarray(value, float) for value in (apt, aust, adet, adot))
    processing = production + setup
    busy = processing + delay
    return TimeModel(np.asarray(processing), np.asarray(busy), np.asarray(busy + idle))


def planned_busy_time(planned_operation: ArrayLike, planned_downtime: ArrayLike) -> Floats:
    """PBT: planned operation time less planned downtime."""
    return np.asarray(np.asarray(planned_operation, float) - np.asarray(planned_downtime, float))


def _ratio(above: Floats, below: Floats) -> Floats:
    """The quotient; nan where the denominator is zero."""
    above, below = np.broadcast_arrays(above, below)
    found: Floats = np.full(above.shape, np.nan)
    np.divide(above, below, out=found, where=below != 0)
    return found


def _over(above: str, below: str) -> Formula:
    return lambda e: _ratio(e[above], e[below])


def _effectiveness(e: Mapping[str, Floats]) -> Floats:
    return _ratio(np.asarray(e["PRI"] * e["PQ"]), e["APT"])


def _oee(e: Mapping[str, Floats]) -> Floats:
    return np.asarray(_ratio(e["APT"], e["PBT"]) * _effectiveness(e) * _ratio(e["GQ"], e["PQ"]))


def _nee(e: Mapping[str, Floats]) -> Floats:
    return np.asarray(_ratio(e["AUPT"], e["PBT"]) * _effectiveness(e) * _ratio(e["GQ"], e["PQ"]))


def _mean(e: Mapping[str, Floats], name: str, more: int = 0) -> Floats:
    """Sum of the values over their number and ``more``."""
    values = np.atleast_1d(e[name])
    return _ratio(np.asarray(values.sum(axis=-1)), np.asarray(float(values.shape[-1] + more)))


def _inherent(e: Mapping[str, Floats]) -> Floats:
    up, down = _mean(e, "TBF"), _mean(e, "TTR")
    return _ratio(up, np.asarray(up + down))


_ALL = (
    Kpi("allocation efficiency", "share of the planned busy time in which the unit is busy with orders",
        "AUBT / PBT", ("AUBT", "PBT"), _over("AUBT", "PBT")),
    Kpi("utilization efficiency", "share of the unit's busy time in which it produces",
        "APT / AUBT", ("APT", "AUBT"), _over("APT", "AUBT")),
    Kpi("availability", "share of the planned busy time in which the unit produces",
        "APT / PBT", ("APT", "PBT"), _over("APT", "PBT"), SETUP_IS_LOSS),
    Kpi("effectiveness", "planned time of what was produced over the time it took",
        "PRI PQ / APT", ("PRI", "PQ", "APT"), _effectiveness,
        "above 1 when planned times are generous: it measures the plan as much as the unit"),
    Kpi("quality ratio", "share of the produced quantity that is good",
        "GQ / PQ", ("GQ", "PQ"), _over("GQ", "PQ")),
    Kpi("OEE index", "availability times effectiveness times quality ratio",
        "(APT / PBT) (PRI PQ / APT) (GQ / PQ)", ("APT", "PBT", "PRI", "PQ", "GQ"), _oee,
        f"{NOT_COMPARABLE}; {SETUP_IS_LOSS}"),
    Kpi("NEE index", "share of processing time, setup included, times effectiveness times quality ratio",
        "(AUPT / PBT) (PRI PQ / APT) (GQ / PQ)", ("AUPT", "PBT", "PRI", "PQ", "APT", "GQ"), _nee,
        f"{NOT_COMPARABLE}; setup is no loss here, so that faster changeovers do not raise it"),
    Kpi("setup ratio", "share of the unit's processing time that is setup",
        "AUST / AUPT", ("AUST", "AUPT"), _over("AUST", "AUPT"),
        "work that moved outside the machine's time is not in it"),
    Kpi("technical efficiency", "production time over production time and delays",
        "APT / (APT + ADET)", ("APT", "ADET"), lambda e: _ratio(e["APT"], np.asarray(e["APT"] + e["ADET"]))),
    Kpi("worker efficiency", "share of the attendance time that people work on orders",
        "APWT / APAT", ("APWT", "APAT"), _over("APWT", "APAT"), "it says nothing about pace",
        scope="workers (from memory)"),
    Kpi("throughput rate", "produced quantity per order execution time",
        "PQ / AOET", ("PQ", "AOET"), _over("PQ", "AOET"), unit="pieces per unit of time"),
    Kpi("production process ratio", "share of the order execution time that is production",
        "APT / AOET", ("APT", "AOET"), _over("APT", "AOET")),
    Kpi("allocation ratio", "share of the order execution time in which the unit is busy",
        "AUBT / AOET", ("AUBT", "AOET"), _over("AUBT", "AOET")),
    Kpi("scrap ratio", "share of the produced quantity that is scrap",
        "SQ / PQ", ("SQ", "PQ"), _over("SQ", "PQ")),
    Kpi("rework ratio", "share of the produced quantity that is reworked",
        "RQ / PQ", ("RQ", "PQ"), _over("RQ", "PQ")),
    Kpi("corrective maintenance ratio", "share of the maintenance time that is corrective",
        "CMT / (CMT + PMT)", ("CMT", "PMT"), lambda e: _ratio(e["CMT"], np.asarray(e["CMT"] + e["PMT"]))),
    Kpi("mean time between failures, by intervals", "mean of the intervals between failures",
        "sum of TBF / number of intervals", ("TBF",), lambda e: _mean(e, "TBF"),
        "another divisor is in print: name the one in use", "the unit of the intervals"),
    Kpi("mean time between failures, by intervals and one", "sum of the intervals over their number and one",
        "sum of TBF / (number of intervals + 1)", ("TBF",), lambda e: _mean(e, "TBF", 1),
        "another divisor is in print: name the one in use", "the unit of the intervals", source=MEMORY),
    Kpi("mean time to restoration", "mean of the times to restore",
        "sum of TTR / number of failures", ("TTR",), lambda e: _mean(e, "TTR"), "", "the unit of the times"),
    Kpi("inherent availability", "mean time between failures over itself and the mean time to restoration",
        "MTBF / (MTBF + MTTR), MTBF by intervals", ("TBF", "TTR"), _inherent,
        "no setup, no waiting and no planned stop is in it: another thing than availability", source=TEXTBOOK),
)  # fmt: skip

KPIS: dict[str, Kpi] = {kpi.name: kpi for kpi in _ALL}
"""Every indicator by name."""


def describe_kpi(name: str) -> Kpi:
    """The record of an indicator; raises KeyError with the nearest known name."""
    if name not in KPIS:
        raise KeyError(f"no indicator named '{name}'; {nearest(name, KPIS)}")
    return KPIS[name]


def evaluate(name: str, elements: Mapping[str, ArrayLike]) -> KpiValue:
    """An indicator's value from elements by their names in :data:`ELEMENTS`, with its record.

    Elements that it does not need are left alone. Raises KeyError for an unknown or a missing element,
    ValueError for one that is negative or not a number.
    """
    kpi = describe_kpi(name)
    given = _checked(elements)
    missing = [element for element in kpi.needs if element not in given]
    if missing:
        raise KeyError(f"{name} needs {', '.join(f'{element} ({ELEMENTS[element]})' for element in missing)}")
    return KpiValue(kpi, kpi.function(given))


def evaluate_all(elements: Mapping[str, ArrayLike]) -> tuple[KpiValue, ...]:
    """Every indicator for which all elements are given, in the order of :data:`KPIS`."""
    given = _checked(elements)
    return tuple(KpiValue(kpi, kpi.function(given)) for kpi in _ALL if set(kpi.needs) <= set(given))


def _checked(elements: Mapping[str, ArrayLike]) -> dict[str, Floats]:
    """The elements as arrays of numbers that are not negative."""
    found = {}
    for name, value in elements.items():
        if name not in ELEMENTS:
            raise KeyError(f"no element '{name}'; {nearest(name, ELEMENTS)}")
        found[name] = np.asarray(value, float)
        if not (found[name] >= 0).all():
            raise ValueError(f"{name} must be a number and not negative")
    return found
