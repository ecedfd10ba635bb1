"""A machine's log, a flat file ``time_utc, item, value``, as stretches of time in one state each.

Items and values are those of MTConnect, the open standard for machine tools; ``MEANINGS`` is the one table that says
what they mean here. What the log does not say is the state *cannot tell*, never another one. Lines that are repeated,
clocks that were set back, hours that come twice and silences are findings, and their time cannot be told either.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.messages import BadInput, Finding, note, some
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import CHANGEOVER, CLOSED, LOADING, STOPPED, UNLOADING, UPKEEP
from simkit.experiment.overlaps import overlap_s, passed_s
from simkit.plant.plant import PlantInputs
from simkit.process.shifts import Span, plan_shifts, without

COLUMNS = ("time_utc", "item", "value")
RUNNING, WAITING, CANNOT_TELL = "running", "waiting", "cannot tell"
LOG_STATES = (RUNNING, CHANGEOVER, LOADING, UNLOADING, STOPPED, UPKEEP, WAITING, CANNOT_TELL, CLOSED)
"""States of a log; running is punching, forming and cutting together, which it does not tell apart."""

MEANINGS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("AVAILABILITY", ("UNAVAILABLE",), CANNOT_TELL),
    ("EXECUTION", ("UNAVAILABLE",), CANNOT_TELL),
    ("EMERGENCY_STOP", ("TRIGGERED",), STOPPED),
    ("EXECUTION", ("INTERRUPTED", "FEED_HOLD", "STOPPED"), STOPPED),
    ("FUNCTIONAL_MODE", ("MAINTENANCE",), UPKEEP),
    ("EXECUTION", ("ACTIVE",), RUNNING),
    ("WAIT_STATE", ("MATERIAL_LOAD", "PART_LOAD"), LOADING),
    ("WAIT_STATE", ("MATERIAL_UNLOAD", "PART_UNLOAD"), UNLOADING),
    ("WAIT_STATE", ("TOOL_LOAD", "TOOL_UNLOAD"), CHANGEOVER),
    ("FUNCTIONAL_MODE", ("SETUP", "TEARDOWN"), CHANGEOVER),
    ("EXECUTION", ("READY", "WAIT", "PROGRAM_COMPLETED", "PROGRAM_STOPPED", "PROGRAM_OPTIONAL_STOP", "OPTIONAL_STOP"),
     WAITING),
)  # fmt: skip
"""Item, its values, and the state they mean: the first line that holds. Names as in MTConnect (enumerations of
EXECUTION, WAIT_STATE and FUNCTIONAL_MODE; OPTIONAL_STOP and WAIT from memory)."""

SILENT_VALUES = {
    "AVAILABILITY": ("AVAILABLE",), "EMERGENCY_STOP": ("ARMED", "UNAVAILABLE"),
    "FUNCTIONAL_MODE": ("PRODUCTION", "PROCESS_DEVELOPMENT", "UNAVAILABLE"),
    "WAIT_STATE": ("NONE", "UNAVAILABLE", "PAUSING", "RESUMING", "POWERING_UP", "POWERING_DOWN", "SECONDARY_PROCESS"),
}  # fmt: skip
"""Values that are known and decide no state by themselves."""
STATE_ITEMS = tuple(dict.fromkeys(item for item, _, _ in MEANINGS))
PROGRAM, CONDITION = "PROGRAM", "CONDITION"
OTHER_ITEMS = ("CONTROLLER_MODE", "PART_COUNT", "LINE", "BLOCK", "TOOL_NUMBER", "TOOL_ASSET_ID", "DOOR_STATE",
               "PROCESS_TIMER", "EQUIPMENT_TIMER")  # fmt: skip
"""Items that are known and not read."""
SILENCE_S = SECONDS_PER_HOUR
"""Attended time without any line after which nobody knows what the machine did: common practice, no source."""


@dataclass(frozen=True)
class MachineLog:
    """Stretches of a log, one state each, and what was found in it.

    ``stretches``: start_s, end_s (elapsed since local midnight of ``monday``), state, program, cause, and told,
    the state that the log tells for closed time too. ``attended`` are shifts and the overtime that the log shows,
    ``worked`` the same without breaks, ``shift_ends_s`` where they end.
    """

    stretches: pd.DataFrame
    monday: dt.date
    lines: int
    attended: tuple[Span, ...]
    worked: tuple[Span, ...]
    shift_ends_s: Floats
    day_start_s: Floats
    findings: tuple[Finding, ...]

    def hours(self) -> pd.DataFrame:
        """Hours of each state, by day; they sum to the part of the calendar that the log covers."""
        parts = cut_at(self.stretches, self.day_start_s[1:-1])
        day = np.searchsorted(self.day_start_s, parts["start_s"], side="right") - 1
        dates = [self.monday + dt.timedelta(days=int(number)) for number in day]
        length = (parts["end_s"] - parts["start_s"]) / SECONDS_PER_HOUR
        table = length.groupby([pd.Index(dates, name="day"), parts["state"].to_numpy()]).sum().unstack(fill_value=0)
        return table.reindex(columns=list(LOG_STATES), fill_value=0.0)


def read_log(path: Path, plant: PlantInputs) -> MachineLog:
    """Read a log of one machine; raises BadInput where it is no log or holds no moment that can be read."""
    lines = _lines(path)
    zone = ZoneInfo(plant.settings.time_zone)
    first = lines["time"].min().tz_convert(zone).date()
    monday = first - dt.timedelta(days=first.weekday())
    origin = pd.Timestamp(dt.datetime.combine(monday, dt.time(0), tzinfo=zone)).tz_convert("UTC")
    stamped = np.asarray((lines["time"] - origin).dt.total_seconds(), float)
    days = int(stamped.max() // SECONDS_PER_DAY) + 2
    run = plant.settings.run.model_copy(update={"start_monday": monday})
    settings = plant.settings.model_copy(update={"run": run})
    plan = plan_shifts(dataclasses.replace(plant, settings=settings), days)
    frame, back, findings = _in_order(path.name, lines, stamped, zone)
    found = [*_strange(path.name, frame), *findings]
    overtime = _worked_windows(plan.overtime, frame)
    attended = tuple(sorted([*plan.attended, *overtime]))
    worked = without(attended, [(start, end) for _, start, end in plan.break_spans])
    silent = _silences(frame["at_s"].to_numpy(), worked)
    found += [_silence_finding(path.name, span, origin, zone) for span in silent]
    stretches = _stretches(frame, [*back, *silent], worked)
    if stretches.empty:
        raise BadInput([Finding(path.name, "covers no time", "Export the log of some weeks")])
    ends = np.unique([span[2] for span in plan.shift_spans] + [span[1] for span in attended])
    return MachineLog(
        stretches, monday, len(lines), attended, worked, ends.astype(float),
        np.array(plan.day_start[: days + 1], float), tuple(found),
    )  # fmt: skip


def _lines(path: Path) -> pd.DataFrame:
    """All lines as time, item, value in the order of the file."""
    words: Any = {"item": "category", "value": "category", "time_utc": str}
    try:
        frame = pd.read_csv(path, dtype=words, keep_default_na=False)
    except (OSError, ValueError) as error:
        mend = f"Write the columns {', '.join(COLUMNS)}"
        raise BadInput([Finding(path.name, f"cannot be read ({error})", mend)]) from error
    missing = [name for name in COLUMNS if name not in frame.columns]
    if missing or frame.empty:
        why = f"has no column {', '.join(missing)}" if missing else "holds no lines"
        raise BadInput([Finding(path.name, why, f"Write the columns {', '.join(COLUMNS)}")])
    time = pd.to_datetime(frame["time_utc"], format="ISO8601", utc=True, errors="coerce")
    wrong = np.flatnonzero(time.isna())
    if len(wrong):
        why = f"is no ISO time; so are {len(wrong) - 1} more" if len(wrong) > 1 else "is no ISO time"
        value = str(frame["time_utc"].iloc[wrong[0]])
        raise BadInput([Finding(path.name, why, "Write 2026-05-04T06:00:00Z", int(wrong[0]) + 2, "time_utc", value)])
    frame["time"] = time
    return frame.drop(columns="time_utc")


def _in_order(
    place: str, lines: pd.DataFrame, stamped: Floats, zone: ZoneInfo
) -> tuple[pd.DataFrame, list[Span], list[Finding]]:
    """Lines once each, on a clock that never runs back; the stretches that came twice, and the findings."""
    repeated = lines.duplicated().to_numpy()
    findings = []
    if repeated.any():
        rows = some([int(row) + 2 for row in np.flatnonzero(repeated)])
        why = f"{int(repeated.sum())} lines are repeated (rows {rows}) and count once"
        findings.append(note(place, why, "Nothing to do; adapters send lines again when they connect anew"))
    frame = lines.loc[~repeated, ["item", "value"]].assign(at_s=stamped[~repeated], row=np.flatnonzero(~repeated) + 2)
    clock = frame["at_s"].to_numpy()
    latest = np.maximum.accumulate(clock)
    steps = np.flatnonzero(np.diff(clock) < 0) + 1
    back: list[Span] = []
    for at in steps:
        if back and clock[at] < back[-1][1]:
            continue
        back.append((float(clock[at]), float(latest[at - 1])))
        row = int(frame["row"].iloc[at])
        findings.append(_back_finding(place, lines["time"].iloc[row - 2], back[-1], row, zone))
    frame["at_s"] = latest
    return frame, back, findings


def _back_finding(place: str, now: pd.Timestamp, span: Span, row: int, zone: ZoneInfo) -> Finding:
    """The clock was set back: by an hour at a change of the clocks it is a log in wall time, else a drift."""
    by_s = span[1] - span[0]
    local = now.tz_convert(zone)
    changes = (local - pd.Timedelta(days=1)).utcoffset() != (local + pd.Timedelta(days=1)).utcoffset()
    length, twice = f"at least {by_s / SECONDS_PER_MINUTE:.1f} min", SECONDS_PER_HOUR / 2 < by_s <= SECONDS_PER_HOUR
    where: dict[str, Any] = {"row": row, "column": "time_utc", "value": str(now)}
    if twice and changes:
        why = f"an hour comes twice where the clocks change: the log is in wall time, not UTC; {length} cannot be told"
        return note(place, why, "Export it in UTC", **where)
    kind = "most of an hour comes twice" if twice else "the clock had drifted"
    why = f"{kind}: it was set back by {length}, which cannot be told"
    return note(place, why, "Keep the clock of the machine by a time server", **where)


def _strange(place: str, frame: pd.DataFrame) -> list[Finding]:
    """Items and values that the table of meanings does not know."""
    known = {*STATE_ITEMS, PROGRAM, CONDITION, *OTHER_ITEMS}
    items = sorted(set(frame["item"].unique()) - known)
    findings = []
    if items:
        findings.append(note(place, f"items that nothing reads: {some(items)}", "Nothing to do, if they tell no state"))
    for item in STATE_ITEMS:
        told = {value for name, values, _ in MEANINGS if name == item for value in values}
        values = frame.loc[frame["item"] == item, "value"]
        other = sorted(set(values.unique()) - told - set(SILENT_VALUES.get(item, ())))
        if other:
            mend = "Write the words of the open standard; such time counts as cannot tell"
            findings.append(note(place, f"{item} has unknown words: {some(other)}", mend))
    return findings


def _worked_windows(windows: Sequence[Span], frame: pd.DataFrame) -> list[Span]:
    """Overtime windows in which the log shows a running machine."""
    active = ((frame["item"] == "EXECUTION") & (frame["value"] == "ACTIVE")).to_numpy()
    moments = frame["at_s"].to_numpy()[active]
    return [span for span in windows if np.searchsorted(moments, span[1]) > np.searchsorted(moments, span[0])]


def _silences(at_s: Floats, worked: Sequence[Span]) -> list[Span]:
    passed = np.diff(passed_s(worked, at_s))
    return [(float(at_s[at]), float(at_s[at + 1])) for at in np.flatnonzero(passed > SILENCE_S)]


def _silence_finding(place: str, span: Span, origin: pd.Timestamp, zone: ZoneInfo) -> Finding:
    start = (origin + pd.Timedelta(seconds=span[0])).tz_convert(zone)
    minutes = round((span[1] - span[0]) / SECONDS_PER_MINUTE)
    length = f"{minutes // 60} h {minutes % 60:02} min"
    why = f"no line for {length} from {start:%Y-%m-%d %H:%M}, wall time; that cannot be told"
    return note(place, why, "Ask why the log was silent")


# ---- stretches ----


def _stretches(frame: pd.DataFrame, unknown: Sequence[Span], worked: Sequence[Span]) -> pd.DataFrame:
    """From line to line, one state, one program and one cause each; outside worked time all but running is closed."""
    at_s = frame["at_s"].to_numpy()
    known_from = _known_from(at_s, worked)
    state = _states(frame, known_from)
    program, cause = (_carried(frame, known_from, *told) for told in ((PROGRAM, str), (CONDITION, _cause)))
    keep = np.concatenate([np.diff(at_s) > 0, [False]])
    table = pd.DataFrame(
        {"start_s": at_s, "end_s": np.append(at_s[1:], at_s[-1]), "state": state, "program": program, "cause": cause}
    )[keep]
    table = _marked(table, unknown, CANNOT_TELL)
    table = cut_at(table, np.unique(np.array(list(worked), float).ravel()))
    inside = overlap_s(table["start_s"].to_numpy(), table["end_s"].to_numpy(), worked) > 0
    table["told"] = table["state"]
    table.loc[~inside & (table["state"] != RUNNING).to_numpy(), "state"] = CLOSED
    return table.reset_index(drop=True)


def _known_from(at_s: Floats, worked: Sequence[Span]) -> NDArray[np.int64]:
    """For each line, the line from which on values are known: the first, or the first behind a silence."""
    ends = np.searchsorted(at_s, [end for _, end in _silences(at_s, worked)])
    first = np.zeros(len(at_s), np.int64)
    first[ends] = ends
    return np.maximum.accumulate(first)


def _states(frame: Any, known_from: NDArray[np.int64]) -> NDArray[np.object_]:
    """The state after each line, by the last value of every item."""
    state = np.full(len(frame), CANNOT_TELL, object)
    for item, values, meaning in reversed(MEANINGS):
        known = frame["value"].cat.categories.isin(values)
        codes = _last_codes(frame, item, known_from)
        state[(codes >= 0) & np.append(known, False)[codes]] = meaning
    return state


def _last_codes(frame: Any, item: str, known_from: NDArray[np.int64]) -> NDArray[np.int64]:
    """Category of the last value of an item after each line; -1 before its first, and again behind a silence."""
    own = (frame["item"] == item).to_numpy()
    last = np.maximum.accumulate(np.where(own, np.arange(len(frame)), -1))
    codes = frame["value"].cat.codes.to_numpy().astype(np.int64)
    return np.where(last >= known_from, codes[last], -1)


def _carried(frame: Any, known_from: NDArray[np.int64], item: str, told: Callable[[str], str]) -> NDArray[np.object_]:
    """What the last value of an item tells after each line; nothing before its first."""
    words = np.array([*map(told, frame["value"].cat.categories), ""], object)
    return np.asarray(words[_last_codes(frame, item, known_from)])


def _cause(value: str) -> str:
    """``FAULT jam`` and ``WARNING jam`` name the cause jam; NORMAL none."""
    level, _, cause = value.partition(" ")
    return cause.strip() if level.upper() in ("FAULT", "WARNING") else ""


def _marked(table: pd.DataFrame, spans: Sequence[Span], state: str) -> pd.DataFrame:
    """Give a state to all that lies inside the spans."""
    if not spans:
        return table
    table = cut_at(table, np.unique(np.array(list(spans), float).ravel()))
    middle = ((table["start_s"] + table["end_s"]) / 2).to_numpy()
    inside = np.zeros(len(table), bool)
    for start, end in spans:
        inside |= (middle > start) & (middle < end)
    table.loc[inside, "state"] = state
    return table


def cut_at(table: pd.DataFrame, moments: Floats) -> pd.DataFrame:
    """Stretches cut at some moments, in their order."""
    start, end = table["start_s"].to_numpy(), table["end_s"].to_numpy()
    first, last = np.searchsorted(moments, start, side="right"), np.searchsorted(moments, end, side="left")
    parts = table.loc[np.repeat(table.index, last - first + 1)].reset_index(drop=True)
    number = np.arange(len(parts)) - np.repeat(np.cumsum(last - first + 1) - (last - first + 1), last - first + 1)
    which = np.repeat(first, last - first + 1) + number
    padded = np.append(moments, np.inf)
    parts["end_s"] = np.minimum(parts["end_s"], padded[which])
    parts["start_s"] = np.where(number > 0, padded[which - 1], parts["start_s"])
    return parts
