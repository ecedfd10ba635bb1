"""What the columns of a table are called where people read them: label, unit, digits, and what their codes mean.

A column that is not listed reads as its own name: underscores become blanks and the end of the name is its unit, so
that ``wait_min`` is headed "wait, min". A line is needed only where that reads badly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from simkit.finance.lines import LINES
from simkit.report.palette import STATE_LABELS
from simkit.report.words import shortened

UNITS = {unit.lower(): unit for unit in ("h", "min", "s", "kg", "t", "mm", "m", "kN", "kW", "days", "years", "weeks")}
"""Ends of names that are units. ``share`` is another: it is drawn in per cent."""
PER = " per "


@dataclass(frozen=True)
class ShownColumn:
    """How a column is shown. ``factor`` takes its numbers to the unit, ``words`` its codes to words.

    ``figures`` are the leading digits of a number that are known, whatever its size; None: all.
    """

    label: str
    unit: str = ""
    digits: int | None = None
    factor: float = 1.0
    words: Mapping[str, str] | Callable[[str], str] | None = None
    figures: int | None = None

    @property
    def heading(self) -> str:
        """Label and unit, as a table's head says them."""
        return f"{self.label}, {self.unit}" if self.unit else self.label

    def word(self, code: str) -> str:
        """A code of this column in words; as it is where there are none."""
        if self.words is None:
            return code
        return self.words.get(code, code) if isinstance(self.words, Mapping) else self.words(code)


MEASURES = {
    "hours_needed": "machine hours needed",
    "attended_h": "attended hours",
    "overtime_h": "overtime",
    "subcontract_h": "subcontracted hours",
    "unmet_h": "refused hours",
    "late_share": "late orders",
    "refused_share": "refused orders",
    "run_h": "hours of punching, forming and cutting",
    "state_changeover_h": "set-up at the machine",
    "state_waiting_person_h": "waiting for a person",
    "state_stopped_h": "stopped",
    "tool_loads": "tools loaded",
    "die_changes": "dies changed",
    "bench_h": "hours at the bench",
    "night_running_h": "unattended hours",
}
"""Measures in words, where their names read badly."""


COUNTS_AS = {
    "cash_releasing": "cash released", "one_time": "single amount", "cost": "paid", "cost_avoided": "cost avoided",
    "capacity": "sales", "not_monetised": "not money",
}  # fmt: skip
"""Classes of benefit in words."""


def measure_name(code: str) -> str:
    """Name of a measure in words."""
    return MEASURES.get(code) or _read(code).label


COLUMNS: dict[str, ShownColumn] = {
    "against": ShownColumn("compared with"),
    "basis": ShownColumn("basis", words=shortened),
    "benefit_class": ShownColumn("counts as", words=COUNTS_AS),
    "calibrated_off": ShownColumn("off by"),
    "capital": ShownColumn("costs", digits=0),
    "cash_a_year": ShownColumn("cash a year", digits=0),
    "given_out_h_per_week": ShownColumn("subcontracted", "h a week"),
    "freed_h_per_week": ShownColumn("frees", "h a week"),
    "extra": ShownColumn("extra value", digits=0),
    "falls_from_or_valid": ShownColumn("lower from, or price"),
    "first_guess_off": ShownColumn("off by"),
    "flip": ShownColumn("zero at"),
    "irr": ShownColumn("internal rate"),
    "line": ShownColumn("line", words={code: line.title for code, line in LINES.items()}),
    "half_width": ShownColumn("±"),
    "of_what_moves_share": ShownColumn("of what moves the value", "%", factor=100.0),
    "by_more_than_chance": ShownColumn("by more than chance"),
    "off_share": ShownColumn("off by", "%", digits=0, factor=100.0),
    "rests_on": ShownColumn("what it rests on"),
    "measure": ShownColumn("measure", words=measure_name),
    "npv": ShownColumn("value"),
    "npv_if_zero": ShownColumn("value if perfect", digits=0, figures=3),
    "npv_with_avoided": ShownColumn("with avoided cost", figures=3),
    "npv_with_signed_sales": ShownColumn("with signed sales", figures=3),
    "part_share": ShownColumn("of all parts", "%", factor=100.0),
    "payback": ShownColumn("paid back"),
    "person_slower_share": ShownColumn("sheets whose person is slower", "%", factor=100.0),
    "pick_stopped_share": ShownColumn("sheets stopped by a pick", "%", factor=100.0),
    "range_left_share": ShownColumn("width left of the range", "%", factor=100.0),
    "scenario": ShownColumn("case"),
    "sheet_share": ShownColumn("of all sheets", "%", factor=100.0),
    "sign": ShownColumn("how sure"),
    "slower_with_removal_share": ShownColumn("sheets slower with removal", "%", factor=100.0),
    "standing_share": ShownColumn("share of standing", "%", factor=100.0),
    "turns": ShownColumn("pays"),
    "turns_the_sign": ShownColumn("turns the sign"),
    "value_at_low": ShownColumn("value at low", digits=0, figures=3),
    "value_at_high": ShownColumn("value at high", digits=0, figures=3),
    "freed_h_at_low": ShownColumn("frees at low", "h a week"),
    "freed_h_at_high": ShownColumn("frees at high", "h a week"),
    "moved": ShownColumn("moves it by", digits=0, figures=3),
    "payback_years": ShownColumn("paid back", "years", digits=1),
    "state": ShownColumn("state of the machine", words=STATE_LABELS),
    "title": ShownColumn("input"),
    "removal_input": ShownColumn("input"),
    "variance_share": ShownColumn("of the variance", "%", factor=100.0),
    "waits_for_picker_share": ShownColumn("sheets that wait for the picker", "%", factor=100.0),
    "worth_at_most": ShownColumn("worth at most", digits=0, figures=3),
    "year": ShownColumn("year", digits=0),
}


def column_of(name: str) -> ShownColumn:
    """Return how a column is shown: as listed, or as its own name reads."""
    return COLUMNS[name] if name in COLUMNS else _read(name)


def _read(name: str) -> ShownColumn:
    of, per, what = name.replace("_", " ").partition(PER)
    words = of.split(" ")
    if len(words) > 1 and words[-1] == "share":
        return ShownColumn(" ".join(words), "%", factor=100.0)
    unit = UNITS.get(words[-1], "") if len(words) > 1 else ""
    label = " ".join(words[:-1] if unit else words)
    if not per:
        return ShownColumn(label, unit)
    return ShownColumn(label, f"{unit} a {what}") if unit else ShownColumn(f"{label} a {what}")
