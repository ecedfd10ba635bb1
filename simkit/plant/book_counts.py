"""The order book as it asks for times: how often what takes time occurs, by program, over all its orders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Mapping
from functools import cached_property

from simkit.base.units import MM_PER_M
from simkit.base.vocabulary import UNLOADING
from simkit.plant.part_ways import PartFlow, part_flow
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Material, Program, ProgramTool, Tool


def driver_counts(plant: PlantInputs, program: Program, flow: PartFlow) -> dict[str, float]:
    """How often each driver that is counted by the sheet occurs on one sheet of this program.

    What is done to parts, as hits and cuts, is done to those that are on the sheet.
    """
    both = program.hits_per_sheet + program.forming_hits_per_sheet > 0 and program.cut_length_mm > 0
    return {
        "sheet": 1.0,
        "hit": flow.filled * program.hits_per_sheet,
        "forming_hit": flow.filled * program.forming_hits_per_sheet,
        "tool": float(len(plant.tools_of.get(program.program_id, ()))),
        "reposition": float(program.repositions),
        "mode_change": float(both),
        "contour": flow.filled * program.contours,
        "m_cut": flow.filled * program.cut_length_mm / MM_PER_M,
        "part": flow.benched,
        "tab": flow.bench_tabs,
        "kg": flow.benched_kg,
        "pick": flow.picked,
        "pick_blocking": flow.picked,
        "chute_part": flow.chute,
        "skeleton": float(flow.leaves_skeleton),
        "stored_sheet": float(filled_by_sheet(plant, program)),
        "remnant": plant.settings.store.remnants_kept if program.remnant_share > 0 else 0.0,
    }


def filled_by_sheet(plant: PlantInputs, program: Program) -> bool:
    """Whether the store keeps a program's material and is filled by the sheet, not by the pack."""
    material = plant.material_by_id.get(program.material_id)
    stored = program.material_id in plant.stored_materials
    return stored and material is not None and material.sheets_per_pack is None


class BookCounts:
    """The order book of a plant as it asks for times: its programs, how their parts leave, and changes by program."""

    def __init__(self, plant: PlantInputs) -> None:
        self.plant = plant
        self._changes: dict[str, Counter[str]] = {}
        known = {tool.tool_id for tool in plant.tools}
        self.uses = {name: [use for use in uses if use.tool_id in known] for name, uses in plant.tools_of.items()}

    @cached_property
    def programs(self) -> tuple[Program, ...]:
        """Programs that some order runs and whose material is known."""
        known = self.plant.material_by_id
        return tuple(p for p in self.plant.programs if p.program_id in self.plant.orders_of and p.material_id in known)

    @cached_property
    def flows(self) -> dict[str, PartFlow]:
        """How the parts of each program of the book leave their sheet."""
        return {program.program_id: part_flow(self.plant, program) for program in self.programs}

    def material(self, program: Program) -> Material:
        """Material of a program of the book."""
        return self.plant.material_by_id[program.material_id]

    def changes(self, what: str, states: Callable[[Program], Mapping[Hashable, Hashable]]) -> Counter[str]:
        """How often something stands otherwise than the order before left it, by program, in order of release.

        ``states`` gives what an order of a program sets up: of each thing, how it must stand. The first is no change.
        """
        if what not in self._changes:
            found = self._changes[what] = Counter()
            before: dict[Hashable, Hashable] = {}
            wanted = {program.program_id: states(program) for program in self.programs}
            for order in sorted(self.plant.orders, key=lambda order: order.released):
                for thing, state in wanted.get(order.program_id, {}).items():
                    found[order.program_id] += before.setdefault(thing, state) != state
                    before[thing] = state
        return self._changes[what]


Count = Callable[[BookCounts, Program], float]


def of_orders(book: BookCounts, program: Program) -> float:
    """Orders of a program."""
    return float(book.plant.orders_of[program.program_id])


def first_pieces(book: BookCounts, program: Program) -> float:
    """Orders whose first piece is measured, by the rule of the plant."""
    rule = book.plant.settings.rules.first_piece
    none = rule == "never" or (rule == "new_program" and program.proven)
    return 0.0 if none else of_orders(book, program)


def unproven(book: BookCounts, program: Program) -> float:
    """Orders of a program that is not proven."""
    return 0.0 if program.proven else of_orders(book, program)


def sheet_counts(book: BookCounts, program: Program) -> dict[str, float]:
    """Each driver of the sheets over all orders of a program; a measured run time holds all that the run takes."""
    flow, sheets = book.flows[program.program_id], book.plant.sheets_of[program.program_id]
    held = RUN_DRIVERS if program.measured_run_s is not None else ()
    counts = driver_counts(book.plant, program, flow)
    return {driver: 0.0 if driver in held else number * sheets / flow.filled for driver, number in counts.items()}


def on_sheets(driver: str) -> Count:
    """Count of a driver of the sheets."""
    return lambda book, program: sheet_counts(book, program)[driver]


def kilograms(book: BookCounts, program: Program) -> float:
    """Kilograms of parts broken out, in a plant that counts bench work by them."""
    counted = any(row.driver == "kg" for row in book.plant.elements)
    return on_sheets("kg")(book, program) if counted else 0.0


RUN_DRIVERS = ("hit", "forming_hit", "tool", "reposition", "mode_change", "contour")
"""Drivers of a sheet's run time that no table of materials covers."""


