"""What the sections of the study of nights read: a study, its own cases, and the nights of each one by one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.analysis.cases import Case
from simkit.analysis.night_cases import ALONE, BASE, FREED, RIVAL
from simkit.analysis.night_rivals import sheet_exposures
from simkit.analysis.night_tables import End, StopRate, by_want, night_mean, nights_differ, ranking, stop_rates
from simkit.analysis.night_wants import STOP, words_of
from simkit.experiment.glossary import UNATTENDED
from simkit.experiment.intervals import Estimate, Spread, against_base
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.report.caseview import CaseView
from simkit.report.sections.options import assesses
from simkit.report.study import Study
from simkit.report.studydata import TODAY

NO_NIGHT = (
    "No setting and no option of this plant allows unattended running, so there are no nights to report: every case "
    "stops when its people go."
)
NOT_ASSESSED = (
    "Night results are not printed: neither plant.toml nor an option says who assessed unattended running and when "
    "(calendar.night.assessed_by, assessed_on)."
)
OTHER_DEMAND = "The nights of this plant were simulated at another demand level than that of these answers."
HOURS = (UNATTENDED, "visit_running_h")
"""Hours worked in the window of the night, unattended and while somebody visits."""


@dataclass(frozen=True, eq=False)
class NightStudy(CaseView):
    """A study seen from its nights."""

    page = "nights"

    @cached_property
    def base(self) -> Case | None:
        """The set whose nights are looked at; None where none allows nights."""
        return next((case for case in self.own_cases.values() if case.group == BASE), None)

    @cached_property
    def why_not(self) -> str:
        """Why no night is shown, in one sentence; empty where nights are."""
        if self.base is None:
            return NO_NIGHT
        if not self.assessments:
            return NOT_ASSESSED
        return "" if self.at_counted_demand else OTHER_DEMAND

    @property
    def shown(self) -> Case:
        """The base, where nights are shown; raises ValueError with the reason where they are not."""
        if self.base is None or self.why_not:
            raise ValueError(self.why_not)
        return self.base

    @cached_property
    def assessments(self) -> tuple[str, ...]:
        """Who assessed unattended running and when, with the option that says so; empty where nobody did."""
        night, found = self.study.plant.settings.calendar.night, []
        if night.assessed_by:
            found.append(f"{night.assessed_by}, on {night.assessed_on or 'no date'} (plant.toml)")
        options = self.base.options if self.base else ()
        for option in (o for o in map(self.study.plant.option_by_id.__getitem__, options) if assesses(o)):
            said = {edit.path.rsplit(".", 1)[-1]: edit.value for edit in option.edits}
            found.append(f"{said['assessed_by']}, on {said.get('assessed_on', 'no date')} (option {option.id})")
        return tuple(found)

    @cached_property
    def plant(self) -> Plant:
        """The plant with the options of the base."""
        return make_scenario(self.study.plant, self.shown.options).plant

    @cached_property
    def allowing(self) -> tuple[str, ...]:
        """Scenarios of the report that allow nights, the base first."""
        names = [n for n in self.study.scenarios if self.study.has(n, "nights") and self.study.total(n, "nights").mean]
        return tuple(dict.fromkeys([self.shown.name, *names]))

    def case(self, name: str) -> Case | None:
        """A case by name."""
        return self.own_cases.get(name)

    @property
    def only_stops(self) -> Case | None:
        """The case in which only unplanned stops and the queue end a night."""
        return next((case for case in self.cases(ALONE) if case.want == STOP), None)

    @property
    def freed(self) -> Case | None:
        """The base in which only the queue ends a night."""
        return next((case for case in self.cases(FREED) if case.of == self.shown.name), None)

    @property
    def rivals(self) -> list[Case]:
        """Sets that hand over in another way."""
        return self.cases(RIVAL)

    def named(self, name: str) -> str:
        """Name of a case as readers see it."""
        return self.study.named(name) if name in self.study.run.scenarios else name

    def nights(self, name: str) -> pd.DataFrame:
        """Nights of a case, one row each."""
        return self.study.table("nights", name)

    def per_night(self, name: str, column: str = "running_h") -> Estimate:
        """Mean of a quantity per night with its 95 % interval over replications."""
        return night_mean(self.nights(name), column)

    def differ(self, name: str, column: str = "running_h") -> Spread:
        """Range of 8 in 10 single nights."""
        return nights_differ(self.nights(name), column)

    def allowed_h(self, name: str) -> float:
        """Hours allowed in a mean night of a case."""
        return float(self.nights(name)["allowed_h"].mean())

    def ends(self, name: str) -> tuple[End, ...]:
        """What ended the nights of a case, most hours lost first."""
        return ranking(self.nights(name))

    def causes(self, name: str) -> tuple[End, ...]:
        """The same with each want once, whatever limit it falls under."""
        return by_want(self.nights(name))

    def words(self, limit: str, want: str) -> str:
        """What ended a night, in words."""
        return words_of(self.plant, limit, want)

    @cached_property
    def rates(self) -> tuple[StopRate, ...]:
        """Stops that need a person, per hour worked at night: where only stops end nights, else in the base."""
        name = (self.only_stops or self.shown).name
        loads = sum(self.study.total(self.shown.name, m).mean for m in ("tool_loads", "magazine_exchanges")
                    if self.study.has(self.shown.name, m))  # fmt: skip
        sheets = self.study.total(self.shown.name, "sheets").mean
        per_sheet = sheet_exposures(self.study.plant, self.shown.options, loads / sheets if sheets else 0.0)
        return stop_rates(self.plant, self.nights(name), per_sheet)

    def weekly_values(self, name: str, *measures: str) -> NDArray[np.float64]:
        """Sum of measures per week, one value a replication; what a case did not measure did not happen."""
        weekly, factor = self.study.weekly, self.study.demand_factor
        nothing = np.zeros_like(weekly.values(name, "nights", factor))
        found = [weekly.values(name, m, factor) for m in measures if weekly.has(name, m, factor)]
        return np.asarray(sum(found, nothing))

    def gains(self, names: Iterable[str], against: str, *measures: str) -> dict[str, Estimate]:
        """Paired differences per week from a case; the intervals hold together at 95 %."""
        wanted: Sequence[str] = [name for name in dict.fromkeys(names) if name != against]
        if not wanted:
            return {}
        weekly = self.study.weekly
        values = {name: self.weekly_values(name, *measures) for name in (against, *wanted)}
        fitted = weekly.fitted(against, self.study.demand_factor)
        return against_base(values, against, "h", family=self.study.family, fitted=fitted)


def nights_of(study: Study) -> NightStudy:
    """See a study from its nights."""
    return NightStudy(study)


def read_by_nights(study: Study) -> list[str]:
    """What the study of nights reads, as text: physics of its cases and of the sets beside them, and the assessment."""
    view = NightStudy(study)
    beside = dict.fromkeys([TODAY, study.package, *study.calendar, *study.run.scenarios])
    return [*study.physics(beside), *view.read_cases, *view.assessments]
