"""Work that is begun anew after a break or shift end must fit into one window of somebody who can do it.

Else it would be begun for ever: a finding before anything is run, an error when a run asks for it all the same.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Sequence
from itertools import permutations

import numpy as np

from simkit.base.arrays import Floats
from simkit.base.messages import Finding
from simkit.base.units import SECONDS_PER_MINUTE
from simkit.base.vocabulary import BENCH, CHANGEOVER, FIRST_PIECE, HANDLING_STATES, OUTSIDE, RULE_OF
from simkit.plant.plant import PlantInputs
from simkit.process.programs import BY_DEVICE, SHEET_DRIVERS, ProgramTables, program_tables
from simkit.process.shifts import Span, longest_common_s, plan_shifts

DAYS = 28
"""Days of the calendar that are looked through for the longest window."""
MEND = (
    "Set people.break_rules for it to pause or finish, give somebody a longer window, or split the work; "
    "breaks themselves are never planned away"
)


def longest_window_s(crew: Sequence[tuple[Collection[Hashable], Sequence[Span]]], skills: Sequence[Hashable]) -> float:
    """Seconds of the longest stretch in which a crew with these skills is at work together; 0 where there is none.

    ``crew`` holds each person's skills and windows of work; one person per skill.
    """
    crews = permutations(crew, len(skills))
    able = (c for c in crews if all(skill in has for skill, (has, _) in zip(skills, c, strict=True)))
    return max((longest_common_s([windows for _, windows in found]) for found in able), default=0.0)


def break_findings(plant: PlantInputs) -> tuple[Finding, ...]:
    """Work by the rule ``stop`` whose mean time is longer than every window: an error each, the longest of its kind.

    What an order adds up by itself, as tools to load, is not foreseen here; a run refuses it when it comes.
    """
    rules = plant.settings.people.break_rules
    if "stop" not in rules.values():
        return ()
    plan = plan_shifts(plant, DAYS)
    crew = [(person.skills, windows) for person, windows in zip(plant.people, plan.person, strict=True)]
    worst: dict[tuple[str, str], tuple[float, str]] = {}
    for skill, rule, seconds, name in _work(plant):
        if rules.get(rule) == "stop":
            worst[skill, rule] = max(worst.get((skill, rule), (0.0, "")), (seconds, name))
    found = []
    for (skill, rule), (seconds, name) in worst.items():
        longest_s = longest_window_s(crew, (skill,))
        if seconds > longest_s:
            why = (
                f"{name} takes {seconds / SECONDS_PER_MINUTE:g} min and is begun anew after each break or shift end, "
                f"but nobody with the skill {skill} has more than {longest_s / SECONDS_PER_MINUTE:g} min in one piece"
            )
            found.append(Finding("plant.toml", why, MEND, column=f"people.break_rules.{rule}", value="stop"))
    return tuple(found)


def _work(plant: PlantInputs) -> Iterator[tuple[str, str, float, str]]:
    """What people do in one go: skill, the task whose break rule holds, mean seconds, and what it is."""
    yield from _elements(program_tables(plant))
    for stop in plant.stops:
        if stop.clears != "nobody":
            yield stop.clears, RULE_OF.get(stop.clears, stop.clears), stop.repair_min * SECONDS_PER_MINUTE, stop.cause
    for fault in plant.load_faults:
        yield fault.clears, RULE_OF.get(fault.clears, fault.clears), fault.repair_min * SECONDS_PER_MINUTE, fault.fault
    for task in plant.upkeep:
        if task.needs_person and not task.planned_in_break:
            yield "upkeep", "upkeep", (task.duration_min + task.isolation_min) * SECONDS_PER_MINUTE, task.task


def _elements(tables: ProgramTables) -> Iterator[tuple[str, str, float, str]]:
    """Work on a sheet and on an order, rows of one state added up; other rows one by one."""
    sums: dict[tuple[str, str], Floats] = {}
    for use in tables.uses:
        if not use.by_person or use.driver in BY_DEVICE:
            continue
        on_sheet = use.driver in SHEET_DRIVERS and use.state in (*HANDLING_STATES, BENCH)
        on_order = use.driver == "order" and use.state in (CHANGEOVER, FIRST_PIECE)
        if on_sheet or on_order:
            seconds = (use.count if on_sheet else use.count > 0) * use.law.mean
            before = sums.get((use.task_of, use.state), np.zeros(len(tables.programs)))
            sums[use.task_of, use.state] = before + seconds
        elif use.driver not in SHEET_DRIVERS:
            rule = "preparation" if use.state == OUTSIDE else RULE_OF.get(use.task_of, use.task_of)
            yield use.task_of, rule, use.law.mean, use.name
    for (skill, state), by_program in sums.items():
        longest = int(np.argmax(by_program))
        program = tables.programs[longest].program_id
        yield skill, RULE_OF.get(skill, skill), float(by_program[longest]), f"{state} of program {program}"
