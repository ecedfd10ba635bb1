"""Which inputs decide whether part removal pays: each alone at its low and high value, in money."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.analysis.removal_inputs import RemovalInput, removal_inputs
from simkit.desk.shown import titled
from simkit.desk.simulated import TODAY, Simulated
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate, t_interval
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


@dataclass(frozen=True)
class _Row:
    """An input, and the value of removal over today at its low and high value; None where it has no such value.

    ``freed_low`` and ``freed_high`` are machine hours a week that removal frees there, not a number without a value.
    """

    input: RemovalInput
    low: Estimate | None
    high: Estimate | None
    freed_low: float
    freed_high: float

    @property
    def means(self) -> list[float]:
        """Values at its ends."""
        return [one.mean for one in (self.low, self.high) if one is not None]


def inputs_table(study: StudyParts) -> pd.DataFrame:
    """One row per input: its values, the net present value of removal over today there, the most moved first."""
    removal = study.removal
    if not removal:
        return titled(pd.DataFrame(columns=list(INPUTS)), say.NO_REMOVAL)
    cash = study.money()
    told = _worth(cash, removal, "")
    inputs = removal_inputs(study.inputs_of(removal))
    rows = [_row(study, cash, one) for one in inputs]
    rows.sort(key=lambda row: (-_moved(row, told), -abs(row.freed_high - row.freed_low)))
    values = [
        (row.input.name, row.input.low, row.input.typical, row.input.high,
         row.low.mean if row.low else np.nan, row.high.mean if row.high else np.nan, _moved(row, told),
         "yes" if _turns(row, told) else "no", row.freed_low, row.freed_high)
        for row in rows
    ]  # fmt: skip
    frame = pd.DataFrame(values, columns=list(INPUTS))
    turning = [row.input.name for row in rows if _turns(row, told)]
    title = say.deciding(turning, rows[0].input.name, _moved(rows[0], told), cash.currency)
    return titled(frame, title, say.deciding_note(cash.currency))


def _row(study: Simulated, cash: CashFlow, one: RemovalInput) -> _Row:
    found, freed = {}, dict.fromkeys(ENDS, float("nan"))
    for end, _ in _ends(one):
        case, today = _case(REMOVAL, one, end), _case(TODAY, one, end) if one.today else ""
        found[end] = _worth(cash, case, today)
        freed[end] = float(
            (study.weekly_values(today or study.base, NEEDED) - study.weekly_values(case, NEEDED)).mean()
        )
    return _Row(one, found.get("low"), found.get("high"), freed["low"], freed["high"])


def _worth(cash: CashFlow, name: str, today: str) -> Estimate:
    """Net present value of a case, beyond that of today changed alike."""
    values: NDArray[np.float64] = np.asarray(cash.samples[name]) - (np.asarray(cash.samples[today]) if today else 0.0)
    return t_interval(values, cash.currency)


def _moved(row: _Row, told: Estimate) -> float:
    """How far the value lies apart between the values of an input."""
    known = [*row.means, told.mean]
    return max(known) - min(known)


def _turns(row: _Row, told: Estimate) -> bool:
    """Whether the value has another sign at some value of the input than as told."""
    return any((mean > 0) != (told.mean > 0) for mean in row.means)
