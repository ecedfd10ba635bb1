"""Causes of attended and of unattended hours: each has its own exposure clock, and says whether it needs entry."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.cell.trace import RUN
from simkit.experiment.expectation import losses
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from tests.cell.bench_plant import MINUTE, OPEN, order, person, plant, program, run, story
from tests.cell.test_night_queue import ALLOWED
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of


def cause(acts: str, file: str, **changes: object) -> Stop:
    return Stop(**{"cause": "jam", "acts": acts, "exposure": "running_hour", "rate": 1.0, "repair_law": "sequence",
                   "repair_min": 1, "file": file, **changes})  # fmt: skip


def jammed(**changes: object) -> PlantInputs:
    """Sheets of an hour: by day a jam after each three hours run by day, at night after each two run at night."""
    built = plant(**{
        "orders": (order("1", "A", 40),), "programs": (program("A", 60.0), program("B", 60.0)), "program_parts": (),
        "stops": (cause("attended", "day"), cause("unattended", "night")), "stack": {"places": 90},
        "sequences": {"day": (3.0,), "day:repair": (30.0,), "night": (2.0,), "night:repair": (6.0,)},
        "people": (person("OP"), person("BE", "bench", "second_person")), "calendar": {"night": ALLOWED}, **changes,
    })  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def test_each_clock_grows_in_its_own_hours() -> None:
    """By day stops at 3 h and 6 h of running; the 2 h left of the shift are 1 h of the third gap. From 14:00 on 2 h."""
    log = run(jammed()).machines[0]
    moments = [(moment - OPEN) / (60 * MINUTE) for moment in log.stop_at_s[:5]]
    assert log.stop_cause[:5] == [0, 0, 1, 0, 0]
    # 09:00, 12:30; the shift ends at 14:00 after one hour of the third gap, in a sheet begun by day that ends at 14:00;
    # 16:00 at night; cleared 06:06 next morning, two hours of the third gap left: 08:06, then three hours: 11:36
    assert moments == pytest.approx([3.0, 6.5, 10.0, 26.1, 29.6])


def test_a_sheet_that_runs_when_people_leave_belongs_to_both_hours() -> None:
    """Sheets of 50 min: the tenth begins at 13:30 and is alone from 14:00 on; two hours later, at 16:00, a jam."""
    quiet = (cause("unattended", "night"),)
    built = jammed(programs=(program("A", 50.0), program("B", 60.0)), stops=quiet)
    log = run(built).machines[0]
    assert (log.stop_at_s[0] - OPEN) / MINUTE == pytest.approx(480.0 + 120.0)


def test_a_cause_of_the_day_stops_no_sheet_after_the_people_have_left() -> None:
    """Sheets of 50 min and a jam after 8.1 h run by day, which would fall on 14:06: the tenth sheet, begun at 13:30,
    is done undisturbed, and the 6 min left of the gap pass in the morning."""
    late = (cause("attended", "day"),)
    built = jammed(programs=(program("A", 50.0), program("B", 60.0)), stops=late,
                   sequences={"day": (8.1,), "day:repair": (30.0,)})  # fmt: skip
    log = run(built).machines[0]
    assert (log.stop_at_s[0] - OPEN) / MINUTE == pytest.approx(24 * 60.0 + 6.0)


def test_what_is_cleared_at_the_panel_needs_no_entry() -> None:
    jam = Stop(cause="jam", exposure="sheet", rate=1.0, repair_min=2.0)
    cell = {"orders": (order("1", "A"),), "stops": (jam,), "removal": {"pickers": 1}, "calendar": {},
            "times": {"entry": 4.0, "pick": 0.0}, "programs": (program("A", 10.0, handover="removal"),
                                                               program("B", 10.0))}  # fmt: skip
    inside, panel = (plant(**cell | {"stops": (Stop(cause="jam", exposure="sheet", rate=1.0, repair_min=2.0,
                                                    needs_entry=needs),)}) for needs in (True, False))  # fmt: skip
    assert first_difference(workload_of(panel)) == ""
    assert ("stopped", 6.0) in story(run(inside))
    assert ("stopped", 2.0) in story(run(panel))
    assert len(run(inside).machines[0].entered_at_s) == len(run(panel).machines[0].entered_at_s) + 1


def test_expected_losses_count_the_hours_of_each_rate() -> None:
    """No jam by day; at night one jam per running hour loses a sheet: as many as hours run there."""
    rows = (cause("attended", "", rate=1e-9, repair_law="constant"),
            cause("unattended", "", rate=0.4, repair_law="constant", sheets_scrapped=1.0))  # fmt: skip
    built = jammed(stops=rows)
    work, trace = workload_of(built), run(built)
    log = trace.machines[0]
    at_night = sum(end - start for state, start, end in zip(log.state, log.start_s, log.end_s, strict=True)
                   if state == RUN and not any(a <= start < b for a, b in trace.attended_spans))  # fmt: skip
    assert at_night > 0
    assert np.isclose(losses(trace, work).sheets.sum(), 0.4 * at_night / 3600)
