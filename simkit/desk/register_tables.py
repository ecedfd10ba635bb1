"""The register of assumptions: every input with its basis and range, what it moves, and what to find out next."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.analysis.tornado import Swing, explained_share, narrowed, shares, swings
from simkit.base.arrays import Floats
from simkit.desk.money_choices import leading
from simkit.desk.money_risk import LEAST_SWING
from simkit.desk.notebook_display import titled
from simkit.experiment.runsfolder import Keep
from simkit.finance.riskinputs import RiskInput
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element
from simkit.report import sentences_register as say

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.study import Study

GUESSES = ("estimated", "default", say.BY_OPTION)
"""Bases of an input that nobody measured, logged or quoted; what an option promises of a time is one of them."""
TO_COME = ("demand", "wage_growth", "price_growth", "residual", "persistence", "ramp_start", "ramp_months")
"""Inputs that only time tells: nobody can measure them next."""
NEXT = 3
COLUMNS = ("input", "title", "kind", "typical", "low", "high", "unit", "rests_on", "observations", "source", "owner",
           "date", "rank", "moves", "variance_share")  # fmt: skip
ASKED_NEXT = ("title", "low", "typical", "high", "unit", "rests_on", "variance_share")


@dataclass(frozen=True, eq=False, repr=False)
class Register:
    """The inputs of a case with what each moves.

    ``today`` is the plant without the options of the case, ``plant`` with them; ``cash`` is None where nothing is
    valued.
    """

    today: PlantInputs
    plant: PlantInputs
    case: str
    cash: CashFlow | None

    @cached_property
    def _swings(self) -> tuple[Swing, ...]:
        return swings(self.cash.model_of([self.case]), self.case) if self.cash else ()

    @property
    def _moving(self) -> list[Swing]:
        return [swing for swing in self._swings if swing.size >= LEAST_SWING]

    @cached_property
    def _samples(self) -> tuple[Mapping[str, Floats], Floats]:
        """Samples of the inputs of the case, and of its value with the error of the simulation."""
        if self.cash is None:
            return {}, np.zeros(0)
        own = {swing.input.name for swing in self._moving}
        drawn = {name: values for name, values in self.cash.sampled.inputs.items() if name in own}
        return drawn, self.cash.sampled.outcome.npv[self.case]

    @cached_property
    def _shares(self) -> dict[str, float]:
        return shares(*self._samples)

    @cached_property
    def _inputs(self) -> pd.DataFrame:
        """Every input, those of the value first, that which moves it most at their head."""
        ranked = {swing.input.name: place for place, swing in enumerate(self._moving, 1)}
        rows = [self._valued(swing, ranked.get(swing.input.name)) for swing in self._swings]
        known = {row["input"] for row in rows}
        rows += [row for row in _others(self.plant, self._basis) if row["input"] not in known]
        return pd.DataFrame(rows, columns=list(COLUMNS))

    @cached_property
    def _moved(self) -> pd.Series:
        """What the inputs move, one at a time, by basis; empty if nothing is valued."""
        moving = self._inputs[self._inputs["rank"].notna()]
        return moving.groupby("rests_on")["moves"].sum()

    def table(self) -> pd.DataFrame:
        """Every input: range, basis, observations, source, owner, date; rank by what it moves, the largest first."""
        frame = self._inputs.copy()
        guessed, fixed = int(frame["rests_on"].isin(GUESSES).sum()), int(frame["low"].isna().sum())
        told = say.register(
            len(frame), guessed, self.guessed_share, self.case, len(self._moving), fixed, self._currency,
            calibrated=self.plant.calibration is not None,
        )  # fmt: skip
        return titled(frame, *told, folded=True)

    @property
    def guessed_share(self) -> float:
        """Share of all that inputs move, one at a time, which rests on guesses; not a number if nothing is valued."""
        moved = self._moved
        return float(moved[moved.index.isin(GUESSES)].sum() / moved.sum()) if len(moved) else float("nan")

    def by_basis(self) -> pd.DataFrame:
        """What the value of the case rests on: inputs, and what they move, by basis."""
        found = self._inputs["rests_on"].value_counts().rename("inputs").to_frame()
        found = found.assign(of_what_moves_share=self._moved / self._moved.sum()).fillna(0.0)
        found = found.sort_values("of_what_moves_share", ascending=False, kind="stable").reset_index()
        return titled(found, *say.basis(self.guessed_share, self.case))

    def next(self, most: int = NEXT) -> pd.DataFrame:
        """The guesses that, once known, would narrow the value most; the last column narrows it with those above."""
        drawn, values = self._samples
        inputs = self._inputs.set_index("input")[list(ASKED_NEXT)]
        guesses = (name for name in self._shares if inputs["rests_on"][name] in GUESSES)
        open_ = [name for name in guesses if name not in TO_COME][:most]
        if not open_:
            return titled(pd.DataFrame(), say.NOTHING_NEXT if self.cash else say.NOT_VALUED)
        known = (explained_share([drawn[name] for name in open_[:place]], values) for place in range(1, len(open_) + 1))
        frame = inputs.loc[open_].assign(range_left_share=[narrowed(share) for share in known]).reset_index()
        low, high = (float(v) for v in np.quantile(values, [0.1, 0.9]))
        left = float(frame["range_left_share"].iloc[-1])
        future = explained_share([drawn[name] for name in TO_COME if name in drawn], values)
        told = say.measure_next(self.case, frame["title"].tolist(), low, high, left, future, self._currency)
        return titled(frame, *told)

    @property
    def _currency(self) -> str:
        return self.plant.settings.currency

    def _valued(self, swing: Swing, rank: int | None) -> dict[str, Any]:
        one = swing.input
        row = self._row_of(one)
        return {
            "input": one.name, "title": one.title, "kind": say.TIME if row else say.PRICE, "typical": one.typical,
            "low": one.low, "high": one.high, "unit": one.unit, "rests_on": self._basis(row) if row else one.basis,
            "observations": (row.n or None) if row else None, "source": one.source, "owner": one.owner or say.NOBODY,
            "date": row.date.isoformat() if row and row.date else "", "rank": rank, "moves": swing.size,
            "variance_share": self._shares.get(one.name, np.nan),
        }  # fmt: skip

    @cached_property
    def _typical(self) -> dict[tuple[str, str], float]:
        return {(row.element, row.applies_to): row.typical for row in self.today.elements}

    def _basis(self, row: Element) -> str:
        """What a time rests on: an option that sets it takes its measurement away."""
        was = self._typical.get((row.element, row.applies_to))
        return row.basis if was == row.typical else say.BY_OPTION

    def _row_of(self, one: RiskInput) -> Element | None:
        """The row of the element whose time an input is: today's, whose range was varied, or the one an option adds."""
        rows = (row for plant in (self.today, self.plant) for row in plant.elements)
        return next((row for row in rows if one.name == f"time {row.element}"), None)

    def __repr__(self) -> str:
        """Return it in one line."""
        return f"<Register of {self.plant.settings.name}: {self.case or 'no case is valued'}>"


