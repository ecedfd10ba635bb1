"""Scenarios: a plant with a named set of options and overrides applied, checked again, and hashed."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence

from simkit.base.messages import BadInput, Finding
from simkit.plant.checks import run_checks_anew
from simkit.plant.edits import Sourced, apply_edits, override_plant, with_machine_overrides
from simkit.plant.equal_rows import ByIdentity
from simkit.plant.hashes import hashes
from simkit.plant.options import TODAY, Option
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.values import near


def parse_combination(text: str) -> tuple[str, ...]:
    """Return the option ids of ``A1+N2``; ``today``, ``base`` and an empty text give none."""
    if text.strip() in ("", TODAY, "base"):
        return ()
    return tuple(part.strip() for part in text.split("+"))


def make_scenario(
    plant: PlantInputs, options: Sequence[str] = (), overrides: Sequence[str] = (), name: str = ""
) -> ScenarioInputs:
    """Return the scenario of these options, then these ``path=value`` overrides.

    ``name`` defaults to ``today`` or the ids joined by ``+``. Raises BadInput with every problem: unknown
    options, needs and exclusions, conflicts, paths that lead nowhere, values out of range, and whatever
    the plant's own checks find wrong after the edits but not before. Made once for a plant and its arguments: a
    study asks for the same sets many times.
    """
    known = _known.of(lambda plant: {}, plant)
    key = (tuple(options), tuple(overrides), name or "+".join(options) or TODAY)
    if key not in known:
        try:
            known[key] = _make(plant, *key)
        except BadInput as error:
            known[key] = error.findings
    made = known[key]
    if isinstance(made, ScenarioInputs):
        return made
    raise BadInput(made)


Asked = tuple[tuple[str, ...], tuple[str, ...], str]
"""Options, overrides and name of a scenario."""
_known: ByIdentity[dict[Asked, ScenarioInputs | tuple[Finding, ...]]] = ByIdentity(3)
"""Scenarios of a plant that was asked for, or what forbids them; a report asks in turn for those of a plant, of one
without its prices, and of a case."""


def _make(plant: PlantInputs, options: tuple[str, ...], overrides: tuple[str, ...], name: str) -> ScenarioInputs:
    findings = list(check_combination(plant, options))
    if findings:
        raise BadInput(findings)
    chosen = [option for option in plant.options if option.id in options]
    edited = _with_options(plant, chosen, overrides)
    found = new_findings(plant, edited) if edited is not plant else []
    new = [finding for finding in found if finding.severity == "error"]
    if new:
        raise BadInput(dataclasses.replace(finding, place=f"{name}: {finding.place}", row=0) for finding in new)
    physics, money = hashes(edited, [option.id for option in chosen])
    unlike = any(row.overrides for row in edited.machines)
    own = tuple(with_machine_overrides(edited, row) for row in edited.machines) if unlike else ()
    return ScenarioInputs(name, edited, options, overrides, physics, money, own)


def _with_options(plant: PlantInputs, chosen: Sequence[Option], overrides: Sequence[str]) -> PlantInputs:
    """Apply the options, then the overrides; problems of both are told together."""
    findings: list[Finding] = []
    try:
        plant = apply_edits(plant, option_edits(chosen), {o.id: frozenset(o.overrides) for o in chosen})
    except BadInput as error:
        findings += error.findings
    if overrides:
        try:
            plant = override_plant(plant, overrides)
        except BadInput as error:
            findings += error.findings
    if findings:
        raise BadInput(findings)
    return plant


def option_edits(chosen: Sequence[Option]) -> list[Sourced]:
    """Return the edits of options with the option that makes each."""
    return [(option.id, edit) for option in chosen for edit in option.edits]


def check_combination(plant: PlantInputs, options: Sequence[str]) -> Iterator[Finding]:
    """Yield what forbids a combination: unknown or doubled options, unmet needs, exclusions."""
    known = plant.option_by_id
    for name in dict.fromkeys(options):
        if name not in known:
            mend = f"Name an option of options.toml; {near(name, known)}" if known else "The plant has no options"
            yield Finding("options", "is not an option of this plant", mend, value=name)
        elif list(options).count(name) > 1:
            yield Finding("options", "is named twice", "Name it once", value=name)
    for name in dict.fromkeys(name for name in options if name in known):
        yield from _needs_and_excludes(known[name], options, known)


def _needs_and_excludes(option: Option, options: Sequence[str], known: Mapping[str, Option]) -> Iterator[Finding]:
    """Yield the needs that are not met and the exclusions that are; a mutual one once."""
    for need in option.needs:
        any_of = (need,) if isinstance(need, str) else need
        if not set(any_of) & set(options):
            mend = f"Add {' or '.join(any_of)} to the combination"
            yield Finding("options", f"needs {' or '.join(any_of)}", mend, value=option.id)
    for other in option.excludes:
        if other not in options:
            continue
        mutual = other in known and option.id in known[other].excludes
        if not (mutual and options.index(other) < options.index(option.id)):
            yield Finding("options", f"cannot be combined with {other}", "Leave one of them out", value=option.id)


def new_findings(before: PlantInputs, after: PlantInputs) -> list[Finding]:
    """Return what the edits have brought."""
    known = frozenset(run_checks_anew(before))
    return [finding for finding in run_checks_anew(after) if finding not in known]
