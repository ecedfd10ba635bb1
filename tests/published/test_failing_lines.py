"""Published values of two stations that fail, with a buffer between them: machine and bench, through the whole cell.

A bench does not break down, and the cell knows no breakdown of it. Yet as failures here grow with operation alone, a
part takes one cycle and the repairs that fall into it, one part like another: that time is drawn for each sheet. The
published buffer of N holds the part that the second station works on, and the first never starts a part that finds no
room. The cell's first station starts it, and holds it until a bench place is free, so N are N - 1 places of the bench
and the machine itself. Time unit: one cycle, a minute.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from tests.published.long_run import GUARD, problems
from tests.published.rows import Row
from tests.published.test_queues import MeanRow, measure, per_hour, plant_of
from tests.small_plant import changed_settings

BUZACOTT = "Buzacott 1967; Gershwin, Manufacturing Systems Engineering 1994, ch. 3, from memory; value from the chain"
DUBOIS = "Dubois and Forestier 1982; Gershwin 1994, from memory; value from the densities and masses of the flow"
FAILING = 400
"""Parts of a sample that meet a failure; their repairs are the quantiles in the middle of as many equal chances."""


@dataclass(frozen=True)
class Line:
    """Chances per cycle that a station fails and is repaired, and the buffer."""

    p1: float
    r1: float
    p2: float
    r2: float
    buffer: int


LINES = {
    "3.3a": Line(0.01, 0.1, 0.01, 0.1, 10), "3.3b": Line(0.01, 0.1, 0.01, 0.1, 50),
    "3.3c": Line(0.02, 0.1, 0.01, 0.08, 8), "3.3c swapped": Line(0.01, 0.08, 0.02, 0.1, 8),
    "3.3d": Line(0.05, 0.2, 0.05, 0.2, 5),
}  # fmt: skip


def cycles(fails: float, repaired: float) -> tuple[float, ...]:
    """Cycles of a part: the one that makes it, and with chance ``fails`` a repair of geometric length before it."""
    middle = (np.arange(FAILING) + 0.5) / FAILING
    repairs = np.ceil(np.log1p(-middle) / np.log1p(-repaired))
    return (*[1.0] * round(FAILING / fails - FAILING), *(1.0 + repairs).tolist())


def flow_parts(rate: float, repair: float, part: float) -> tuple[float, ...]:
    """Time of a part of a continuous flow: ``part`` long, stopped at ``rate`` for exponential repairs of this rate."""
    ends = -np.log1p(-np.linspace(0.0, 1.0, FAILING + 1)[1:-1])
    left = np.concatenate([[1.0], (1.0 + ends) * np.exp(-ends), [0.0]])  # of the mean, beyond each quantile
    repairs = -np.diff(left) * FAILING / repair
    return (*[part] * round(FAILING / (rate * part) - FAILING), *(part + repairs).tolist())


def line_plant(first: tuple[float, ...], second: tuple[float, ...], places: int, hours: float) -> PlantInputs:
    """Machine and bench with these samples of minutes a sheet."""
    base = plant_of("q3_1a_no_buffer")
    samples = {"one": first, "two": second}
    rows = tuple(
        dataclasses.replace(row, law="empirical", file=name, unit="min/sheet", typical=float(np.mean(samples[name])))
        for row, name in zip(base.elements[: len(samples)], samples, strict=True)
    )
    run = {"horizon_s": hours * 3600.0, "warmup_s": 20 * 3600.0, "replications": 20}
    settings = changed_settings(base.settings, {"bench": {"places": places}, "run": run})
    return dataclasses.replace(
        base, elements=(*rows, *base.elements[len(rows) :]), sequences=samples, settings=settings
    )


def arguments(name: str) -> dict[str, Any]:
    line = LINES[name]
    plant = line_plant(cycles(line.p1, line.r1), cycles(line.p2, line.r2), line.buffer - 1, 150.0)
    return {"plant": plant, "combinations": ((),), "workers": 1, "progress": False}


@lru_cache
def results_of(name: str) -> Results:
    return run_experiment(**arguments(name))


def made(results: Results) -> Any:
    """Parts per cycle."""
    return per_hour("sheets_in_span")(results) / 60.0


def level(results: Results) -> Any:
    """Mean parts in the buffer: on the bench, in work included, and the one that stands on the machine for it."""
    return measure("bench_sheets_mean")(results) + per_hour("state_blocked_h")(results)


class FailingRow(MeanRow):
    """A long-run mean of one of these lines."""

    def check(self) -> None:
        assert self.read is not None
        found = problems(self.read(results_of(self.case)), self.expected, self.tolerance)
        assert found == [], f"{self.id}: {found} {self.unit} ({self.source})"


EXPECTED = {
    "3.3a": (0.856174931, 5.0), "3.3b": (0.887844689, 25.0), "3.3c": (0.776914506, 3.02088643),
    "3.3c swapped": (0.776914506, 8 - 3.02088643), "3.3d": (0.703448276, 2.5),
}  # fmt: skip
FUNCTION = "simkit.experiment.runner.run_experiment"


def rows(name: str) -> list[FailingRow]:
    """E, and the mean level within a sixteenth of the buffer."""
    parts, mean = EXPECTED[name]
    return [
        FailingRow(f"{name} E", FUNCTION, arguments(name), parts, "parts/cycle", 0.011 * parts, GUARD, BUZACOTT, made,
                   name),
        FailingRow(f"{name} level", FUNCTION, arguments(name), mean, "parts", LINES[name].buffer / 16, GUARD,
                   BUZACOTT, level, name),
    ]  # fmt: skip


# ---- continuous flow, approached by small parts ----


PART = 0.5
"""Units of flow in a part: the machine stops by stops of its own, the bench takes the repairs with the part."""


def flow_arguments(buffer: int) -> dict[str, Any]:
    plant = line_plant((PART,), flow_parts(0.01, 0.1, PART), round(buffer / PART) - 1, 120.0)
    stop = Stop(cause="failure", exposure="running_hour", rate=0.6, repair_law="exponential", repair_min=10.0,
                clears="nobody")  # fmt: skip
    plant = dataclasses.replace(plant, stops=(stop,))
    return {"plant": plant, "combinations": ((),), "workers": 1, "progress": False}


def mean_flow(results: Results) -> float:
    return float(np.mean(made(results))) * PART


FLOW = [
    Row(f"3.4 N={buffer}", FUNCTION, flow_arguments(buffer), expected, "units/unit time", 0.01 * expected,
        "parts of half a unit stand for a flow: 1 %, a third of what the buffer adds", DUBOIS, mean_flow)
    for buffer, expected in ((10, 0.858725762), (20, 0.871369295))
]  # fmt: skip

PUBLISHED: list[Row] = [*(row for name in LINES for row in rows(name)), *FLOW]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def test_samples_have_the_mean_of_their_law() -> None:
    """A cycle and, in p of the parts, a repair of 1 / r: 1 + p / r; exact for the flow, whose parts are bins."""
    for line in LINES.values():
        assert np.mean(cycles(line.p1, line.r1)) == pytest.approx(1 + line.p1 / line.r1, rel=2e-4)
    assert np.mean(flow_parts(0.01, 0.1, PART)) == pytest.approx(PART * (1 + 0.01 / 0.1), rel=1e-9)


# ---- a broken model turns the rows red ----


@pytest.mark.parametrize(
    ("name", "number", "change"),
    [("3.3d", 0, "elements[first].typical*=1.1"), ("3.3d", 1, "elements[second].typical*=1.1"),
     ("3.3c", 0, "elements[first].typical*=1.1"), ("3.3c", 1, "plant.bench.places=9")],
)  # fmt: skip
def test_a_broken_model_turns_the_row_red(name: str, number: int, change: str) -> None:
    row = rows(name)[number]
    assert row.read is not None
    broken = run_experiment(**arguments(name), overrides=(change, "plant.run.horizon_s=360000"))
    found = problems(row.read(broken), row.expected, np.inf)
    assert [text for text in found if "is not" in text]


def test_a_line_with_room_for_one_unit_misses_the_row_of_the_flow() -> None:
    few = ("plant.bench.places=1", "plant.run.replications=8")
    results = run_experiment(**flow_arguments(10), overrides=few)
    assert mean_flow(results) < FLOW[0].expected - FLOW[0].tolerance
