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
class Column:
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


COLUMNS: dict[str, Column] = {
    "against": Column("compared with"),
    "basis": Column("basis", words=shortened),
    "benefit_class": Column("counts as", words=COUNTS_AS),
    "calibrated_off": Column("off by"),
    "capital": Column("costs", digits=0),
    "cash_a_year": Column("cash a year", digits=0),
    "given_out_h_per_week": Column("subcontracted", "h a week"),
    "freed_h_per_week": Column("frees", "h a week"),
    "extra": Column("extra value", digits=0),
    "falls_from_or_valid": Column("lower from, or price"),
    "first_guess_off": Column("off by"),
    "flip": Column("zero at"),
    "irr": Column("internal rate"),
    "line": Column("line", words={code: line.title for code, line in LINES.items()}),
    "half_width": Column("±"),
    "of_what_moves_share": Column("of what moves the value", "%", factor=100.0),
    "by_more_than_chance": Column("by more than chance"),
    "off_share": Column("off by", "%", digits=0, factor=100.0),
    "rests_on": Column("what it rests on"),
    "measure": Column("measure", words=measure_name),
    "npv": Column("value"),
    "npv_if_zero": Column("value if perfect", digits=0, figures=3),
    "npv_with_avoided": Column("with avoided cost", figures=3),
    "npv_with_signed_sales": Column("with signed sales", figures=3),
    "part_share": Column("of all parts", "%", factor=100.0),
    "payback": Column("paid back"),
    "person_slower_share": Column("sheets whose person is slower", "%", factor=100.0),
    "pick_stopped_share": Column("sheets stopped by a pick", "%", factor=100.0),
    "range_left_share": Column("width left of the range", "%", factor=100.0),
    "scenario": Column("case"),
    "sheet_share": Column("of all sheets", "%", factor=100.0),
    "sign": Column("how sure"),
    "slower_with_removal_share": Column("sheets slower with removal", "%", factor=100.0),
    "standing_share": Column("share of standing", "%", factor=100.0),
    "turns": Column("pays"),
    "turns_the_sign": Column("turns the sign"),
    "value_at_low": Column("value at low", digits=0, figures=3),
    "value_at_high": Column("value at high", digits=0, figures=3),
    "freed_h_at_low": Column("frees at low", "h a week"),
    "freed_h_at_high": Column("frees at high", "h a week"),
    "moved": Column("moves it by", digits=0, figures=3),
    "payback_years": Column("paid back", "years", digits=1),
    "state": Column("state of the machine", words=STATE_LABELS),
    "title": Column("input"),
    "removal_input": Column("input"),
    "variance_share": Column("of the variance", "%", factor=100.0),
    "waits_for_picker_share": Column("sheets that wait for the picker", "%", factor=100.0),
    "worth_at_most": Column("worth at most", digits=0, figures=3),
    "year": Column("year", digits=0),
}


def column_of(name: str) -> Column:
    """Return how a column is shown: as listed, or as its own name reads."""
    return COLUMNS[name] if name in COLUMNS else _read(name)


def _read(name: str) -> Column:
    of, per, what = name.replace("_", " ").partition(PER)
    words = of.split(" ")
    if len(words) > 1 and words[-1] == "share":
        return Column(" ".join(words), "%", factor=100.0)
    unit = UNITS.get(words[-1], "") if len(words) > 1 else ""
    label = " ".join(words[:-1] if unit else words)
    if not per:
        return Column(label, unit)
    return Column(label, f"{unit} a {what}") if unit else Column(f"{label} a {what}")
