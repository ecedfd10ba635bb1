"""Listed intervals and repairs are consumed in the order of start over all machines, by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.cell.trace import Trace
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from tests.cell.bench_plant import NAMES, OPEN, element, machines, order, person, plant, program, run, story
from tests.oracle.compare import first_difference, merged
from tests.oracle.plants import workload_of

LONG = (program("A", 100.0), program("B", 100.0))
NEVER = 1e4


def listed(hours: tuple[float, ...], repairs: tuple[float, ...], **changes: Any) -> PlantInputs:
    """Two machines, two long sheets at each; one cause with lists, cleared by nobody unless told otherwise."""
    cause = {"exposure": "running_hour", "clears": "nobody"} | changes.pop("cause", {})
    stop = Stop(cause="jam", rate=1.0, repair_min=1.0, repair_law="sequence", file="s.csv", **cause)
    built = plant(**{"machines": machines("ab"), "programs": LONG, "orders": (order("1", "A", 2), order("2", "B", 2)),
                     "stops": (stop,), "sequences": {"s.csv": (*hours, *(NEVER,) * 99), "s.csv:repair": repairs},
                     **changes})  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def stopped(trace: Trace, machine: int) -> list[tuple[float, float]]:
    """(from, to) of each stop of a machine, minutes after 06:00."""
    log = trace.machines[machine]
    rows = merged([(NAMES[s], a, b) for s, a, b in zip(log.state, log.start_s, log.end_s, strict=True)])
    return [((a - OPEN) / 60, (b - OPEN) / 60) for state, a, b in rows if state == "stopped"]


def test_the_machine_that_starts_first_takes_the_first_interval() -> None:
    """a loads until 20, b until 1: b takes 6 min, stops at 7 and takes the second at 12; a the third: 32."""
    load = [dataclasses.replace(element("load", minutes, "machine"), applies_to=f"program={name}")
            for name, minutes in (("A", 20.0), ("B", 1.0))]  # fmt: skip
    trace = run(listed((0.1, NEVER, 0.2), (5.0,), elements=tuple(load)))
    assert stopped(trace, 1) == [(7.0, 12.0)]
    assert stopped(trace, 0) == [(32.0, 37.0)]


def test_of_one_moment_the_upper_machine_takes_the_first() -> None:
    trace = run(listed((0.1, 0.2), (5.0,)))
    assert [stopped(trace, row) for row in (0, 1)] == [[(6.0, 11.0)], [(12.0, 17.0)]]


def test_the_next_interval_is_taken_when_the_machine_runs_again_and_not_when_it_fails() -> None:
    """a fails at 6 for 20 min, b at 12 for 2: b runs again first: 3 min (17) and one without end; a at 26: 15 (41)."""
    trace = run(listed((0.1, 0.2, 0.05, NEVER, 0.25), (20.0, 2.0, 1.0, 4.0)))
    assert stopped(trace, 1) == [(12.0, 14.0), (17.0, 18.0)]
    assert stopped(trace, 0) == [(6.0, 26.0), (41.0, 45.0)]


def test_repair_times_go_by_who_is_repaired_first_and_not_by_who_failed_first() -> None:
    """a fails at 6, b at 12; who clears comes at 30 and goes to b, whose order is rush: b takes 3 min, a 7."""
    crew = (dataclasses.replace(person("OP"), skills=("changeover", "load", "unload", "bench")),
            dataclasses.replace(person("TE", "clear"), duties="Mon 06:00-06:30"))  # fmt: skip
    rush = (order("1", "A", 2), order("2", "B", 2, rush=True))
    built = listed((0.2, 0.1), (3.0, 7.0), people=crew, orders=rush, cause={"clears": "clear"},
                   people_rules={"priorities": ("rush", "clear")})  # fmt: skip
    trace = run(built)
    on = [row for row in (0, 1) if any(job.rush and job.number in trace.machines[row].job for job in trace.jobs)]
    assert on == [0], "the rush order goes first, so to the upper machine"
    assert stopped(trace, 1) == [(6.0, 40.0)], "failed first, repaired second: 33 to 40"
    assert stopped(trace, 0) == [(12.0, 33.0)]


def test_calendar_hours_of_a_list_count_from_the_start_and_again_from_the_end_of_a_stop() -> None:
    """a after 6.1 h, at 06:06, for 10 min; b after 6.2 h, at 12, for 1, then 3 min on: 16; a 15 min on from 16: 31."""
    trace = run(listed((6.1, 6.2, 0.05, 0.25), (10.0, 1.0, 1.0, 1.0), cause={"exposure": "calendar_hour"}))
    assert stopped(trace, 1) == [(12.0, 13.0), (16.0, 17.0)]
    assert stopped(trace, 0) == [(6.0, 16.0), (31.0, 32.0)]


def test_listed_counts_are_counts() -> None:
    """After two sheets of 10 min, then three: stops at 20 and, the first sheet after it counted, at 20 + 30."""
    built = listed((2.0, 3.0), (1.0,), machines=machines("a"), orders=(order("1", "A", 6),),
                   programs=(program("A", 10.0), program("B", 10.0)), cause={"exposure": "sheet"})  # fmt: skip
    assert stopped(run(built), 0) == [(20.0, 21.0), (51.0, 52.0)]


def test_a_listed_repair_of_no_time_still_needs_somebody() -> None:
    """The stop at 6 waits for who clears, until 30; then it takes no time."""
    crew = (person("OP", "changeover", "load", "unload", "bench"),
            dataclasses.replace(person("TE", "clear"), duties="Mon 06:00-06:30"))  # fmt: skip
    trace = run(listed((0.1,), (0.0,), people=crew, machines=machines("a"), orders=(order("1", "A"),),
                       cause={"clears": "clear"}))  # fmt: skip
    assert stopped(trace, 0) == [(6.0, 30.0)]
    assert story(trace)[-1] == ("run", 124.0)
