"""Laws of a plant's inputs from its machine's log: run-time ratio, loading, pulling out, stops and their repairs.

Only the weeks that calibrate are read. What the log cannot tell apart, such as the parts of a set-up, is left to the
multipliers; what has too few observations keeps its guess, and is named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from simkit.analysis.laws_fitted import FittedLaw, TooFew, fit_law, rate_interval
from simkit.analysis.log_times import exposures, ratio_of_sums, sheet_runs, stops
from simkit.analysis.machine_log import CANNOT_TELL, RUNNING, MachineLog
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE
from simkit.base.vocabulary import CLOSED, LOADING, UNLOADING
from simkit.plant.calibration_file import PlacedLaw
from simkit.plant.conditions import facts_of, split_unit
from simkit.plant.options import Edit
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element, Stop
from simkit.process.elements import chosen_rows

RATIO_UNIT = "ratio/process"
FEWEST_RUNS = 20
"""Logged runs of a family below which it gets no ratio of its own: common practice, no source."""


@dataclass
class LogLaws:
    """Laws, the edits that set them, and what could not be fitted."""

    laws: list[PlacedLaw] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def set(self, path: str, **values: object) -> None:
        """Set columns of a row."""
        self.edits += [Edit(path=f"{path}.{name}", value=value) for name, value in values.items()]

    def guarded(self, what: str, fit: Callable[[], None]) -> None:
        """Fit, or note that there is too little to fit."""
        try:
            fit()
        except TooFew as error:
            self.notes.append(f"{what}: {error}; the guess stands")


def laws_from_measurements(plant: PlantInputs) -> LogLaws:
    """The law of every row of elements that measured.csv has observations of."""
    found = LogLaws()
    for row in plant.elements:
        own = [one for one in plant.measured if (one.element, one.applies_to) == (row.element, row.applies_to)]
        if own:
            whole, cut = ([one.value for one in own if one.cut_off is cut] for cut in (False, True))
            found.guarded(row_path(row), partial(set_law, found, row, whole, cut, "measured"))
    return found


def laws_from_log(log: MachineLog, plant: PlantInputs, found: LogLaws) -> None:
    """Add all laws that the log gives, but of rows whose law is found already: what was measured wins."""
    found.notes += map(str, log.findings)
    inside = _weeks(log, plant)
    runs = sheet_runs(log, plant)
    _ratios(found, plant, runs[inside(runs["start_s"])])
    for state in (LOADING, UNLOADING):
        _sheet_element(found, plant, state, _episodes(log, state, inside))
    _stop_laws(found, plant, log, inside)


Inside = Callable[[pd.Series], "pd.Series[bool]"]


def _weeks(log: MachineLog, plant: PlantInputs) -> Inside:
    """Whether moments lie in the weeks that calibrate."""
    spans = [
        [(week.monday - log.monday).days * SECONDS_PER_DAY, ((week.monday - log.monday).days + 7) * SECONDS_PER_DAY]
        for week in plant.observed if week.use == "calibrate"
    ]  # fmt: skip
    edges = np.array(spans, float).reshape(-1, 2)

    def inside(moments: pd.Series) -> pd.Series[bool]:
        at = moments.to_numpy(float)[:, None]
        return pd.Series(((at >= edges[:, 0]) & (at < edges[:, 1])).any(axis=1), index=moments.index)

    return inside


def row_path(row: Element) -> str:
    """The path of an element's row."""
    return f"elements[{row.element}|{row.applies_to}]"


# ---- run time ----


