"""Cases that only the study of nights simulates: ends of nights taken away, more of each resource, help at night.

Each is a few edits of a set of options that allows unattended nights.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simkit.analysis.cases import Case, EditRow
from simkit.analysis.magazine_sizes import magazine_of, places_at
from simkit.analysis.night_wants import (
    GROUPS,
    MATERIAL,
    OUTPUT,
    RELEASE,
    TOOL,
    all_wants,
    kind_of,
    removal,
    removals,
    words_of,
)
from simkit.base.vocabulary import ON_CALL, WEEKDAYS
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Person

BASE, RIVAL, SINGLE, IN_ORDER, FREED, ALONE, MORE, HELP = (
    "base", "rival", "one removed", "removed in order", "nothing ends it", "one left", "more", "help",
)  # fmt: skip
MOST_SINGLE, MOST_IN_ORDER = 5, 6
"""How many ends of nights are taken away one by one, and in order: common practice, no source."""

MORE_SHARE, MORE_TOOLS_SHARE = 2.0, 1.25
"""Places for output, and for tools, in the cases with more of them, over those on offer: common practice, no source."""

VISIT_STARTS, VISIT_H = ("22:00", "02:00"), 1
"""When somebody visits a night, and for how long: common practice, no source."""
CALLS = ((30.0, 1), (30.0, 3))
"""Response in minutes and calls a night of the cases with somebody on call: common practice, no source."""


def single_cases(plant: Plant, base: Case, ranked: Sequence[tuple[str, str]]) -> Iterator[Case]:
    """The first ends of the ranking that can be taken away, each alone; ``ranked`` are pairs (limit, want)."""
    held = make_scenario(plant, base.options).plant
    known = [(limit, want, edits) for limit, want in ranked if want and (edits := removal(held, want))]
    for limit, want, edits in known[:MOST_SINGLE]:
        words = words_of(held, limit, want)
        yield Case(f"Without {words}", SINGLE, words, base.options, edits=edits, want=want, of=base.name)


def next_case(plant: Plant, before: Case, gone: Sequence[str], ranked: Sequence[tuple[str, str]]) -> Case | None:
    """What ``before`` becomes if the next end of its own ranking is taken away too; None if none can be."""
    held = make_scenario(plant, before.options).plant
    for limit, want in ranked:
        if not want or want in gone or not removal(held, want):
            continue
        wants, words = [*gone, want], words_of(held, limit, want)
        name = f"{len(wants)}. also without {words}" if gone else f"1. without {words}"
        return Case(name, IN_ORDER, words, before.options, edits=removals(held, wants), want=want, of=before.name)
    return None


def freed_case(plant: Plant, base: Case, label: str = "") -> Case:
    """Nothing but want of work ends a night; ``label`` tells the case of another set from that of the base."""
    held = make_scenario(plant, base.options).plant
    name = f"{FREE}, {label}" if label else FREE
    what = "everything else that can end a night taken away"
    return Case(name, FREED, what, base.options, edits=removals(held, all_wants(held)), of=base.name)


FREE = "Nothing but the queue"
ALONE_WORDS = {
    "stop": "unplanned stops", "care": "care", RELEASE: "release", TOOL: "tools", MATERIAL: "material",
    OUTPUT: "output",
}  # fmt: skip


def alone_cases(plant: Plant, base: Case) -> Iterator[Case]:
    """One kind of end left as it is, all others taken away."""
    held = make_scenario(plant, base.options).plant
    for kind in GROUPS:
        name, what = f"Only {ALONE_WORDS[kind]}", f"only {ALONE_WORDS[kind]} and the queue can end a night"
        yield Case(name, ALONE, what, base.options, edits=_all_but(held, kind), want=kind, of=base.name)


def _all_but(held: Plant, kind: str) -> tuple[EditRow, ...]:
    return removals(held, [want for want in all_wants(held) if kind_of(held, want) != kind])


def more_cases(plant: Plant, base: Case) -> Iterator[Case]:
    """More places for output, tools and material where each is the only limit, and a queue prepared for the night."""
    held = make_scenario(plant, base.options).plant
    settings = held.settings
    for kind, words, edits in (
        (OUTPUT, "twice the places for output", _more_output(held)),
        (TOOL, f"{MORE_TOOLS_SHARE:.0%} of the magazine places", _more_tools(plant, base)),
        (MATERIAL, "a shelf for every material", _more_shelves(held)),
    ):
        if edits:
            name = f"Only {ALONE_WORDS[kind]}, {words}"
            yield Case(name, MORE, words, base.options, edits=(*_all_but(held, kind), *edits), want=kind,
                            of=f"Only {ALONE_WORDS[kind]}")  # fmt: skip
    if settings.rules.night_queue == "as_ranked":
        prepared: EditRow = {"path": "plant.rules.night_queue", "op": "set", "value": "prepared"}
        what = "the queue prepared for the night: longest runs that need nobody"
        yield Case("Queue prepared", MORE, what, base.options, edits=(prepared,), want="queue", of=base.name)
        name, freed = f"{FREE}, prepared", freed_case(plant, base)
        yield Case(name, MORE, what, base.options, edits=(*freed.edits, prepared), want="queue", of=freed.name)


def _more_output(held: Plant) -> tuple[EditRow, ...]:
    stack, removal_places = held.settings.stack.places, held.settings.removal.stack_places
    more: list[EditRow] = []
    if stack:
        more.append({"path": "plant.stack.places", "op": "set", "value": int(MORE_SHARE * stack)})
    if held.settings.removal.pickers:
        value = int(MORE_SHARE * removal_places)
        more.append({"path": "plant.removal.stack_places", "op": "set", "value": value})
    return tuple(more)


def _more_tools(plant: Plant, base: Case) -> tuple[EditRow, ...]:
    magazine = magazine_of(plant, base.options)
    if not magazine.places:
        return ()
    places = places_at(magazine, MORE_TOOLS_SHARE)
    listed: tuple[EditRow, ...] = ({"path": "plant.magazine.contents", "op": "set", "value": []},)
    return ({"path": "plant.magazine.places", "op": "set", "value": places}, *(listed if magazine.contents else ()))


def _more_shelves(held: Plant) -> tuple[EditRow, ...]:
    shelves, materials = held.settings.store.shelves, len(held.materials)
    if not 0 < shelves < materials:
        return ()
    return ({"path": "plant.store.shelves", "op": "set", "value": materials},)


def help_cases(plant: Plant, base: Case) -> Iterator[Case]:
    """One visit of an hour at night, both visits, and somebody on call."""
    held = make_scenario(plant, base.options).plant
    helper = _helper(held)
    if helper is None:
        return
    starts = [start for start in VISIT_STARTS if _visit_days(held, start)]
    for wanted in [[start] for start in starts] + ([starts] if len(starts) > 1 else []):
        days = sum(len(_visit_days(held, start)) for start in wanted)
        name = f"Somebody there at {' and '.join(wanted)}"
        what = f"one person for {VISIT_H} h, at {' and '.join(wanted)}"
        yield Case(name, HELP, what, base.options, edits=_visits(held, helper, wanted), of=base.name,
                        paid_h=float(VISIT_H * days))  # fmt: skip
    if held.settings.calendar.night.on_call_response_min is None:
        for response_min, calls in CALLS:
            name = f"On call, {response_min:g} min, {calls} a night"
            what = f"one person at home who is there {response_min:g} min after a call, at most {calls} a night"
            yield Case(name, HELP, what, base.options, edits=_on_call(helper, response_min, calls), of=base.name)


def _helper(held: Plant) -> Person | None:
    """Whose skills the help has: of those who clear stops and change over, the one with the most skills."""
    able = [person for person in held.people if {"clear", "changeover"} <= set(person.skills)]
    return max(able, key=lambda person: len(person.skills), default=None)


def _visit_days(held: Plant, start: str) -> list[str]:
    """Weekdays on which a night window contains a whole visit that starts at this wall time."""
    end = f"{(int(start[:2]) + VISIT_H) % 24:02d}{start[2:]}"
    found: list[str] = []
    for window in held.settings.calendar.night.windows:
        over = window.end <= window.start
        same_day = window.start <= start and (over or end <= window.end) and (end > start or over)
        next_day = over and start < window.start and end <= window.end and end > start
        shift = 0 if same_day else 1 if next_day else None
        if shift is not None:
            found += [WEEKDAYS[(WEEKDAYS.index(day) + shift) % 7] for day in window.days]
    return [day for day in WEEKDAYS if day in found]


def _visits(held: Plant, helper: Person, starts: Sequence[str]) -> tuple[EditRow, ...]:
    """A shift for each visit, and one person in it, who works at the bench too when nothing else waits."""
    edits: list[EditRow] = []
    for number, start in enumerate(starts):
        end = f"{(int(start[:2]) + VISIT_H) % 24:02d}{start[2:]}"
        name = f"night visit {number + 1}"
        shift = {"name": name, "days": _visit_days(held, start), "start": start, "end": end}
        edits.append({"path": "plant.calendar.shifts", "op": "add_row", "value": shift})
        edits.append(_person(helper, f"NIGHT-{number + 1}", name, "bench"))
    return tuple(edits)


def _person(helper: Person, code: str, shift: str, *more: str) -> EditRow:
    skills = list(dict.fromkeys([*helper.skills, *more]))
    value = {"person_id": code, "skills": skills, "shift": shift, "rate_per_h": helper.rate_per_h}
    return {"path": "people", "op": "add_row", "value": value}


def _on_call(helper: Person, response_min: float, calls: int) -> tuple[EditRow, ...]:
    night = "plant.calendar.night"
    return (
        {"path": f"{night}.on_call_response_min", "op": "set", "value": response_min},
        {"path": f"{night}.on_call_calls_per_night", "op": "set", "value": calls},
        _person(helper, "NIGHT-CALL", ON_CALL),
    )
