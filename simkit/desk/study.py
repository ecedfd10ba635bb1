"""A study: scenarios simulated under the same orders and the same luck, and the tables that answer from them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.vocabulary import STATES
from simkit.desk import cell_tables, load_tables, night_tables, records, time_tables
from simkit.desk.amounts import beside_table, per_week
from simkit.desk.belief import card_table, observed_table
from simkit.desk.money import CashFlow, cash_flow
from simkit.desk.part_tables import StudyParts
from simkit.desk.plants import Changes, Plant, Scenario
from simkit.desk.records import kept_rows, machine_table, week_table
from simkit.desk.register_tables import Register, register_of
from simkit.desk.runs import Numbers, luck_of, numbers_of, require_one_study, run_all
from simkit.desk.shown import SIGN, noun_html
from simkit.desk.tool_tables import StudyTools
from simkit.experiment.compare import difference_table, level_table
from simkit.experiment.glossary import NEEDED, USUAL
from simkit.experiment.kept import Keep, runs_folder
from simkit.experiment.records import ROWS
from simkit.experiment.results import Results
from simkit.plant import plant as tables
from simkit.plant.hashes import with_changes

Measures = str | Sequence[str] | None


@dataclass(frozen=True, eq=False, repr=False)
class Study:
    """Scenarios of one plant under the same orders and luck; the first is what the others are compared with.

    ``results`` holds every measure of every replication, ``numbers`` how they were run. Totals are those of the whole
    run at the demand ``numbers.level``; :meth:`at` gives the same study at another simulated one.
    """

    plant: Plant
    scenarios: tuple[Scenario, ...]
    results: Results
    numbers: Numbers

    @property
    def base(self) -> str:
        """Name of the first scenario."""
        return self.scenarios[0].name

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the scenarios."""
        return tuple(scenario.name for scenario in self.scenarios)

    @property
    def stamp(self) -> str:
        """Hash of the inputs: of the plant's files, and of all changes of them."""
        changes = dict.fromkeys(text for scenario in self.scenarios for text in scenario.changes)
        return with_changes(self.plant.inputs_sha256, (*self.plant.changes, *changes))

    def at(self, demand: float) -> Study:
        """Return the study at another simulated demand; raises BadInput for one that was not simulated."""
        if float(demand) not in self.numbers.levels:
            levels = ", ".join(f"{level:g}" for level in self.numbers.levels)
            why = f"was not simulated; simulated are {levels}"
            raise BadInput([Finding("study.at", why, "Simulate with demand= this factor", value=f"{demand:g}")])
        return dataclasses.replace(self, numbers=dataclasses.replace(self.numbers, level=float(demand)))

    def table(self, measures: Measures = None) -> pd.DataFrame:
        """One row per scenario and measure: mean, half_width (95 %), unit, replications, and why one must not be shown.

        ``measures`` are names of the measure reference; by default the usual ones.
        """
        found = level_table(self.results, self._known(measures), self.numbers.level, self.names)
        columns = {"n": "replications", "verdict": "note"}
        return found.rename(columns=columns)[["scenario", "measure", "mean", "half_width", "unit", *columns.values()]]

    def differences(self, against: str | Scenario | None = None, measures: Measures = None) -> pd.DataFrame:
        """Paired differences from ``against`` (default: the first scenario), one row per scenario and measure.

        ``half_width`` is that of a 95 % interval; those of one measure hold together. ``sign`` is 'sure', 'cannot tell'
        or, where all replications are equal, 'the same'; for a measure that must not be shown it says why.
        """
        base = self.base if against is None else self.scenario(against).name
        others = [name for name in self.names if name != base]
        columns = ["scenario", "against", "measure", "mean", "half_width", "unit", "replications", "sign"]
        if not others:
            return pd.DataFrame(columns=columns)
        found = difference_table(self.results, base, self._known(measures), self.numbers.level, others)
        sign = found["verdict"].map(lambda verdict: SIGN.get(verdict, verdict))
        return found.assign(sign=sign).rename(columns={"n": "replications"})[columns]

    def beside(self, measures: Measures = None) -> pd.DataFrame:
        """Scenarios side by side, one row a measure, totals as those of a week: a column a scenario and its half-width.

        ``half_width`` columns are those of 95 % intervals of each mean; what differs surely says :meth:`differences`.
        """
        return beside_table(self, self._known(measures))

    def replications(self, measures: Measures = None) -> pd.DataFrame:
        """Every value as simulated, in long form: scenario, demand_factor, replication, measure, value, unit.

        All measures and all simulated demands by default.
        """
        frame = self.results.frame
        wanted = frame["measure"].isin(self._known(measures)) if measures is not None else frame["measure"].notna()
        return frame[wanted].reset_index(drop=True)

    def time_split(self) -> pd.DataFrame:
        """Hours per week of each machine state by scenario, with 95 % half-widths; a scenario's sum to the calendar."""
        rows = []
        for name in self.names:
            for state in STATES:
                known = per_week(self, name, f"state_{state}_h")
                rows.append((name, state, known.mean, known.half_width))
        return pd.DataFrame(rows, columns=["scenario", "state", "hours_per_week", "half_width"])

    def week(self, scenario: str | Scenario, week: int | None = None) -> pd.DataFrame:
        """Who or what was in which state in one week of the first replication, by default its second.

        Columns resource, state, start_h and end_h in hours from Monday 00:00; ``calendar`` holds shifts and breaks.
        """
        usual = 2 if self.numbers.weeks > 1 else 1  # the first week begins with the start of the run
        return week_table(self.scenario(scenario).made, self._luck(scenario), self.numbers, week or usual)

    against_observed = observed_table
    card = card_table
    night_hours = night_tables.hour_table

    def orders(self, scenario: str | Scenario, replications: int = 1) -> pd.DataFrame:
        """One row per order of the first replications: released, due, started, there, in hours from the start.

        The columns are those of :class:`simkit.experiment.ordermeasures.OrderRow`; ``fate`` is in_house, subcontract or
        refused, ``late_days`` count from the due date; hours are empty where nothing happened by the end of the run.
        """
        return kept_rows(self.results, "orders", self.scenario(scenario).name, self.numbers, replications)

    def nights(self, scenario: str | Scenario, replications: int = 1) -> pd.DataFrame:
        """One row per machine and unattended night of the first replications: hours allowed, run and lost, and why."""
        return kept_rows(self.results, "nights", self.scenario(scenario).name, self.numbers, replications)

    def load(self, scenario: str | Scenario = "") -> pd.DataFrame:
        """A mean week of the book, of the observed weeks and of the simulation side by side; by default the first."""
        return load_tables.load_table(self, self._named(scenario))

    def demands(self, of: str | Scenario = "") -> pd.DataFrame:
        """Hours needed and attended a week at every simulated demand, how the rest is met, and ``makes_the_book``.

        Its title answers for the scenario ``of``, by default the first.
        """
        return load_tables.demand_table(self, self._named(of))

    def given_out(self, scenario: str | Scenario = "") -> pd.DataFrame:
        """Orders given out and refused by the planner's rule: hours a week by weekday and by days to the due date."""
        return load_tables.gone_table(self, self._named(scenario))

    def waits(self, scenario: str | Scenario = "") -> pd.DataFrame:
        """How busy machine, people and bench are, and what waits for them; empty while the backlog grows."""
        return cell_tables.wait_table(self, self._named(scenario))

    def tasks(self, scenario: str | Scenario = "") -> pd.DataFrame:
        """People's hours a week by task, most first."""
        return cell_tables.task_table(self, self._named(scenario))

    def set_up(self, scenario: str | Scenario = "") -> pd.DataFrame:
        """Set-up by kind a week: times, minutes of each, hours for which the machine stands or that are hidden."""
        return cell_tables.setup_table(self, self._named(scenario))

    def stops(self, scenario: str | Scenario = "") -> pd.DataFrame:
        """Stops a week by cause, attended and at night: times, and hours until they are cleared."""
        return cell_tables.stop_table(self, self._named(scenario))

    def night_runs(self, scenario: str | Scenario) -> pd.DataFrame:
        """Every unattended night of all replications, as :meth:`nights`; none where nobody assessed them."""
        return night_tables.run_table(self, self.scenario(scenario).name)

    def one_night(self, scenario: str | Scenario) -> pd.DataFrame:
        """A usual unattended night of a scenario event by event: at, until, what_happens, order_id, sheets."""
        return records.trace_table(self, self.scenario(scenario).name)

    def night_ends(self, scenario: str | Scenario) -> pd.DataFrame:
        """What ended the nights of a scenario, a week, and what people can do against it before they leave."""
        return night_tables.end_table(self, self.scenario(scenario).name)

    def mornings(self, scenario: str | Scenario) -> pd.DataFrame:
        """What the morning after a night finds."""
        return night_tables.morning_table(self, self.scenario(scenario).name)

    def inputs(self, most: int = 8) -> pd.DataFrame:
        """Time elements with the widest range in the book: path, low, typical, high, what they rest on, and names for
        scenarios at either end."""
        return time_tables.input_table(self, most)

    def effects(self, inputs: pd.DataFrame, measure: str = NEEDED) -> pd.DataFrame:
        """What each of :meth:`inputs` changes a week at its low and its high, from scenarios named as there."""
        return time_tables.effect_table(self, inputs, measure)

    def machines(self, scenario: str | Scenario) -> pd.DataFrame:
        """Hours of each state and sheets of every machine, in long form: machine, replication, measure, value, unit.

        In the measured span. With several machines every replication is run for it again.
        """
        own = self.scenario(scenario)
        return machine_table(own.made, self._luck(own), self.numbers, self.results)

    def money(self, changes: Changes | None = None, *, among: int = 1) -> CashFlow:
        """Return the cash flow of all scenarios against the first one; changes of prices and terms run no cell.

        Ranges of values hold together for all cases; ``among`` says of how many more these are a part, so that a value
        that is one of a larger comparison has the same range there and here.

        Raises BadInput for a path that leads nowhere, for a change of something that the cell reads, and where the
        first scenario holds options, whose price would count as nothing.
        """
        return cash_flow(self, changes or {}, among)

    def register(
        self, case: str = "", *, workers: int | None = None, keep: Keep = None, progress: bool = True
    ) -> Register:
        """The register of assumptions: every input with its basis, what each moves, and what to measure next.

        Ranks are those of the value of ``case``, by default the one worth most; without another scenario than the first
        nothing is ranked. The times that matter most are simulated as in :meth:`CashFlow.with_times`.
        """
        return register_of(self, case, workers=workers, keep=keep, progress=progress)

    @property
    def tools(self) -> StudyTools:
        """Tables about tools: fixes, exchanges, clearances, magazine places, look-ahead, wear, set-up left."""
        return StudyTools(self)

    @property
    def parts(self) -> StudyParts:
        """Tables about parts: ways to hand over, work by hand, clocks, what can be picked, nights, lifting."""
        return StudyParts(self)

    def scenario(self, named: str | Scenario) -> Scenario:
        """Return a scenario of the study by its name; raises BadInput with the nearest known one."""
        name = named if isinstance(named, str) else named.name
        for scenario in self.scenarios:
            if scenario.name == name:
                return scenario
        raise BadInput([Finding("study", "no scenario has this name", nearest(name, self.names), value=name)])

    def _named(self, scenario: str | Scenario) -> str:
        return self.scenario(scenario).name if scenario else self.base

    def _luck(self, scenario: str | Scenario) -> tables.Scenario:
        return luck_of(self.plant.inputs, self.scenario(scenario).made)

    def _known(self, measures: Measures) -> list[str]:
        """Names of measures, the usual ones by default; raises BadInput for those that no scenario measured."""
        measured = self.results.measures
        if measures is None:
            return [name for name in USUAL if name in measured]
        names = [measures] if isinstance(measures, str) else list(measures)
        unknown = [name for name in names if name not in measured]
        if unknown:
            why = "is not a measure of this study"
            raise BadInput(Finding("measures", why, nearest(name, measured), value=name) for name in unknown)
        return names

    def __repr__(self) -> str:
        """Return the study in one line."""
        numbers = self.numbers
        return (
            f"<Study {self.plant.name}: {', '.join(self.names)}; {numbers.replications} replications of "
            f"{numbers.weeks:g} weeks at demand {numbers.level:g}>"
        )

    def _repr_html_(self) -> str:
        frame = self.table([NEEDED]) if len(self.scenarios) == 1 else self.differences(measures=[NEEDED])
        return noun_html(repr(self)[1:-1], frame)