def _others(plant: PlantInputs, basis: Callable[[Element], str]) -> Iterator[dict[str, Any]]:
    """Every time and rate of the plant's tables that is not in the value's ranges; ``basis`` is that of a time."""
    first: set[str] = set()
    for row in plant.elements:
        name = f"time {row.element}"
        condition = f" ({row.applies_to})" if row.applies_to else ""
        own = name if name not in first else f"{name}{condition}"
        first.add(name)
        found = _row(own, say.words(row.element) + condition, say.TIME, row.typical, say.words(row.unit), row)
        more = {"low": row.low, "high": row.high, "observations": row.n or None, "owner": row.owner or say.NOBODY,
                "rests_on": basis(row), "date": row.date.isoformat() if row.date else ""}  # fmt: skip
        yield found | more
    for stop in plant.stops:
        about = f"stops by {say.words(stop.cause)} ({stop.acts})"
        yield _row(
            f"stop {stop.cause} {stop.acts}", about, say.STOP, stop.rate, f"per {say.words(stop.exposure)}", stop
        )
    for fault in plant.load_faults:
        yield _row(f"fault {fault.fault}", say.words(fault.fault), say.FAULT, fault.rate, "share of exchanges", fault)
    for task in plant.upkeep:
        yield _row(f"upkeep {task.task}", say.words(task.task), say.UPKEEP, task.duration_min, "min", task)
    for mark in plant.quality:
        yield _row(f"quality {mark.cause}", say.words(mark.cause), say.MARKED, mark.rate, f"per {mark.per}", mark)


def _row(name: str, title: str, kind: str, typical: float, unit: str, row: Any) -> dict[str, Any]:
    """A row of the register without a range; rows of rates have neither observations, owner nor date."""
    return {
        "input": name, "title": title, "kind": kind, "typical": typical, "low": None, "high": None, "unit": unit,
        "rests_on": row.basis, "observations": None, "source": row.source, "owner": say.NOBODY, "date": "",
        "rank": None, "moves": np.nan, "variance_share": np.nan,
    }  # fmt: skip


def register_of(
    study: Study, case: str = "", *, workers: int | None = None, keep: Keep = None, progress: bool = True
) -> Register:
    """The register of assumptions: every input with its basis, what each moves, and what to measure next.

    Ranks are those of the value of ``case``, by default the one worth most; without another scenario than the first
    nothing is ranked. The times that matter most are simulated as in :meth:`CashFlow.with_times`.
    """
    today = study.inputs_of()
    if len(study.scenarios) < 2:
        return Register(today, today, "", None)
    named = study.money().case(case) if case else leading(study.money())
    rest = [one for one in study.scenarios if one.name in (study.base, named)]
    cash = dataclasses.replace(study, scenarios=tuple(rest)).money()
    return Register(
        today, study.inputs_of(named), named, cash.with_times(workers=workers, keep=keep, progress=progress)
    )
