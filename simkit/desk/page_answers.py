"""Answers of the pages about today's cell, its nights and its times: sentences with the numbers they rest on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from simkit.desk.amounts import per_week
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.report import sentences_cell as say
from simkit.report import sentences_nights

if TYPE_CHECKING:
    from simkit.desk.study import Study

Said = tuple[str, str, Estimate | None, str]
"""Scenario, subject, the estimate that a sentence rests on, and the sentence."""


def of_book(study: Study) -> Iterator[Said]:
    """Whether the cell makes the book, what is done about the rest, and where the hours go."""
    base = study.base
    needed, attended, waiting = (
        per_week(study, base, name) for name in (NEEDED, "attended_h", "state_waiting_person_h")
    )
    late = per_week(study, base, "late_share")
    yield base, "book", late, f"{study.demands().attrs['title']}."
    yield base, "machine hours", needed, say.needed(base, needed, attended)
    yield base, "late orders", late, f"{study.given_out().attrs['title']}."
    split = study.time_split()
    hours = split[split["scenario"] == base].set_index("state")["hours_per_week"]
    yield base, "machine hours by state", None, f"{say.split(hours, base)}."
    yield base, "set-up", per_week(study, base, "state_changeover_h"), f"{study.set_up().attrs['title']}."
    yield base, "waiting", waiting, say.waiting(waiting)
    for name in study.names[1:]:
        level = per_week(study, name, NEEDED)
        yield name, "machine hours", level, say.with_package(level)


def of_times(study: Study) -> Iterator[Said]:
    """Where a sheet's seconds come from, how well the times are known, and which limits raise a question."""
    base, plant = study.base, study.scenarios[0]
    needed = per_week(study, base, NEEDED)
    yield base, "one sheet", None, f"{plant.program().attrs['title']}."
    yield base, "run times", None, f"{plant.run_times().attrs['title']}."
    yield base, "elements", None, f"{plant.elements().attrs['title']}."
    inputs = study.inputs(most=len(plant.elements()))
    inputs = inputs[inputs["at_low"].isin(study.names) & inputs["at_high"].isin(study.names)]
    if len(inputs):
        yield base, "machine hours", needed, f"{study.effects(inputs).attrs['title']}."
    yield base, "limits", None, f"{plant.limits().attrs['title']}."


def of_nights(study: Study) -> Iterator[Said]:
    """Whether the second scenario, which has nights, makes the book with them; hours, ends, morning and fixes."""
    name = study.names[min(1, len(study.names) - 1)]
    night = study.scenario(name).made.plant.settings.calendar.night
    yield name, "assessment", None, f"{sentences_nights.assessed(night.assessed_by, night.assessed_on)}."
    yield name, "book", None, f"{study.demands(name).attrs['title']}."
    table = study.night_hours()
    if table.empty:
        yield name, "nights", None, f"{table.attrs['title']}."
        return
    first = table.iloc[0]
    half, runs = first["worked_h_half_width"], study.numbers.replications
    worked = Estimate(first["worked_h"], half if half == half else math.inf, runs, "h")
    ends = first["one_in_ten_below_h"], first["one_in_ten_above_h"]
    yield name, "hours a night", worked, f"{sentences_nights.hours(worked, first['allowed_h'], *ends)}."
    yield name, "nights", None, f"{sentences_nights.half(first['below_half_share'])}."
    yield name, "ends", None, f"{study.night_ends(name).attrs['title']}."
    yield name, "morning", None, f"{study.mornings(name).attrs['title']}."
    if len(table) > 1:
        yield name, "fixes", None, f"{table.attrs['title']}."
    yield name, "caution", None, sentences_nights.CAUTION
