"""How simulated totals respond to times and to what a supplier promises: slopes, measured once beside the study.

Each chosen element, or promise, is simulated 20 % (50 %) below and above its typical value with the same luck; the
difference over the step is the slope. Finance reads slopes and never runs the cell. The steps do not depend on the
plant's ranges, so that a new range needs no new run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from simkit.base.units import SECONDS_PER_HOUR, TIME_UNIT_S
from simkit.experiment.glossary import describe
from simkit.experiment.results import Results
from simkit.finance.riskinputs import RiskInput
from simkit.finance.riskmodel import Slopes
from simkit.plant.book_counts import BookCounts, sheet_counts
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings_risk import RangeLaw
from simkit.plant.tables import Element

TIME, PROMISE = "time", "promise"
STEP = {TIME: 0.2, PROMISE: 0.5}
"""Steps below and above the typical value, as shares of it: common practice, no source."""
MOST_TIMES = 4
"""Elements that are simulated: those whose range times their number in the book is largest. How many: common practice,
no source."""
REPLICATIONS, WEEKS = 4, 4.0
"""At most so many replications and release weeks give a slope, which is told per week: common practice, no source."""
COUNTED = {"tool_load": "tool_loads", "die_change": "die_changes", "angle_change": "angle_changes"}
ONCE_AN_ORDER = ("material_change", "nozzle_change", "clamp_change")
"""Drivers that are met at most once an order: screened at that number."""


@dataclass(frozen=True)
class Probe:
    """An input that is simulated below and above its typical value, in some scenarios; ``path`` names it."""

    input: RiskInput
    kind: str
    path: str
    scenarios: tuple[ScenarioInputs, ...]

    def end(self, plant: PlantInputs, scenario: ScenarioInputs, side: int) -> ScenarioInputs:
        """A scenario one step below (-1) or above (1) the typical value."""
        change = f"{self.path}*={1 + side * STEP[self.kind]:g}"
        name = f"{self.input.name} {side:+d} {scenario.name}"
        return make_scenario(plant, scenario.option_ids, (*scenario.overrides, change), name)

    def ends(self, plant: PlantInputs) -> Iterator[ScenarioInputs]:
        """All that is simulated for it; ``plant`` is that of no option and no change."""
        return (self.end(plant, scenario, side) for scenario in self.scenarios for side in (-1, 1))


@dataclass(frozen=True)
class Response:
    """An input that was simulated below and above its typical value, with the slopes of the totals by scenario."""

    input: RiskInput
    slopes: Slopes


def time_probes(
    plant: PlantInputs,
    results: Results,
    today: str,
    level: float,
    scenarios: Sequence[ScenarioInputs],
    most: int = MOST_TIMES,
) -> tuple[Probe, ...]:
    """The elements that matter most by exposure: range of the mean times how often the book meets it."""
    counts = _counts(plant, results, today, level)
    exposed: dict[str, float] = {}
    first: dict[str, Element] = {}
    for row in plant.elements:
        if row.low is None or row.high is None or row.high <= row.low:
            continue
        time_unit, _, driver = row.unit.partition("/")
        seconds = (row.high - row.low) * TIME_UNIT_S.get(time_unit, 1.0) * counts.get(driver, 0.0)
        exposed[row.element] = max(exposed.get(row.element, 0.0), seconds)
        first.setdefault(row.element, row)
    chosen = sorted(exposed, key=lambda name: -exposed[name])[:most]
    return tuple(_time_probe(first[name], tuple(scenarios)) for name in chosen if exposed[name] > 0)


def entry_probes(scenarios: Sequence[ScenarioInputs]) -> tuple[Probe, ...]:
    """Entering the guarded cell of a removal device, in the scenarios that have it: its range goes with the times.

    Options bring the rows, so that today's book says nothing of how often it happens.
    """
    having: dict[str, tuple[Element, list[ScenarioInputs]]] = {}
    for scenario in scenarios:
        for row in scenario.plant.elements if scenario.plant.settings.removal.pickers else ():
            known = row.low is not None and row.high is not None and row.high > row.low
            if row.unit.partition("/")[2] == "cell_entry" and known and row.typical > 0:
                having.setdefault(row.element, (row, []))[1].append(scenario)
    return tuple(_time_probe(row, tuple(own)) for row, own in having.values())


def _time_probe(row: Element, scenarios: tuple[ScenarioInputs, ...]) -> Probe:
    title = row.element.replace("_", " ")
    title = title if row.unit.startswith("ratio") else f"time of {title}"
    low, high = (row.typical if end is None else end for end in (row.low, row.high))
    about = RiskInput(
        f"time {row.element}", title, row.unit.replace("_", " "), min(low, row.typical), row.typical,
        max(high, row.typical), row.basis, row.owner, row.source,
    )  # fmt: skip
    return Probe(about, TIME, f"elements[{row.element}].typical", scenarios)


def _counts(plant: PlantInputs, results: Results, today: str, level: float) -> dict[str, float]:
    """How often a week of the book meets each driver; of what is done to tools, as simulated today."""
    weeks = len({order.released.isocalendar()[:2] for order in plant.orders}) or 1
    found = dict.fromkeys(("order", *ONCE_AN_ORDER), len(plant.orders) / weeks)
    book = BookCounts(plant)
    for program in book.programs:
        for driver, number in sheet_counts(book, program).items():
            found[driver] = found.get(driver, 0.0) + number / weeks
    span = float(results.values(today, "span_weeks", level).mean()) * level
    for driver, measure in COUNTED.items():
        if results.has(today, measure, level):
            found[driver] = float(results.values(today, measure, level).mean()) / span
    if results.has(today, "run_h", level):
        found["process"] = float(results.values(today, "run_h", level).mean()) / span * SECONDS_PER_HOUR
    return found


def promise_probes(scenarios: Sequence[ScenarioInputs]) -> tuple[Probe, ...]:
    """What suppliers promise: seconds per exchange, failed picks per 1,000, stops in unattended hours.

    Each is simulated in the first scenario that has it.
    """
    return tuple(probe for find in (_exchange, _picks, _night) if (probe := find(scenarios)) is not None)


def _exchange(scenarios: Sequence[ScenarioInputs]) -> Probe | None:
    for scenario in scenarios:
        changed = scenario.plant
        if not any(changed.settings.magazine.places.values()):
            continue
        for row in changed.elements:
            time_unit, _, driver = row.unit.partition("/")
            if driver == "magazine_exchange" and row.typical > 0:
                seconds = row.typical * TIME_UNIT_S[time_unit]
                return _promise("exchange", "an exchange from the magazine", "s", seconds,
                                f"elements[{row.element}].typical", scenario)  # fmt: skip
    return None


def _picks(scenarios: Sequence[ScenarioInputs]) -> Probe | None:
    for scenario in scenarios:
        for stop in scenario.plant.stops:
            if stop.exposure == "pick" and stop.rate > 0:
                return _promise("picks", "failed picks", "per 1,000 picks", 1000 * stop.rate,
                                f"stops[{stop.cause}].rate", scenario)  # fmt: skip
    return None


def _night(scenarios: Sequence[ScenarioInputs]) -> Probe | None:
    for scenario in scenarios:
        changed = scenario.plant
        if changed.settings.calendar.night.rule == "allowed" and any(stop.rate > 0 for stop in changed.stops):
            return _promise("night", "stops of all causes", "times today's rates", 1.0, "stops[*].rate", scenario)
    return None


def _promise(name: str, title: str, unit: str, typical: float, path: str, scenario: ScenarioInputs) -> Probe:
    step = STEP[PROMISE]
    low, high = (1 - step) * typical, (1 + step) * typical
    about = RiskInput(f"promise {name}", title, unit, low, typical, high, "quoted", "", "options.toml")
    return Probe(about, PROMISE, path, (scenario,))


def response(probe: Probe, plant: PlantInputs, results: Results, level: float, law: RangeLaw) -> Response:
    """The slopes of a probe whose ends were simulated at a demand ``level``; its range follows ``law``."""
    slopes = {}
    for scenario in probe.scenarios:
        low, high = (probe.end(plant, scenario, side).name for side in (-1, 1))
        slopes[scenario.name] = dict(_slopes(probe, results, level, low, high))
    return Response(replace(probe.input, law=law), slopes)


def _slopes(probe: Probe, results: Results, level: float, low: str, high: str) -> Iterator[tuple[str, float]]:
    """Change of each total per released week at demand 1 and per unit of the input, where there is one."""
    scale = 2 * STEP[probe.kind] * probe.input.typical * level * results.values(low, "span_weeks", level)
    for measure in results.measures:
        if measure == "span_weeks" or not describe(measure).extensive:
            continue
        if not (results.has(low, measure, level) and results.has(high, measure, level)):
            continue
        change = (results.values(high, measure, level) - results.values(low, measure, level)) / scale
        if change.any():
            yield measure, float(change.mean())
