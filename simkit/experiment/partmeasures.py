"""What leaves the machine: lifts by hand, stacks, skeletons, slugs, what waits at the bench, and picks that fail."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_HOUR
from simkit.cell.openstacks import WHY_TAKEN
from simkit.cell.trace import MachineStates, Trace
from simkit.experiment.tables import Table, table_of
from simkit.process.shifts import Span
from simkit.process.workload import Workload

Measures = dict[str, float]


def part_totals(trace: Trace, workload: Workload, by_made: Floats, by_lost: Floats) -> Measures:
    """Lifts, stacks, skeletons, slugs and entries of the whole run; good and lost sheets by program."""
    entries = {"cell_entries": float(sum(len(log.entered_at_s) for log in trace.machines))}
    return _lifts(workload, by_made, by_lost) | _scrap(workload, by_made, by_lost) | _pallets(trace) | entries


def _lifts(workload: Workload, by_made: Floats, by_lost: Floats) -> Measures:
    """By hand: sheets loaded by people (heavy ones only without a lifter), parts broken out, skeletons carried away.

    A lost sheet is loaded, and carried away whole. What the device puts on its pallet, nobody carries; what went down
    the chute, nobody lifts unless the plant says that somebody sorts it.
    """
    tables, machine = workload.tables, workload.plant.settings.machine
    flows = tables.flows
    lifted = tables.sheet_kg <= machine.one_person_kg if machine.lifter else np.ones(len(flows), bool)
    sheets = (by_made + by_lost) * (lifted if workload.who["load"] != "machine" else 0.0)
    chute_kg = np.array([flow.chute_kg / flow.chute if flow.chute else 0.0 for flow in flows])
    handled = by_made * (np.array([flow.benched for flow in flows]) + tables.sorted_by_hand)
    handled_kg = by_made * (np.array([flow.benched_kg for flow in flows]) + tables.sorted_by_hand * chute_kg)
    left = by_made * np.array([not flow.leaves_skeleton for flow in flows], float)
    skeletons_kg = left * tables.skeleton_kg + by_lost * tables.sheet_kg
    found = {
        "lifts_sheets": float(sheets.sum()), "lifted_sheets_kg": float((sheets * tables.sheet_kg).sum()),
        "lifts_parts": float(handled.sum()), "lifted_parts_kg": float(handled_kg.sum()),
        "lifts_skeletons": float((left + by_lost).sum()), "lifted_skeletons_kg": float(skeletons_kg.sum()),
    }  # fmt: skip
    return found | {
        "lifts_by_hand": found["lifts_sheets"] + found["lifts_parts"],
        "lifted_kg": found["lifted_sheets_kg"] + found["lifted_parts_kg"],
    }


def _scrap(workload: Workload, by_made: Floats, by_lost: Floats) -> Measures:
    """Where the mass of sheets goes that does not become parts: slugs by the bin, all else with the skeletons."""
    tables = workload.tables
    skeleton_kg = by_made * tables.skeleton_kg + by_lost * tables.sheet_kg
    slug_kg, materials = by_made * tables.slug_kg, workload.plant.materials
    found = {"slug_kg": float(slug_kg.sum()), "skeleton_kg": float(skeleton_kg.sum())}
    for metal in dict.fromkeys(material.metal for material in materials):
        found[f"slug_kg_{metal}"] = float(slug_kg[[materials[row].metal == metal for row in tables.material]].sum())
    return found


def check_mass(measures: Measures) -> None:
    """Raise AssertionError unless all sheets used, in kg, are parts, skeletons and slugs."""
    used_kg = measures["material_kg"]
    found_kg = measures["parts_kg"] + measures["skeleton_kg"] + measures["slug_kg"]
    if abs(used_kg - found_kg) > 1e-9 * max(used_kg, found_kg, 1.0):
        raise AssertionError(f"sheets of {used_kg} kg were used, parts, skeletons and slugs weigh {found_kg} kg")


def _pallets(trace: Trace) -> Measures:
    """Stacks of parts taken away, by why they went; skeletons that a device put down, and full pallets of them."""
    measures = {f"stacks_taken_{why}": float(trace.stacks_taken.get(why, 0)) for why in WHY_TAKEN}
    measures["stacks_exchanged"] = float(sum(trace.stacks_taken.values()))
    measures["skeletons_by_device"] = float(sum(put for put, _ in trace.skeletons))
    measures["skeleton_pallets"] = float(sum(filled for _, filled in trace.skeletons))
    return measures


def bench_totals(trace: Trace, span: Span, waiting: Table) -> Measures:
    """Share of time that bench places are taken, sheets there on average, and what waits when the day's people come.

    ``waiting`` are the mornings of the run.
    """
    level = trace.bench_level
    length_s = max(span[1] - span[0], 1e-9)
    moments = np.array([row[0] for row in level] + [trace.end_s])
    held = np.array([row[1] for row in level], float)
    inside = np.clip(moments[1:], *span) - np.clip(moments[:-1], *span)
    own = waiting[waiting["moment_h"] >= span[0] / SECONDS_PER_HOUR]
    sheets = own["bench"] + own["stack"]
    return {
        "bench_sheets_mean": float((held * inside).sum()) / length_s,
        "bench_utilisation": float(((held > 0) * inside).sum()) / length_s,
        "bench_morning_mean": float(sheets.mean()) if len(sheets) else 0.0,
        "bench_morning_most": float(sheets.max()) if len(sheets) else 0.0,
    }


class PickedSheets(NamedTuple):
    """Good sheets of a machine with picked parts, those on which a pick failed at least once, and how many that would
    be by the closed form 1 - (1 - p)^n."""

    machine: str
    sheets: int
    stopped: int
    expected: float


def pick_table(trace: Trace, workload: Workload) -> Table:
    """Picks by machine, and the causes that fail them at all hours; empty where there is none."""
    stops = workload.plant.stops
    causes = [number for number, row in enumerate(stops) if row.exposure == "pick" and row.acts == "both"]
    if not causes:
        return table_of(PickedSheets, ())
    rates = np.array([min(stops[number].rate, 1.0) for number in causes])
    passes = np.array([np.prod(1.0 - rates * filled) for filled in workload.tables.filled])
    picked = np.array([flow.places_picked for flow in workload.tables.flows], np.int64)
    rows = []
    for machine, log in zip(workload.plant.machines, trace.machines, strict=True):
        program = workload.sheets.program[np.array(log.made, np.int64)]
        made = picked[program]
        expected = float((1.0 - passes[program] ** made).sum())
        rows.append((machine.machine_id, int((made > 0).sum()), len(_stopped(log, causes)), expected))
    return table_of(PickedSheets, rows)


def _stopped(log: MachineStates, causes: list[int]) -> NDArray[np.int64]:
    """Good sheets in whose making one of these causes struck: the sheet that is finished next after the stop."""
    moments = [at for cause, at in zip(log.stop_cause, log.stop_at_s, strict=True) if cause in causes]
    place = np.searchsorted(np.array(log.made_at_s), np.array(moments), side="right")
    return np.unique(place[place < len(log.made)])
