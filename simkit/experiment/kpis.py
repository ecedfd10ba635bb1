"""Key performance indicators in the manner of ISO 22400-2: none without its definition.

An indicator is a frozen record: name, definition in the kit's own words, formula, unit, scope, timing, what it
is often misread as, and the function. A value never travels without its record, and its text prints both.
Formulas were read in an open ontology of the standard; scope, timing, and whatever else says so, is from
memory: check the edition before citing. Times of one call share one unit; elements take numbers or arrays.
A value from elements that contradict each other, as more good pieces than pieces, has a note and is not cut.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.messages import nearest
from simkit.process.quantities import Floats, not_below_zero

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
    "PRI": "planned run time of one item; of mixed products the mean of their run times, weighted by PQ",
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
MIXED = (
    "of mixed products PRI is the mean of their planned run times weighted by PQ, and quality counts a small piece "
    "like a large one"
)
LIMITS = (
    ("GQ", "PQ"), ("SQ", "PQ"), ("RQ", "PQ"), ("APT", "PBT"), ("APT", "AUPT"), ("APT", "AUBT"), ("APT", "AOET"),
    ("AUST", "AUPT"), ("AUPT", "PBT"), ("AUBT", "PBT"), ("AUBT", "AOET"), ("APWT", "APAT"),
)  # fmt: skip
"""Pairs of elements of which the first is a part of the second, where both are booked alike."""
ROUNDING = 1e-9
"""Share by which rounding may exceed a limit."""

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
    """A value with the record that says what it is, and notes on elements that contradict each other.

    nan where a denominator is zero or where there are no values to take a mean of.
    """

    kpi: Kpi
    value: Floats
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Return value, definition and notes together."""
        undefined = bool(np.isnan(self.value).all())
        why = "not defined, a denominator is zero or there are no values"
        shown = why if undefined else f"{np.round(self.value, 4)}"
        return " ".join((f"{shown} = {self.kpi}", *(f"Check: {note}." for note in self.notes)))


@dataclass(frozen=True)
class TimeModel:
    """Elements that follow from others; times in the unit of the inputs."""

    AUPT: Floats
    AUBT: Floats
    AOET: Floats


def time_model(apt: ArrayLike, aust: ArrayLike, adet: ArrayLike, adot: ArrayLike) -> TimeModel:
    """Processing, busy and order execution time from production, setup, delay and time without an order.

    AUPT and AUBT as in ISO 22400-2, AOET as in OPC 40501-1. Raises ValueError for a negative time.
    """
    production, setup = not_below_zero(apt, "apt"), not_below_zero(aust, "aust")
    delay, idle = not_below_zero(adet, "adet"), not_below_zero(adot, "adot")
    processing = production + setup
    busy = processing + delay
    return TimeModel(np.asarray(processing), np.asarray(busy), np.asarray(busy + idle))


def planned_busy_time(planned_operation: ArrayLike, planned_downtime: ArrayLike) -> Floats:
    """PBT: planned operation time less planned downtime; raises ValueError for more downtime than operation."""
    operation = not_below_zero(planned_operation, "planned_operation")
    busy = operation - not_below_zero(planned_downtime, "planned_downtime")
    return np.asarray(not_below_zero(busy, "planned_operation less planned_downtime"))


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
    """The product of its three factors without APT and PQ, so that a time without production is 0 and no gap."""
    return _ratio(np.asarray(e["PRI"] * e["GQ"]), e["PBT"])


def _nee(e: Mapping[str, Floats]) -> Floats:
    """The same over the share of processing in production; 0 where nothing good was made."""
    stretched = np.where(e["GQ"] > 0, _ratio(e["AUPT"], e["APT"]), 1.0)
    return np.asarray(_oee(e) * stretched)


def _mean(e: Mapping[str, Floats], name: str, more: int = 0) -> Floats:
    """Sum of the values over their number and ``more``; nan without values."""
    values = np.atleast_1d(e[name])
    count = values.shape[-1]
    return _ratio(np.asarray(values.sum(axis=-1)), np.asarray(float(count + more if count else 0)))


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
        f"above 1 when planned times are generous: it measures the plan as much as the unit; {MIXED}"),
    Kpi("quality ratio", "share of the produced quantity that is good",
        "GQ / PQ", ("GQ", "PQ"), _over("GQ", "PQ")),
    Kpi("OEE index", "availability times effectiveness times quality ratio, which is PRI GQ / PBT",
        "(APT / PBT) (PRI PQ / APT) (GQ / PQ)", ("APT", "PBT", "PRI", "PQ", "GQ"), _oee,
        f"{NOT_COMPARABLE}; {SETUP_IS_LOSS}; {MIXED}"),
    Kpi("NEE index", "share of processing time, setup included, times effectiveness times quality ratio",
        "(AUPT / PBT) (PRI PQ / APT) (GQ / PQ)", ("AUPT", "PBT", "PRI", "PQ", "APT", "GQ"), _nee,
        f"{NOT_COMPARABLE}; setup is no loss here, so that faster changeovers do not raise it; {MIXED}"),
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
    ValueError for one that is negative or not finite.
    """
    kpi = describe_kpi(name)
    given = _checked(elements)
    missing = [element for element in kpi.needs if element not in given]
    if missing:
        raise KeyError(f"{name} needs {', '.join(f'{element} ({ELEMENTS[element]})' for element in missing)}")
    return _valued(kpi, given)


def evaluate_all(elements: Mapping[str, ArrayLike]) -> tuple[KpiValue, ...]:
    """Every indicator for which all elements are given, in the order of :data:`KPIS`."""
    given = _checked(elements)
    return tuple(_valued(kpi, given) for kpi in _ALL if set(kpi.needs) <= set(given))


def _valued(kpi: Kpi, given: Mapping[str, Floats]) -> KpiValue:
    return KpiValue(kpi, kpi.function(given), _notes(kpi, given))


def _notes(kpi: Kpi, given: Mapping[str, Floats]) -> tuple[str, ...]:
    """Elements of the indicator that exceed what they are a part of."""
    pairs = [pair for pair in LIMITS if set(pair) <= set(kpi.needs)]
    broken = [(part, all_of) for part, all_of in pairs if (given[part] > given[all_of] * (1 + ROUNDING)).any()]
    return tuple(f"{part} exceeds {all_of}, see how both were booked" for part, all_of in broken)


def _checked(elements: Mapping[str, ArrayLike]) -> dict[str, Floats]:
    """The elements as arrays of numbers that are not negative."""
    for name in elements:
        if name not in ELEMENTS:
            raise KeyError(f"no element '{name}'; {nearest(name, ELEMENTS)}")
    return {name: not_below_zero(value, name) for name, value in elements.items()}
