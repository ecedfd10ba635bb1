"""Small tool rooms for the tests: stations and tools in a few words."""

from __future__ import annotations

from typing import Any

from simkit.plant.settings import Settings
from simkit.plant.tables import Tool
from simkit.tooling.toolroom import NO_CLEARANCE, Need, ToolRoom, make_tool_room
from simkit.tooling.turret import Placed, Turret, empty_turret


def settings_of(*stations: dict[str, Any], **sections: Any) -> Settings:
    """Settings with the given runs of stations."""
    return Settings.model_validate(
        {"name": "test", "calendar": {"shifts": []}, "machine": {"stations": stations}, **sections}
    )


def tool(number: int, size: float = 16, **more: Any) -> Tool:
    """A cutting tool T<number> of a size with dies 0.2 and 0.3."""
    given = {"clearances": (0.2, 0.3), "kind": "cutting", **more}
    return Tool(tool_id=f"T{number}", shape="any", length_mm=size / 2, width_mm=size / 2, station_size_mm=size, **given)


def form(number: int, size: float = 16, height_mm: float = 8.0, **more: Any) -> Tool:
    """A forming tool, tall unless said otherwise."""
    return tool(number, size, kind="forming", form_height_mm=height_mm, clearances=(), **more)


def room_of(stations: int, tools: list[Tool], eviction: str = "lru", pinned: tuple[str, ...] = ()) -> ToolRoom:
    """A room of alike 16 mm stations."""
    rules = {"eviction": eviction, "pinned": pinned}
    return make_tool_room(settings_of({"size_mm": 16, "count": stations}, rules=rules), tools)


def need(tool_row: int, clearance: float = 0.2, angle: float = 0.0) -> Need:
    return Need(tool_row, clearance, angle)


def forming(tool_row: int) -> Need:
    return Need(tool_row, NO_CLEARANCE, 0.0)


def turret_of(room: ToolRoom, standing: dict[int, int | Placed]) -> Turret:
    """A turret with tools (at clearance 0.2, or none for forming tools) or placed copies by station.

    Lower stations were loaded and used earlier.
    """
    turret = empty_turret(room)
    stations = list(turret.stations)
    stamps = [-1] * len(stations)
    for station, what in standing.items():
        clearance = 0.2 if isinstance(what, int) and not room.forming[what] else NO_CLEARANCE
        stations[station] = what if isinstance(what, Placed) else Placed(what, 1, clearance, 0.0)
        stamps[station] = station
    return Turret(stations, stamps, list(stamps))


def tools_in(turret: Turret) -> list[int | None]:
    """Tool row by station."""
    return [placed.tool if placed else None for placed in turret.stations]
