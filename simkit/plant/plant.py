"""The Plant: checked, frozen tables and settings of one cell and its work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from simkit.base.units import sheet_mass_kg
from simkit.plant import tables
from simkit.plant.options import Option
from simkit.plant.settings import Settings

if TYPE_CHECKING:
    from simkit.plant.calibration_file import Calibration, CalibrationStanding


@dataclass(frozen=True)
class DraftTable:
    """The rows of one table that can be read, each with its line in the file.

    ``keys`` are the texts of the first key column of all rows, faulty rows included, so that a row with one bad cell
    does not make every reference to it look wrong; ``spoiled``: some row could not be read; ``heads``: the columns of
    the file.
    """

    rows: tuple[Any, ...] = ()
    lines: tuple[int, ...] = ()
    keys: frozenset[str] = frozenset()
    spoiled: bool = False
    heads: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlantInputs:
    """All inputs of one plant. Rows keep the order of their file; nothing here is ever edited in place.

    ``sequences`` holds the value files named by elements and stops (``file`` column), as tuples in the
    unit of the row that names them; for a stop: exposures between stops, then repair times under
    ``"<file>:repair"``.
    """

    settings: Settings
    orders: tuple[tables.Order, ...]
    programs: tuple[tables.Program, ...]
    materials: tuple[tables.Material, ...]
    elements: tuple[tables.Element, ...]
    machines: tuple[tables.MachineRow, ...]
    people: tuple[tables.Person, ...]
    program_parts: tuple[tables.ProgramPart, ...] = ()
    program_tools: tuple[tables.ProgramTool, ...] = ()
    tools: tuple[tables.Tool, ...] = ()
    calendar: tuple[tables.CalendarDay, ...] = ()
    start: tuple[tables.StartRow, ...] = ()
    history: tuple[tables.HistoryRow, ...] = ()
    stops: tuple[tables.Stop, ...] = ()
    load_faults: tuple[tables.LoadFault, ...] = ()
    upkeep: tuple[tables.Upkeep, ...] = ()
    quality: tuple[tables.Quality, ...] = ()
    observed: tuple[tables.ObservedWeek, ...] = ()
    measured: tuple[tables.Measured, ...] = ()
    options: tuple[Option, ...] = ()
    sequences: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    standing: CalibrationStanding | None = None
    """How the calibration in its folder stands; None where there is none."""
    files: Mapping[str, DraftTable] = field(default_factory=dict, repr=False, compare=False)
    """Of a plant that is being read: each table as it stands in its file, and ``settings`` where they are spoiled."""

    def line(self, row: Any) -> int:
        """The line of a row in its file, 0 where it comes from none."""
        return self._lines.get(id(row), 0)

    @cached_property
    def _lines(self) -> dict[int, int]:
        sheets = self.files.values()
        return {id(row): line for sheet in sheets for row, line in zip(sheet.rows, sheet.lines, strict=True)}

    @property
    def calibration(self) -> Calibration | None:
        """The calibration by which it was read; None where none counts."""
        return self.standing.found if self.standing and self.standing.state == "valid" else None

    @cached_property
    def program_by_id(self) -> dict[str, tables.Program]:
        """Programs by ``program_id``."""
        return {row.program_id: row for row in self.programs}

    @cached_property
    def material_by_id(self) -> dict[str, tables.Material]:
        """Materials by ``material_id``."""
        return {row.material_id: row for row in self.materials}

    @cached_property
    def tool_by_id(self) -> dict[str, tables.Tool]:
        """Tools by ``tool_id``."""
        return {row.tool_id: row for row in self.tools}

    @cached_property
    def option_by_id(self) -> dict[str, Option]:
        """Options by ``id``, in the order of the file."""
        return {option.id: option for option in self.options}

    @cached_property
    def parts_of(self) -> dict[str, tuple[tables.ProgramPart, ...]]:
        """Parts by ``program_id``, in file order."""
        return _grouped(self.program_parts)

    @cached_property
    def tools_of(self) -> dict[str, tuple[tables.ProgramTool, ...]]:
        """Tool uses by ``program_id``, in file order."""
        return _grouped(self.program_tools)

    @cached_property
    def orders_of(self) -> Counter[str]:
        """Orders of the book by ``program_id``."""
        return Counter(order.program_id for order in self.orders)

    @cached_property
    def sheets_of(self) -> Counter[str]:
        """Sheets that the orders of the book make, by ``program_id``."""
        made: Counter[str] = Counter()
        for order in self.orders:
            made[order.program_id] += order.sheets
        return made

    @cached_property
    def stored_materials(self) -> frozenset[str]:
        """Materials that the store keeps: as many as it has shelves, the most used of the book first, then file order.

        Empty without a store.
        """
        sheets: Counter[str] = Counter()
        for program_id, made in self.sheets_of.items():
            if program_id in self.program_by_id:
                sheets[self.program_by_id[program_id].material_id] += made
        ranked = sorted(self.material_by_id, key=lambda name: -sheets[name])
        return frozenset(ranked[: self.settings.store.shelves])

    def sheet_kg(self, program: tables.Program) -> float:
        """Mass of a program's sheet, kg."""
        of = self.material_by_id[program.material_id]
        return sheet_mass_kg(program.sheet_length_mm, program.sheet_width_mm, of.thickness_mm, of.density_kg_m3)


def _grouped(rows: tuple[Any, ...]) -> dict[str, tuple[Any, ...]]:
    groups: dict[str, list[Any]] = {}
    for row in rows:
        groups.setdefault(row.program_id, []).append(row)
    return {name: tuple(members) for name, members in groups.items()}


@dataclass(frozen=True)
class ScenarioInputs:
    """A plant with named options and overrides applied.

    ``physics_hash`` changes only with inputs that the cell reads, ``money_hash`` with the others
    (money, finance, option prices): a money change never re-runs the cell. ``machine_plants`` holds the
    plant as each machine sees it, where machines.csv names overrides; empty otherwise.
    """

    name: str
    plant: PlantInputs
    option_ids: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()
    physics_hash: str = ""
    money_hash: str = ""
    machine_plants: tuple[PlantInputs, ...] = ()
