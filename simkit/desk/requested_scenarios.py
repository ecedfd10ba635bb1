"""What a command asks for: combinations of options and changed inputs, as scenarios and what each is compared with.

Without changes every combination is compared with today. With changes each stands beside its unchanged twin, where the
changes reach it: changed today beside unchanged today, a changed option beside the unchanged one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from simkit.base.messages import BadInput, Finding
from simkit.desk.plants import Plant, Scenario
from simkit.desk.runs import luck_of
from simkit.desk.study import Study
from simkit.experiment.events import events_of, write_events
from simkit.experiment.intervals import Estimate
from simkit.plant.changes import moved_ranges
from simkit.plant.scenarios import make_scenario, new_findings

RUN = re.compile(r"\s*plant\.run\b")
"""Changes of how a study is run: they hold for every scenario, the unchanged ones too."""
TWIN = " unchanged"

Options = Sequence[str]


@dataclass(frozen=True)
class RequestedScenarios:
    """Scenarios in the order of the request, the first one unchanged today; ``against`` names what each is compared
    with; ``notes`` say which changes do nothing here, and what changes with them. ``in_vain``: no change moves an hour
    of any scenario."""

    scenarios: tuple[Scenario, ...]
    against: Mapping[str, str]
    notes: tuple[str, ...] = ()
    in_vain: bool = False

    @property
    def level(self) -> float:
        """Demand at which the plant, with the changes of its run settings, is answered for."""
        return self.scenarios[0].made.plant.settings.run.demand_factor

    def gap(self, study: Study, name: str, measure: str) -> Estimate:
        """Paired difference of a scenario from what it is compared with; all those of a measure hold together."""
        base, level = self.against[name], study.numbers.level
        found = study.results.simultaneous(base, measure, level, [name], family=len(self.against))
        return found[name]


def asked_for(plant: Plant, combinations: Sequence[Options], texts: Sequence[str]) -> RequestedScenarios:
    """Return the scenarios of today and these combinations with changes ``path=value``, each beside its twin.

    Raises BadInput with every problem: an illegal combination, or a change that reaches no scenario.
    """
    run = tuple(text for text in texts if RUN.match(text))
    changes = tuple(text for text in texts if not RUN.match(text))
    sets = list(dict.fromkeys(tuple(options) for options in ((), *combinations)))
    unchanged, findings = _made(plant, sets, run)
    changed, problems = _made(plant, list(unchanged), (*run, *changes)) if changes else ({}, [])
    if problems and not changed:
        findings += [finding for finding in problems if finding not in findings]
    if findings:
        raise BadInput(findings)
    notes = (*_idle(plant, unchanged, run, changes), *moved_ranges(plant.inputs, changes))
    return _in_pairs(unchanged, changed, notes)


def _made(plant: Plant, sets: Sequence[Options], texts: Sequence[str]) -> tuple[dict[Options, Scenario], list[Finding]]:
    """The scenarios that can be made with these changes, by their options, and what forbids the others."""
    made: dict[Options, Scenario] = {}
    findings: list[Finding] = []
    for options in sets:
        try:
            made[options] = plant.with_overrides(options, texts)
        except BadInput as error:
            findings += [finding for finding in error.findings if finding not in findings]
    return made, findings


def _in_pairs(
    unchanged: Mapping[Options, Scenario], changed: Mapping[Options, Scenario], notes: tuple[str, ...]
) -> RequestedScenarios:
    """Twins side by side; what no change reaches stands alone, under its own name, and is compared with today."""
    scenarios: list[Scenario] = []
    against: dict[str, str] = {}
    for options, plain in unchanged.items():
        pair = [plain.named(f"{plain.name}{TWIN}"), changed[options]] if options in changed else [plain]
        if len(pair) == 2:
            against[pair[1].name] = pair[0].name
        elif scenarios:
            against[plain.name] = scenarios[0].name
        scenarios += pair
    moved = (changed[options].made.physics_hash != unchanged[options].made.physics_hash for options in changed)
    return RequestedScenarios(tuple(scenarios), against, notes, in_vain=bool(changed) and not any(moved))


def _idle(
    plant: Plant, unchanged: Mapping[Options, Scenario], run: Sequence[str], changes: Sequence[str]
) -> Iterator[str]:
    """Say of each change that moves nothing which the cell reads that it does so, and why."""
    for text in changes:
        alone, _ = _made(plant, list(unchanged), (*run, text))
        moved = any(one.made.physics_hash != unchanged[key].made.physics_hash for key, one in alone.items())
        if not alone or moved:
            continue  # one that holds beside another change alone changes something
        if any(one.made.money_hash != unchanged[key].made.money_hash for key, one in alone.items()):
            yield f"--set {text}: changes no hour, only money, which this command does not compute (simkit report does)"
        else:
            yield f"--set {text}: changes nothing, the plant holds this value already"


def brought_by_changes(asked: RequestedScenarios) -> tuple[Finding, ...]:
    """Notes of the check that the changes have brought: what no longer fits."""
    found: dict[Finding, None] = {}
    for scenario in asked.scenarios:
        if scenario.changes:
            plain = make_scenario(scenario.plant.inputs, scenario.options)
            found |= dict.fromkeys(new_findings(plain.plant, scenario.made.plant))
    return tuple(found)


def write_asked_events(path: Path, study: Study, *, every: bool) -> int:
    """Write all that happens in the first or in every replication of every scenario to a new CSV file.

    Return how many rows.

    Raises BadInput where the file exists, or where a change gives a scenario orders of its own.
    """
    numbers = study.numbers
    run = {"seed": numbers.seed, "weeks": numbers.weeks, "demand_factor": numbers.level}
    made = [scenario.made for scenario in study.scenarios]
    books = {luck_of(study.plant.inputs, each).overrides for each in made}
    if len(books) > 1:
        why = "the scenarios have different orders, which one table of events does not hold"
        raise BadInput([Finding("--events", why, "Leave out the change of orders, or --events")])
    texts = (*books.pop(), *(f"plant.run.{key}={value!r}" for key, value in run.items()))
    today, replications = make_scenario(study.plant.inputs, (), texts), range(numbers.replications if every else 1)
    return write_events(path, (events_of(today, scenario, each) for scenario in made for each in replications))
