"""The one place where the report's colours are defined.

Machine states form families: process is blue, set-up is orange, handling is green, waiting is
plum, and what stands still is dark or grey. Within a family the colours differ in lightness, so
that they stay apart in print and for colour-blind readers; neighbours in a bar are parted by a
white line as well.
"""

from __future__ import annotations

from simkit.base import vocabulary as words

STATE_COLOURS: dict[str, str] = {
    words.PUNCHING: "#17365c",
    words.FORMING: "#4a7fb5",
    words.CUTTING: "#a6c9e6",
    words.CHANGEOVER: "#c2571a",
    words.FIRST_PIECE: "#f2b45c",
    words.LOADING: "#1f6b5a",
    words.UNLOADING: "#7cc0a6",
    words.WAITING_PERSON: "#8f3f86",
    words.WAITING_MATERIAL: "#e6a9da",
    words.BLOCKED: "#a89a2e",
    words.STOPPED: "#1d1d1f",
    words.UPKEEP: "#858a91",
    words.NO_WORK: "#c4c9cf",
    words.CLOSED: "#eceef1",
}
"""Colour of each machine state, in the order in which bars are stacked."""

STATE_LABELS: dict[str, str] = {state: state.replace("_", " ") for state in STATE_COLOURS} | {
    words.WAITING_PERSON: "waiting for a person", words.WAITING_MATERIAL: "waiting for material",
    words.BLOCKED: "blocked by the bench",
}  # fmt: skip
"""Each machine state in words."""

PERSON_COLOURS: dict[str, str] = {
    "load": STATE_COLOURS[words.LOADING],
    "unload": STATE_COLOURS[words.UNLOADING],
    "changeover": STATE_COLOURS[words.CHANGEOVER],
    "first_piece": STATE_COLOURS[words.FIRST_PIECE],
    "preparation": "#e58b4a",
    "material": "#5aa08a",
    "pallet": "#b9dccf",
    "bench": "#4a7fb5",
    "clear": STATE_COLOURS[words.STOPPED],
    "upkeep": STATE_COLOURS[words.UPKEEP],
    "second_person": "#b374a8",
    "technician": "#5c5f66",
    "programming": "#a6c9e6",
}
"""Colour of each task of a person; a task that holds the machine has the colour of its state."""
TASK_LABELS: dict[str, str] = {task: task.replace("_", " ") for task in PERSON_COLOURS} | {
    "clear": "clearing a stop", "load": "loading", "unload": "pulling out", "preparation": "preparing tools",
    "material": "fetching material", "pallet": "pallets", "bench": "bench work",
    "second_person": "second pair of hands",
}  # fmt: skip
"""Each task of a person in words."""

FAMILIES: dict[str, tuple[str, tuple[str, ...]]] = {
    "processing sheets": ("#17365c", (*words.PROCESS_STATES,)),
    "set-up": ("#c2571a", (*words.SETUP_STATES, "changeover", "preparation")),
    "loading and pulling out": ("#7cc0a6", (*words.HANDLING_STATES, "load", "unload", "second_person")),
    "waiting for a person": ("#8f3f86", (words.WAITING_PERSON,)),
    "blocked by the bench": ("#a89a2e", (words.BLOCKED,)),
    "stopped, being cleared": ("#1d1d1f", (words.STOPPED, "clear", "technician")),
    "upkeep": ("#858a91", (words.UPKEEP, "programming")),
    "bench, pallets, fetching": ("#a6c9e6", ("bench", "pallet", "material")),
    "no work": ("#dfe2e6", (words.NO_WORK,)),
}
"""Families of machine states and people's tasks with their colour, where single ones are too many for a picture."""
FAMILY_OF = {state: family for family, (_, states) in FAMILIES.items() for state in states}

EXCHANGE_COLOURS: dict[str, str] = {
    "tool_load": STATE_COLOURS[words.CHANGEOVER],
    "die_change": "#f2b45c",
    "angle_change": "#5b6673",
    "magazine_exchange": "#17365c",
    "magazine_die_change": "#4a7fb5",
}
"""Colour of each kind of exchange: by hand in the colours of set-up, by the magazine in blue."""

LOW_COLOUR, HIGH_COLOUR = "#4a7fb5", "#e07b39"
"""For what an input brings at its low and at its high."""

HIDDEN_COLOUR = "#a6c9e6"
"""For exchange time hidden behind cutting."""

INK = "#1c2530"
MUTED = "#5b6673"
RULE = "#c9d0d8"
PAPER = "#ffffff"
GREY_MARK = "#aeb4bc"
"""For what cannot be told apart from zero, and for the edge of uncalibrated results."""

ACCENT = "#17365c"
GAIN = "#1f6b5a"
LOSS = "#b5451b"
WITHIN = "#8fb3d4"
SHIFT_SHADE = "#f4f1e8"
OVERTIME_SHADE = "#e9e2c8"
NIGHT_SHADE = "#c4cad6"
BREAK_HATCH = "#9aa1ab"

LINES: tuple[str, ...] = ("#17365c", "#c2571a", "#1f6b5a", "#8f3f86", "#a89a2e", "#4a7fb5", "#858a91")
"""Line colours for options, used with different markers and line styles."""

MARKERS: tuple[str, ...] = ("o", "s", "^", "D", "v", "P", "X")
