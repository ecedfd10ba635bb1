"""The operator stages the next order's material while the machine runs: what an option says, and what follows."""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.plant.options import Edit, Option
from simkit.plant.scenarios import make_scenario
from simkit.process.draws import make_draws
from simkit.process.workload import make_workload
from tests.cell.bench_plant import order, person, plant, story, work
from tests.oracle.compare import first_difference

STAGES = Option(
    id="S", name="The operator stages the next material", kind="low_capital", owner="anybody",
    capital=dict.fromkeys(("low", "quoted", "high"), 0.0),
    edits=[Edit(path="elements[fetch].state", op="set", value="outside"),
           Edit(path="elements", op="add_row", value={"element": "set_down", "task_of": "material", "typical": 1.0,
                "unit": "min/material_change", "state": "changeover"})],
)  # fmt: skip


def told(options: tuple[str, ...], **changes: Any) -> Trace:
    """Two orders of one sheet, of two materials; a fetch takes 6 min. With options or without."""
    cell = {"orders": (order("1", "A"), order("2", "B")), "times": {"fetch": 6.0}, "people": (person("OP"),), **changes}
    built = dataclasses.replace(plant(**cell), options=(STAGES,))
    workload = make_workload(make_scenario(built, options), make_draws(built, 1, 0))
    assert first_difference(workload) == ""
    return simulate(workload)


def test_the_fetch_is_done_by_the_operator_while_the_sheet_before_runs() -> None:
    """Order 2 is committed as the sheet of order 1 starts: today its 6 min stand, staged 1 min does; both are his."""
    assert story(told(())) == [("changeover", 6.0), ("run", 16.0), ("changeover", 22.0), ("run", 32.0)]
    staged = told(("S",))
    # the first order's material has nothing to be staged behind
    assert story(staged) == [("waiting_material", 6.0), ("changeover", 7.0), ("run", 17.0), ("changeover", 18.0),
                             ("run", 28.0)]  # fmt: skip
    assert work(staged, 0) == [("material", 0.0, 6.0), ("material", 6.0, 7.0), ("material", 7.0, 13.0),
                               ("material", 17.0, 18.0)]  # fmt: skip


def test_what_does_not_fit_behind_the_sheet_is_waited_for() -> None:
    """A fetch of 14 min from 15 to 29: the run ends at 25."""
    staged = told(("S",), times={"fetch": 14.0})
    assert story(staged)[3:] == [("waiting_material", 29.0), ("changeover", 30.0), ("run", 40.0)]


def test_an_operator_who_is_needed_elsewhere_stages_later() -> None:
    """He breaks parts out of the sheet before, from 17 to 25, while the second one runs; then he fetches."""
    rows = {"orders": (order("1", "A", 2), order("2", "B")), "times": {"fetch": 6.0, "bench": 8.0}}
    staged = told(("S",), **rows)
    # sheets run 7-17 and 17-27; order 2 is committed at 17, as the bench work is asked for, which comes first
    assert work(staged, 0)[2:5] == [("bench", 17.0, 25.0), ("material", 25.0, 31.0), ("material", 31.0, 32.0)]
    assert story(staged)[3:5] == [("waiting_material", 31.0), ("changeover", 32.0)]
