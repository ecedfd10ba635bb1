"""Checks of tools, turret, magazine and start: hits and dies, stations and places enough."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from simkit.base.messages import Finding, note, plain, some
from simkit.plant.check_register import reads, row_error, row_note
from simkit.plant.conditions import split_tool
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import StartRow, Tool
from simkit.plant.values import near

CLEARANCE_TOLERANCE_MM = 1e-6


@reads("programs", "program_tools", "tools")
def hit_sums(plant: PlantInputs) -> Iterator[Finding]:
    """The hits of a program are the sums of its tools."""
    sums: Counter[tuple[str, str]] = Counter()
    for use in plant.program_tools:
        tool = plant.tool_by_id.get(use.tool_id)
        sums[use.program_id, tool.kind if tool else "cutting"] += use.hits_per_sheet
    for column, kind in (("hits_per_sheet", "cutting"), ("forming_hits_per_sheet", "forming")):
        wrong = [row for row in plant.programs if getattr(row, column) != sums[row.program_id, kind]]
        many = len(wrong) > 3
        for row in wrong[: 1 if many else 3]:
            others = f"; so it is in {len(wrong) - 1} more programs" if many else ""
            hits = sums[row.program_id, kind]
            why = f"{row.program_id}: the {kind} tools in program_tools.csv make {hits} hits a sheet{others}"
            mend = "Make both equal; the run takes the time from the program and the wear from the tools"
            yield row_note(plant, row, column, why, mend)


@reads("programs", "materials", "program_tools", "tools", "orders")
def clearances_owned(plant: PlantInputs) -> Iterator[Finding]:
    """Every cutting tool has a die for the materials it is used on."""
    materials = {program.program_id: plant.material_by_id.get(program.material_id) for program in plant.programs}
    uses: dict[tuple[str, float], dict[str, None]] = {}
    for use in plant.program_tools:
        material = materials.get(use.program_id)
        if material is not None and use.tool_id in plant.tool_by_id:
            uses.setdefault((use.tool_id, material.clearance_mm), {})[use.program_id] = None
    for (tool_id, clearance_mm), programs in uses.items():
        tool = plant.tool_by_id[tool_id]
        if tool.kind != "cutting" or any(abs(own - clearance_mm) <= CLEARANCE_TOLERANCE_MM for own in tool.clearances):
            continue
        orders = sum(plant.orders_of[program_id] for program_id in programs)
        need = f"which {orders} orders need (programs {some(list(programs))})"
        why = f"{tool_id} has no die for a clearance of {clearance_mm:g} mm, {need}"
        mend = "Add the clearance if the die is owned, or plan to buy it, or change clearance_mm of the material"
        yield row_note(plant, tool, "clearances", why, mend, "")


@reads("tools", "program_tools", "programs", "machines", "settings")
def tools_fit(plant: PlantInputs) -> Iterator[Finding]:
    """Every tool that is used fits a station of its size class; one that is not used is worth a note."""
    if any("machine.stations" in row.overrides for row in plant.machines):
        return
    used = {row.tool_id for row in plant.program_tools}
    sizes = {size for station in plant.settings.machine.stations for size in _takes(station)}
    turning = {size for station in plant.settings.machine.stations if station.turning for size in _takes(station)}
    for tool in plant.tools:
        fits = turning if tool.needs_turning else sizes
        if tool.station_size_mm in fits:
            continue
        kind = "turning station" if tool.needs_turning else "station"
        why = f"fits no station: the turret has no {kind} of {tool.station_size_mm:g} mm"
        mend = f"Correct the size, or add the station to machine.stations (sizes there: {_sizes(fits)})"
        if tool.tool_id in used:
            yield row_error(plant, tool, "station_size_mm", why, mend, tool.tool_id)
        else:
            yield row_note(plant, tool, "station_size_mm", f"{why}; no program uses it", mend, tool.tool_id)


def _takes(station: Any) -> tuple[float, ...]:
    """Tool sizes that a station takes (mm)."""
    return (station.size_mm, *station.also_mm)


def _sizes(sizes: set[float]) -> str:
    return ", ".join(f"{size:g} mm" for size in sorted(sizes)) or "none"


@reads("tools", "program_tools", "programs", "orders", "settings")
def stations_enough(plant: PlantInputs) -> Iterator[Finding]:
    """A program that needs more tools of a size than there are places exchanges some in the middle of each sheet."""
    have: Counter[float] = Counter()
    for station in plant.settings.machine.stations:
        for size in _takes(station):
            have[size] += station.count * station.tools
    tools = plant.tool_by_id
    needs: dict[str, set[str]] = {}
    for use in plant.program_tools:
        if use.tool_id in tools:
            needs.setdefault(use.program_id, set()).add(use.tool_id)
    for program in plant.programs:
        wanted: Counter[float] = Counter()
        for tool_id in needs.get(program.program_id, ()):
            wanted[tools[tool_id].station_size_mm] += tools[tool_id].positions
        for size, count in wanted.items():
            if have[size] and count > have[size]:
                orders = plant.orders_of[program.program_id]
                why = f"needs {count} places of {size:g} mm, the turret has {have[size]} ({orders} orders)"
                mend = "Some are exchanged in the middle of each sheet; move a tool to the laser if that is shorter"
                yield row_note(plant, program, "program_id", why, mend)


@reads("tools", "settings")
def tools_named(plant: PlantInputs) -> Iterator[Finding]:
    """Pinned tools and magazine contents are tools of the plant, at clearances that are owned."""
    tools = plant.tool_by_id
    lists = (("rules.pinned", plant.settings.rules.pinned), ("magazine.contents", plant.settings.magazine.contents))
    for column, names in lists:
        for text in names:
            try:
                tool_id, clearance = split_tool(text)
            except ValueError as error:
                mend = "Write TL-001 or TL-001@0.20"
                yield Finding("plant.toml", str(error), mend, column=column, value=text)
                continue
            if tool_id not in tools:
                why, mend = "is not in tools.csv", f"Correct the name; {near(tool_id, tools)}"
                yield Finding("plant.toml", why, mend, column=column, value=text)
            elif clearance is not None and clearance not in _dies(tools[tool_id]):
                owned = ", ".join(f"{die:g}" for die in _dies(tools[tool_id])) or "none: leave out the part from @"
                yield Finding("plant.toml", "clearance not owned", f"Owned: {owned}", column=column, value=text)


@reads("tools", "settings")
def magazine_holds(plant: PlantInputs) -> Iterator[Finding]:
    """What is listed for the magazine finds a place: a copy with its first dies, further dies alone, second copies."""
    magazine = plant.settings.magazine
    places = {float(size): count for size, count in magazine.places.items()}
    dies_per_place = {float(size): count for size, count in magazine.dies_per_place.items()}
    tools = plant.tool_by_id
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


@reads("tools", "program_tools", "machines", "settings")
def magazines_of_several_machines(plant: PlantInputs) -> Iterator[Finding]:
    """Turrets of a cell share its copies, and their magazines do not know of each other: too few copies are a note."""
    machines, used = len(plant.machines), {row.tool_id for row in plant.program_tools}
    tools = plant.tools if machines > 1 and plant.settings.magazine.places else ()
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


def _stands(tool: Tool | None, station: Any) -> bool:
    """Whether a tool can stand in a station; what is wrong with one that is not known is told elsewhere."""
    return tool is None or (tool.station_size_mm in _takes(station) and (station.turning or not tool.needs_turning))


@reads("start", "tools", "orders", "settings")
def start_places(plant: PlantInputs) -> Iterator[Finding]:
    """What lies in the turret or waits at the start exists, no more in a station than it holds."""
    ring = [station for station in plant.settings.machine.stations for _ in range(station.count)]
    known = {"orders": {order.order_id for order in plant.orders}, "tools": set(plant.tool_by_id)}
    taken: dict[int, list[StartRow]] = {}
    for row in plant.start:
        table = "orders" if row.what == "backlog" else "tools"
        if row.item not in known[table]:
            mend = f"Correct the name; {near(row.item, known[table])}"
            yield row_error(plant, row, "item", f"is not in {table}.csv", mend)
        if row.what == "turret":
            taken.setdefault(row.station, []).append(row)
            if row.station > len(ring):
                why = f"the turret has only {len(ring)} stations"
                yield row_error(plant, row, "station", why, "Correct the station")
            elif row.station > 0 and not _stands(plant.tool_by_id.get(row.item), ring[row.station - 1]):
                why = f"{row.item} does not fit into station {row.station}"
                yield row_error(plant, row, "station", why, "Correct station or tool")
    for station, rows in taken.items():
        if 1 <= station <= len(ring) and len(rows) > ring[station - 1].tools:
            why = f"holds {len(rows)} tools (rows {some([plant.line(row) for row in rows])})"
            yield row_error(plant, rows[-1], "station", why, "Give each tool its own station")


@reads("start", "tools", "orders")
def starts_are_possible(plant: PlantInputs) -> Iterator[Finding]:
    """A tool stands at a die that is owned, and of an order no more sheets wait than it has."""
    sheets = {order.order_id: order.sheets for order in plant.orders}
    for row in plant.start:
        owned = plant.tool_by_id[row.item].clearances if row.item in plant.tool_by_id else ()
        if row.what == "turret" and row.clearance_mm and owned and row.clearance_mm not in owned:
            why = f"{row.item} has no die of this clearance"
            mend = f"Write one of those it has: {some([plain(die) for die in owned])}"
            yield row_note(plant, row, "clearance_mm", why, mend)
        if row.what == "backlog" and row.sheets > sheets.get(row.item, row.sheets):
            why = f"{row.item} is an order of {sheets[row.item]} sheets"
            yield row_error(plant, row, "sheets", why, "Write how many of them wait, or 0 for all")