def simulate(
    scenarios: Scenario | Sequence[Scenario],
    *,
    replications: int | None = None,
    weeks: float | None = None,
    demand: float | None = None,
    levels: Sequence[float] = (),
    seed: int | None = None,
    workers: int | None = None,
    keep: Keep = None,
    scheduler: str = "",
    progress: bool = True,
) -> Study:
    """Simulate scenarios of one plant under the same orders and luck; only what was never run is run.

    The first scenario is what the others are compared with. ``replications``, ``weeks`` and ``seed`` default to the
    plant's run settings. ``demand`` is a factor of the order book that holds in every year; without it all levels are
    simulated that the plant's signed years read, and the study answers at ``plant.run.demand_factor``. ``levels``
    are further demands to simulate, for :meth:`Study.demands`; a plant that replays its book has none. ``workers``
    counts processes (default: one per core); ``scheduler`` is the address of a Dask cluster that takes their place.
    Runs are kept in a folder of the user that the command line, notebooks and reports share; ``keep`` names another
    one, False keeps none. ``progress`` shows a bar.

    Raises BadInput before anything runs: no scenario, two of one name or of different plants, a plant folder that has
    changed since it was read, or a number that cannot be run. Raises ScenarioFailed if a run breaks off.
    """
    chosen = (scenarios,) if isinstance(scenarios, Scenario) else tuple(scenarios)
    _plant_of(chosen)
    require_one_study([scenario.made for scenario in chosen])
    numbers = numbers_of(chosen[0].made.plant, replications, weeks, demand, seed, levels)
    return simulate_at(chosen, numbers, workers=workers, keep=keep, scheduler=scheduler, progress=progress)


