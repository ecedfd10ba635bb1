"""What a set of options brings and loses in use, year by year: gains ramp and fade, losses count in full."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from simkit.base.arrays import Floats
from simkit.finance.benefits import Gain, Pair, hour_gains, today_at
from simkit.finance.casearrays import PerCase, ratio
from simkit.finance.consumption import consumption_gains
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.labour import labour_gains
from simkit.finance.ledger import Factor, Ledger
from simkit.finance.lines import COST_AVOIDED, LINES, NOT_MONETISED, class_of, counts
from simkit.finance.timeline import Schedule, seasons_of
from simkit.plant.settings_money import Finance


@dataclass(frozen=True, eq=False)
class Fading:
    """Share of a set's gain that is ``kept`` after a year, and who tells how much of the gain fades.

    ``told`` holds the cases and, for them, the scenario of the fading options alone; None: all of the gain fades.
    """

    kept: PerCase
    told: Sequence[tuple[Floats, ScenarioTotals | None]]

    @classmethod
    def of(cls, ledger: Ledger, name: str, simulated: Sequence[ScenarioTotals], notes: list[str]) -> Fading:
        """What fades of a set by the options in it that fade; ``notes`` are told where these alone are not known."""
        held = {option.id: np.atleast_1d(getattr(option.persistence, ledger.case)) for option in ledger.options}
        held = {one: kept for one, kept in held.items() if np.any(kept < 1.0)}
        told: list[tuple[Floats, ScenarioTotals | None]] = []
        fades = np.stack(np.broadcast_arrays(*(kept < 1.0 for kept in held.values()))) if held else np.empty((0, 1))
        for pattern in np.unique(fades, axis=1).T:
            wanted = {one for one, fading in zip(held, pattern, strict=True) if fading}
            alone = next((one for one in simulated if set(one.option_ids) == wanted), None)
            if wanted and len(wanted) < len(ledger.options) and alone is None:
                named = "+".join(sorted(wanted))
                notes.append(f"{name}: {named} alone was not simulated, so the whole gain fades (cautious)")
            all_fade = len(wanted) == len(ledger.options)
            told.append(((fades == pattern[:, None]).all(axis=0), None if all_fade else alone))
        return cls(reduce(np.minimum, held.values(), np.ones(1)), told)


class SeasonGains:
    """Gains of scenarios in one season, each computed once, whoever reads it; ``today`` is beside itself."""

    def __init__(self, today: Pair) -> None:
        self.today = today
        self._known: dict[str, tuple[Pair, list[Gain]]] = {}

    def of(self, option: ScenarioTotals) -> tuple[Pair, list[Gain]]:
        """A scenario beside today, and its gains."""
        if option.name not in self._known:
            pair = self.today.to(option)
            self._known[option.name] = pair, gains_of(pair)
        return self._known[option.name]


def spent_today(today: ScenarioTotals, prices: Prices, finance: Finance, demand: float) -> dict[str, float]:
    """Money a year, by budget line, that today costs at a demand for want of time, at prices of year 1."""
    spent: dict[str, float] = {}
    for season in seasons_of(finance):
        level = demand * season.factor
        for gain in hour_gains(today_at(today, prices, season.weeks, level, level)):
            if gain.budget is not None:
                line = LINES[gain.line].budget
                spent[line] = spent.get(line, 0.0) + float(gain.budget)
    return spent


def add_use(ledger: Ledger, seasons: Sequence[SeasonGains], option: ScenarioTotals, fading: Fading, schedule: Schedule
            ) -> dict[str, Floats]:  # fmt: skip
    """Write gains and losses of a scenario in use, season by season.

    Returns the hours per year of full use: freed, by value line, and (last) those that no rule turns into money.
    """
    hours: dict[str, Floats] = {}
    later = (1.0 - fading.kept) * schedule.after_first_year(ledger.years)
    shares = schedule.in_use(ledger.years), schedule.ramped(ledger.years)
    for season in seasons:
        pair, gains = season.of(option)
        told = [(cases, None if alone is None else {(one.line, one.item): one.full for one in season.of(alone)[1]})
                for cases, alone in fading.told]  # fmt: skip
        for gain in gains:
            part = sum(cases * _fading_part(gain, alone) for cases, alone in told)
            _add_gain(ledger, gain, *shares, later * part)
        for kind, freed in _hours(ledger.finance, pair):
            hours[kind] = hours.get(kind, 0.0) + freed * pair.weeks
    unvalued = ((hours["not_money"], "h freed in a full year"), (0.0, "money: no rule turns them into money"))
    ledger.yearly("hours_only", unvalued, kind=NOT_MONETISED, item="not_money")
    return hours


def _fading_part(gain: Gain, alone: Mapping[tuple[str, str], PerCase] | None) -> PerCase:
    """Share of a gain that fades: all of it, or what the fading options alone bring."""
    if alone is None:
        return 1.0
    return np.clip(ratio(alone.get((gain.line, gain.item), 0.0), gain.full), 0.0, 1.0)


def gains_of(pair: Pair) -> list[Gain]:
    """Gains and losses of a full year of use, hours first."""
    return [*hour_gains(pair), *labour_gains(pair), *consumption_gains(pair)]


def _add_gain(ledger: Ledger, gain: Gain, in_use: PerCase, ramped: PerCase, lost: PerCase) -> None:
    """Write a gain, fading and ramped, or a loss, in full while in use; a rule switches gains off alone.

    What lies within today's budget is released, what lies above it avoided.
    """
    line, loses = LINES[gain.line], gain.full < 0
    grown = Factor(ledger.level(gain.line), f"{line.growth[:-1]} growth")
    gains = ~loses & counts(ledger.finance, line.rule)
    words = "of the year in use, ramped, {:.4g} faded"
    uses = ((loses, Factor(in_use, "of the year in use")), (gains, Factor(ramped - lost, words, (lost,))))
    classes: list[tuple[str, PerCase, tuple[Factor, ...]]] = [(class_of(gain.line), True, ())]
    if gain.budget is not None:
        text = "share {} today's budget of {{:.6g}} a year"
        inside = Factor(gain.released, text.format("within"), (gain.budget,), left_out_at_1=True)
        above = Factor(1.0 - gain.released, text.format("above"), (gain.budget,), left_out_at_1=True)
        classes = [(class_of(gain.line), gain.released > 0, (inside,)), (COST_AVOIDED, gain.released < 1, (above,))]
    for when, use in uses:
        if not np.any(when):
            continue
        for kind, some, part in classes:
            present = (ledger.years >= 1) & gain.years & when & some
            factors = [*gain.factors, *part, grown, use]
            ledger.add(gain.line, factors, present, kind=kind, item=gain.item, note=gain.note)


def _hours(finance: Finance, pair: Pair) -> Iterator[tuple[str, PerCase]]:
    """Hours per week: freed, by value line, and those that no rule turns into money."""
    by_line = {name: pair.less(f"{name}_h") for name in ("overtime", "subcontract")}
    by_line["sales"] = pair.less("unmet_h")
    freed = pair.less("hours_needed")
    yield from (("freed", freed), *by_line.items())
    money = sum(np.maximum(h, 0.0) for line, h in by_line.items() if counts(finance, LINES[line].rule))
    yield "not_money", np.maximum(freed - money, 0.0)
