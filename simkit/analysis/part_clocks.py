"""The clocks of a sheet: at the machine, of the person at the bench, and of the picker; which of them is the slowest.

Closed form of two clocks: with somebody at the bench who does nothing else, a sheet takes the longer of machine
(loading, process, pulling out) and bench; where the same person does both, the longer of machine and all the work of
that person. Mean times, every sheet of the order book, by the same arithmetic as the cell; set-up, stops, waiting and
the more sheets that lost yield takes are left out.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.vocabulary import UNLOADING
from simkit.experiment.intervals import Estimate, t_interval
from simkit.plant.conditions import split_unit
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.tables import Element
from simkit.process.draws import DrawnOrders, Draws
from simkit.process.planner import order_hours
from simkit.process.programs import ProgramTables
from simkit.process.workload import Workload, make_workload

ALL = "all"
LEAST_S = 0.5
"""A sheet counts as slower from half a second on: less is rounding."""


@dataclass(frozen=True)
class SheetClocks:
    """Mean seconds of each sheet of the order book: ``program`` is its program's number in the tables.

    ``machine_s`` is loading, process, picks and pulling out; ``process_s`` the process without waiting for picks;
    ``handling_s`` loading and pulling out; ``picks`` parts picked, ``pick_s`` the picker's own sum and ``blocking_s``
    the part of it in which the sheet stands still; ``bench_s`` the work by hand on it, rework
    included.
    """

    families: tuple[str, ...]
    program: NDArray[np.int64]
    machine_s: Floats
    process_s: Floats
    handling_s: Floats
    picks: Floats
    pick_s: Floats
    blocking_s: Floats
    bench_s: Floats
    pickers: int
    shared: bool
    """Whether one and the same person loads and works at the bench."""

    @property
    def family(self) -> NDArray[np.str_]:
        """Family of each sheet."""
        return np.array(self.families, np.str_)[self.program]

    @property
    def mean_pick_s(self) -> float:
        """Seconds of a pick, mean over all picks of the book as if one picker made them; zero without any."""
        total = float(self.picks.sum())
        return float(self.pick_s.sum()) * self.pickers / total if total else 0.0

    @property
    def person_s(self) -> Floats:
        """Seconds of the person who bounds a sheet: at the bench, and at the machine too where it is the same one."""
        return self.bench_s + self.handling_s if self.shared else self.bench_s

    @property
    def cycle_s(self) -> Floats:
        """Seconds a sheet: the slower of machine and person."""
        return np.maximum(self.machine_s, self.person_s)

    @property
    def person_bound(self) -> NDArray[np.bool_]:
        """Sheets whose person is slower than the machine."""
        return np.asarray(self.person_s > self.machine_s + LEAST_S)

    @property
    def pick_bound(self) -> NDArray[np.bool_]:
        """Sheets that stay on the machine for their picks longer than process and standing still explain."""
        waits = self.machine_s - self.handling_s - self.process_s - self.blocking_s
        return np.asarray((self.pick_s > 0) & (waits > LEAST_S))


def book_clocks(plant: PlantInputs) -> SheetClocks:
    """The clocks of every sheet of the order book at mean times."""
    work = _mean_workload(plant)
    times, tables = work.sheets, work.tables
    picks, blocking = (_picked_s(tables, driver)[times.program] for driver in ("pick", "pick_blocking"))
    return SheetClocks(
        families=tuple(program.family for program in plant.programs), program=times.program,
        machine_s=times.handling_s + times.run_s, process_s=times.punch_s + times.form_s + times.cut_s,
        handling_s=times.handling_s,
        picks=np.array([flow.picked for flow in tables.flows], float)[times.program],
        pick_s=picks / max(plant.settings.removal.pickers, 1),
        pickers=max(plant.settings.removal.pickers, 1),
        blocking_s=blocking, bench_s=times.hand_s, shared=shared_person(plant),
    )  # fmt: skip


def shared_person(plant: PlantInputs) -> bool:
    """Whether nobody works at the bench who does not load or unload as well."""
    bench = [set(person.skills) for person in plant.people if "bench" in person.skills]
    return bool(bench) and all(skills & {"load", "unload"} for skills in bench)


def _mean_workload(plant: PlantInputs) -> Workload:
    """The order book with every law at its mean, for an order each, none merged."""
    steady = dataclasses.replace(
        plant, elements=tuple(_at_mean(row) for row in plant.elements), load_faults=(),
        settings=plant.settings.model_copy(
            update={"rules": plant.settings.rules.model_copy(update={"merge_days": 0.0}),
                    "removal": plant.settings.removal.model_copy(update={"yield_loss": 0.0})}
        ),
    )  # fmt: skip
    sheets = np.array([order.sheets for order in plant.orders], np.int64)
    needs = np.array([len(plant.tools_of.get(order.program_id, ())) for order in plant.orders], np.int64)
    number, zero = np.arange(len(sheets)), np.zeros(len(sheets))
    book = DrawnOrders(number, number, sheets, zero, zero, np.zeros(len(sheets), bool),
                     np.cumsum(sheets) - sheets, np.cumsum(needs) - needs)  # fmt: skip
    draws = Draws(0, 0, 1.0, 1.0, book, int(sheets.sum()), int(needs.sum()), 9, order_hours(steady))
    return make_workload(ScenarioInputs("mean times", steady), draws)


def _at_mean(row: Element) -> Element:
    """A row of constant time. A file of values keeps its law, since only the file knows its mean."""
    return row if row.file else dataclasses.replace(row, law="constant", cv=0.0)


def _picked_s(tables: ProgramTables, driver: str) -> Floats:
    """Mean seconds a sheet of the rows counted by picks, by program."""
    rows = [use for use in tables.uses if use.driver == driver and use.state == UNLOADING]
    return np.asarray(sum((use.count * use.law.mean for use in rows), np.zeros(len(tables.programs))), float)


def family_clocks(today: SheetClocks, removal: SheetClocks) -> pd.DataFrame:
    """Clocks by family, the most sheets first, and of all sheets last; ``removal`` are the same sheets with removal.

    ``sheets`` of the family in the book; means of a sheet: ``machine_s``, ``person_s`` and ``person_bound`` today,
    ``removal_s``, ``pick_s`` and ``pick_bound``, the share that waits for its picks, with removal. ``slower`` is the
    share of sheets that take longer with removal than with a person at the bench today.
    """
    family = today.family
    names, counts = np.unique(family, return_counts=True)
    chosen = [(str(names[i]), family == names[i]) for i in np.argsort(-counts, kind="stable")]
    columns = {
        "machine_s": today.machine_s, "person_s": today.person_s, "person_bound": today.person_bound,
        "removal_s": removal.machine_s, "pick_s": removal.pick_s, "pick_bound": removal.pick_bound,
        "slower": removal.cycle_s > today.cycle_s + LEAST_S,
    }  # fmt: skip
    rows = [
        (name, int(own.sum()), *(float(column[own].mean()) for column in columns.values()))
        for name, own in [*chosen, (ALL, np.ones(len(family), bool))] if own.any()
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["family", "sheets", *columns])


# ---- where a benefit ends ----


@dataclass(frozen=True)
class GainBreakEven:
    """Where a gain falls to zero as something gets worse, over the runs.

    ``estimate`` is the mean of the crossings, None unless every run has one within the points simulated; ``below`` and
    ``above`` count runs that gain nothing even at the first point, and that still gain at the last.
    """

    estimate: Estimate | None
    below: int
    above: int
    runs: int


def break_even(points: Sequence[tuple[float, Floats]], unit: str = "") -> GainBreakEven:
    """Find where gains cross zero downwards: ``points`` hold a position and the gain of each run there, ascending.

    Between two points the gain is taken as linear, run by run, so that the interval is one over runs.
    """
    ordered = sorted(points, key=lambda point: point[0])
    places = np.array([place for place, _ in ordered])
    gains = np.array([gain for _, gain in ordered])
    found = [_crossing(places, run) for run in gains.T]
    below, above = sum(place == -np.inf for place in found), sum(place == np.inf for place in found)
    estimate = None if below or above else t_interval(found, unit)
    return GainBreakEven(estimate, below, above, len(found))


def _crossing(places: Floats, gains: Floats) -> float:
    """The first place where a gain is used up: minus infinity if there is none at all, infinity if it lasts."""
    lost = np.flatnonzero(gains <= 0)
    if not len(lost):
        return float("inf")
    at = int(lost[0])
    if at == 0:
        return float(places[0]) if gains[0] == 0 else float("-inf")
    share = gains[at - 1] / (gains[at - 1] - gains[at])
    return float(places[at - 1] + share * (places[at] - places[at - 1]))


def gained_per_sheet_s(today: SheetClocks, removal: SheetClocks) -> float:
    """Mean seconds a sheet that removal saves by the closed form of the clocks; negative where it loses."""
    return float((today.cycle_s - removal.cycle_s).mean())


def pick_elements(plant: PlantInputs) -> tuple[str, ...]:
    """Elements of a pick and of the standing still in it, at the machine."""
    drivers = ("pick", "pick_blocking")
    rows = (row for row in plant.elements if split_unit(row.unit)[1] in drivers and row.state == UNLOADING)
    return tuple(dict.fromkeys(row.element for row in rows))
