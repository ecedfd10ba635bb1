"""Sentences of the page of nights: titles and notes of its tables, and its answer, as functions of numbers."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from simkit.experiment.intervals import Estimate
from simkit.report.sentences_cell import cause_in_words
from simkit.report.words import number, percent, plus_minus, with_unit

NO_NIGHT = "No setting and no option that was chosen allows unattended running, so that there are no nights to show"
NOT_ASSESSED = (
    "Nights are not shown: nothing says who assessed unattended running and when (calendar.night.assessed_by, "
    "assessed_on)"
)
CAUTION = (
    "These are hours for planning, and no night is declared safe. The plant's own risk assessment, local codes and "
    "competent persons decide whether a cell may run with nobody there; fire detection, who is alarmed and the "
    "insurer's agreement in writing come before the first night. Whoever comes at night works alone: local rules hold."
)
WANTS = {
    "first_piece": ("a first piece to be released", "release the first piece of the first night order"),
    "unproven_program": ("a program that is not proven", "prove it by day"),
    "tool_by_hand": ("a tool or die not in the magazine", "load the magazine for the night's orders"),
    "worn_tool": ("a worn tool", "put in the twin or the reground tool"),
    "wrong_tool": ("a tool loaded wrongly", "check the tools of the night"),
    "set_up": ("nozzle, gas or clamps by hand", "set nozzle, gas and clamps of the first night order"),
    "material_fetch": ("material fetched by hand", "stage the material"),
    "pack_change": ("a pack of sheets changed by hand", "stage full packs"),
    "store_empty": ("an empty store", "fill the store"),
    "loading_by_hand": ("sheets loaded by hand", "nothing: it needs a loader"),
    "bench_full": ("a full bench", "clear the bench"),
    "stack_full": ("a full stack of whole sheets", "empty the stack"),
    "stacks_full": ("full stacks of parts", "take the stacks away"),
    "skeletons_full": ("a full pallet of skeletons", "take the skeletons away"),
    "unloading_by_hand": ("a sheet to be pulled out", "nothing: it needs removal or a stack"),
    "left_by_shift": ("work that the shift left unfinished", "finish what was begun"),
    "tool_elsewhere": ("a tool in use at another machine", "buy a twin"),
}
"""What a machine wanted at the end of a night, in words, and what people can do against it before they leave."""
DOING = {
    "sheets": "runs sheets", "changeover": "change of tools or set-up", "first_piece": "first piece is measured",
    "waiting_person": "waits for a person", "waiting_material": "waits for material", "blocked": "cannot hand over",
    "waiting_program": "waits for program or release", "stopped": "stands at a stop", "upkeep": "upkeep of the machine",
    "no_work": "no work released", "closed": "closed", "pallet": "takes output away", "preparation": "prepares tools",
    "material": "brings material",
}  # fmt: skip
"""What a machine, or a person beside it, is doing, in words."""


def happening(state: str, by: str) -> str:
    """What goes on, and who does it where it is no machine."""
    words = DOING.get(state, state.replace("_", " "))
    return f"{by} {words}" if by else words


def one_night(name: str, worked_h: float, allowed_h: float, end: str) -> tuple[str, str]:
    """What became of one night."""
    worked = f"{with_unit(worked_h, 'h', 1)} of {with_unit(allowed_h, 'h', 1)} worked"
    return f"One night, {name}, event by event: {worked}; it ended at: {end}", (
        "From an hour before the people leave until half an hour after they are back; sheets of an order in a row are "
        "one line. One night of the first run: others end elsewhere."
    )


def assessed(by: str, on: str) -> str:
    """Who assessed unattended running."""
    if not by or by.lower().startswith("nobody"):
        return "Nobody has assessed unattended running"
    return f"Unattended running was assessed by {by}, on {on or 'no date'}"


def end(limit: str, want: str, is_stop: bool, is_upkeep: bool) -> tuple[str, str]:
    """What ended a night, and what people can do against it before they leave."""
    if not limit:
        return "nothing: it reached the morning", ""
    if limit == "queue":
        return "no more work released", "release more work, keep proven orders back by day"
    if want in WANTS:
        return WANTS[want]
    kind = "stop" if is_stop or not is_upkeep else "check"
    return f"{kind}: {cause_in_words(want)}", "do the check before leaving" if is_upkeep else "nothing"


def ends(table: pd.DataFrame) -> tuple[str, str]:
    """What cost most night hours."""
    lost, title = table[table["lost_h_per_week"] > 0], "Every night reached its morning"
    if len(lost):
        first, often = lost.iloc[0], lost.sort_values("nights_per_week", ascending=False).iloc[0]["ended_by"]
        share = percent(first["of_the_hours_lost_share"])
        title = f"Most night hours are lost to {first['ended_by']}, {share} of them"
        title += "" if first["ended_by"] == often else f"; most nights are ended by {often}"
    return title, (
        "Mean ± half of its 95 % interval, per week. A night ends at the first event that needs a person; hours lost "
        "run from there to its end. Before leaving: what people could do against it, as tasks that take them time."
    )


def hours(worked: Estimate, allowed_h: float, low: float, high: float) -> str:
    """How long a night runs."""
    return (
        f"The machine works {plus_minus(worked)} of the {with_unit(allowed_h, 'h')} that are allowed in a night; "
        f"8 nights in 10 work {number(low)} to {with_unit(high, 'h')}"
    )


def half(below: float) -> str:
    """How many nights fail early."""
    if below >= 1:
        return "No night reaches half of its hours"
    some = f"{percent(below)} of the nights work less than half of their hours"
    return some if below > 0 else "Every night works at least half of its hours"


def ladder(table: pd.DataFrame, rate: float, alone_h: float) -> tuple[str, str]:
    """What all fixes together bring; what the columns of hours mean, and what stops alone would leave."""
    first, last = table.iloc[0], table.iloc[-1]
    start = f"{first['scenario']}: {with_unit(first['worked_h'], 'h')} of {with_unit(first['allowed_h'], 'h')} a night"
    closed = (
        f" By the closed form (1 − exp(−λH)) / λ, stops alone at the {number(rate, 2)} per hour worked that ended "
        f"these nights would leave {with_unit(alone_h, 'h')}."
    )
    return start if len(table) == 1 else f"{start}; with all steps {with_unit(last['worked_h'], 'h')}", (
        "Per night, mean ± half of its 95 % interval; more than above: paired with the row above. One night in ten "
        "lies below or above: how much nights differ, not how well the mean is known. Lost without work: after the "
        "queue ran out. Each row keeps the steps above it; steps take away what a cause costs and are no advice."
        f"{closed if rate else ''}"
    )


def morning(hand: Estimate, sheets: Estimate, most_h: float) -> tuple[str, str]:
    """What the morning pays."""
    title = (
        f"The morning pays {plus_minus(hand)} h of bench work for the {plus_minus(sheets)} sheets of a night; in 9 of "
        f"10 nights that is worked off within {with_unit(most_h, 'h')}"
    )
    return title, (
        "Per night, mean ± half of its 95 % interval. The machine adds sheets while the heap is worked off; the "
        "morning after Friday's night is Monday's."
    )


def runs(nights: pd.DataFrame) -> str:
    """How long nights run."""
    if nights.empty:
        return NO_NIGHT
    half, allowed = (float(nights[column].median()) for column in ("running_h", "allowed_h"))
    hours = f"{with_unit(half, 'h')} or less of {with_unit(allowed, 'h')} allowed"
    return f"Half of {number(len(nights), 0)} nights work {hours}"


def bars_alt(table: pd.DataFrame, name: str, columns: Mapping[str, str]) -> str:
    """Bars in words; ``columns`` gives the words of each amount."""
    rows = (
        f"{row[name]}: " + ", ".join(f"{words} {number(row[column])}" for column, words in columns.items())
        for row in table.to_dict("records")
    )
    return f"Bars. {'; '.join(rows)}."
