"""Sentences of the page of times: titles and notes of its tables, and its answer, as functions of numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from simkit.analysis.sheet_times import ProgramTime
from simkit.base.vocabulary import BENCH, LOADING, UNLOADING
from simkit.plant.plant import PlantInputs
from simkit.report.sentences_cell import TASKS
from simkit.report.words import listing, number, percent, plural, with_unit

WHERE = {"run": "run of the machine", LOADING: "before it", UNLOADING: "after it", BENCH: "at the bench"}
"""Where a second of a sheet is spent."""
TIMED = ("measured", "logged")
GUESSED = ("estimated", "default")
WITHIN, TOO_STRONG = "within", "above the capacity"
GAS_APART, TOO_LITTLE_POWER = "apart from the nozzles", "less than the laser draws"


def who(task_of: str) -> str:
    """Who does an element."""
    return "the machine" if task_of == "machine" else TASKS.get(task_of, task_of)


def row_of(bases: Iterable[str]) -> str:
    """What a time rests on that element rows give."""
    return f"element row ({', '.join(bases)})"


def program(row: ProgramTime, plant: PlantInputs, total_s: float, most: Sequence[tuple[str, float]]) -> tuple[str, str]:
    """What a sheet of a program takes at the machine, where its data stand, and how its run time was found.

    ``most`` holds the element that takes most, with its seconds.
    """
    program, estimate = row.program, row.estimate
    title = f"{program.program_id}: a sheet takes no time"
    for element, seconds in most:
        first = f"most goes to {element}, {with_unit(seconds, 's', 0)}"
        title = f"A sheet of {program.program_id} takes {with_unit(total_s, 's', 0)} at the machine; {first}"
    how = "The run was measured" if estimate.measured_s is not None else "The run was never measured"
    sums = "its elements are stretched to it" if estimate.measured_s is not None else "its elements are added up"
    thickness = plant.material_by_id[program.material_id].thickness_mm
    return title, (
        f"Sheet {program.sheet_length_mm:g} x {program.sheet_width_mm:g} x {thickness:g} mm, "
        f"{plural(estimate.sheets, 'sheet')} in the book. Counts are those of programs.csv and program_parts.csv, "
        f"seconds those of elements.csv and materials.csv. {how}; {sums}. Set-up of the order and stops come on top. "
        "Bench work is done beside the machine."
    )


def run_times(
    programs: int, measured: int, measured_h: float, all_h: float, *, by_motion: bool
) -> tuple[str, str]:  # fmt: skip
    """How much of the run time was measured, and what the others rest on."""
    share = percent(measured_h / all_h if all_h else 0.0)
    title = (
        f"{measured} of {plural(programs, 'program')} have a measured run time, {share} of the run hours of the book"
    )
    note = (
        "Seconds a sheet of the run alone. Runs use the measured time where there is one, else the rows of elements. "
        "Estimated: from the motion of the machine, the rows where it is silent; no run uses it. Apart: hours of the "
        "book by which the estimate exceeds what the runs use."
    )
    silent = (
        "The plant says nothing of the motion of its machine (machine.motion), so that the estimate is the rows of "
        "elements again."
    )
    none = f"None of {plural(programs, 'program')} has a measured run time"
    return title if measured else none, note if by_motion else silent


def families(span: tuple[float, float] | None) -> tuple[str, str]:
    """How far estimates lie from measured times."""
    title = "No run time was measured, so that estimates stand alone"
    if span is not None:
        low, high = (number(each, 2) for each in span)
        title = f"Estimates are {low} to {high} times the measured run times, by family"
    return title, (
        "Means over the sheets of the book, run of the machine alone. Estimated: from the motion of the machine. "
        "Measured, and estimated over measured: of the programs that were timed."
    )


def elements(counts: Mapping[str, int], seen: int, *, by_hand: bool) -> tuple[str, str]:
    """What the time elements rest on, all or those of people's tasks alone."""
    timed, guessed = (sum(counts.get(basis, 0) for basis in names) for names in (TIMED, GUESSED))
    every = sum(counts.values())
    title = (
        f"{timed} of {plural(every, 'time element')} are measured or logged, {guessed} are estimated or defaults; "
        f"{plural(seen, 'cycle')} were timed in all"
    )
    people = f"{guessed} of {plural(every, 'time')} of people's tasks are guesses, estimated or defaults"
    return people if by_hand else title, (
        "Cycles to time: until the mean is known to 5 % with 95 % confidence, from the spread that the plant gives "
        "(textbook of work study, from memory), less those seen."
    )


def unit(code: str) -> str:
    """The unit of an element's time in words."""
    return code.replace("_", " ").replace("/", " for each ").replace("ratio for each process", "times the run")


def inputs(count: int) -> str:
    """What is varied."""
    return f"The {plural(count, 'time')} whose range matters most in the book"


def effects(table: pd.DataFrame) -> tuple[str, str]:
    """Which times carry the answer."""
    title = "No time has a range to vary"
    if len(table):
        first, guessed = table.iloc[0], int(table["rests_on"].isin(GUESSED).sum())
        low, high = sorted((float(first["at_low_h_per_week"]), float(first["at_high_h_per_week"])))
        title = (
            f"The answer rests most on {first['element']}: its range moves the hours needed by "
            f"{number(low, 1)} to +{number(high, 1)} h a week; of these {len(table)} times {guessed} are guesses"
        )
    return title, (
        "Machine hours needed a week against today, paired, ± half of the 95 % interval; the intervals of one end hold "
        "together. All other times typical. Low and high are the plant's own range."
    )


def effects_alt(table: pd.DataFrame) -> str:
    """The bars of what times change, in words."""
    rows = (
        f"{row['element']} {number(row['at_low_h_per_week'], 1)} to {number(row['at_high_h_per_week'], 1)} h a week "
        f"({row['rests_on']})"
        for row in table.to_dict("records")
    )
    return f"Bars of hours a week. {'; '.join(rows)}."


def limits(count: int, asked: int) -> tuple[str, str]:
    """How many limits raise a question."""
    figures = f"{plural(count, 'figure')} of force, speed, gas and power"
    title = f"{asked} of {figures} raise a question"
    if not asked:
        title = f"None of {figures} raises a question: nothing is safe by it"
    if not count:
        title = "No force, speed or gas can be compared: sides of tools, handbook metals or nozzles are not given"
    return title, (
        "Forces with stripping and margin as the plant sets them; of speeds, those that raise a question, else the one "
        "nearest to what melting allows. Gas and power over the book; drives and chiller come on top of the least "
        "power. All by published or textbook formulas, with their sources in the check of the plant. Nothing here "
        "declares a press, a tool or a laser safe: the makers' limits, local law and competent persons decide."
    )


def scatter(table: pd.DataFrame, tolerance: float) -> str:
    """How many estimates are far from what the runs use."""
    off = int(((table["estimated_over_used"] - 1).abs() > tolerance).sum())
    all_of = plural(len(table), "program")
    return f"{off} of {all_of} are estimated more than {percent(tolerance)} away from what the runs use"


def first_to_time(names: Sequence[str]) -> str:
    """The programs to time first."""
    return f"To time first: {listing(names)}." if names else ""
