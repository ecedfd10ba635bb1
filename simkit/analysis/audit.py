"""After the purchase: what was predicted beside what was achieved, measure by measure.

The prediction for a stretch of weeks is that of the study at the demand of that time, with the ramp that the settings
assume. Amounts are those of a calendar week, since that is what a plant can count: what a production week brings, times
the production weeks of a year over its weeks. Its interval holds the mean of so many production weeks: how well the
average is known, and how much weeks differ, together, with weeks taken as independent of each other. Within it nothing
has to be explained.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from pydantic.dataclasses import dataclass as row_dataclass

from simkit.base.messages import BadInput, Finding, nearest
from simkit.experiment.glossary import describe
from simkit.experiment.intervals import pseudo_values, t_quantile
from simkit.experiment.results import Results
from simkit.finance.benefits import today_at
from simkit.finance.casearrays import PerCase
from simkit.finance.inputs import ScenarioTotals, WithoutEach, prices_of, totals_from, totals_without_each
from simkit.finance.lines import LINES
from simkit.finance.timeline import MONTHS_PER_YEAR, WEEKS_PER_YEAR, Schedule
from simkit.finance.use import gains_of
from simkit.plant.fields import ROW, column
from simkit.plant.options import TODAY
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.values import Number, Whole
from simkit.process.bookweeks import week_hours

PERIODS: dict[int, int] = {3: 0, 6: 3, 12: 6}
"""Months of use at which is counted, and the month from which each count runs."""

SAVED = "saved_"
"""Prefix of amounts of money saved, by line of the cash-flow table."""

MONEY_LINES = ("overtime", "overrun", "subcontract", "sales", "energy", "gas", "material", "scrap", "tools", "regrinds")
FORM_MEASURES = (
    "hours_needed", "overtime_h", "subcontract_h", "unmet_h", "late_share", "state_changeover_h",
    "state_waiting_person_h", "state_blocked_h", "state_stopped_h", "stops", "tool_loads", "die_changes",
    "magazine_misses", "preparation_h", "bench_h", "night_running_h", "parts_scrapped", "energy_kwh", "gas_m3",
)  # fmt: skip
"""Measures that the blank form asks for, where the study has them above zero."""

FIRST = "first the demand and the mix of orders of that time"
LOOK_AT = {
    "hours_needed": "which machine state grew: changeover, waiting for a person, blocked, stopped",
    "overtime_h": "whether overtime windows are still planned by habit, and who closes them",
    "subcontract_h": "who decides to give work out, and contracts with a least quantity",
    "unmet_h": "orders refused that the cell could have made, and why",
    "late_share": "which families are late, and whether the order of work is still the rule's",
    "state_changeover_h": "tools outside the magazine or the layout, preset work, fixed minutes of an order",
    "state_waiting_person_h": "who was to be there, and tasks that nobody had counted",
    "state_blocked_h": "bench backlog, full stacks and pallets that nobody took away",
    "state_stopped_h": "stops by cause, counts and hours apart, against stops.csv",
    "stops": "stops by cause against stops.csv; early life if the device is new",
    "tool_loads": "sequence and layout in use, tools that are not where they should be",
    "night_running_h": "what ended each night, by cause",
    "parts_scrapped": "scrap by cause against quality.csv",
}
"""What to look at first where a measure lies outside, by measure; the others rest on their own inputs."""

LESS_IS_BETTER = tuple(name for name in FORM_MEASURES if name != "night_running_h")
"""Measures that are better when lower."""


@row_dataclass(frozen=True, kw_only=True, config=ROW)
class Achieved:
    """A count after the purchase: a measure over the months since the count before."""

    scenario: str = column("what is in use: a scenario of the study, as A1+N2", key=True)
    months: Whole = column("months of use at the count: 3, 6 or 12", key=True, low=1)
    measure: str = column("name of a measure, or saved_ and a line of the cash-flow table", key=True)
    unit: str = column("unit of the value, as the blank form writes it")
    achieved: Number | None = column(
        "what came since the last count, over its calendar weeks, closed ones included", default=None
    )
    demand_factor: Number = column("demand of that time, as a factor of the book", low=0.01, default=1.0)
    owner: str = column("who counted it", default="")
    note: str = column("what was different", default="")


@dataclass(frozen=True)
class AuditLine:
    """A count beside its prediction; ``low`` and ``high`` hold the mean of so many weeks in 95 of 100 cases."""

    row: Achieved
    predicted: float
    low: float
    high: float
    verdict: str
    look_at: str

    @property
    def within(self) -> bool:
        """Whether the count lies in the interval."""
        return self.verdict == "within"


@dataclass(frozen=True)
class _Samples:
    """A prediction per production week: its value, that mean's standard error, a replication's spread, their number."""

    mean: float
    error: float
    spread: float
    count: int


class Audit:
    """Predictions of one study: its results, the scenarios of its run card, and the plant they were made for."""

    def __init__(
        self, plant: PlantInputs, results: Results, scenarios: Mapping[str, ScenarioInputs], today: str = TODAY
    ) -> None:
        self.plant, self.results, self.scenarios, self.today = plant, results, scenarios, today
        finance = plant.settings.finance
        self._production_weeks = finance.production_weeks
        self._ramp = Schedule(0.0, finance.ramp_start, finance.ramp_months / MONTHS_PER_YEAR)
        self._without: dict[str, dict[str, WithoutEach]] = {}

    def unit(self, measure: str) -> str:
        """Unit of a measure in the form: per calendar week unless a share or a mean. Raises KeyError if unknown."""
        if measure.startswith(SAVED):
            line = measure.removeprefix(SAVED)
            if line not in MONEY_LINES:
                raise KeyError(f"no line '{line}' in the audit; {nearest(line, MONEY_LINES)}")
            return f"{self.plant.settings.currency}/week"
        known = describe(measure)
        return f"{known.unit}/week" if known.extensive else known.unit

    def compare(self, rows: Sequence[Achieved]) -> tuple[AuditLine, ...]:
        """Each filled count beside its prediction, in the order of the form."""
        return tuple(self._line(row) for row in rows if row.achieved is not None)

    def blank(self, scenario: str) -> tuple[Achieved, ...]:
        """Rows of the blank form of a scenario: every count that the study predicts above zero, without its value."""
        owners = "; ".join(dict.fromkeys(
            self.plant.option_by_id[name].owner for name in self.scenarios[scenario].option_ids
        ))  # fmt: skip
        budgets = {SAVED + entry.line: entry.owner for entry in self.plant.settings.finance.budget_lines}
        asked = [name for name in FORM_MEASURES if self._asks(scenario, name)]
        asked += [SAVED + line for line in MONEY_LINES if abs(self._money(scenario, line, 1.0, 1.0).mean) > 0]
        return tuple(
            Achieved(scenario=scenario, months=months, measure=name, unit=self.unit(name),
                     owner=budgets.get(name) or owners)
            for months in PERIODS for name in asked
        )  # fmt: skip

    def findings(self, rows: Iterable[tuple[Achieved, int]], place: str) -> list[Finding]:
        """What is wrong with the rows of a form, each with its line."""
        found: list[Finding] = []
        filled = False
        for row, line in rows:
            filled = filled or row.achieved is not None
            found += self._row_findings(row, line, place)
        if not filled and not found:
            found.append(
                Finding(place, "holds no achieved value yet", "Fill in the column achieved", column="achieved")
            )
        return found

    def _row_findings(self, row: Achieved, line: int, place: str) -> list[Finding]:
        def wrong(why: str, mend: str, name: str, value: object) -> Finding:
            return Finding(place, why, mend, line, name, str(value))

        if row.scenario not in self.scenarios or row.scenario == self.today:
            others = [name for name in self.scenarios if name != self.today]
            return [wrong("is not a scenario of the study", nearest(row.scenario, others), "scenario", row.scenario)]
        if row.months not in PERIODS:
            return [wrong("is not a date of the audit", "Count at 3, 6 and 12 months", "months", row.months)]
        try:
            unit = self.unit(row.measure)
        except KeyError as error:
            return [wrong("is not a measure", str(error.args[0]), "measure", row.measure)]
        if row.unit != unit:
            return [wrong(f"is not the unit of {row.measure}", f"Give it in {unit}", "unit", row.unit)]
        measure = "overtime_h" if row.measure.startswith(SAVED) else row.measure
        levels = self._levels(row.scenario, measure)
        if not levels:
            return [wrong("was not measured by the study", "Leave the row out", "measure", row.measure)]
        if not levels[0] <= row.demand_factor <= levels[-1]:
            known = ", ".join(f"{level:g}" for level in levels)
            why = f"lies outside the demand that was simulated ({known})"
            return [wrong(why, "Simulate that demand; nothing is extrapolated", "demand_factor", row.demand_factor)]
        return []

    def _levels(self, scenario: str, measure: str) -> list[float]:
        both = (scenario, self.today)
        return [f for f in self.results.demand_factors if all(self.results.has(s, measure, f) for s in both)]

    def _asks(self, scenario: str, measure: str) -> bool:
        levels = self._levels(scenario, measure)
        return any(self.results.values(s, measure, f).any() for s in (scenario, self.today) for f in levels)

    def _line(self, row: Achieved) -> AuditLine:
        assert row.achieved is not None
        since = PERIODS[row.months]
        share = self._ramp.mean_share(since / MONTHS_PER_YEAR, row.months / MONTHS_PER_YEAR)
        if row.measure.startswith(SAVED):
            known = self._money(row.scenario, row.measure.removeprefix(SAVED), row.demand_factor, share)
        else:
            known = self._measured(row.scenario, row.measure, row.demand_factor, share)
        weeks = (row.months - since) * self._production_weeks / MONTHS_PER_YEAR
        half = half_width(known.error, known.spread, known.count, self._span(row.scenario), weeks)
        basis = self._per_calendar_week(row.measure)
        predicted, low, high = (basis * value for value in (known.mean, known.mean - half, known.mean + half))
        if not row.measure.startswith(SAVED):
            low = max(low, 0.0)  # no measure is below zero
        slack = 1e-9 * max(abs(predicted), abs(row.achieved), 1.0)
        verdict = "above" if row.achieved > high + slack else "below" if row.achieved < low - slack else "within"
        return AuditLine(row, predicted, low, high, verdict, "" if verdict == "within" else look_at(row.measure))

    def _per_calendar_week(self, measure: str) -> float:
        """Amount of a calendar week for one of a production week; shares and means have no such basis."""
        counted = measure.startswith(SAVED) or describe(measure).extensive
        return self._production_weeks / WEEKS_PER_YEAR if counted else 1.0

    def _span(self, scenario: str) -> float:
        return float(self.results.values(scenario, "span_weeks", self._levels(scenario, "span_weeks")[0]).mean())

    def _measured(self, scenario: str, measure: str, factor: float, share: float) -> _Samples:
        known, runs = (
            before + share * (self._weekly(read, scenario, measure, factor) - before)
            for read in (self.results.values, self.results.raw)
            for before in [self._weekly(read, self.today, measure, factor)]
        )
        count, mean = len(known), float(known.mean())
        if count < 2:
            return _Samples(mean, math.inf, math.inf, count)
        weeks = abs(mean) * self._week_spread if describe(measure).extensive else 0.0
        spread = math.hypot(float(runs.std(ddof=1)), weeks / math.sqrt(self._span(scenario)))
        return _Samples(mean, float(known.std(ddof=1)) / math.sqrt(count), spread, count)

    @cached_property
    def _week_spread(self) -> float:
        """How much weeks of the book differ in planned hours, as a share, where no run says it: all use each equally.

        What a week asks and saves is taken as proportional to its planned hours.
        """
        run = self.plant.settings.run
        if run.source != "project" or run.week_draw != "balanced":
            return 0.0
        hours = week_hours(self.plant)
        return float(hours.std(ddof=1) / hours.mean()) if len(hours) > 1 and hours.any() else 0.0

    def _weekly(self, read: Callable[..., NDArray[np.float64]], scenario: str, measure: str, factor: float
                ) -> NDArray[np.float64]:  # fmt: skip
        """Values per week of each replication, read adjusted or raw, at a demand between the simulated ones."""
        levels = self._levels(scenario, measure)
        rows = []
        for level in levels:
            values = read(scenario, measure, level)
            spans = self.results.values(scenario, "span_weeks", level)
            rows.append(values / spans if describe(measure).extensive else values)
        return np.array([np.interp(factor, levels, run) for run in np.array(rows).T])

    def _money(self, scenario: str, line: str, factor: float, share: float) -> _Samples:
        """Money saved on a line per production week; the error by the jackknife over replications."""
        if scenario not in self._without:
            both = totals_from(self.results, [self.scenarios[self.today], self.scenarios[scenario]])
            self._without[scenario] = totals_without_each(self.results, both.values())
        known, count = self._without[scenario], self.results.replications
        mean = share * float(self._saved({name: one.whole for name, one in known.items()}, scenario, line, factor))
        if count < 2:
            return _Samples(mean, math.inf, math.inf, count)
        alone = {name: one.at(np.arange(count)) for name, one in known.items()}
        left = np.broadcast_to(share * self._saved(alone, scenario, line, factor), count)
        runs = float(pseudo_values(mean, left).std(ddof=1))
        weeks = abs(mean) * self._week_spread / math.sqrt(self._span(scenario))
        return _Samples(mean, runs / math.sqrt(count), math.hypot(runs, weeks), count)

    def _saved(self, totals: Mapping[str, ScenarioTotals], scenario: str, line: str, factor: float) -> PerCase:
        pair = today_at(totals[self.today], prices_of(self.plant), 1.0, factor, factor).to(totals[scenario])
        return sum(gain.full for gain in gains_of(pair) if gain.line == line)


def half_width(error: float, spread: float, count: int, span_weeks: float, weeks: float) -> float:
    """Half-width of the 95 % prediction interval for the mean of ``weeks`` weeks.

    ``error`` is the standard error of the predicted mean, ``spread`` the standard deviation of a replication of
    ``span_weeks`` weeks, ``count`` the replications: t x sqrt(error^2 + spread^2 x span / weeks). Source: textbook
    prediction interval for a future mean, weeks independent.
    """
    if count < 2:
        return math.inf
    return t_quantile(0.975, count - 1) * math.sqrt(error**2 + spread**2 * span_weeks / weeks)


def look_at(measure: str) -> str:
    """What to look at where a count lies outside its interval."""
    if measure.startswith(SAVED):
        line = LINES[measure.removeprefix(SAVED)]
        return (
            f"{FIRST}; then {line.evidence}: has the budget '{line.budget}' been lowered, or spent on something else?"
        )
    return f"{FIRST}; then {LOOK_AT.get(measure, 'the inputs of elements.csv that it rests on, measured again')}"


def require_sound(findings: Sequence[Finding]) -> None:
    """Raise :class:`BadInput` with all errors among findings."""
    errors = [finding for finding in findings if finding.severity == "error"]
    if errors:
        raise BadInput(errors)
