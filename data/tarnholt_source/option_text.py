"""The content of options.toml: every option as edits to the plant, plus money."""

from __future__ import annotations

from option_parts import Entry, with_explicit_zeros
from options_bought import bought_options
from options_calendar import calendar_options
from options_low_capital import Uses, low_capital_options

SHORT = {
    "N1": "Grouped sequence", "N2": "Setup cart", "N3": "Second bench person", "N4": "Merged repeats",
    "N5": "Standard layout", "N6": "Staggered breaks", "N7": "Counted regrinds", "N8": "First-piece rule",
    "N9": "Staged material", "N10": "Shared clearance", "N11": "Planned eviction",
    "N12": "Prepared nights", "N13": "Operator stages", "N14": "One bench post", "A1": "Tool magazine",
    "A1b": "Plain magazine", "A2": "Tool check", "A3": "Retracting dies", "A4": "Part removal",
    "A4s": "Sample drawer",
    "A5a": "Sheet loader", "A5b": "Shelf store", "A6": "Scrap conveyor", "A7": "Nozzle changer",
    "A8": "Night stack", "C1": "Unattended evening", "C2": "Saturday shift", "C3": "Third shift",
    "C4": "Subcontracted overflow", "C5": "Unattended weekend",
}  # fmt: skip
"""Names of at most three words, for figures and sets."""


def option_settings(uses: Uses) -> list[Entry]:
    """Return all options: low-capital ones first, because they are compared first."""
    return [
        with_explicit_zeros(_with_short_name(entry))
        for entry in (*low_capital_options(uses), *bought_options(), *calendar_options())
    ]


def _with_short_name(entry: Entry) -> Entry:
    known = {"id": entry["id"], "name": entry["name"], "short": SHORT[str(entry["id"])]}
    return {**known, **{key: value for key, value in entry.items() if key not in known}}
