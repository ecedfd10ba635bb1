"""A study: scenarios simulated under the same orders and the same luck, and the tables that answer from them."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import pandas as pd

from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.vocabulary import STATES
from simkit.desk import belief, cell_tables, night_tables, run_tables, time_tables
from simkit.desk.money import cash_flow
from simkit.desk.notebook_display import SIGN, noun_html, titled
from simkit.desk.part_tables import StudyParts
from simkit.desk.plants import Plant, Scenario
from simkit.desk.register_tables import register_of
from simkit.desk.runs import RunNumbers, numbers_of, require_one_study, run_all
from simkit.desk.simulated import Simulated, with_half
from simkit.desk.tool_tables import StudyTools
from simkit.experiment.compare import difference_table, level_table
from simkit.experiment.glossary import NEEDED, USUAL, describe
from simkit.experiment.records import ROWS
from simkit.experiment.runsfolder import Keep, runs_folder
from simkit.report.columns import measure_name
from simkit.report.words import plural, scaled

Measures = str | Sequence[str] | None


class Study(Simulated):
    """Scenarios of one plant under the same orders and luck; the first is what the others are compared with.

    ``results`` holds every measure of every replication, ``numbers`` how they were run. Totals are those of the whole
    run at the demand ``numbers.level``; :meth:`at` gives the same study at another simulated one.
    """

    week = run_tables.week_table
    orders = run_tables.order_table
    nights = run_tables.night_table
    machines = run_tables.machine_table
    one_night = run_tables.trace_table
    load = cell_tables.load_table
    demands = cell_tables.demand_table
    given_out = cell_tables.gone_table
    waits = cell_tables.wait_table
    tasks = cell_tables.task_table
    set_up = cell_tables.setup_table
    stops = cell_tables.stop_table
    night_runs = night_tables.run_table
    night_hours = night_tables.hour_table
    night_ends = night_tables.end_table
    mornings = night_tables.morning_table
    inputs = time_tables.input_table
    effects = time_tables.effect_table
    against_observed = belief.observed_table
    card = belief.card_table
    money = cash_flow
    register = register_of

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
        rows = []
        for measure in self._known(measures):
            known, share = describe(measure), describe(measure).unit == "1"
            unit = "%" if share else f"{known.unit} a week" if known.extensive else known.unit
            row: dict[str, object] = {"measure": f"{measure_name(measure)}, {unit}"}
            for name in self.names:
                row |= with_half(name, scaled(self.per_week(name, measure), 100.0 if share else 1.0))
            rows.append(row)
        note = "Mean and its 95 % range; all cases meet the same orders and the same chance events."
        return titled(pd.DataFrame(rows).set_index("measure"), f"{plural(len(self.names), 'case')} side by side", note)

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
                known = self.per_week(name, f"state_{state}_h")
                rows.append((name, state, known.mean, known.half_width))
        return pd.DataFrame(rows, columns=["scenario", "state", "hours_per_week", "half_width"])

    @property
    def tools(self) -> StudyTools:
        """Tables about tools: fixes, exchanges, clearances, magazine places, look-ahead, wear, set-up left."""
        return StudyTools(self.plant, self.scenarios, self.results, self.numbers)

    @property
    def parts(self) -> StudyParts:
        """Tables about parts: ways to hand over, work by hand, clocks, what can be picked, nights, lifting."""
        return StudyParts(self.plant, self.scenarios, self.results, self.numbers, self.money)

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


def simulate_at(scenarios: Sequence[Scenario], numbers: RunNumbers, *, keep: Keep = None, **run: Any) -> Study:
    """Simulate scenarios with numbers that are settled, as :func:`simulate` does; ``run`` are its further arguments."""
    plant = _plant_of(scenarios)
    made = [scenario.made for scenario in scenarios]
    require_one_study(made)
    results = run_all(plant.inputs, made, numbers, cache_dir=runs_folder(keep), records=tuple(ROWS), **run)
    return Study(plant, tuple(scenarios), results, numbers)


def _plant_of(scenarios: Sequence[Scenario]) -> Plant:
    """The plant that all scenarios are of, as its folder still holds it. Raises BadInput."""
    if not scenarios:
        mend = "Give at least one: plant.scenario('Today')"
        raise BadInput([Finding("simulate", "there is no scenario", mend)])
    plant = scenarios[0].plant
    why = f"is of another plant, or of the plant as it was before, than '{scenarios[0].name}'"
    findings = [
        Finding("simulate", why, "Make all scenarios from one plant", value=one.name)
        for one in scenarios
        if (one.plant.folder, one.plant.inputs_sha256) != (plant.folder, plant.inputs_sha256)
    ]
    if findings:
        raise BadInput(findings)
    plant.require_unchanged()
    return plant
