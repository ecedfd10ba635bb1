"""The columns of a table of events and the kinds of its rows: what is written, and what the reference page says."""

from __future__ import annotations

from collections.abc import Iterator

MACHINE, PERSON, CALENDAR, PLANNER = "machine", "person", "calendar", "planner"
ORDER, REQUEST, TOOL, LEVEL = "order", "request", "tool", "level"

KINDS: dict[str, str] = {
    MACHINE: "a machine (`resource`) in a `state`; its rows follow each other without gap",
    PERSON: "a person at a task (`state`), on the way after one (`walking`), or at work in another cell (`elsewhere`)",
    CALENDAR: "`shift`, `break`, `overtime` worked, allowed `night`; `run`: the whole run; `measured`: the span that "
    "states, waits and queues are measured in",
    PLANNER: "an order subcontracted, until delivered, or refused; `overtime`, with the order for which it is worked",
    ORDER: "an order (or several that are merged) `waits` from its release until started, subcontracted or refused, or "
    "the run ends; then it is `in_work`",
    REQUEST: "a task that is asked for `waits` (from then to the first moment of work, also if that is at once), "
    "`works`, or is `paused`; `resource` is the machine that waits for it, empty where none does",
    TOOL: "a copy of a tool, or a die alone, goes from a place to another at a machine (`resource`), by a kind of "
    "exchange (`state`). The moment is that at which the model counts it as done: where the changeover, or the sheet "
    "it hides behind, begins. `at_start`: where all copies, dies in the magazine and empty stations are at the start; "
    "`fetched`: another machine has fetched it from here",
    LEVEL: "places taken (`bench`, `part_stacks`) or sheets that lie there (`stack`) from one change to the next",
}  # fmt: skip
"""What a row of each kind says."""

COLUMNS: dict[str, str] = {
    "scenario": "name of the scenario",
    "replication": "number of the replication, from 0",
    "kind": "what the row is about: see below",
    "resource": "who or what: a machine, a person, `calendar`, `planner`, a number of an order in the run, a place",
    "state": "state, task, or kind of exchange",
    "start_h": "hours from the start of the run",
    "end_h": "hours from the start of the run",
    "job": "number of the order in the run: an order that is drawn again, or repeated, has another",
    "order_id": "row of orders.csv; of merged orders the first",
    "program_id": "its program",
    "sheet": "number of the sheet in the run, in the order of the book, from 0; of machines, and of requests at one",
    "waiting": "who or what a machine or request waits for: skills of the people, joined by +, or the thing: "
    "`order`, `store`, `store_empty`, `bench_full`, `stack_full`, `stacks_full`, `skeletons_full`, `material_fetch`, "
    "`tool_elsewhere`",
    "request": "number of the request in the run; of a person's row the one worked on; of a tool's the one in which "
    "people do it",
    "helps": "number of the request a part of which a second person does at the same time; nobody asks for such a part",
    "task": "task of the request",
    "by": "who works on a request, or exchanges a tool: people, joined by +, or `gripper`; empty where it takes no "
    "time",
    "priority": "rank of the request: the lowest is served first",
    "done": "whether that ends the request: `yes` or `no`",
    "tool_id": "row of tools.csv; empty for an empty station at the start",
    "copy": "number of the copy at its machine, from 1; 0 for a die alone",
    "clearance_mm": "total die clearance with which the copy comes to a station, or stood in the one it leaves",
    "angle_deg": "angle at which it then stands, or stood",
    "from_place": "`station 7` (by its position in the ring; `station 7/2` the second place of a holder for several), "
    "`magazine` or `outside`; empty at the start",
    "to_place": "as from_place",
    "hidden": "`yes` where it is done behind the laser, `no` where the machine stands",
    "seconds": "time of the exchange; 0 for what only makes room",
    "level": "places taken, or sheets",
    "places": "how many there are",
    "decided_h": "when the planner decided",
    "slack_days": "days before its due date at which the order would end for which it was decided; negative: after it",
}  # fmt: skip
"""Meaning of each column, in the order of the table; a column that says nothing about a row is empty there."""


def events_markdown() -> str:
    """Return what a table of events holds, as Markdown."""
    return "\n".join(_lines())


def _lines() -> Iterator[str]:
    yield "## What `simkit run --events` writes\n"
    yield "A table of what happened in the first replication of each scenario, or with `--every-replication` in all of"
    yield "them. Each machine has copies of its own of every tool.\n"
    yield from ("| column | meaning |", "|--|--|", *(f"| `{name}` | {text} |" for name, text in COLUMNS.items()), "")
    yield from ("| kind | its rows say |", "|--|--|", *(f"| `{name}` | {text} |" for name, text in KINDS.items()), "")