def _ratios(found: LogLaws, plant: PlantInputs, runs: pd.DataFrame) -> None:
    """One ratio for all families, and one of its own for each whose interval excludes that of the others."""
    rows = [row for row in plant.elements if row.unit == RATIO_UNIT]
    if any(law.path == row_path(row) for row in rows for law in found.laws):
        return
    if len(rows) != 1 or rows[0].applies_to or len(runs) < FEWEST_RUNS:
        has = f"{len(runs)} logged runs and {len(rows)} rows of {RATIO_UNIT}"
        found.notes.append(f"run times: {has}; {FEWEST_RUNS} runs and one row for all programs are needed")
        return
    base, own = rows[0], _families_apart(runs)
    for family in ("", *own):
        chosen = runs[runs["family"] == family] if family else runs[~runs["family"].isin(own)]
        mean, low, high = (base.typical * value for value in _ratio(chosen))
        columns = {"typical": round(mean, 4), "low": round(low, 4), "high": round(high, 4), "basis": "logged",
                   "n": len(chosen)}  # fmt: skip
        if family:
            value: dict[str, Any] = {
                name: getattr(base, name) for name in ("element", "task_of", "unit", "state", "law", "cv")
            }
            value |= {"applies_to": f"family={family}", "source": "machine log", **columns}
            found.edits.append(Edit(path="elements", op="add_row", value=value))
        else:
            found.set(row_path(base), **columns)
        path = f"elements[{base.element}|family={family}]" if family else row_path(base)
        found.laws.append(PlacedLaw(
            path=path, law=base.law, mean=mean, cv=base.cv, n=len(chosen), censored=0, low=low, high=high,
            was=base.typical, source="logged",
        ))  # fmt: skip


def _ratio(runs: pd.DataFrame) -> tuple[float, float, float]:
    return ratio_of_sums(runs["measured_s"].to_numpy(float), runs["estimated_s"].to_numpy(float))


def _families_apart(runs: pd.DataFrame) -> list[str]:
    """Families whose interval lies off the ratio of all that are not apart, the farthest first."""
    apart: list[str] = []
    while True:
        rest = runs[~runs["family"].isin(apart)]
        off: dict[str, float] = {}
        for family, own in rest.groupby("family"):
            others = rest[rest["family"] != family]
            if len(own) >= FEWEST_RUNS and len(others) >= FEWEST_RUNS:
                (_, low, high), (ratio, *_) = _ratio(own), _ratio(others)
                off[str(family)] = max(low - ratio, ratio - high)
        if not off or max(off.values()) <= 0:
            return sorted(apart)
        apart.append(max(off, key=lambda family: off[family]))


# ---- loading and pulling out ----


def _episodes(log: MachineLog, state: str, inside: Inside) -> pd.DataFrame:
    """Every stay in a state, breaks in it left out: program of the run it belongs to, minutes; what can be told."""
    table = log.stretches[log.stretches["state"] != CLOSED].reset_index(drop=True)
    own = (table["state"] == state).to_numpy()
    number = np.cumsum(own & ~np.concatenate([[False], own[:-1]]))
    running = (table["state"] == RUNNING).to_numpy()
    program = table["program"].where(running)
    table["of"] = (program.bfill() if state == LOADING else program.ffill()).fillna("")
    unknown = (table["state"] == CANNOT_TELL).to_numpy()
    near = np.concatenate([[True], unknown[:-1]]) | np.concatenate([unknown[1:], [True]])
    table["minutes"] = (table["end_s"] - table["start_s"]) / SECONDS_PER_MINUTE
    table["near"] = near
    found = table[own].assign(number=number[own]).groupby("number").agg(
        start_s=("start_s", "first"), of=("of", "first"), minutes=("minutes", "sum"), near=("near", "any")
    )  # fmt: skip
    return found[~found["near"] & (found["of"] != "") & inside(found["start_s"])]


def _sheet_element(found: LogLaws, plant: PlantInputs, state: str, episodes: pd.DataFrame) -> None:
    """Fit each row of the one element that a sheet spends in a state; several elements cannot be told apart."""
    rows = [row for row in plant.elements if row.state == state and split_unit(row.unit)[1] == "sheet"]
    names = {row.element for row in rows}
    if len(names) != 1:
        found.notes.append(f"{state}: {len(names)} elements a sheet, which a log cannot tell apart; the guess stands")
        return
    chosen = {program.program_id: _row_of(rows, plant, program.program_id) for program in plant.programs}
    of = episodes["of"].map({name: row_path(row) for name, row in chosen.items() if row}).fillna("")
    for row in rows:
        if any(law.path == row_path(row) for law in found.laws):
            continue
        minutes = episodes.loc[of == row_path(row), "minutes"].to_numpy(float)
        unit_min = split_unit(row.unit)[0] / SECONDS_PER_MINUTE
        found.guarded(row_path(row), partial(set_law, found, row, minutes / unit_min))