def pulled_out(book: BookCounts, program: Program) -> float:
    """Sheets that are pulled out, and not left as a skeleton for the device."""
    flow = book.flows[program.program_id]
    return 0.0 if flow.leaves_skeleton else float(book.plant.sheets_of[program.program_id])


def exchanges(book: BookCounts, program: Program) -> float:
    """Tools asked for: each may have to be exchanged."""
    return len(book.uses.get(program.program_id, ())) * of_orders(book, program)


def _has_magazine(book: BookCounts) -> bool:
    return any(book.plant.settings.magazine.places.values())


def by_gripper(count: Count) -> Count:
    """The same count where there is a magazine."""
    return lambda book, program: count(book, program) if _has_magazine(book) else 0.0


def die_changes(book: BookCounts, program: Program) -> float:
    """Tools that are asked for at another clearance than the last time."""
    tools = book.plant.tool_by_id

    def dies(program: Program) -> dict[Hashable, Hashable]:
        clearance = book.material(program).clearance_mm
        uses = book.uses.get(program.program_id, ())
        return {use.tool_id: clearance for use in uses if tools[use.tool_id].kind == "cutting"}

    return float(book.changes("die", dies)[program.program_id])


def angle_changes(book: BookCounts, program: Program) -> float:
    """Tools that are asked for at another angle than the last time."""

    def angles(program: Program) -> dict[Hashable, Hashable]:
        return {use.tool_id: use.angle for use in book.uses.get(program.program_id, ())}

    return float(book.changes("angle", angles)[program.program_id])


def magazine_loads(book: BookCounts, program: Program) -> float:
    """Tools asked for, where the magazine is loaded ahead."""
    ahead = book.plant.settings.magazine.loading == "ahead" and _has_magazine(book)
    return exchanges(book, program) if ahead else 0.0


def material_changes(book: BookCounts, program: Program) -> float:
    """Changes of material; the first order brings its own."""
    changes = book.changes("material", lambda program: {"material": program.material_id})
    first = min(book.plant.orders, key=lambda order: order.released).program_id
    return float(changes[program.program_id] + (program.program_id == first))


def store_exchanges(book: BookCounts, program: Program) -> float:
    """Changes of material, where there is a store."""
    return material_changes(book, program) if book.plant.settings.store.shelves else 0.0


def packs(book: BookCounts, program: Program) -> float:
    """Packs that are used up."""
    pack = book.material(program).sheets_per_pack
    return book.plant.sheets_of[program.program_id] / pack if pack else 0.0


def stored_packs(book: BookCounts, program: Program) -> float:
    """Packs put into the store, of the materials that it keeps."""
    return packs(book, program) if program.material_id in book.plant.stored_materials else 0.0


def set_up(what: str, of: Callable[[BookCounts, Program], Hashable]) -> Count:
    """Changes of something that stands once at the machine, for programs that need it."""
    return lambda book, program: float(
        book.changes(what, lambda p: {} if (state := of(book, p)) is None else {what: state})[program.program_id]
    )


def entries(book: BookCounts, program: Program) -> float:
    """Entries for first pieces that no drawer brings out; stops and checks at night come on top."""
    inside = book.flows[program.program_id].picked > 0 and not book.plant.settings.removal.sample_drawer
    return first_pieces(book, program) if inside else 0.0


def stacks(book: BookCounts, program: Program) -> float:
    """Orders whose parts are stacked."""
    return of_orders(book, program) if book.flows[program.program_id].picked else 0.0


def skeletons_by_hand(book: BookCounts, program: Program) -> float:
    """Sheets whose skeleton people carry away from the bench, in a plant that gives a device's time for its own."""
    rows = (row for row in book.plant.elements if row.driver == "skeleton" and row.state == UNLOADING)
    by_device = any(row.typical > 0 for row in rows)
    flow = book.flows[program.program_id]
    return float(book.plant.sheets_of[program.program_id]) / flow.filled if by_device and flow.to_bench else 0.0


def skeleton_pallets(book: BookCounts, program: Program) -> float:
    """Pallets of skeletons that fill."""
    places = book.plant.settings.removal.skeleton_places
    return on_sheets("skeleton")(book, program) / places if places else 0.0


def engagements(book: BookCounts, program: Program) -> float:
    """Rises of dies, at most: tools that fit a station whose die retracts."""
    sizes = {
        size for row in book.plant.settings.machine.stations if row.retracting for size in (row.size_mm, *row.also_mm)
    }
    uses = book.uses.get(program.program_id, ())
    fits = sum(book.plant.tool_by_id[use.tool_id].station_size_mm in sizes for use in uses)
    return float(fits * book.plant.sheets_of[program.program_id])


def regrinds(book: BookCounts, program: Program) -> float:
    """Regrinds by the counted hits of the book."""
    factor = book.material(program).wear_factor * book.plant.sheets_of[program.program_id]
    return sum(factor * use.hits_per_sheet / life for use, life in wearing(book, program))


def wearing(book: BookCounts, program: Program) -> Iterator[tuple[ProgramTool, float]]:
    """Tools of a program that wear, with the hits after which they are reground."""
    for use in book.uses.get(program.program_id, ()):
        life = hits_between_regrinds(book.plant.tool_by_id[use.tool_id])
        if life is not None:
            yield use, life


def hits_between_regrinds(tool: Tool) -> float | None:
    """Counted hits after which a tool is reground, or None if it never wears."""
    return tool.regrind_limit_hits if tool.tracked and tool.regrind_limit_hits else tool.life_hits
