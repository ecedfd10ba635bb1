"""What the cell must know of a scenario at hand: times per sheet and order as lists, and small questions about them.

Pure: no clock. Scalars are read from lists on the hot path, never from arrays.
"""

from __future__ import annotations

from simkit.cell.orders import Job
from simkit.cell.stops import SheetExposure
from simkit.process.programs import ProgramTables
from simkit.process.workload import Workload


class Facts:
    """The scenario's numbers as lists."""

    def __init__(self, workload: Workload) -> None:
        self.workload, self.settings, self.who = workload, workload.plant.settings, workload.who
        tables, sheets, orders = workload.tables, workload.sheets, workload.orders
        materials = workload.plant.material_by_id
        self.flows, self.programs = tables.flows, tables.programs
        self.load_s: list[float] = sheets.load_s.tolist()
        self.unload_s: list[float] = sheets.unload_s.tolist()
        self.run_s: list[float] = sheets.run_s.tolist()
        self.cut_s: list[float] = sheets.cut_s.tolist()
        self.hand_s: list[float] = sheets.hand_s.tolist()
        self.once_s: dict[str, list[float]] = {kind: seconds.tolist() for kind, seconds in orders.seconds.items()}
        self.helped_s: dict[str, list[float]] = {kind: seconds.tolist() for kind, seconds in orders.helped.items()}
        outside = {
            kind: {task: seconds.tolist() for task, seconds in by_task.items()}
            for kind, by_task in orders.outside_s.items()
        }
        self.restock, self.staged, self.outside = outside["store_load"], outside["material_change"], outside["order"]
        self.faults = workload.plant.load_faults
        self.material: list[int] = tables.material.tolist()
        self.sheet_kg: list[float] = tables.sheet_kg.tolist()
        self.slug_kg: list[float] = tables.slug_kg.tolist()
        left_kg = [kg - (flow.parts_kg - flow.benched_kg) for kg, flow in zip(self.sheet_kg, self.flows, strict=True)]
        self._load_skills = [self._pair("load", kg) for kg in self.sheet_kg]
        self._unload_skills = [self._pair("unload", kg) for kg in left_kg]
        self.nozzle = [materials[program.material_id].nozzle for program in tables.programs]
        self.gas = [materials[program.material_id].gas for program in tables.programs]
        self.width = [program.sheet_width_mm for program in tables.programs]
        self.to_bench = [flow.to_bench for flow in tables.flows]
        self.to_stack = [program.handover == "stack" for program in tables.programs]
        self.by_device = [flow.leaves_skeleton for flow in tables.flows]
        self.exposures = sheet_exposures(tables)
        kept = workload.plant.stored_materials
        self.stored = frozenset(row for row, one in enumerate(workload.plant.materials) if one.material_id in kept)
        self.per_pack = [row.sheets_per_pack or 0 for row in workload.plant.materials]

    def exposure(self, job: Job, sheet_number: int) -> SheetExposure:
        """What a sheet adds to the exposures of stops; tool loads count with the order's first sheet."""
        counts = self.exposures[job.program]
        return counts._replace(tool_load=job.loads) if sheet_number == 0 and job.loads else counts

    def in_store(self, job: Job, material: int) -> bool:
        """Whether the order's material differs from the present one and is brought by the store."""
        wanted = self.material[job.program]
        return wanted != material and wanted in self.stored

    def restock_of(self, job: Job) -> dict[str, float]:
        """Seconds by task of putting a full pack of the order's material into the store."""
        return {task: seconds[job.members[0]] for task, seconds in self.restock.items()}

    def staged_of(self, job: Job, material: int) -> dict[str, float]:
        """Seconds by task of bringing the order's material beforehand, if it differs and no store brings it."""
        if job.staged or self.material[job.program] == material or self.in_store(job, material):
            return {}
        return {task: seconds[job.members[0]] for task, seconds in self.staged.items()}

    def outside_of(self, job: Job) -> dict[str, float]:
        """Moved work of an order as a whole: programming, preparation, relabelling; merged orders each bring theirs."""
        return {task: sum(seconds[order] for order in job.members) for task, seconds in self.outside.items()}

    def goes_on_stack(self, job: Job, attended: bool) -> bool:
        """Whether a whole sheet of an order goes on the stack, if there is room: by its program, or by the hour."""
        stack = self.settings.stack
        if stack.places <= 0:
            return False
        return self.to_stack[job.program] or stack.use == "always" or (stack.use == "unattended" and not attended)

    def load_skills(self, job: Job) -> tuple[str, ...]:
        """Who loads a sheet: one person, or a second one with a heavy sheet and no lifter."""
        return self._load_skills[job.program]

    def unload_skills(self, job: Job) -> tuple[str, ...]:
        """Who pulls a sheet out; parts that left it before are not lifted with it."""
        return self._unload_skills[job.program]

    def _pair(self, stage: str, mass_kg: float) -> tuple[str, ...]:
        machine = self.settings.machine
        heavy = mass_kg > machine.one_person_kg and not machine.lifter
        return (self.who[stage], "second_person") if heavy else ()

    def first_piece_s(self, job: Job, attended: bool, night: bool) -> float:
        """Seconds of measuring and releasing the order's first piece now; zero where the rule asks for none.

        In an allowed night a program that is not proven is never released without a person.
        """
        rule = self.settings.rules.first_piece
        proven = self.programs[job.program].proven
        unasked = rule == "never" or (rule == "new_program" and proven) or (rule == "attended_only" and not attended)
        if unasked and (proven or not night):
            return 0.0
        seconds = self.once_s["first_piece"][job.members[0]]
        return seconds if self.settings.removal.sample_drawer else self.entered(seconds, job)

    def entered(self, seconds: float, job: Job | None) -> float:
        """Seconds of a person's work at the sheet, with the entry into the guarded cell where there is one."""
        entry = job is not None and self.guarded(job) and seconds > 0
        return seconds + self.once_s["cell_entry"][job.members[0]] if job and entry else seconds

    def guarded(self, job: Job) -> bool:
        """Whether a person at the order's sheet stands in the guarded cell of a removal device."""
        return self.settings.removal.pickers > 0 and self.flows[job.program].picked > 0


