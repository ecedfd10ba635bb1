"""Tables of unattended nights: hours run, what ended them, what the morning finds, and a ladder of fixes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, get_args

import pandas as pd

from simkit.analysis.night_tables import mean_expected_h, night_mean, nights_differ, share_below_half, share_whole
from simkit.base.vocabulary import TASKS
from simkit.desk.cell_tables import demand_table
from simkit.desk.notebook_display import titled
from simkit.desk.simulated import HALF, Simulated, with_half
from simkit.experiment.intervals import Estimate, paired_difference
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import BeforeLeaving
from simkit.report import sentences_nights as say

if TYPE_CHECKING:
    from simkit.desk import plants as desk
    from simkit.desk.plants import Scenario

RULE = "calendar.night.rule"
AT_MACHINE = tuple(task for task in TASKS if task not in ("rush", "bench", "preparation"))
LEAVING_MIN = 90.0
"""Last attended minutes in which people prepare the night in that step: common practice, no source."""
MORE_OUTPUT, STACK = 2, 30
"""Places for output over those on offer in the step with more of them, and places of a new stack of whole sheets:
common practice, no source."""
MANY_PLACES, MANY_DIES = 400, 40
"""A magazine that holds every tool and die."""
MORNING = {
    "sheets": ("sheets made at night", "sheets"), "hand_h": ("bench work on them", "h"),
    "bench_sheets": ("sheets on the bench when people come", "sheets"),
    "stack_sheets": ("whole sheets on the stack when people come", "sheets"),
    "worked_off_h": ("time until no more lies there than before the night", "h"),
}  # fmt: skip
"""What a night leaves: column of its record, words and unit."""
ENDS = ("ended_by", "nights_per_week", f"nights_per_week{HALF}", "lost_h_per_week", f"lost_h_per_week{HALF}",
        "of_the_nights_share", "of_the_hours_lost_share", "before_leaving")  # fmt: skip
FINDS = ("the_morning_finds", "unit", "after_a_night", f"after_a_night{HALF}", "one_night_in_ten_more_than")
HOURS = ("scenario", "allowed_h", "worked_h", f"worked_h{HALF}", "lost_without_work_h")


def night_options(plant: desk.Plant) -> list[str]:
    """Ids of the first option that allows unattended nights, after those it needs; empty where none has to."""
    if plant.inputs.settings.calendar.night.rule == "allowed":
        return []
    for option in plant.inputs.options:
        if any(edit.path == f"plant.{RULE}" and edit.value == "allowed" for edit in option.edits):
            needed = [need if isinstance(need, str) else need[0] for need in option.needs]
            return [*needed, option.id]
    return []


def night_fixes(plant: desk.Plant, options: str | Sequence[str] = ()) -> dict[str, dict[str, Any]]:
    """Changes for longer nights with these options, one step on top of the other, by the name of the last step.

    Steps that would change nothing there are left out. The last ones are what-ifs: they say what a cause costs, not how
    to be rid of it.
    """
    held = plant.scenario("", options).made.plant
    if held.settings.calendar.night.rule != "allowed":
        return {}
    ladder: dict[str, dict[str, Any]] = {}
    changes: dict[str, Any] = {}
    for name, step in _steps(held):
        if step:
            changes = {**changes, **step}
            ladder[name] = changes
    return ladder


def _steps(held: PlantInputs) -> Iterator[tuple[str, dict[str, Any]]]:
    """What could be done, in the order of what it takes: habits first, then devices, then what-ifs."""
    settings = held.settings
    rules, machine, magazine, stack = settings.rules, settings.machine, settings.magazine, settings.stack.places
    leaving = {"before_leaving_min": LEAVING_MIN, "before_leaving": list(get_args(BeforeLeaving))}
    yield "People prepare the night before they leave", {} if rules.before_leaving_min else {
        f"plant.rules.{key}": value for key, value in leaving.items()
    }  # fmt: skip
    finish = {f"plant.people.break_rules.{task}": "finish" for task in AT_MACHINE}
    yield "The shift finishes what it began", finish
    reserved = {"plant.rules.night_queue": "reserved"} if rules.night_queue != "reserved" else {}
    yield "Proven orders kept back for the night", reserved
    proven = {"plant.rules.first_piece": "new_program"} if rules.first_piece == "each_order" else {}
    yield "First piece only for new programs", proven
    by_machine = {"nozzle_automatic": machine.nozzle_automatic, "clamps_automatic": machine.clamps_automatic}
    yield (
        "Nozzle and clamps by the machine",
        {f"plant.machine.{k}": True for k, there in by_machine.items() if not there},
    )
    places = {"stack.places": MORE_OUTPUT * stack or STACK, "bench.places": MORE_OUTPUT * settings.bench.places}
    if settings.removal.pickers:
        places["removal.stack_places"] = MORE_OUTPUT * settings.removal.stack_places
    yield "More places for output", {f"plant.{key}": count for key, count in places.items()}
    full = {"places": dict.fromkeys(magazine.places, MANY_PLACES),
            "dies_per_place": dict.fromkeys(magazine.places, MANY_DIES), "contents": []}  # fmt: skip
    yield "Every tool in the magazine", {f"plant.magazine.{k}": v for k, v in full.items()} if magazine.places else {}
    yield "Checks that need nobody", {f"upkeep[{x.task}].needs_person": False for x in held.upkeep if x.needs_person}
    causes = dict.fromkeys(row.cause for row in held.stops if row.clears != "nobody")
    yield "Stops that need nobody", {f"stops[{cause}].clears": "nobody" for cause in causes}


def why_none(study: Simulated, names: Sequence[str]) -> str:
    """Why no night may be shown of these scenarios, in a sentence; empty where they may."""
    nights = [study.inputs_of(name).settings.calendar.night for name in names]
    allowed = [night for night in nights if night.rule == "allowed"]
    if not allowed:
        return say.NO_NIGHT
    return "" if all(night.assessed_by for night in allowed) else say.NOT_ASSESSED


def _nothing(columns: Sequence[str], why: str) -> pd.DataFrame:
    return titled(pd.DataFrame(columns=list(columns)), why or say.NO_NIGHT)


def run_table(study: Simulated, scenario: str | Scenario) -> pd.DataFrame:
    """Every unattended night of all replications, as :meth:`Study.nights`; none where nobody assessed them."""
    nights, why = _shown(study, study.scenario(scenario).name)
    return titled(nights, why or say.runs(nights))


def _shown(study: Simulated, name: str) -> tuple[pd.DataFrame, str]:
    """The nights of a scenario that may be shown, and why none may."""
    why, nights = why_none(study, [name]), study.records("nights", name)
    return nights.iloc[:0] if why else nights, why


def hour_table(study: Simulated) -> pd.DataFrame:
    """Hours run in an unattended night by scenario, each beside the row above, and how much nights differ."""
    why = why_none(study, study.names)
    rows: list[dict[str, Any]] = []
    above: pd.DataFrame | None = None
    books = demand_table(study, study.base)
    made = books[books["demand"] == study.numbers.level].set_index("scenario")["makes_the_book"]
    for name in () if why else study.names:
        nights = study.records("nights", name)
        if nights.empty:
            continue
        spread = nights_differ(nights, "running_h")
        queue_h = nights["lost_h"].where(nights["ended_by"] == "queue", 0.0)
        rows.append({
            "scenario": name, "allowed_h": float(nights["allowed_h"].mean()),
            **with_half("worked_h", night_mean(nights, "running_h")),
            **(with_half("more_than_above_h", _gap(nights, above)) if above is not None else {}),
            "one_in_ten_below_h": spread.low, "one_in_ten_above_h": spread.high,
            **with_half("below_half_share", share_below_half(nights)),
            "to_the_morning_share": share_whole(nights), "lost_without_work_h": float(queue_h.mean()),
            "makes_the_book": made[name],
        })  # fmt: skip
        above = nights
    if not rows:
        return _nothing(HOURS, why)
    frame = pd.DataFrame(rows)
    nights = study.records("nights", str(frame["scenario"].iloc[0]))
    return titled(frame, *say.ladder(frame, *_closed_form(nights)))


def _gap(nights: pd.DataFrame, above: pd.DataFrame) -> Estimate:
    """Hours a night more than in other nights, paired by replication."""
    here, there = (each.groupby("replication")["running_h"].mean().to_numpy(float) for each in (nights, above))
    return paired_difference(here, there, "h")


def _closed_form(nights: pd.DataFrame) -> tuple[float, float]:
    """Stops per hour worked at night, as they ended these nights, and the hours that they alone would leave."""
    worked_h = float(nights["running_h"].sum())
    rate = float((nights["ended_by"] == "stop").sum()) / worked_h if worked_h else 0.0
    return rate, mean_expected_h(rate, nights["allowed_h"])


def end_table(study: Simulated, scenario: str | Scenario) -> pd.DataFrame:
    """What ended the nights of a scenario, a week, and what people can do against it before they leave."""
    name = study.scenario(scenario).name
    nights, why = _shown(study, name)
    if nights.empty:
        return _nothing(ENDS, why)
    held = study.inputs_of(name)
    causes, upkeep = {row.cause for row in held.stops}, {row.task for row in held.upkeep}
    told = [say.end(limit, want, want in causes, want in upkeep)
            for limit, want in zip(nights["ended_by"], nights["want"], strict=True)]  # fmt: skip
    ended, against = zip(*told, strict=True)
    rows = nights.assign(ended_by=ended, before_leaving=against, nights=1.0)
    frame = study.records_per_week(name, rows, ["ended_by", "before_leaving"], ["nights", "lost_h"])
    frame = frame.sort_values("lost_h_per_week", ascending=False, kind="stable", ignore_index=True)
    frame["of_the_hours_lost_share"] = frame["lost_h_per_week"] / (frame["lost_h_per_week"].sum() or 1.0)
    frame["of_the_nights_share"] = frame["nights_per_week"] / frame["nights_per_week"].sum()
    return titled(frame[list(ENDS)], *say.ends(frame))


def morning_table(study: Simulated, scenario: str | Scenario) -> pd.DataFrame:
    """What the morning after a night finds: mean, and what one night in ten exceeds."""
    nights, why = _shown(study, study.scenario(scenario).name)
    if nights.empty:
        return _nothing(FINDS, why)
    rows = [
        {"the_morning_finds": words, "unit": unit, **with_half("after_a_night", night_mean(nights, column)),
         "one_night_in_ten_more_than": nights_differ(nights, column).high}
        for column, (words, unit) in MORNING.items()
    ]  # fmt: skip
    hand, sheets, most = (night_mean(nights, "hand_h"), night_mean(nights, "sheets"),
                          nights_differ(nights, "worked_off_h").high)  # fmt: skip
    return titled(pd.DataFrame(rows), *say.morning(hand, sheets, most))
