"""Checks of tools loaded wrongly, and of rows that ask about tools."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.messages import Finding
from simkit.base.vocabulary import FAULT_MOMENTS, REGRIND
from simkit.plant.checking import reads
from simkit.plant.conditions import (
    NO_SHEET_DRIVERS,
    PART_DRIVERS,
    PART_FACTS,
    SHEET_FACTS,
    TOOL_DRIVERS,
    TOOL_FACTS,
    asked_facts,
    holds,
    tool_facts,
)
from simkit.plant.drafts import Draft, note, place_of
from simkit.plant.tables import LoadFault, Tool

RATE_TOLERANCE = 1e-9
"""Rates may sum above 1 by this much before it is an error: rounding of decimal numbers."""


@reads("load_faults")
def fault_conditions(draft: Draft) -> Iterator[Finding]:
    """Conditions of load faults do not ask about a part."""
    for row, line in draft.sheets["load_faults"]:
        if any(fact in PART_FACTS for fact in asked_facts(row.applies_to)):
            why, mend = "asks about a part, but a tool is loaded for a whole sheet", "Ask about the tool or the sheet"
            yield Finding("load_faults.csv", why, mend, row=line, column="applies_to", value=row.applies_to)


@reads("elements", "quality")
def facts_in_place(draft: Draft) -> Iterator[Finding]:
    """Only rows counted per tool ask about a tool, and only those per part about a part; a regrind knows no sheet."""
    per = ", ".join(TOOL_DRIVERS)
    for table in ("elements", "quality"):
        for row, line in draft.sheets[table]:
            driver = row.unit.partition("/")[2] if table == "elements" else "part"
            where = {"row": line, "column": "applies_to", "value": row.applies_to}
            asked = asked_facts(row.applies_to)
            tool, sheet, part = ([f for f in asked if f in facts] for facts in (TOOL_FACTS, SHEET_FACTS, PART_FACTS))
            if part and driver not in PART_DRIVERS:
                why = f"asks about the part ({', '.join(part)}), but is counted per {driver or 'nothing'}"
                mend = f"Ask about the sheet ({', '.join(SHEET_FACTS)}), or count it per {', '.join(PART_DRIVERS)}"
                yield Finding(place_of(table), why, mend, **where)
            if tool and driver not in TOOL_DRIVERS:
                why = f"asks about the tool ({', '.join(tool)}), but is counted per {driver or 'nothing'}"
                mend = f"Ask about the sheet ({', '.join(SHEET_FACTS)}), or count the row per tool ({per})"
                yield Finding(place_of(table), why, mend, **where)
            elif sheet and driver in NO_SHEET_DRIVERS:
                why = f"asks about the sheet ({', '.join(sheet)}), but a {driver} is for no sheet"
                yield Finding(place_of(table), why, f"Ask about the tool ({', '.join(TOOL_FACTS)})", **where)


@reads("elements", "load_faults", "tools")
def tools_meant(draft: Draft) -> Iterator[Finding]:
    """A row that asks about the tool is for at least one."""
    tools = [tool_facts(tool) for tool in draft.sheets["tools"].rows]
    for table in ("elements", "load_faults"):
        for row, line in draft.sheets[table]:
            asks = any(fact in TOOL_FACTS for fact in asked_facts(row.applies_to))
            if asks and not any(holds(row.applies_to, facts, TOOL_FACTS) for facts in tools):
                why, mend = "is for no tool of tools.csv, so that the row does nothing", "Correct the condition"
                yield note(place_of(table), why, mend, row=line, column="applies_to", value=row.applies_to)


@reads("load_faults", "tools")
def fault_rates(draft: Draft) -> Iterator[Finding]:
    """No exchange of a tool goes wrong more often than always; told once per kind, for the worst tool."""
    rows = list(draft.sheets["load_faults"])
    tools = draft.sheets["tools"].rows
    for kind in FAULT_MOMENTS:
        sums = [(_rate(rows, kind, tool), -number) for number, tool in enumerate(tools)]
        worst, number = max(sums, default=(0.0, 0))
        if worst > 1 + RATE_TOLERANCE:
            names = [row.fault for row, _ in rows if kind in row.exchanges and _may_be_for(row, tools[-number])]
            line = max(line for row, line in rows if row.fault in names)
            why = f"the rates of {', '.join(names)} at a {kind} of {tools[-number].tool_id} sum to {worst:g}, above 1"
            mend = "Each is a share of such exchanges; make the sum 1 or less"
            yield Finding("load_faults.csv", why, mend, row=line, column="rate")


def _rate(rows: list[tuple[LoadFault, int]], kind: str, tool: Tool) -> float:
    """Sum of the rates that can strike an exchange of a tool, whatever the sheet."""
    return sum(row.rate for row, _ in rows if kind in row.exchanges and _may_be_for(row, tool))


def _may_be_for(row: LoadFault, tool: Tool) -> bool:
    return holds(row.applies_to, tool_facts(tool), TOOL_FACTS)


@reads("load_faults", "stops")
def faults_counted_once(draft: Draft) -> Iterator[Finding]:
    """A cause stands in load_faults or in stops, not in both."""
    causes = {row.cause: line for row, line in draft.sheets["stops"]}
    told = set()
    for row, line in draft.sheets["load_faults"]:
        if row.fault in causes and row.fault not in told:
            told.add(row.fault)
            beside = f" (row {causes[row.fault]})" if causes[row.fault] else ""
            why = f"is a cause of stops.csv too{beside}, so that it would be counted twice"
            yield Finding("load_faults.csv", why, "Keep one of the two", row=line, column="fault", value=row.fault)


@reads("load_faults", "tools", "program_tools", "start", settings=True)
def faults_can_strike(draft: Draft) -> Iterator[Finding]:
    """A fault is for an exchange that the plant does."""
    done = exchanges_done(draft)
    for row, line in draft.sheets["load_faults"]:
        if not any(done.get(kind, "") == "" for kind in row.exchanges):
            reasons = "; ".join(f"{kind}: {done[kind]}" for kind in row.exchanges) or "no exchange is named"
            mend = "Remove the row, name another exchange, or leave it for the options that bring one"
            where = {"row": line, "column": "exchanges", "value": ";".join(row.exchanges)}
            yield note("load_faults.csv", f"{row.fault} strikes nothing in this plant ({reasons})", mend, **where)


def exchanges_done(draft: Draft) -> dict[str, str]:
    """Per kind of exchange why this plant never does it, empty when it does."""
    tools, uses = draft.sheets["tools"].rows, draft.sheets["program_tools"].rows
    magazine = "" if draft.settings.magazine.places else "there is no magazine"
    load = "" if uses else "no program uses a tool"
    dies = "" if any(len(set(tool.clearances)) > 1 for tool in tools) else "no tool has dies of two clearances"
    stands = {(row.item, row.angle) for row in draft.sheets["start"].rows if row.what == "turret"}
    stands |= {(use.tool_id, use.angle) for use in uses}
    turned = "" if len(stands) > len({tool for tool, _ in stands}) else "no tool stands at two angles"
    used = {use.tool_id for use in uses}
    ground = "" if any(tool.life_hits and tool.tool_id in used for tool in tools) else "no tool wears"
    return {
        REGRIND: load or ground, "tool_load": load, "die_change": load or dies, "angle_change": load or turned,
        "magazine_exchange": magazine or load, "magazine_die_change": magazine or load or dies,
    }  # fmt: skip
