"""Options of Uthmarsh: what helps where every order is another one, and nights."""

from __future__ import annotations

from collections.abc import Sequence

from cell_rows import OPERATOR, Uses
from drawing import DrawnProgram
from option_parts import ASSESSED, FIRE, Entry, add_row, edit, finished, option
from options_bought import bought_options, night_stack
from options_low_capital import low_capital_options
from options_shifts import saturday_shift
from settings_base import WORKDAYS
from uthmarsh_facts import SHOP
from uthmarsh_settings import plant_settings

SHORT = {
    "N1": "Grouped sequence", "N2": "Setup cart", "N4": "Merged repeats", "N5": "Standard layout",
    "N8": "First-piece rule", "N9": "Staged material", "N10": "Shared clearance", "N11": "Planned eviction",
    "N12": "Prepared nights", "N13": "Operator stages", "N15": "Measured beside", "N16": "Laser odd holes",
    "N17": "Multi-punch holders", "N19": "Nozzle sequence", "A1": "Tool magazine", "A1b": "Plain magazine",
    "A2": "Tool check", "A4": "Part removal", "A5a": "Sheet loader", "A8": "Night stack", "A9": "Used machine",
    "C1": "Unattended night", "C2": "Saturday shift", "C3": "Third shift", "C4": "More subcontracting",
}  # fmt: skip
"""Names of at most three words, for figures and sets; options stand in this order."""

CONFIRMED_H = 35.0
"""Hours a week that the neighbour of C4 confirms, today 20."""


def option_settings(programs: Sequence[DrawnProgram], uses: Uses) -> list[Entry]:
    """Return all options: low-capital ones first, because they are compared first."""
    shared = (*low_capital_options(SHOP, programs, uses), *bought_options(SHOP))
    return finished([*shared, night_stack(150, (60, 80, 105)), *_hours()], plant_settings(), SHORT)


def _hours() -> list[Entry]:
    night = {"shift": "night"}
    return [
        option(
            "C1", "Unattended night after the late shift", "calendar", (5, 8, 12), yearly=6, lead=12,
            needs=[["A1", "A1b"], "A5a", ["A8", "A4"], "N12"], excludes=["C3"], lines=[FIRE],
            note="Yearly cost: on-call pay. Stays: one pack of material a night, clearing and releasing in the "
                 "morning. Forgotten: the insurer, and that a run ends at the first event that needs a person. Loses "
                 "where every order has a first piece.",
            edits=[*ASSESSED, add_row("plant.calendar.night.windows", days=WORKDAYS, start="22:00", end="06:00")],
        ),
        saturday_shift(),
        option(
            "C3", "Third attended shift", "calendar", (3, 5, 8), lead=8, excludes=["C1"],
            note="Paid by hours, with the night premium. Forgotten: a third crew must be found and kept. "
                 "Loses when two shifts are enough.",
            edits=[add_row("plant.calendar.shifts", name="night", days=WORKDAYS, start="22:00", end="06:00",
                           breaks=[["01:00", "01:15"], ["03:30", "04:00"]]),
                   add_row("people", person_id="OP-N", skills=list(OPERATOR), rate_per_h=31.0, **night),
                   add_row("people", person_id="BEN-N", skills=["bench"], rate_per_h=26.0, **night)],
        ),
        option(
            "C4", "Subcontract more", "calendar", (0, 0, 0), lead=2,
            note="The neighbour confirms 35 h a week instead of 20, at the invoice price. Forgotten: transport, own "
                 "checks. Loses when freed hours are at hand.",
            edits=[edit("plant.overflow.subcontract_confirmed_h_per_week", CONFIRMED_H),
                   edit("plant.rules.subcontract_cap_h_per_week", CONFIRMED_H)],
        ),
    ]  # fmt: skip
