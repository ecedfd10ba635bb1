"""Checks of stops, of tools loaded wrongly, and of rows that ask about tools."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.messages import Finding, note
from simkit.base.vocabulary import FAULT_MOMENTS, REGRIND
from simkit.plant.check_register import reads, row_error, row_note
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
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import LoadFault, Tool

RATE_TOLERANCE = 1e-9
"""Rates may sum above 1 by this much before it is an error: rounding of decimal numbers."""


@reads("stops", "sequences")
def listed_intervals(plant: PlantInputs) -> Iterator[Finding]:
    """Of listed intervals between stops at least one is above zero: else a machine never gets past the first."""
    for row in plant.stops:
        values = plant.sequences.get(row.file, ()) if row.file else ()
        if values and not any(value > 0 for value in values):
            why, mend = f"{row.cause}: every interval between two stops is 0", "Write the intervals in the first column"
            yield row_error(plant, row, "file", why, mend)


@reads("stops")
def hours_of_causes(plant: PlantInputs) -> Iterator[Finding]:
    """A cause acts once in each hour."""
    always = {row.cause for row in plant.stops if row.acts == "both"}
    for row in plant.stops:
        if row.acts != "both" and row.exposure != "calendar_hour" and row.cause in always:
            why = f"{row.cause}: another row of it acts in all hours, so that it would be counted twice"
            yield row_error(plant, row, "acts", why, "Write one row for attended and one for unattended hours")


@reads("stops", "settings")
def ramp_counted_once(plant: PlantInputs) -> Iterator[Finding]:
    """Either stops have an early life, or finance ramps the benefits up; never both."""
    finance = plant.settings.finance
    early = [row for row in plant.stops if row.settle_weeks > 0 and row.early_factor != 1.0]
    if early and finance.ramp_months > 0 and finance.ramp_start < 1.0:
        row = early[0]
        why = (
            f"{row.cause}: stops have an early life, and finance.ramp_months = {finance.ramp_months:g} ramps the "
            "benefits up too, so that the start is counted twice"
        )
        mend = "Set finance.ramp_months = 0, or early_factor = 1"
        yield row_error(plant, row, "early_factor", why, mend)


@reads("stops", "settings")
def losses_counted_once(plant: PlantInputs) -> Iterator[Finding]:
    """The general loss factor does not contain what the stops already tell."""
    share, stops = plant.settings.rules.other_losses, plant.stops
    if share > 0 and stops:
        why = f"is used beside the {len(stops)} causes in stops.csv ({', '.join(row.cause for row in stops)})"
        mend = "Keep in it only what no element, stop or upkeep row covers, so that no loss is counted twice"
        yield note("plant.toml", why, mend, column="rules.other_losses", value=f"{share:g}")


@reads("elements", "quality")
def facts_in_place(plant: PlantInputs) -> Iterator[Finding]:
    """Only rows counted per tool ask about a tool, and only those per part about a part; a regrind knows no sheet."""
    per = ", ".join(TOOL_DRIVERS)
    for table in ("elements", "quality"):
        for row in getattr(plant, table):
            driver = row.driver if table == "elements" else "part"
            asked = asked_facts(row.applies_to)
            tool, sheet, part = ([f for f in asked if f in facts] for facts in (TOOL_FACTS, SHEET_FACTS, PART_FACTS))
            if part and driver not in PART_DRIVERS:
                why = f"asks about the part ({', '.join(part)}), but is counted per {driver or 'nothing'}"
                mend = f"Ask about the sheet ({', '.join(SHEET_FACTS)}), or count it per {', '.join(PART_DRIVERS)}"
                yield row_error(plant, row, "applies_to", why, mend)
            if tool and driver not in TOOL_DRIVERS:
                why = f"asks about the tool ({', '.join(tool)}), but is counted per {driver or 'nothing'}"
                mend = f"Ask about the sheet ({', '.join(SHEET_FACTS)}), or count the row per tool ({per})"
                yield row_error(plant, row, "applies_to", why, mend)
            elif sheet and driver in NO_SHEET_DRIVERS:
                why = f"asks about the sheet ({', '.join(sheet)}), but a {driver} is for no sheet"
                yield row_error(plant, row, "applies_to", why, f"Ask about the tool ({', '.join(TOOL_FACTS)})")


@reads("elements", "load_faults", "tools")
def tools_meant(plant: PlantInputs) -> Iterator[Finding]:
    """A row that asks about the tool is for at least one."""
    tools = [tool_facts(tool) for tool in plant.tools]
    for table in ("elements", "load_faults"):
        for row in getattr(plant, table):
            asks = any(fact in TOOL_FACTS for fact in asked_facts(row.applies_to))
            if asks and not any(holds(row.applies_to, facts, TOOL_FACTS) for facts in tools):
                why, mend = "is for no tool of tools.csv, so that the row does nothing", "Correct the condition"
                yield row_note(plant, row, "applies_to", why, mend)


@reads("load_faults", "tools")
def fault_rates(plant: PlantInputs) -> Iterator[Finding]:
    """No exchange of a tool goes wrong more often than always; told once per kind, for the worst tool."""
    for kind in FAULT_MOMENTS if plant.tools else ():
        found = [(_that_can_strike(plant, kind, tool), tool) for tool in plant.tools]
        rows, tool = max(found, key=lambda pair: _rates(pair[0]))
        if _rates(rows) > 1 + RATE_TOLERANCE:
            names = ", ".join(row.fault for row in rows)
            why = f"the rates of {names} at a {kind} of {tool.tool_id} sum to {_rates(rows):g}, above 1"
            mend = "Each is a share of such exchanges; make the sum 1 or less"
            yield row_error(plant, rows[-1], "rate", why, mend, "")


def _that_can_strike(plant: PlantInputs, kind: str, tool: Tool) -> list[LoadFault]:
    """Faults that can strike an exchange of a tool, whatever the sheet."""
    facts = tool_facts(tool)
    return [row for row in plant.load_faults if kind in row.exchanges and holds(row.applies_to, facts, TOOL_FACTS)]


def _rates(rows: list[LoadFault]) -> float:
    return sum(row.rate for row in rows)


@reads("load_faults", "stops")
def faults_counted_once(plant: PlantInputs) -> Iterator[Finding]:
    """A cause stands in load_faults or in stops, not in both."""
    causes = {row.cause: plant.line(row) for row in plant.stops}
    told = set()
    for row in plant.load_faults:
        if row.fault in causes and row.fault not in told:
            told.add(row.fault)
            beside = f" (row {causes[row.fault]})" if causes[row.fault] else ""
            why = f"is a cause of stops.csv too{beside}, so that it would be counted twice"
            yield row_error(plant, row, "fault", why, "Keep one of the two")


@reads("load_faults", "tools", "program_tools", "start", "settings")
def faults_can_strike(plant: PlantInputs) -> Iterator[Finding]:
    """A fault is for an exchange that the plant does."""
    done = exchanges_done(plant)
    for row in plant.load_faults:
        if not any(done.get(kind, "") == "" for kind in row.exchanges):
            reasons = "; ".join(f"{kind}: {done[kind]}" for kind in row.exchanges) or "no exchange is named"
            mend = "Remove the row, name another exchange, or leave it for the options that bring one"
            yield row_note(plant, row, "exchanges", f"{row.fault} strikes nothing in this plant ({reasons})", mend)


def exchanges_done(plant: PlantInputs) -> dict[str, str]:
    """Per kind of exchange why this plant never does it, empty when it does."""
    tools, uses = plant.tools, plant.program_tools
    magazine = "" if plant.settings.magazine.places else "there is no magazine"
    load = "" if uses else "no program uses a tool"
    dies = "" if any(len(set(tool.clearances)) > 1 for tool in tools) else "no tool has dies of two clearances"
    stands = {(row.item, row.angle) for row in plant.start if row.what == "turret"}
    stands |= {(use.tool_id, use.angle) for use in uses}
    turned = "" if len(stands) > len({tool for tool, _ in stands}) else "no tool stands at two angles"
    used = {use.tool_id for use in uses}
    ground = "" if any(tool.life_hits and tool.tool_id in used for tool in tools) else "no tool wears"
    return {
        REGRIND: load or ground, "tool_load": load, "die_change": load or dies, "angle_change": load or turned,
        "magazine_exchange": magazine or load, "magazine_die_change": magazine or load or dies,
    }  # fmt: skip
