"""Checks of turret, magazine and start: tools find a station, programs find enough of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from simkit.base.messages import Finding, some
from simkit.plant.checking import reads
from simkit.plant.conditions import split_tool
from simkit.plant.drafts import Draft, note
from simkit.plant.tables import Tool
from simkit.plant.values import near


@reads("tools", "program_tools", "programs", "machines", settings=True)
def tools_fit(draft: Draft) -> Iterator[Finding]:
    """Every tool that is used fits a station of its size class; one that is not used is worth a note."""
    if any("machine.stations" in row.overrides for row in draft.sheets["machines"].rows):
        return
    used = draft.column("program_tools", "tool_id")
    sizes = {size for station in draft.settings.machine.stations for size in _takes(station)}
    turning = {size for station in draft.settings.machine.stations if station.turning for size in _takes(station)}
    for tool, line in draft.sheets["tools"]:
        fits = turning if tool.needs_turning else sizes
        if tool.station_size_mm in fits:
            continue
        kind = "turning station" if tool.needs_turning else "station"
        why = f"fits no station: the turret has no {kind} of {tool.station_size_mm:g} mm"
        mend = f"Correct the size, or add the station to machine.stations (sizes there: {_sizes(fits)})"
        where = {"row": line, "column": "station_size_mm", "value": tool.tool_id}
        if tool.tool_id in used:
            yield Finding("tools.csv", why, mend, **where)
        else:
            yield note("tools.csv", f"{why}; no program uses it", mend, **where)


def _takes(station: Any) -> tuple[float, ...]:
    """Tool sizes that a station takes (mm)."""
    return (station.size_mm, *station.also_mm)


def _sizes(sizes: set[float]) -> str:
    return ", ".join(f"{size:g} mm" for size in sorted(sizes)) or "none"


@reads("tools", "program_tools", "programs", "orders", settings=True)
def stations_enough(draft: Draft) -> Iterator[Finding]:
    """A program that needs more tools of a size than there are places exchanges some in the middle of each sheet."""
    have: Counter[float] = Counter()
    for station in draft.settings.machine.stations:
        for size in _takes(station):
            have[size] += station.count * station.tools
    tools = {row.tool_id: row for row in draft.sheets["tools"].rows}
    needs: dict[str, set[str]] = {}
    for use in draft.sheets["program_tools"].rows:
        if use.tool_id in tools:
            needs.setdefault(use.program_id, set()).add(use.tool_id)
    for program, line in draft.sheets["programs"]:
        wanted: Counter[float] = Counter()
        for tool_id in needs.get(program.program_id, ()):
            wanted[tools[tool_id].station_size_mm] += tools[tool_id].positions
        for size, count in wanted.items():
            if have[size] and count > have[size]:
                orders = draft.orders_of[program.program_id]
                why = f"needs {count} places of {size:g} mm, the turret has {have[size]} ({orders} orders)"
                mend = "Some are exchanged in the middle of each sheet; move a tool to the laser if that is shorter"
                yield note("programs.csv", why, mend, row=line, column="program_id", value=program.program_id)


@reads("tools", settings=True)
def tools_named(draft: Draft) -> Iterator[Finding]:
    """Pinned tools and magazine contents are tools of the plant, at clearances that are owned."""
    tools = {row.tool_id: row for row in draft.sheets["tools"].rows}
    known = draft.column("tools", "tool_id")
    lists = (("rules.pinned", draft.settings.rules.pinned), ("magazine.contents", draft.settings.magazine.contents))
    for column, names in lists:
        for text in names:
            try:
                tool_id, clearance = split_tool(text)
            except ValueError as error:
                mend = "Write TL-001 or TL-001@0.20"
                yield Finding("plant.toml", str(error), mend, column=column, value=text)
                continue
            if tool_id not in known:
                why, mend = "is not in tools.csv", f"Correct the name; {near(tool_id, known)}"
                yield Finding("plant.toml", why, mend, column=column, value=text)
            elif clearance is not None and clearance not in _dies(tools[tool_id]):
                owned = ", ".join(f"{die:g}" for die in _dies(tools[tool_id])) or "none: leave out the part from @"
                yield Finding("plant.toml", "clearance not owned", f"Owned: {owned}", column=column, value=text)


@reads("tools", settings=True)
def magazine_holds(draft: Draft) -> Iterator[Finding]:
    """What is listed for the magazine finds a place: a copy with its first dies, further dies alone, second copies."""
    magazine = draft.settings.magazine
    places = {float(size): count for size, count in magazine.places.items()}
    dies_per_place = {float(size): count for size, count in magazine.dies_per_place.items()}
    tools = {row.tool_id: row for row in draft.sheets["tools"].rows}
    taken: Counter[float] = Counter()
    for tool_id, times in _listed(magazine.contents, tools).items() if places else ():
        tool, copies = tools[tool_id], max(times.values())
        per_place = dies_per_place.get(tool.station_size_mm, 1)
        again = sum(count > 1 for count in times.values())
        why = ""
        if tool.station_size_mm not in places:
            why = f"the magazine has no places of {tool.station_size_mm:g} mm"
        elif copies > tool.copies:
            why = f"is listed for {copies} copies; {tool.copies} owned"
        elif again > per_place:
            why = f"{again} dies are listed for one more copy; a place takes {per_place}"
        if why:
            mend = "Correct magazine.contents, or magazine.places and magazine.dies_per_place"
            yield Finding("plant.toml", why, mend, column="magazine.contents", value=tool_id)
        else:
            alone = max(len(times) - per_place, 0)
            taken[tool.station_size_mm] += copies * tool.positions + -(-alone // per_place)
    for size, count in taken.items():
        if count > places[size]:
            why = f"tools listed take {count} places of {size:g} mm; there are {places[size]}"
            mend = "List fewer tools of this size, or correct magazine.places"
            yield Finding("plant.toml", why, mend, column="magazine.contents")


@reads("tools", "program_tools", "machines", settings=True)
def magazines_of_several_machines(draft: Draft) -> Iterator[Finding]:
    """Turrets of a cell share its copies, and their magazines do not know of each other: too few copies are a note."""
    machines, used = len(draft.sheets["machines"].rows), draft.column("program_tools", "tool_id")
    tools = draft.sheets["tools"].rows if machines > 1 and draft.settings.magazine.places else ()
    few = [tool.tool_id for tool in tools if tool.tool_id in used and tool.copies < machines]
    if few:
        why = (
            f"{machines} machines keep a magazine each, and of {len(few)} tools in use there are fewer copies "
            f"({some(few)}): one may lie in two magazines, so that fetching it from the other machine takes no time"
        )
        yield note("plant.toml", why, "Own a copy for each machine, or read what the magazine saves as a bound",
                   column="magazine.places")  # fmt: skip


def _listed(contents: Iterable[str], tools: Mapping[str, Tool]) -> dict[str, Counter[float | None]]:
    """How often each die of a tool is listed; a tool without a clearance stands for all its dies."""
    listed: dict[str, Counter[float | None]] = {}
    for text in contents:
        try:
            tool_id, clearance = split_tool(text)
        except ValueError:
            continue  # named by another check
        if tool_id in tools:
            dies = (clearance,) if clearance is not None else _dies(tools[tool_id]) or (None,)
            listed.setdefault(tool_id, Counter()).update(dies)
    return listed


def _dies(tool: Tool) -> tuple[float, ...]:
    return () if tool.kind == "forming" else tool.clearances


def _stands(tool: Tool, station: Any) -> bool:
    return tool.station_size_mm in _takes(station) and (station.turning or not tool.needs_turning)


@reads("start", "tools", "orders", settings=True)
def start_places(draft: Draft) -> Iterator[Finding]:
    """What lies in the turret or waits at the start exists, no more in a station than it holds."""
    ring = [station for station in draft.settings.machine.stations for _ in range(station.count)]
    total = len(ring)
    tools = {tool.tool_id: tool for tool in draft.sheets["tools"].rows}
    taken: dict[int, list[int]] = {}
    names = {table: draft.column(table, key) for table, key in (("orders", "order_id"), ("tools", "tool_id"))}
    for row, line in draft.sheets["start"]:
        table = "orders" if row.what == "backlog" else "tools"
        known = names[table]
        if row.item not in known:
            mend = f"Correct the name; {near(row.item, known)}"
            yield Finding("start.csv", f"is not in {table}.csv", mend, line, "item", row.item)
        if row.what == "turret":
            taken.setdefault(row.station, []).append(line)
            if row.station > total:
                why, mend = f"the turret has only {total} stations", "Correct the station"
                yield Finding("start.csv", why, mend, line, "station", str(row.station))
            elif row.station > 0 and row.item in tools and not _stands(tools[row.item], ring[row.station - 1]):
                why = f"{row.item} does not fit into station {row.station}"
                yield Finding("start.csv", why, "Correct station or tool", line, "station", str(row.station))
    for station, lines in taken.items():
        if 1 <= station <= total and len(lines) > ring[station - 1].tools:
            why = f"holds {len(lines)} tools (rows {some(lines)})"
            yield Finding("start.csv", why, "Give each tool its own station", lines[-1], "station", str(station))
