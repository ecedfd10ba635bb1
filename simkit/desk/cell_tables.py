"""Tables of one scenario's cell: people and who waits for whom, set-up by kind, stops by cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simkit.base.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import EXCHANGES, SETUP_STATES, SKILLS
from simkit.desk.shown import titled
from simkit.desk.simulated import HALF, Simulated, with_half
from simkit.experiment.toolmeasures import HITS
from simkit.report import sentences_cell as say
from simkit.report.words import scaled

if TYPE_CHECKING:
    from simkit.desk.plants import Scenario

QUEUES = {"busy_share": ("utilisation", 1.0), "waiting": ("queue_mean", 1.0),
          "wait_min": ("wait_mean_s", 1 / SECONDS_PER_MINUTE), "that_wait_share": ("wait_share", 1.0)}  # fmt: skip
"""Columns of the table of waits: the end of the measure's name, and the factor to the column's unit."""
FIXED, REST, FIRST, AWAITED = "order", "rest", "first_piece", "material"
"""Kinds of set-up that are no exchange of a tool."""


def wait_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """How busy machine, people and bench are, and what waits for them; empty while the backlog grows."""
    scenario, rows = study.scenario(scenario).name, []
    for name in ("machine", "people", "bench"):
        row: dict[str, object] = {"resource": name}
        for column, (end, factor) in QUEUES.items():
            measure = f"{name}_{end}"
            if study.results.refusal(scenario, measure, study.numbers.level):
                row |= {column: np.nan, f"{column}{HALF}": np.nan}
            else:
                row |= with_half(column, scaled(study.per_week(scenario, measure), factor))
        rows.append(row)
    wait, share = (study.per_week(scenario, f"people_wait_{end}") for end in ("mean_s", "share"))
    refused = study.results.refusal(scenario, "machine_queue_mean", study.numbers.level)
    title = say.waits(scaled(wait, 1 / SECONDS_PER_MINUTE), share)
    return titled(pd.DataFrame(rows), title, say.wait_note(refused))


def task_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """People's hours a week by task, most first."""
    scenario = study.scenario(scenario).name
    rows = [
        {"task": task, **with_half("hours_per_week", known)}
        for task in SKILLS
        if (known := study.per_week(scenario, f"person_{task}_h")).mean > 0
    ]
    frame = pd.DataFrame(rows, columns=["task", "hours_per_week", f"hours_per_week{HALF}"])
    frame = frame.sort_values("hours_per_week", ascending=False, ignore_index=True)
    busy = study.per_week(scenario, "person_busy_h")
    first = next(frame.itertuples(index=False, name=None), ("", 0.0))[:2]
    return titled(frame.assign(task=frame["task"].map(say.TASKS)), say.tasks(busy, *first), say.MEAN)


def setup_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """Set-up by kind a week: times, minutes of each, hours for which the machine stands or that are hidden."""
    scenario = study.scenario(scenario).name
    tools, families = (study.records(name, scenario) for name in ("tools", "families"))
    raw = {s: study.results.raw(scenario, f"state_{s}_h", study.numbers.level) for s in SETUP_STATES}
    exchanges = tools[tools["exchange"] != HITS]
    parts = [
        pd.DataFrame({
            "replication": exchanges["replication"], "kind": exchanges["exchange"], "times": exchanges["times"],
            "stands_h": exchanges["visible_min"] / MINUTES_PER_HOUR,
            "hidden_h": exchanges["hidden_min"] / MINUTES_PER_HOUR,
        }),
        pd.DataFrame({
            "replication": families["replication"], "kind": FIXED, "times": families["orders"],
            "stands_h": families["fixed_min"] / MINUTES_PER_HOUR,
        }),
    ]  # fmt: skip
    known_h = pd.concat(parts).groupby("replication")["stands_h"].sum().reindex(range(study.numbers.replications))
    if not study.plant.inputs.settings.run.warmup_s:
        parts.append(_of_runs(REST, raw["changeover"] - known_h.fillna(0.0).to_numpy(float)))
    parts += [_of_runs(FIRST, raw["first_piece"]), _of_runs(AWAITED, raw["waiting_material"])]
    rows = pd.concat(parts).fillna({"times": 0.0, "hidden_h": 0.0})
    frame = study.records_per_week(scenario, rows, ["kind"], ["times", "stands_h", "hidden_h"])
    return _shown(frame, study.per_week(scenario, *(f"state_{state}_h" for state in SETUP_STATES)).mean)


def _of_runs(kind: str, hours: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"replication": range(len(hours)), "kind": kind, "stands_h": hours})


def _shown(frame: pd.DataFrame, total_h: float) -> pd.DataFrame:
    """The kinds that take time, most first, with the minutes of each; hidden hours only where there are some."""
    frame = frame[(frame["stands_h_per_week"] + frame["hidden_h_per_week"]).abs() > 1e-9]
    frame = frame.sort_values("stands_h_per_week", ascending=False, ignore_index=True)
    minutes = (frame["stands_h_per_week"] + frame["hidden_h_per_week"]) * MINUTES_PER_HOUR
    counted = frame["kind"].isin([*EXCHANGES, FIXED]) & (frame["times_per_week"] > 0)
    each = minutes / frame["times_per_week"].where(counted)
    frame.insert(3, "each_min", each)
    frame.loc[frame["times_per_week"] == 0, ["times_per_week", f"times_per_week{HALF}"]] = np.nan
    if not frame["hidden_h_per_week"].any():
        frame = frame.drop(columns=["hidden_h_per_week", f"hidden_h_per_week{HALF}"])
    first = next(zip(frame["kind"], frame["stands_h_per_week"], strict=True), ("", 0.0))
    frame = frame.assign(set_up=frame["kind"].map(say.SET_UP)).drop(columns="kind")
    return titled(frame[["set_up", *frame.columns[:-1]]], say.setup(total_h, *first), say.SETUP_NOTE)


def stop_table(study: Simulated, scenario: str | Scenario = "") -> pd.DataFrame:
    """Stops a week by cause, attended and at night: times, and hours until they are cleared."""
    scenario = study.scenario(scenario).name
    stops = study.records("stops", scenario).assign(stops=1.0)
    stops["when"] = np.where(stops["unattended"], say.UNATTENDED, say.ATTENDED)
    frame = study.records_per_week(scenario, stops, ["cause", "when"], ["stops", "stopped_h"])
    frame = frame.sort_values("stopped_h_per_week", ascending=False, ignore_index=True)
    if not stops["unattended"].any():
        frame = frame.drop(columns="when")
    frame["cause"] = frame["cause"].map(say.cause_in_words)
    count, lost = (study.per_week(scenario, measure) for measure in ("stops", "stop_h"))
    often = stops["cause"].mode().tolist()
    worst = stops.groupby("cause")["stopped_h"].sum().sort_values(ascending=False).index.tolist()
    return titled(frame, say.stops(count, lost, worst[0] if worst else "", often[0] if often else ""), say.STOP_NOTE)
