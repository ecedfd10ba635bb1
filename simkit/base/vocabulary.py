"""The closed word lists of the kit: states, tasks, drivers, laws. Every other module uses these names."""

from __future__ import annotations

PUNCHING = "punching"
FORMING = "forming"
CUTTING = "cutting"
CHANGEOVER = "changeover"
LOADING = "loading"
UNLOADING = "unloading"
FIRST_PIECE = "first_piece"
WAITING_PERSON = "waiting_person"
WAITING_MATERIAL = "waiting_material"
BLOCKED = "blocked"
STOPPED = "stopped"
UPKEEP = "upkeep"
NO_WORK = "no_work"
CLOSED = "closed"

STATES: tuple[str, ...] = (
    PUNCHING, FORMING, CUTTING, CHANGEOVER, LOADING, UNLOADING, FIRST_PIECE,
    WAITING_PERSON, WAITING_MATERIAL, BLOCKED, STOPPED, UPKEEP, NO_WORK, CLOSED,
)  # fmt: skip
"""Machine states; a machine is in exactly one at each instant and they sum to the calendar."""

PROCESS_STATES = (PUNCHING, FORMING, CUTTING)
SETUP_STATES = (CHANGEOVER, FIRST_PIECE, WAITING_MATERIAL)
HANDLING_STATES = (LOADING, UNLOADING)
PASSIVE_STATES = (WAITING_PERSON, WAITING_MATERIAL, BLOCKED, STOPPED, NO_WORK)
"""States in which nothing happens at the machine: outside open hours they count as closed."""

BENCH = "bench"
OUTSIDE = "outside"
ELEMENT_STATES = (*PROCESS_STATES, CHANGEOVER, LOADING, UNLOADING, FIRST_PIECE, UPKEEP, BENCH, OUTSIDE)
"""Where an element's time goes: a machine state, work at the bench, or work outside the machine's time."""

TASKS: tuple[str, ...] = (
    "clear", "rush", "unload", "load", "first_piece", "changeover", "material", "pallet", "upkeep",
    "bench", "preparation",
)  # fmt: skip
"""Tasks for people in the default order of priority (``rush`` lifts the tasks of a rush order)."""

SKILLS: tuple[str, ...] = (*(t for t in TASKS if t != "rush"), "second_person", "technician", "programming")
"""What a person may be qualified for: a task, the second pair of hands at a heavy sheet, and so on."""

RULE_OF = {"technician": "clear"}
"""Skills whose requests go by the priority and the break rule of a task: a technician clears stops."""

DRIVERS: dict[str, str] = {
    "order": "an order",
    "new_program": "an order whose program is not proven",
    "tool_load": "a tool fetched by hand and fitted",
    "die_change": "a die changed by hand for clearance only",
    "angle_change": "a tool turned to another angle by hand",
    "magazine_exchange": "a tool exchanged by the magazine's gripper",
    "magazine_die_change": "a die exchanged by the magazine's gripper",
    "magazine_load": "a tool or die put into the magazine from outside the machine",
    "material_change": "a change of material between orders",
    "pack_change": "a used-up pack of sheets replaced by the next one of the same material",
    "store_load": "a full pack of sheets put into the store",
    "stored_sheet": "a sheet of the store's materials put into it again, those counted in packs left out",
    "store_exchange": "a material exchanged by the sheet store, without a person",
    "nozzle_change": "a change of nozzle",
    "clamp_change": "a change of sheet width",
    "gas_change": "a change of assist gas",
    "sheet": "a sheet",
    "hit": "a punching hit",
    "forming_hit": "a forming hit",
    "tool": "a tool used on a sheet (turret index)",
    "engagement": "a tool of a sheet that stands in a station whose die retracts (one rise of the die a sheet)",
    "reposition": "a reposition of the sheet",
    "mode_change": "a sheet that is both punched and cut",
    "contour": "a contour",
    "m_cut": "a metre of cut",
    "part": "a part",
    "tab": "a micro-joint",
    "kg": "a kilogram of the parts that people break out",
    "pick": "a part taken out by the removal device (its whole cycle)",
    "pick_blocking": "a part taken out, the share during which the sheet must stand still",
    "chute_part": "a part that went down the chute and is sorted later",
    "skeleton": "a skeleton put on its own pallet by the removal device",
    "remnant": "a remnant cut off, labelled and put back into stock",
    "cell_entry": "an entry of a person into the guarded cell",
    "stack_exchange": "a full stack taken away",
    "skeleton_exchange": "a full pallet of skeletons taken away",
    "process": "the run time of a sheet (a ratio)",
    "regrind": "a tool reground",
}
"""What an element's time is counted per; written behind the slash of its unit, as in ``s/hit``."""

HAND_EXCHANGES: tuple[str, ...] = ("tool_load", "die_change", "angle_change")
GRIPPER_EXCHANGES: tuple[str, ...] = ("magazine_exchange", "magazine_die_change")
EXCHANGES: tuple[str, ...] = (*HAND_EXCHANGES, *GRIPPER_EXCHANGES)
"""Ways in which a tool is exchanged: by hand, then by the magazine's gripper."""

REGRIND = "regrind"
FAULT_MOMENTS: tuple[str, ...] = (*EXCHANGES, REGRIND)
"""When a tool can come to the machine wrongly: at an exchange, or back from grinding."""

KEPT: tuple[str, ...] = ("cabinet", "tool_room")
"""Where a tool lies that stands neither in the turret nor in a magazine."""

PARAMETRIC_LAWS: tuple[str, ...] = (
    "constant", "exponential", "gamma", "lognormal", "weibull", "triangular", "uniform",
)  # fmt: skip
"""Laws given by a mean and a coefficient of variation."""


EXPOSURES: tuple[str, ...] = (
    "running_hour", "calendar_hour", "sheet", "part", "pick", "hit", "contour", "tool_load",
)  # fmt: skip
"""What a stop cause grows with."""

NIGHT_LIMITS: tuple[str, ...] = ("stop", "release", "tool", "material", "output", "queue")
"""What can end an unattended stretch, apart from the morning itself."""

NIGHT_WANTS: tuple[str, ...] = (
    "first_piece", "unproven_program", "tool_by_hand", "worn_tool", "wrong_tool", "set_up", "material_fetch",
    "pack_change", "store_empty", "loading_by_hand", "bench_full", "stack_full", "stacks_full", "skeletons_full",
    "unloading_by_hand", "tool_elsewhere", "left_by_shift",
)  # fmt: skip
"""What a machine may want at such an end, beside the causes of ``stops.csv`` and the tasks of ``upkeep.csv``; the last
word: work that was asked for or begun before the night and left when the people went."""

ALWAYS, ON_CALL = "always", "on_call"
"""Shifts of people that are no shift of the calendar: there all the time, or only when called at night."""

HANDOVERS: tuple[str, ...] = ("bench", "stack", "removal", "chute", "mixed")
EXPECTED, COUNTED = "expected", "counted"
PRICED: tuple[str, ...] = (EXPECTED, COUNTED)
"""How money reads what a cause costs: probability times exposure, or the count of the runs."""

BASES: tuple[str, ...] = ("measured", "logged", "quoted", "estimated", "default")
NO_SOURCE = "common practice, no source"
"""The source of a number that no reading or publication stands behind."""
WEEKDAYS: tuple[str, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
