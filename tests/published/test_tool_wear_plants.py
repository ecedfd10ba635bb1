"""Published values of tool wear through the whole cell: one tool, one machine, one second a hit, a full queue.

A tool is swapped before the sheet that would take it past its limit, or fails when its drawn life ends; the sheet
is lost then and made again with all its hits. Sheets here are whole fractions of the limit, so a lost sheet biases
nothing: its hits are the failed tool's last ones, and the new tool starts a sheet as every new tool does.

- Refit and shim are what a planned change takes; a failure also waits for the grinding, since there is no spare.
- Orders have one sheet, so the limit is looked at between orders, where a tool that is due was ground ahead; in the
  middle of an order a planned change waits for the grinding too (by hand in tests/cell).
- A run ends in the middle of a use: hits per change come out high by about half a change in all of a replication,
  0.08 % of 625 changes, well inside the widths asked for.
- The widths are those of 10,000 to 13,000 changes. Twenty times as many would give F to 0.5 % and take minutes;
  these tell a life a fifth longer from the right one, which is what they are for.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.experiment.replication import draw_luck
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import StartRow
from simkit.process.workload import make_workload
from tests.published.long_run import GUARD, REPLICATIONS, problems
from tests.published.rows import Row
from tests.published.test_queues import PLANTS, TODAY, MeanRow, arguments, mean_rows, measure
from tests.published.test_tool_wear import BARLOW, ERLANG, GEOMETRIC, WORN_ERLANG

MACHINES = 10
STARTS = 2000
"""Worn tools that are looked at, one a replication."""
COUNTED = "q5_4_counted_hits"
UNEVEN = 1 - math.exp(-((400 / 1000) ** 2.5))
"""Share that fails in case 5.1 when a limit of 400 is kept, worked by hand."""


def changes(results: Results) -> Any:
    """Tools changed, one value per replication."""
    return results.values(TODAY, "tools_reground") + results.values(TODAY, "tools_replaced")


def failed(results: Results) -> Any:
    """Share of the changes that came in the middle of a sheet."""
    return results.values(TODAY, "tools_worn_out") / changes(results)


def hits(results: Results) -> Any:
    """Hits done, a second each."""
    return results.values(TODAY, "state_punching_h") * 3600.0


def span_s(results: Results) -> Any:
    """Seconds of the span."""
    return results.values(TODAY, "span_weeks") * 7 * 86400.0


def age_rows(number: str, case: str, expected: tuple[float, ...], widths: tuple[float, ...]) -> list[MeanRow]:
    """F(T), m(T), availability and changes per unit time of an age replacement."""
    read = (failed, lambda results: hits(results) / changes(results), measure("machine_utilisation"),
            lambda results: changes(results) / span_s(results))  # fmt: skip
    names = {"cell F(T)": "share", "cell m(T)": "hits", "cell availability": "share", "cell changes": "1/s"}
    rows = zip(names.items(), expected, widths, read, strict=True)
    return mean_rows(number, case, BARLOW, {name: (e, unit, width, r) for (name, unit), e, width, r in rows})


THROUGH_RESULTS = [
    *age_rows("5.1", "q5_1_limit_500", (0.162033114, 475.995908, 0.993122640, 0.00208641004),
              (0.06, 0.004, 0.0002, 0.004)),
    *age_rows("5.2", "q5_2_limit_300", (0.302323674, 267.576763, 0.965592005, 0.00360865418),
              (0.03, 0.005, 0.0007, 0.005)),
    *mean_rows("5.5", "q5_5_five_lives", ERLANG, {
        "cell changes of five mean lives": (4.75, "changes", 0.02,
                                            lambda results: results.values(TODAY, "tools_worn_out") / MACHINES),
    }),
]  # fmt: skip


# ---- counted hits: read from the trace, whole hits of each tool ----


@dataclass(frozen=True)
class CountedUse:
    """Of one replication: changes, failures, hits as the clock has them, and the rest of the hits that failed."""

    changes: int
    failed: int
    hits: float
    begun: float


def counted(trace: Trace) -> CountedUse:
    """Add up a run without any time between sheets: a failure falls so many seconds after the sheet's start."""
    log, wear = trace.machines[0], trace.tools[0].wear
    ends = np.sort(np.concatenate([[0.0], log.made_at_s, log.stop_at_s]))
    stops = np.asarray(log.stop_at_s)
    in_sheet = stops - ends[np.searchsorted(ends, stops) - 1]
    total = sum(wear.reground.values()) + sum(wear.replaced.values())
    return CountedUse(total, wear.worn_out, trace.end_s, float(np.sum(np.ceil(in_sheet) - in_sheet)))


@lru_cache
def counted_of(overrides: tuple[str, ...] = ()) -> tuple[CountedUse, ...]:
    """The replications of the case with counted hits."""
    scenario = make_scenario(read_plant(PLANTS / COUNTED), (), overrides)
    run = scenario.plant.settings.run
    found = []
    for replication in range(REPLICATIONS):
        draws = draw_luck(scenario, run.seed, replication, run.weeks, 1.0)
        found.append(counted(simulate(make_workload(scenario, draws))))
    return tuple(found)