def simulate_at(
    scenarios: Sequence[Scenario],
    numbers: Numbers,
    *,
    workers: int | None = None,
    keep: Keep = None,
    scheduler: str = "",
    progress: bool = True,
) -> Study:
    """Simulate scenarios with numbers that are settled, as :func:`simulate` does."""
    plant = _plant_of(scenarios)
    made = [scenario.made for scenario in scenarios]
    require_one_study(made)
    how = {
        "workers": workers,
        "cache_dir": runs_folder(keep),
        "scheduler": scheduler,
        "progress": progress,
        "records": tuple(ROWS),
    }
    return Study(plant, tuple(scenarios), run_all(plant.inputs, made, numbers, **how), numbers)


def _plant_of(scenarios: Sequence[Scenario]) -> Plant:
    """The plant that all scenarios are of, as its folder still holds it. Raises BadInput."""
    if not scenarios:
        mend = "Give at least one: plant.scenario('Today')"
        raise BadInput([Finding("simulate", "there is no scenario", mend)])
    plant = scenarios[0].plant
    findings = list(_foreign(plant, scenarios))
    if findings:
        raise BadInput(findings)
    plant.require_unchanged()
    return plant


def _foreign(plant: Plant, scenarios: Sequence[Scenario]) -> Iterator[Finding]:
    for scenario in scenarios:
        if (scenario.plant.folder, scenario.plant.inputs_sha256) != (plant.folder, plant.inputs_sha256):
            why = f"is of another plant, or of the plant as it was before, than '{scenarios[0].name}'"
            yield Finding("simulate", why, "Make all scenarios from one plant", value=scenario.name)