class SetUp:
    """Nozzle, gas and clamps as they stand at one machine."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.nozzle: str | None = None
        self.gas: str | None = None
        self.width: float | None = None

    def would_take(self, job: Job) -> tuple[float, float, float]:
        """What :meth:`change_to` would return for an order; nothing changes."""
        other = SetUp(self.facts)
        other.nozzle, other.gas, other.width = self.nozzle, self.gas, self.width
        return other.change_to(job)

    def change_to(self, job: Job) -> tuple[float, float, float]:
        """Set up for an order; seconds by hand, without anybody, and what a second person takes over of the former.

        What stood at the start costs nothing.
        """
        facts, program, first = self.facts, job.program, job.members[0]
        machine = facts.settings.machine
        by_hand_s = automatic_s = helped_s = 0.0
        kinds = (
            ("nozzle_change", "nozzle", facts.nozzle[program], machine.nozzle_automatic),
            ("gas_change", "gas", facts.gas[program], False),
            ("clamp_change", "width", facts.width[program], machine.clamps_automatic),
        )
        for driver, name, wanted, automatic in kinds:
            before = getattr(self, name)
            setattr(self, name, wanted)
            if before in (None, wanted):
                continue
            seconds = facts.once_s[driver][first]
            if automatic or facts.who[driver] == "machine":
                automatic_s += seconds
            else:
                by_hand_s += seconds
                helped_s += facts.helped_s[driver][first]
        return by_hand_s, automatic_s, helped_s


def sheet_exposures(tables: ProgramTables) -> list[SheetExposure]:
    """What a whole sheet of each program adds to the exposures of stops, tool loads apart."""
    return [
        SheetExposure(
            1.0,
            flow.parts,
            flow.picked,
            flow.filled * (program.hits_per_sheet + program.forming_hits_per_sheet),
            flow.filled * program.contours,
            0.0,
        )
        for program, flow in zip(tables.programs, tables.flows, strict=True)
    ]
