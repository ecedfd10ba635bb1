"""The last minutes before a night, and orders kept back for it, by hand: the day ends at 14:00, the night at 06:00."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.base.vocabulary import SKILLS
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Upkeep
from tests.cell.bench_plant import exchanges, made, order, person, plant, program, run, story, use, work
from tests.cell.test_night_queue import ALLOWED
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of


def night_plant(*tasks: str, minutes: float = 60.0, **changes: Any) -> PlantInputs:
    """One order of 20 sheets of an hour unless told otherwise, and a stack that takes them at night."""
    rules = {"before_leaving": tasks, "before_leaving_min": minutes, "first_piece": "never"} | changes.pop("rules", {})
    built = plant(**{
        "orders": (order("1", "A", 20),), "programs": (program("A", 60.0), program("B", 60.0)), "program_parts": (),
        "people": (person("OP"), person("BE", "bench", "second_person")), "calendar": {"night": ALLOWED},
        "stack": {"places": 90}, "rules": rules, **changes,
    })  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def waited_at_night(built: PlantInputs) -> float:
    """Minutes after 06:00 at which the first night ends, by a wait for people."""
    return (run(built).machines[0].night_wait_s[0] - 6 * 3600) / 60


# --- the first order of the night -----------------------------------------------------------------

DAY, BIG, SMALL = "D", "G", "S"
SET_UP = {
    "orders": (order("1", DAY), order("2", BIG, 6), order("3", SMALL, 10)), "program_parts": (),
    "programs": (program(DAY, 440.0), program(BIG, 60.0), program(SMALL, 5.0)), "times": {"fixed": 10.0, "first": 5.0},
    "rules": {"first_piece": "each_order"},
}  # fmt: skip
"""The day order is out at 13:30 (10 min set-up, 440 min, 5 min first piece, so 455 min: 13:35)."""


def test_as_ranked_a_long_set_up_is_cut_off_by_the_end_of_the_shift() -> None:
    """Set-up 13:35 to 13:45, its first sheet until 14:45, then its first piece waits for the morning."""
    built = night_plant(**SET_UP)
    assert ("run", 525.0) in story(run(built))
    assert waited_at_night(built) == 525.0


def test_before_leaving_the_longest_order_comes_whose_first_piece_is_still_released() -> None:
    """The big one would need 75 min of the 25 left; the small one 20: released at 13:55, its last sheet
    is out at 14:40. Then the big one is set up by preparation and runs its first sheet until 15:40.
    """
    built = night_plant("first_order", **SET_UP)
    told = story(run(built))
    assert [row for row in told if 455.0 < row[1] <= 580.0] == [
        ("changeover", 465.0), ("run", 470.0), ("first_piece", 475.0), ("run", 580.0)]  # fmt: skip
    assert waited_at_night(built) == 580.0


def test_if_none_fits_what_needs_nobody_comes_and_else_the_rule_decides() -> None:
    slow = SET_UP | {"times": {"fixed": 25.0, "first": 5.0}}
    assert run(night_plant("first_order", **slow)).jobs[1].started_s < run(night_plant(**slow)).jobs[2].started_s
    before = run(night_plant("first_order", minutes=10.0, **SET_UP)).jobs[1].started_s
    assert before == run(night_plant(**SET_UP)).jobs[1].started_s  # the order changes 25 min before the end


def test_a_rush_order_goes_first_all_the_same() -> None:
    rows = (order("1", DAY), order("2", BIG, 6, rush=True), order("3", SMALL, 10))
    trace = run(night_plant("first_order", **SET_UP | {"orders": rows}))
    assert trace.jobs[1].started_s < trace.jobs[2].started_s


# --- care, output, material, tools -----------------------------------------------------------------

CARE = {"upkeep": (Upkeep(task="nozzle check", exposure="running_hour", interval=4.0, duration_min=10.0),)}


@pytest.mark.parametrize(("tasks", "ended"), [((), 490.0), (("care",), 680.0)])
def test_care_done_before_leaving_is_due_later(tasks: tuple[str, ...], ended: float) -> None:
    """Due at 10:00 after four hours; next at 14:10. Done at 13:10 instead, it is due at 17:20."""
    built = night_plant(*tasks, **CARE)
    assert waited_at_night(built) == ended
    cared = [row for row in work(run(built), 0) if row[0] == "upkeep"]
    assert cared[1] == (("upkeep", 430.0, 440.0) if tasks else ("upkeep", 1440.0, 1450.0))


def test_what_does_not_fit_stays_undone() -> None:
    """Seventy minutes of care do not fit into the fifty left at 13:10 (and 10:00 to 11:10 was the first time)."""
    slow = {"upkeep": (Upkeep(task="nozzle check", exposure="running_hour", interval=4.0, duration_min=70.0),)}
    assert work(run(night_plant("care", **slow)), 0) == work(run(night_plant(**slow)), 0)


def test_nobody_is_waited_for() -> None:
    """At 13:10 and later the only person is busy at the bench: the machine goes on with its sheets."""
    lone = {"people": (person("OP"),), "times": {"bench": 100.0}, "bench": {"places": 9}, **CARE}
    assert story(run(night_plant("care", **lone))) == story(run(night_plant(**lone)))


@pytest.mark.parametrize(("tasks", "sheets", "pallet"), [((), 2, []), (("output",), 7, [("pallet", 420.0, 425.0)])])
def test_a_stack_emptied_before_leaving_takes_more(tasks: tuple[str, ...], sheets: int, pallet: list[Any]) -> None:
    """A stack of eight that is always used, and a bench that takes 4 h a sheet: of seven sheets made by 13:00 one is
    done, one in work, five lie there. With the sheet of 14:00 two more fit; with the five set aside, seven."""
    cell = {"stack": {"places": 8, "use": "always"}, "bench": {"places": 1}, "times": {"bench": 240.0, "stack": 5.0}}
    operator = person("OP", *(skill for skill in SKILLS if skill != "bench"))
    trace = run(night_plant(*tasks, people=(operator, person("BE", "bench", "second_person")), **cell))
    assert [moment for _, moment in made(trace) if 480.0 < moment < 1440.0] == [540.0 + 60.0 * n for n in range(sheets)]
    assert [row for row in work(trace, 0) if row[0] == "pallet" and row[1] < 1440.0] == pallet


def test_a_full_pack_stands_there_for_the_night() -> None:
    """Packs of ten sheets of 30 min: the second begins at 11:05 and ends at 16:05, one put there at 13:05 at 18:10."""
    packs = {"programs": (program("A", 30.0), program("B", 60.0)), "orders": (order("1", "A", 60),),
             "times": {"pack": 5.0}}  # fmt: skip
    materials = tuple(dataclasses.replace(row, sheets_per_pack=10) for row in plant().materials)
    plain, ready = (night_plant(*tasks, materials=materials, **packs) for tasks in ((), ("material",)))
    assert waited_at_night(plain) == 605.0
    assert waited_at_night(ready) == 425.0 + 5.0 + 300.0


def test_tools_of_the_night_are_put_into_the_magazine() -> None:
    """Order 2 needs a tool that is in the cabinet: put in before leaving, the gripper fits it at night."""
    cell = {"orders": (order("1", "A", 9), order("2", "B", 3)), "program_tools": use("B", "T1"),
            "magazine": {"places": {"16": 2}, "contents": ("T0@0.20",)}, "rules": {"night_queue": "prepared"},
            "times": {"tool": 3.0, "gripper": 1.0}}  # fmt: skip
    plain, ready = (run(night_plant(*tasks, **cell)) for tasks in ((), ("magazine",)))
    assert exchanges(plain) == {"tool_load": 1.0}
    assert exchanges(ready) == {"magazine_exchange": 1.0}
    assert ready.jobs[1].finished_s < plain.jobs[1].finished_s


# --- orders kept back -----------------------------------------------------------------------------

LONG, NEW = "L", "N"


def reserved(queue: str, share: float = 0.25, due: int = 3, **changes: Any) -> list[float]:
    """Hours after 06:00 at which a new order, a long proven one and two new ones start; four hours expected."""
    built = night_plant(**{
        "orders": (order("1", NEW, due=1), order("2", LONG, 4, due=due), *(order(n, NEW, due=1) for n in "34")),
        "programs": (program(LONG, 60.0), program(NEW, 120.0, proven=False)), "program_parts": (),
        "rules": {"night_queue": queue, "night_share_planned": share, "first_piece": "new_program",
                  "lookahead_sheets": 0}, "times": {"first": 10.0}, **changes})  # fmt: skip
    return [job.started_s / 3600 - 6 for job in run(built).jobs]


def test_a_proven_order_waits_for_the_night_and_new_ones_run_by_day() -> None:
    """Prepared, the long order comes second, at 08:10. Reserved, new ones do until 12:30; then nothing else waits."""
    assert reserved("prepared")[1] == pytest.approx(130 / 60)
    assert reserved("reserved") == pytest.approx([0.0, 6.5, 130 / 60, 260 / 60])


def test_no_machine_stands_idle_for_an_order_kept_back() -> None:
    alone = {"orders": (order("1", LONG, 4, due=3), order("2", LONG, 4, due=3))}
    assert reserved("reserved", **alone) == [0.0, 4.0]


@pytest.mark.parametrize("changes", [{"due": 1}, {"share": 0.0}, {"calendar": {"night": {}}}])
def test_what_is_due_early_or_not_expected_is_not_kept_back(changes: dict[str, Any]) -> None:
    """Due on the next day, within the guard of a day after the night; a night that is expected to give nothing."""
    assert reserved("reserved", **changes)[1] == pytest.approx(130 / 60)
