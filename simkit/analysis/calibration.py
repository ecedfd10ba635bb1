"""Calibration: laws from measured values, a few bounded factors on some observed weeks, validation on the others.

The actual sequence and start are replayed first, so that the rule that chooses orders is no source of error; then the
rule chooses. Tolerances are those agreed beforehand (common practice): sheets 5 %, set-up hours 10 %, shares of
attended time 3 points, mean and 90th percentile of order delay 15 %.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from simkit.analysis.log_laws import RATIO_UNIT, laws_from_log, laws_from_measurements
from simkit.analysis.machine_log import read_log
from simkit.base.arrays import Floats
from simkit.base.messages import BadInput, Finding
from simkit.base.vocabulary import CHANGEOVER, FIRST_PIECE, HANDLING_STATES, PROCESS_STATES
from simkit.experiment.intervals import LEVEL, t_quantile
from simkit.experiment.replay import HOURS_OF, REPLAY, USES, WEEKLY, delay_h, delays, replayed
from simkit.experiment.runner import run_scenarios
from simkit.plant.calibration_file import (
    CALIBRATION_FILE,
    FIRST_GUESS,
    HIGHEST,
    LOG_FILE,
    LOWEST,
    Calibration,
    Check,
    Multiplier,
    foundation,
)
from simkit.plant.edits import apply_edits
from simkit.plant.options import Edit
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import ObservedWeek
from simkit.process.shifts import ShiftPlan, plan_shifts

ROUNDS = 2
"""Times that the factors are worked out anew; the hours of a state are nearly proportional to its factor."""
FOR_FACTORS = 10
"""Replications at most of each round in which the factors are come near to."""
TO_SETTLE = 2
"""Times the replications of a comparison from which the factors are then settled."""
REPLICATIONS = 20
"""Replications of each comparison, unless stated."""
SOURCE = "calibration"

PER = {"setup_h": "orders_finished", "handling_h": "sheets", "process_h": "sheets", "stopped_h": "process_h"}
"""What the hours of a state are counted by where a factor is worked out, so that more work made is no slower work."""
GROUPS = {"set-up": "setup_h", "loading and pulling out": "handling_h", "run time": "process_h", "stops": "stopped_h"}
RELATIVE = {"sheets": 0.05, "setup_h": 0.10, "delay_h": 0.15, "delay_p90_h": 0.15}
POINTS = dict.fromkeys(HOURS_OF, 3.0)
"""Tolerances: of the value, and in points of attended time."""
LABELS = {
    "sheets": "sheets", "orders_finished": "orders finished", "setup_h": "set-up", "process_h": "process",
    "handling_h": "loading and pulling out", "stopped_h": "stopped", "delay_h": "order delay, mean",
    "delay_p90_h": "order delay, 90 % below",
}  # fmt: skip


@dataclass(frozen=True)
class ReplayedWeeks:
    """Replications of a replay: value by measure and week (or, of delays, use), one entry a replication."""

    values: Mapping[tuple[str, Any], Floats]

    def of(self, measure: str, weeks: Sequence[int], use: str = "") -> Floats:
        """A measure of some weeks together; of a delay, of all weeks of a use."""
        if measure.startswith("delay") and use:
            return self.values[measure, use]
        return np.asarray(np.sum([self.values[measure, week] for week in weeks], axis=0))


def require_weeks(plant: PlantInputs) -> None:
    """Raise BadInput unless there are weeks to calibrate on, weeks held back, and a history."""
    problems = []
    for use, what in (("calibrate", "to calibrate on"), ("validate", "held back to validate")):
        if not any(week.use == use for week in plant.observed):
            problems.append(
                Finding("observed.csv", f"has no week {what}", f"Give at least one, better two, with use {use}")
            )
    if not plant.history:
        problems.append(Finding("history.csv", "holds no orders", "Give what was made when in the observed weeks"))
    if problems:
        raise BadInput(problems)


def replay_weeks(
    plant: PlantInputs,
    edits: Sequence[Edit],
    use: str,
    *,
    rule: bool,
    replications: int,
    seed: int,
    workers: int | None,
) -> ReplayedWeeks:
    """Replay the observed weeks of one use with some edits; raises BadInput where the edits do not fit."""
    own = replayed(plant, use, rule=rule)
    scenario = make_scenario(apply_edits(own, [(SOURCE, edit) for edit in edits]))
    results = run_scenarios(
        scenario, [scenario], replications=replications, seed=seed, workers=workers, progress=False, model=REPLAY,
        records=("weeks", "uses"),
    )  # fmt: skip
    first = (own.settings.run.start_monday - min(week.monday for week in plant.observed)).days // 7
    weeks, uses = (results.rows(name, scenario.name).sort_values("replication") for name in ("weeks", "uses"))
    groups = (*weeks.assign(week=weeks["week"] + first).groupby("week"), *uses.groupby("use"))
    return ReplayedWeeks({(measure, key): rows[measure].to_numpy(float)
                  for key, rows in groups for measure in WEEKLY if measure in rows})  # fmt: skip


# ---- factors ----


def group_edits(plant: PlantInputs, factors: Mapping[str, float]) -> list[Edit]:
    """The edits that multiply each group of inputs by its factor; what strikes unattended alone, no week has shown."""
    states, strikes = {row.state for row in plant.elements}, {row.acts for row in plant.stops}
    paths: dict[str, list[tuple[str, bool]]] = {
        "set-up": _of_states(states, (CHANGEOVER, FIRST_PIECE)),
        "loading and pulling out": _of_states(states, HANDLING_STATES),
        "run time": [(f"elements[unit={RATIO_UNIT}].typical", False)],
        "stops": [(f"stops[acts={acts}].rate", False) for acts in ("both", "attended") if acts in strikes],
    }
    if not any(row.unit == RATIO_UNIT for row in plant.elements):
        speed = [("materials[*].pierce_s", False), ("materials[*].cutting_speed_m_min", True)]
        paths["run time"] = [*_of_states(states, PROCESS_STATES), *speed]
    return [
        Edit(path=path, op="multiply", value=1 / factors[group] if inverse else factors[group])
        for group, ways in paths.items() for path, inverse in ways
    ]  # fmt: skip


def _of_states(states: set[str], wanted: Sequence[str]) -> list[tuple[str, bool]]:
    return [(f"elements[state={state}].typical", False) for state in wanted if state in states]


def fit_factors(
    plant: PlantInputs, edits: Sequence[Edit], notes: Mapping[str, str],
    replay: Callable[[Sequence[Edit]], ReplayedWeeks], settle: Callable[[Sequence[Edit]], ReplayedWeeks],
) -> tuple[list[Multiplier], list[Edit]]:  # fmt: skip
    """Work the factors out on the weeks that calibrate; return them, and all edits with theirs.

    ``replay`` is used to come near them; ``settle``, of more replications, for what the weeks ask for and how much of
    it may be chance: few replications know a spread so badly that a verdict would turn on the seed.
    """
    unknown = sorted(set(notes) - set(GROUPS))
    if unknown:
        raise BadInput(
            [Finding("--note", "is no group of factors", f"Name one of {', '.join(GROUPS)}", value=unknown[0])]
        )
    factors = dict.fromkeys(GROUPS, 1.0)
    for _ in range(ROUNDS):
        wanted = _wanted(plant, replay([*edits, *group_edits(plant, factors)]), factors)
        factors = {
            group: value if notes.get(group) else min(max(value, LOWEST), HIGHEST) for group, value in wanted.items()
        }
    final = settle([*edits, *group_edits(plant, factors)])
    wanted = _wanted(plant, final, factors)
    found = [
        _multiplier(group, wanted[group], _luck(plant, final, GROUPS[group]), notes.get(group, "")) for group in GROUPS
    ]
    return found, [*edits, *group_edits(plant, {one.name: one.value for one in found})]


def _wanted(plant: PlantInputs, simulated: ReplayedWeeks, factors: Mapping[str, float]) -> dict[str, float]:
    """The factors that the weeks ask for, by a replay with some factors."""
    return {group: factors[group] * _asked(plant, simulated, GROUPS[group]) for group in GROUPS}


def _multiplier(group: str, wanted: float, luck: float, note: str) -> Multiplier:
    """The factor that is used: 1 where luck alone may ask for another, within the bounds, with a note as asked."""
    low, high = wanted * float(np.exp(-luck)), wanted * float(np.exp(luck))
    bounded = 1.0 if low <= 1 <= high else min(max(wanted, LOWEST), HIGHEST)
    value = wanted if note else bounded
    ends = {"low": round(low, 4), "high": round(high, 4)}
    return Multiplier(name=group, value=round(value, 4), wanted=round(wanted, 4), note=note, **ends)


def _asked(plant: PlantInputs, simulated: ReplayedWeeks, measure: str) -> float:
    """Observed over simulated hours for the same amount of work; 1 where either shows none."""
    weeks = _weeks(plant, "calibrate")
    numbers = [number for number, _ in weeks]
    seen = _sum(weeks, measure) / max(_sum(weeks, PER[measure]), 1e-9)
    made = float(simulated.of(measure, numbers).mean() / max(simulated.of(PER[measure], numbers).mean(), 1e-9))
    return seen / made if seen > 0 and made > 0 else 1.0


def _luck(plant: PlantInputs, simulated: ReplayedWeeks, measure: str) -> float:
    """Half-width of the logarithm of a factor: how much so many weeks differ by luck alone, 95 %."""
    numbers = [number for number, _ in _weeks(plant, "calibrate")]
    rate = simulated.of(measure, numbers) / np.maximum(simulated.of(PER[measure], numbers), 1e-9)
    if len(rate) < 2 or rate.mean() == 0:
        return 0.0
    t = t_quantile((1 + LEVEL) / 2, len(rate) - 1)
    return float(t * rate.std(ddof=1) * np.sqrt(1 + 1 / len(rate)) / rate.mean())


def _weeks(plant: PlantInputs, use: str) -> list[tuple[int, ObservedWeek]]:
    """Observed weeks of a use, each with its number in the replay."""
    first = min(week.monday for week in plant.observed)
    return [((week.monday - first).days // 7, week) for week in plant.observed if week.use == use]


def _sum(weeks: Sequence[tuple[int, ObservedWeek]], measure: str) -> float:
    return float(sum(getattr(week, measure) for _, week in weeks))


# ---- checks ----


def checks(plant: PlantInputs, use: str, simulated: ReplayedWeeks, run: str) -> Iterator[Check]:
    """Every measure of every observed week of a use, then of all of them together, beside the simulated ones."""
    weeks = _weeks(plant, use)
    for number, week in weeks:
        yield from _compared(plant, simulated, use, [(number, week)], _check_of(run, use, week.week), "")
    yield from _compared(plant, simulated, use, weeks, _check_of(run, use, 0), use)


def _check_of(run: Any, use: Any, week: int) -> Callable[..., Check]:
    return partial(Check, run=run, use=use, week=week)


def _compared(
    plant: PlantInputs,
    simulated: ReplayedWeeks,
    use: str,
    weeks: Sequence[tuple[int, ObservedWeek]],
    check: Callable[..., Check],
    together: str,
) -> Iterator[Check]:
    attended_h = _sum(weeks, "attended_h")
    numbers = [number for number, _ in weeks]
    seen_delays = delays(_observed_delay_h(plant, use, weeks))
    for measure, unit in WEEKLY.items():
        values = simulated.of(measure, numbers, together)
        seen = seen_delays[measure] if measure in seen_delays else _sum(weeks, measure)
        low, high = np.quantile(values, [0.05, 0.95])
        common = {"observed": seen, "simulated": float(values.mean()), "low": float(low), "high": float(high)}
        apart = common["simulated"] - seen
        more = ", hours" if measure in POINTS else ""
        if more and attended_h:
            shares = {name: 100 * value / attended_h for name, value in common.items()}
            label = f"{LABELS[measure]}, share of attended time"
            yield _check(partial(check, measure=label, unit="%"), shares, 100 * apart / attended_h, POINTS[measure])
        if measure in RELATIVE or not more:
            named = partial(check, measure=LABELS[measure] + more, unit=unit)
            yield _check(named, common, apart / seen if seen else 0.0, RELATIVE.get(measure, 0.0))


def _check(check: Callable[..., Check], values: Mapping[str, float], apart: float, tolerance: float) -> Check:
    """One check; where a value is missing, on one side alone, nothing holds."""
    finite = {name: round(value, 4) if np.isfinite(value) else 0.0 for name, value in values.items()}
    difference = round(apart, 4) if np.isfinite(apart) else 0.0
    holds = tolerance == 0 or (bool(np.isfinite(apart)) and abs(difference) <= tolerance)
    return check(difference=difference, tolerance=tolerance, holds=holds, **finite)


def _observed_delay_h(plant: PlantInputs, use: str, weeks: Sequence[tuple[int, ObservedWeek]]) -> Floats:
    """Delays of the orders that were started in the weeks of a use or later, and finished in some of them."""
    own = replayed(plant, use)
    first = own.settings.run.start_monday
    plan = plan_shifts(own, 7 * int(own.settings.run.weeks) + 2)
    released = {order.order_id: order.released for order in own.orders}
    done = [(released[row.order_id], row.finished) for row in plant.history if row.order_id in released]
    last = len(plan.day_start) - 1
    released_s = np.array([plan.day_start[min((day - first).days, last)] for day, _ in done])
    done_s = np.array([_elapsed_s(plan, first, moment) for _, moment in done])
    begins = [(week.monday - first).days for _, week in weeks]
    return delay_h(plan, released_s, done_s, [(plan.day_start[day], plan.day_start[day + 7]) for day in begins])


def _elapsed_s(plan: ShiftPlan, first: dt.date, moment: dt.datetime) -> float:
    """Elapsed seconds of a wall time; one beyond the plan counts as its end."""
    day = (moment.date() - first).days
    if day >= len(plan.day_start):
        return plan.day_start[-1]
    return plan.day_start[day] + (moment - dt.datetime.combine(moment.date(), dt.time())).total_seconds()


# ---- all of it ----


def first_guess(
    plant: PlantInputs, *, replications: int, seed: int | None = None, workers: int | None = None
) -> Calibration:
    """Return the observed weeks beside the plant as it is guessed, nothing fitted. Raises BadInput as a fit does."""
    require_weeks(plant)
    drawn_by = plant.settings.run.seed if seed is None else seed
    compared: list[Check] = []
    for use in USES:
        replay = replay_weeks(plant, (), use, rule=False, replications=replications, seed=drawn_by, workers=workers)
        compared += checks(plant, use, replay, FIRST_GUESS)
    return Calibration(seed=drawn_by, replications=replications, checks=tuple(compared))


def fit_plant(
    plant: PlantInputs,
    folder: Path,
    *,
    replications: int = REPLICATIONS,
    seed: int | None = None,
    notes: Mapping[str, str] | None = None,
    workers: int | None = None,
    say: Callable[[str], None] = lambda text: None,
) -> Calibration:
    """Return the calibration of a plant that was read from a folder; nothing is written.

    ``notes`` say, by group, why a factor may leave its bounds. Raises BadInput where weeks or history are missing, the
    log cannot be read, or the plant is calibrated already.
    """
    if plant.calibration is not None:
        raise BadInput([Finding(CALIBRATION_FILE, "calibrates this plant already", "Move it away to fit anew")])
    require_weeks(plant)
    drawn_by = plant.settings.run.seed if seed is None else seed
    found = laws_from_measurements(plant)
    log_path = folder / LOG_FILE
    if log_path.is_file():
        say(f"{LOG_FILE}: reading")
        laws_from_log(read_log(log_path, plant), plant, found)
    else:
        found.notes.append(f"{LOG_FILE} is not there: no law is fitted to logged values")

    def replay(
        edits: Sequence[Edit], use: str = "calibrate", *, count: int = replications, rule: bool = False
    ) -> ReplayedWeeks:
        return replay_weeks(plant, edits, use, rule=rule, replications=count, seed=drawn_by, workers=workers)

    say("factors: replaying the weeks that calibrate")
    count = min(FOR_FACTORS, replications)
    settle = partial(replay, count=TO_SETTLE * replications)
    multipliers, edits = fit_factors(plant, found.edits, notes or {}, partial(replay, count=count), settle)
    say("validation: first guess, replay, then the rule")
    compared: list[Check] = []
    for use in USES:
        compared += checks(plant, use, replay([], use), FIRST_GUESS)
        compared += checks(plant, use, replay(edits, use), "replay")
        compared += checks(plant, use, replay(edits, use, rule=True), "rule")
    return Calibration(
        seed=drawn_by, replications=replications, edits=tuple(edits), laws=tuple(found.laws), notes=tuple(found.notes),
        multipliers=tuple(multipliers), checks=tuple(compared), rests_on=foundation(plant, folder),
    ).sealed()  # fmt: skip
