"""The content of options.toml: every option as edits to the plant, plus money."""

from __future__ import annotations

from collections.abc import Sequence

from cell_rows import Uses
from drawing import DrawnProgram
from families import SHOP
from option_parts import Entry, finished
from options_bought import bought_options
from options_calendar import calendar_options
from options_low_capital import low_capital_options
from options_posts import post_options
from settings_text import plant_settings

SHORT = {
    "N1": "Grouped sequence", "N2": "Setup cart", "N3": "Second bench person", "N4": "Merged repeats",
    "N5": "Standard layout", "N6": "Staggered breaks", "N7": "Counted regrinds", "N8": "First-piece rule",
    "N9": "Staged material", "N10": "Shared clearance", "N11": "Planned eviction", "N12": "Prepared nights",
    "N13": "Operator stages", "N14": "One bench post", "N15": "Measured beside", "N16": "Laser odd holes",
    "N17": "Multi-punch holders", "N18": "Fewer tabs", "N19": "Nozzle sequence", "A1": "Tool magazine",
    "A1b": "Plain magazine", "A2": "Tool check", "A3": "Retracting dies", "A4": "Part removal",
    "A4s": "Sample drawer", "A4p": "Removal with store", "A5a": "Sheet loader", "A5b": "Shelf store",
    "A5c": "Loader and unloader",
    "A6": "Scrap conveyor", "A7": "Nozzle changer", "A8": "Night stack", "A9": "Used machine",
    "C1": "Unattended evening", "C2": "Saturday shift", "C3": "Third shift", "C4": "Subcontracted overflow",
    "C5": "Unattended weekend",
}  # fmt: skip
"""Names of at most three words, for figures and sets."""


def option_settings(programs: Sequence[DrawnProgram], uses: Uses) -> list[Entry]:
    """Return all options: low-capital ones first, because they are compared first."""
    entries = (*low_capital_options(SHOP, programs, uses), *post_options(), *bought_options(SHOP), *calendar_options())
    return finished(entries, plant_settings(), SHORT)
