"""What a machine's log says of run times, changeovers and stops, each with how much of it could be told."""

from __future__ import annotations

import numpy as np
import pandas as pd

from simkit.analysis.machine_log import CANNOT_TELL, RUNNING, WAITING, MachineLog
from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import CHANGEOVER, CLOSED, LOADING, STOPPED, UNLOADING
from simkit.experiment.intervals import LEVEL, t_quantile
from simkit.experiment.overlaps import overlap_s, passed_s
from simkit.plant.plant import PlantInputs
from simkit.process.estimate import run_estimates

BETWEEN_RUNS = (LOADING, UNLOADING, CHANGEOVER, WAITING)


def ratio_of_sums(measured: Floats, estimated: Floats) -> tuple[float, float, float]:
    """Sum of the measured over sum of the estimated, and its 95 % interval; infinite with one pair alone.

    The usual large-sample variance of a ratio: residuals about the line through the origin over the squared sum of the
    estimated, with n - 1 (Cochran, Sampling Techniques, 3rd ed., ch. 6, from memory), and Student's t.
    """
    ratio = float(measured.sum() / estimated.sum())
    n = len(measured)
    if n < 2:
        return ratio, -np.inf, np.inf
    spread = np.sqrt(n * ((measured - ratio * estimated) ** 2).sum() / (n - 1)) / estimated.sum()
    half = float(t_quantile((1 + LEVEL) / 2, n - 1) * spread)
    return ratio, ratio - half, ratio + half


def sheet_runs(log: MachineLog, plant: PlantInputs) -> pd.DataFrame:
    """Every logged run of a sheet: program, family, measured_s, estimated_s, start_s.

    A run is the running time from one loading, unloading, changeover or waiting to the next: stops and breaks part no
    run, and are no part of it. A run in which some time cannot be told is left out.
    """
    table = log.stretches
    stretch, program = table["told"].to_numpy(), table["program"].to_numpy()
    inside = np.isin(stretch, (RUNNING, CANNOT_TELL))
    between = np.isin(stretch, BETWEEN_RUNS)
    changed = np.concatenate([[True], program[1:] != program[:-1]])
    behind = np.concatenate([[True], stretch[:-1] == CANNOT_TELL])
    run = np.cumsum(between | changed)
    length = (table["end_s"] - table["start_s"]).to_numpy()
    frame = pd.DataFrame({"run": run, "program": program, "start_s": table["start_s"],
                          "measured_s": np.where(stretch == RUNNING, length, 0.0),
                          "unknown": (stretch == CANNOT_TELL) | behind})[inside]  # fmt: skip
    runs = frame.groupby("run").agg(program=("program", "first"), start_s=("start_s", "first"),
                                    measured_s=("measured_s", "sum"), unknown=("unknown", "any"))  # fmt: skip
    estimates = {one.program_id: one.run_s for one in run_estimates(plant)}
    runs = runs[~runs["unknown"] & (runs["measured_s"] > 0) & runs["program"].isin(estimates)].drop(columns="unknown")
    runs["estimated_s"] = runs["program"].map(estimates).astype(float)
    runs["family"] = runs["program"].map({p.program_id: p.family for p in plant.programs})
    return runs.reset_index(drop=True)


def stops(log: MachineLog) -> pd.DataFrame:
    """Every stop: start_s, cause (cannot tell where no condition names it), minutes of worked time, known, attended.

    ``known`` is false where its end cannot be told: a silence, or the end of the log. Stretches of one stop that only a
    break or a closed time parts are one stop.
    """
    table = log.stretches[log.stretches["state"] != CLOSED]
    is_stop = (table["state"] == STOPPED).to_numpy()
    number = np.cumsum(is_stop & ~np.concatenate([[False], is_stop[:-1]]))
    own = table[is_stop].assign(number=number[is_stop])
    last = np.concatenate([is_stop[1:] < is_stop[:-1], [True]])[is_stop]
    follows = np.append(table["state"].to_numpy()[1:], CANNOT_TELL)[is_stop]
    own["known"] = ~(last & (follows == CANNOT_TELL))
    own["cause"] = own["cause"].where(own["cause"] != "", None)
    found = own.groupby("number").agg(start_s=("start_s", "first"), end_s=("end_s", "last"), cause=("cause", "first"),
                                      known=("known", "all"))  # fmt: skip
    start, end = found["start_s"].to_numpy(), found["end_s"].to_numpy()
    found["minutes"] = overlap_s(start, end, log.worked) / SECONDS_PER_MINUTE
    found["attended"] = overlap_s(start, start + 1e-3, log.attended) > 0
    found["cause"] = found["cause"].fillna(CANNOT_TELL)
    return found.drop(columns="end_s").reset_index(drop=True)


def exposures(log: MachineLog, cause: str) -> pd.DataFrame:
    """Running hours until each stop of a cause, or until they end without one: start_s, hours, stopped, attended.

    Each begins at a stop of the cause, at a shift's start or behind time that cannot be told; without a stop it ends,
    censored, at the shift's end (of a night: in the morning), at a silence, or at the end of the log.
    """
    table = log.stretches
    found = stops(log)
    events = found.loc[found["cause"] == cause, "start_s"].to_numpy()
    unknown = table[table["state"] == CANNOT_TELL]
    cuts = np.concatenate([log.shift_ends_s, np.array(log.attended, float).reshape(-1, 2)[:, 0], unknown["start_s"],
                           [table["end_s"].iloc[-1]]])  # fmt: skip
    moments = np.concatenate([events, cuts])
    kind = np.concatenate([np.ones(len(events), bool), np.zeros(len(cuts), bool)])
    order = np.lexsort((~kind, moments))
    moments, kind = moments[order], kind[order]
    running = table[table["state"] == RUNNING]
    passed = passed_s(list(zip(running["start_s"], running["end_s"], strict=True)), moments)
    hours = np.diff(passed, prepend=0.0) / SECONDS_PER_HOUR
    before = np.concatenate([[table["start_s"].iloc[0]], moments[:-1]])
    inside = overlap_s(before, moments, log.attended) > 0
    result = pd.DataFrame({"start_s": before, "hours": hours, "stopped": kind, "attended": inside})
    return result[(result["hours"] > 0) | result["stopped"]].reset_index(drop=True)