@dataclass(frozen=True)
class CountedRow(Row):
    """A mean over the replications with counted hits; ``tolerance`` is the widest 95 % half-width."""

    take: Callable[[CountedUse], float] = lambda use: 0.0

    def found(self, overrides: tuple[str, ...] = (), widest: float = math.inf) -> list[str]:
        """What is wrong with the mean of this case with overrides."""
        return problems([self.take(use) for use in counted_of(overrides)], self.expected, widest)

    def check(self) -> None:
        """Compare; fails with what is wrong and the source."""
        found = self.found(widest=self.tolerance)
        assert found == [], f"{self.id}: {found} {self.unit} ({self.source})"


FAILED = 1 - 0.999**500
THROUGH_TRACE = [
    CountedRow(f"5.4 cell {name}", "simkit.cell.run.simulate", {"case": COUNTED}, expected, unit, width * expected,
               GUARD, GEOMETRIC, None, take)
    for name, expected, unit, width, take in (
        ("failed", 0.393621055, "share", 0.03, lambda use: use.failed / use.changes),
        ("hits per tool", 393.621055, "hits", 0.009, lambda use: (use.hits + use.begun) / use.changes),
        ("hits counted whole", 393.621055 + FAILED / math.log(0.999), "hits", 0.035,
         lambda use: use.begun / use.changes),
    )
]  # fmt: skip
"""The last: whole hits less hits by the clock, F / p - F / (-ln(1 - p)), about half a hit of each failed tool."""

PUBLISHED: list[Row] = [*THROUGH_RESULTS, *THROUGH_TRACE]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


# ---- what the cell does where sheets are no whole fraction of the limit ----

SHORTER = 0.5


@lru_cache
def other_results(case: str, overrides: tuple[str, ...]) -> Results:
    """A case with overrides, over half the time (5.5 keeps its five lives)."""
    inputs = arguments(case)
    horizon_s = inputs["plant"].settings.run.horizon_s
    shorter = () if case.startswith("q5_5") else (f"plant.run.horizon_s={horizon_s * SHORTER}",)
    return run_experiment(**inputs, overrides=(*overrides, *shorter))


def test_a_limit_that_no_whole_sheets_reach_is_kept_from_below() -> None:
    """Sheets of 200 hits and a limit of 500: the third would pass it, so the tool leaves at 400 hits."""
    sheet = ("programs[P].hits_per_sheet=200", "program_tools[P].hits_per_sheet=200")
    shares = failed(other_results("q5_1_limit_500", sheet))
    assert problems(shares, UNEVEN, 0.1 * UNEVEN) == []
    assert problems(shares, 0.162033114, np.inf) != []


@pytest.mark.parametrize(("worn_hits", "agrees"), [(600.0, True), (0.0, False)])
def test_a_tool_that_starts_worn_has_the_lives_of_tools_that_lasted_so_long(worn_hits: float, agrees: bool) -> None:
    """Case 5.5 over one mean life, from 600 of 1000 hits on, at one machine, the one that start.csv describes.

    New tools need a quarter fewer changes; lives drawn without regard to the start, a quarter more.
    """
    inputs = arguments("q5_5_five_lives")
    plant, start = inputs["plant"], (StartRow(what="turret", item="T", station=1, hits=worn_hits),)
    inputs["plant"] = dataclasses.replace(plant, start=start, machines=plant.machines[:1])
    inputs["replications"] = STARTS
    results = run_experiment(**inputs, overrides=("plant.run.horizon_s=1000",))
    found = problems(results.values(TODAY, "tools_worn_out"), WORN_ERLANG, 0.05)
    assert (found == []) == agrees


# ---- a broken model turns every row red ----

LONGER = "tools[T].life_hits*=1.2"
BRIEF = "plant.run.horizon_s=100000"
SLOWER = "elements[grind].typical*=1.5"


@pytest.mark.parametrize("row", THROUGH_RESULTS, ids=str)
def test_a_broken_model_turns_the_row_red(row: MeanRow) -> None:
    assert row.read is not None
    broken = other_results(row.case, (SLOWER if row.id.endswith("availability") else LONGER,))
    found = problems(row.read(broken), row.expected, np.inf)
    assert [text for text in found if "is not" in text]


@pytest.mark.parametrize("row", THROUGH_TRACE, ids=str)
def test_a_longer_life_turns_counted_hits_red(row: CountedRow) -> None:
    assert [text for text in row.found((LONGER, BRIEF)) if "is not" in text]


def test_hits_by_the_clock_are_not_counted_hits() -> None:
    halves = dataclasses.replace(THROUGH_TRACE[-1], take=lambda use: 0.6 * use.failed / use.changes)
    assert halves.found() != []
