"""Which inputs decide whether part removal pays: each alone at its low and high value, in money."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.analysis.removal_inputs import RemovalInput, removal_inputs
from simkit.desk.notebook_display import titled
from simkit.desk.simulated import TODAY
from simkit.report import sentences_parts as say

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.part_tables import StudyParts
    from simkit.desk.plants import Scenario

REMOVAL = "Part removal"
ENDS = ("low", "high")
INPUTS = ("removal_input", "low", "typical", "high", "value_at_low", "value_at_high", "moved", "turns_the_sign",
          "freed_h_at_low", "freed_h_at_high")  # fmt: skip


def input_cases(today: Scenario, removal: Scenario) -> tuple[Scenario, ...]:
    """Today and removal as told, then removal with each input at each of its values, today too where it reaches it."""
    cases = [today, removal]
    for one in removal_inputs(removal.made.plant):
        for end, changes in _ends(one):
            cases.append(removal.again(changes).named(_case(REMOVAL, one, end)))
            if one.today:
                cases.append(today.again(changes).named(_case(TODAY, one, end)))
    return tuple(cases)


def _ends(one: RemovalInput) -> Iterator[tuple[str, dict[str, object]]]:
    for end in ENDS:
        changes = getattr(one, f"at_{end}")
        if changes is not None:
            yield end, dict(changes)


def _case(name: str, one: RemovalInput, end: str) -> str:
    return f"{name}: {one.name}, {getattr(one, end)}"


def inputs_table(study: StudyParts) -> pd.DataFrame:
    """One row per input: its values, the net present value of removal over today there, the most moved first."""
    removal = study.removal
    if not removal:
        return titled(pd.DataFrame(columns=list(INPUTS)), say.NO_REMOVAL)
    cash = study.money()
    told = float(np.mean(cash.samples[removal]))
    inputs = removal_inputs(study.inputs_of(removal))
    frame = pd.DataFrame([_row(study, cash, told, one) for one in inputs], columns=list(INPUTS))
    hours = (frame["freed_h_at_high"] - frame["freed_h_at_low"]).abs()
    frame = frame.assign(hours=hours).sort_values(["moved", "hours"], ascending=False, kind="stable", ignore_index=True)
    turning = frame.loc[frame["turns_the_sign"] == "yes", "removal_input"].tolist()
    told_of = say.deciding(turning, frame["removal_input"][0], float(frame["moved"][0]), cash.currency)
    return titled(frame[list(INPUTS)], *told_of)


def _row(study: StudyParts, cash: CashFlow, told: float, one: RemovalInput) -> dict[str, Any]:
    """An input, and the value of removal over today, changed alike, at its ends; ``told`` is that at no change.

    Also the machine hours a week that removal frees there; not a number at an end that it does not have.
    """
    value, freed = dict.fromkeys(ENDS, math.nan), dict.fromkeys(ENDS, math.nan)
    for end, _ in _ends(one):
        case, today = _case(REMOVAL, one, end), _case(TODAY, one, end) if one.today else ""
        value[end] = float(np.mean(cash.samples[case] - (cash.samples[today] if today else 0.0)))
        freed[end] = study.freed([case], today)[case].mean
    known = [told, *(each for each in value.values() if not math.isnan(each))]
    return {
        "removal_input": one.name, "low": one.low, "typical": one.typical, "high": one.high,
        "value_at_low": value["low"], "value_at_high": value["high"], "moved": max(known) - min(known),
        "turns_the_sign": "yes" if any((each > 0) != (told > 0) for each in known) else "no",
        "freed_h_at_low": freed["low"], "freed_h_at_high": freed["high"],
    }  # fmt: skip
