"""Checks of nights and of stops at the start: people on call, early life."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.messages import Finding
from simkit.base.vocabulary import ON_CALL
from simkit.plant.checking import reads
from simkit.plant.conditions import split_unit
from simkit.plant.drafts import Draft, note


@reads("people", settings=True)
def on_call(draft: Draft) -> Iterator[Finding]:
    """People on call can be called: nights are allowed, and it is known after how long they come."""
    night = draft.settings.calendar.night
    rows = [line for row, line in draft.sheets["people"] if row.shift == ON_CALL]
    if rows and night.on_call_response_min is None:
        mend = "Write calendar.night.on_call_response_min, the minutes from the call to the arrival"
        yield Finding("people.csv", "is on call, but nobody is ever called", mend, rows[0], "shift", ON_CALL)
    elif rows and night.rule == "not_allowed":
        why = "is on call for nights that are not allowed, so that nobody is called"
        yield note("people.csv", why, "Allow nights (with who assessed them), or remove the row", row=rows[0])
    if night.on_call_response_min is not None and not rows:
        mend = "Give somebody in people.csv the shift on_call"
        value = f"{night.on_call_response_min:g}"
        yield note("plant.toml", "nobody is on call", mend, column="calendar.night.on_call_response_min", value=value)


@reads("elements", settings=True)
def stack_taken_away(draft: Draft) -> Iterator[Finding]:
    """Whole sheets are taken off their stack before a night only where it is known how long that takes."""
    settings, rows = draft.settings, draft.sheets["elements"].rows
    timed = any(split_unit(row.unit)[1] == "stack_exchange" and row.typical > 0 for row in rows)
    if settings.stack.places > 0 and "output" in settings.rules.before_leaving and not timed:
        why = "outputs are emptied before a night, but no row says how long a stack takes, so that none is taken away"
        mend = "Add a row counted per stack_exchange to elements.csv"
        yield note("plant.toml", why, mend, column="rules.before_leaving", value="output")


@reads("stops")
def listed_intervals(draft: Draft) -> Iterator[Finding]:
    """Of listed intervals between stops at least one is above zero: else a machine never gets past the first."""
    for row, line in draft.sheets["stops"]:
        values = draft.sequences.get(row.file, ()) if row.file else ()
        if values and not any(value > 0 for value in values):
            why, mend = f"{row.cause}: every interval between two stops is 0", "Write the intervals in the first column"
            yield Finding("stops.csv", why, mend, row=line, column="file", value=row.file)


@reads("stops")
def hours_of_causes(draft: Draft) -> Iterator[Finding]:
    """A cause acts once in each hour, and what calendar hours bring comes at all hours."""
    always = {row.cause for row, _ in draft.sheets["stops"] if row.acts == "both"}
    for row, line in draft.sheets["stops"]:
        where = {"row": line, "column": "acts", "value": row.acts}
        if row.acts != "both" and row.exposure == "calendar_hour":
            why = f"{row.cause}: calendar hours pass whether or not somebody is there"
            yield Finding("stops.csv", why, "Write acts = both, or count it per running_hour", **where)
        elif row.acts != "both" and row.cause in always:
            why = f"{row.cause}: another row of it acts in all hours, so that it would be counted twice"
            yield Finding("stops.csv", why, "Write one row for attended and one for unattended hours", **where)


@reads("stops", settings=True)
def ramp_counted_once(draft: Draft) -> Iterator[Finding]:
    """Either stops have an early life, or finance ramps the benefits up; never both."""
    finance = draft.settings.finance
    early = [(row, line) for row, line in draft.sheets["stops"] if row.settle_weeks > 0 and row.early_factor != 1.0]
    if early and finance.ramp_months > 0 and finance.ramp_start < 1.0:
        row, line = early[0]
        why = (
            f"{row.cause}: stops have an early life, and finance.ramp_months = {finance.ramp_months:g} ramps the "
            "benefits up too, so that the start is counted twice"
        )
        mend = "Set finance.ramp_months = 0, or early_factor = 1"
        yield Finding("stops.csv", why, mend, line, "early_factor", f"{row.early_factor:g}")