def _row_of(rows: Iterable[Element], plant: PlantInputs, program_id: str) -> Element | None:
    program = plant.program_by_id[program_id]
    return next(iter(chosen_rows(rows, facts_of(plant, program, plant.sheet_kg(program))).values()), None)


def set_law(found: LogLaws, row: Element, values: Any, cut_off: Any = (), source: str = "logged") -> None:
    """Fit a row's law to values in its unit and set it; raises TooFew."""
    fitted = fit_law(np.asarray(values, float)[np.asarray(values) > 0], cut_off)
    path = row_path(row)
    found.set(path, law=fitted.law, typical=round(fitted.mean, 4), cv=_cv(fitted), low=round(fitted.low, 4),
              high=round(fitted.high, 4), basis=source, n=fitted.n)  # fmt: skip
    found.laws.append(_of_fitted(path, fitted, row.typical, source))


def _of_fitted(path: str, fitted: FittedLaw, was: float, source: str) -> PlacedLaw:
    counts: dict[str, Any] = {"n": fitted.n, "censored": fitted.censored, "low": fitted.low, "high": fitted.high}
    return PlacedLaw(path=path, law=fitted.law, mean=fitted.mean, cv=fitted.cv, was=was, source=source, **counts)


def _cv(fitted: FittedLaw) -> float:
    return 0.0 if fitted.law == "exponential" else round(fitted.cv, 4)


# ---- stops ----


def _stop_laws(found: LogLaws, plant: PlantInputs, log: MachineLog, inside: Inside) -> None:
    """Rate per running hour and repair law of every cause that the plant and the log both name."""
    table = stops(log)
    table = table[inside(table["start_s"])]
    told = Counter(table["cause"])
    for cause in sorted(set(told) - {row.cause for row in plant.stops} - {fault.fault for fault in plant.load_faults}):
        found.notes.append(f"the log has {told[cause]} stops by {cause}, which stops.csv does not name")
    for row in plant.stops:
        path = f"stops[{row.cause}|{row.acts}]"
        if row.exposure != "running_hour":
            found.notes.append(f"{path}: a log does not count by {row.exposure}; the guess stands")
            continue
        exposed = exposures(log, row.cause)
        exposed = exposed[inside(exposed["start_s"]) & _acts(row, exposed)]
        hours, events = float(exposed["hours"].sum()), int(exposed["stopped"].sum())
        own = table[(table["cause"] == row.cause) & _acts(row, table)]
        if not hours:
            found.notes.append(f"{path}: no {row.acts} running hour in the log; the guess stands")
            continue
        found.guarded(path, partial(_set_stop, found, path, row, own, hours, events))


def _acts(row: Stop, table: pd.DataFrame) -> pd.Series[bool]:
    """Whether a cause acts at the time of each row of a table: attended, unattended, or both."""
    return (table["attended"] == (row.acts == "attended")) | (row.acts == "both")


def _set_stop(found: LogLaws, path: str, row: Stop, own: pd.DataFrame, hours: float, events: int) -> None:
    low, high = rate_interval(events, hours)
    fitted = fit_law(own.loc[own["known"], "minutes"], own.loc[~own["known"], "minutes"])
    found.set(path, rate=round(events / hours, 5), repair_law=fitted.law, repair_min=round(fitted.mean, 4),
              repair_cv=_cv(fitted), basis="logged", source="machine log")  # fmt: skip
    cut = int((~own["known"]).sum())
    found.laws += [
        PlacedLaw(path=f"{path}.rate", law="exponential", mean=events / hours, cv=1.0, n=events, censored=cut, low=low,
                  high=high, was=row.rate, source="logged"),
        _of_fitted(f"{path}.repair_min", fitted, row.repair_min, "logged"),
    ]  # fmt: skip
