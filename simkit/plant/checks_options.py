"""Checks of options: names, needs, prices, and a trial of every option's edits on the plant."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from simkit.base.messages import BadInput, Finding, note
from simkit.plant.checks_names import twins
from simkit.plant.checks_times import missing_times
from simkit.plant.checks_usual import capital_beside_others, option_amounts, usual_options
from simkit.plant.edits import with_machine_overrides
from simkit.plant.left_out_costs import TOPICS, unanswered
from simkit.plant.options import CapitalLine, Option, Range, ShareRange, YearlyLine
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario, new_findings
from simkit.plant.tables import MachineRow
from simkit.plant.values import near

OWN = ("elements[", "stops[", "upkeep[", "plant.machine.", "plant.magazine.")
"""Paths that ``overrides`` of machines.csv may change."""

PLACE = "options.toml"


def check_options(plant: PlantInputs) -> Iterator[Finding]:
    """Yield findings about the options of a plant that is clean otherwise."""
    ids = [option.id for option in plant.options]
    for name in dict.fromkeys(name for name in ids if ids.count(name) > 1):
        yield Finding(PLACE, "is the id of two options", "Give each option its own id", column="id", value=name)
    for name, other in twins(ids):
        why = f"differs only in case or blanks from the option '{other}'"
        yield Finding(PLACE, why, "Give each option its own id", column="id", value=name)
    yield from usual_options(plant.options)
    yield from capital_beside_others(plant.options)
    for option in plant.options:
        yield from _names(option, ids)
        yield from _prices(option)
        yield from option_amounts(plant, option)
        yield from _left_out(plant, option)
    if len(set(ids)) == len(ids):
        for option in plant.options:
            yield from _trial(plant, option)
    for line, row in enumerate(plant.machines, 2):
        try:
            found = missing_times(with_machine_overrides(plant, row)) if row.overrides else iter(())
            own = [(f"with these overrides of {row.machine_id}", f) for f in found]
        except BadInput as error:
            own = [(f.column, f) for f in error.findings]
        for where, f in own:
            yield Finding("machines.csv", f"{where} {f.why}".strip(), f.mend, line, "overrides", f.value)
        yield from _machine_paths(line, row)


def _machine_paths(line: int, row: MachineRow) -> Iterator[Finding]:
    """A machine may differ in what is its own: elements, stops, upkeep, and the sections of :data:`OWN`."""
    for piece in filter(None, (piece.strip() for piece in row.overrides.split(";"))):
        path = piece.split("=")[0]
        if "." in path and not path.startswith(OWN):
            why = "is not something in which one machine can differ from another"
            yield Finding("machines.csv", why, f"Use paths that begin with {', '.join(OWN)}", line, "overrides", piece)


def _names(option: Option, ids: list[str]) -> Iterator[Finding]:
    needs = [name for need in option.needs for name in ((need,) if isinstance(need, str) else need)]
    for key, names in (("needs", needs), ("excludes", option.excludes), ("overrides", option.overrides)):
        for name in names:
            if name not in ids:
                mend = f"Correct the name; {near(name, ids)}"
                yield Finding(PLACE, "is not an option", mend, column=f"option {option.id} {key}", value=name)


def _prices(option: Option) -> Iterator[Finding]:
    where = f"option {option.id}"
    ranges: list[tuple[str, Range | ShareRange]] = [("capital", option.capital), ("persistence", option.persistence)]
    yield from (f for key, span in ranges for f in _rising(f"{where} {key}", span))
    lines: list[tuple[str, CapitalLine | YearlyLine]] = [("capital", line) for line in option.capital_lines]
    for kind, line in [*lines, *(("yearly", line) for line in option.yearly_lines)]:
        if line.low > line.quoted or (line.high and line.high < line.quoted):
            yield from _rising(f"{where} {kind} line '{line.line}'", line)


def _left_out(plant: PlantInputs, option: Option) -> Iterator[Finding]:
    """Usual omissions of a bought option for which there is neither a number nor an explicit zero."""
    if option.kind != "bought" or option.capital.quoted <= 0:
        return
    missing = unanswered(option, plant.settings, plant.stops)
    if missing:
        listed = "; ".join(f"{name} ({TOPICS[name].meaning})" for name in missing)
        mend = "Give each a capital line or a yearly line, or name it in nothing_for if it truly costs nothing"
        why = f"has no number and no explicit zero for {len(missing)} costs that are usually left out: {listed}"
        yield note(PLACE, why, mend, column=f"option {option.id}")


def _rising(column: str, span: Range | ShareRange | CapitalLine | YearlyLine) -> Iterator[Finding]:
    if not span.low <= span.quoted <= span.high:
        value = f"{span.low:g} / {span.quoted:g} / {span.high:g}"
        yield Finding(PLACE, "does not rise", "Make low <= quoted <= high", column=column, value=value)


def _trial(plant: PlantInputs, option: Option) -> Iterator[Finding]:
    """Apply the option with what it needs, as a scenario would."""
    company = _with_needs(plant.option_by_id, option.id)
    if company is None:
        return
    try:
        changed = make_scenario(plant, company).plant
        for finding in new_findings(plant, changed):
            column = f"option {option.id}: {finding.place} {finding.column}".strip()
            yield note(PLACE, finding.why, finding.mend, column=column, value=finding.value)
    except BadInput as error:
        for finding in error.findings:
            column = f"{finding.place} {finding.column}".strip()
            yield Finding(PLACE, finding.why, finding.mend, column=column, value=finding.value)


def _with_needs(known: Mapping[str, Option], name: str) -> list[str] | None:
    """Return an option with the first choice of everything it needs, or None when a name is unknown."""
    company = [name]
    for member in company:
        if member not in known:
            return None
        for need in known[member].needs:
            any_of = (need,) if isinstance(need, str) else need
            if any_of and not set(any_of) & set(company):
                company.append(any_of[0])
    return company
