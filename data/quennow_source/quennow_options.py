"""Options of Quennow: what its two people can change, what is bought, and the rivals of a night."""

from __future__ import annotations

from collections.abc import Sequence

from cell_rows import OPERATOR, Uses
from drawing import DrawnProgram
from option_parts import ASSESSED, FIRE, Entry, add_row, edit, finished, line, option
from options_bought import bought_options, night_stack
from options_low_capital import low_capital_options
from options_shifts import saturday_shift
from quennow_facts import SHOP
from quennow_settings import plant_settings
from settings_base import WORKDAYS

SHORT = {
    "N1": "Grouped sequence", "N2": "Setup cart", "N3": "Second bench person", "N9": "Staged material",
    "N12": "Prepared nights", "N13": "Operator stages", "N20": "Operator breaks out", "N18": "Fewer tabs",
    "A1": "Tool magazine", "A3": "Retracting dies", "A4": "Part removal", "A5a": "Sheet loader", "A5b": "Shelf store",
    "A5c": "Loader and unloader", "A6": "Scrap conveyor", "A8": "Night stack", "A9": "Used machine",
    "C1": "Unattended night", "C2": "Saturday shift", "C3": "Second shift", "C4": "More subcontracting",
}  # fmt: skip
"""Names of at most three words, for figures and sets; options stand in this order."""

FREED_BENCH = edit("plant.rules.planning_factor", 1.05)
"""The planner's factor once the bench no longer binds; measured 1.00 with a second bench person, 1.09 with part
removal, 1.24 today."""

CONFIRMED_H = 35.0
"""Hours a week that the subcontractor of C4 confirms, today 20."""


def option_settings(programs: Sequence[DrawnProgram], uses: Uses) -> list[Entry]:
    """Return all options: low-capital ones first, because they are compared first."""
    shared = (*low_capital_options(SHOP, programs, uses), *bought_options(SHOP))
    return finished([*shared, *_bench(), _removal(shared), night_stack(150, (60, 80, 105)), _night(), *_rivals()],
                    plant_settings(), SHORT)  # fmt: skip


def _bench() -> list[Entry]:
    return [
        option(
            "N3", "Second person at the bench", "low_capital", (0, 0.5, 1), lead=6,
            note="Stays: breaking out by hand. Forgotten: a wage all year. Loses when no job is bound by the bench.",
            edits=[add_row("people", person_id="BEN-2", skills=["bench"], shift="day", rate_per_h=26.0), FREED_BENCH],
        ),
        option(
            "N20", "The operator breaks out while the machine needs nobody", "low_capital", (0, 0.3, 0.8), lead=2,
            note="Stays: the bench post. Forgotten: a machine that waits until a sheet is broken out. Loses where "
                 "the operator is at the machine all the time.",
            edits=[edit("people[OP-1].skills", ["bench"], "add")],
        ),
    ]  # fmt: skip


def _removal(shared: Sequence[Entry]) -> Entry:
    """Return part removal with a sample drawer, at a price of its own for the drawer."""
    plain = next(entry for entry in shared if entry["id"] == "A4")
    return {
        **plain, "name": f"{plain['name']}, with a sample drawer",
        "capital_lines": [*plain["capital_lines"], line("sample drawer", 9000, 7000, 12000)],
        "edits": [*plain["edits"], edit("plant.removal.sample_drawer", True), FREED_BENCH],
    }  # fmt: skip


def _night() -> Entry:
    return option(
        "C1", "Unattended night after the shift", "calendar", (5, 8, 12), yearly=6, lead=12,
        needs=["A5b", ["A8", "A4"], "N12"], excludes=["C3"], lines=[FIRE],
        note="Yearly cost: on-call pay. Stays: filling, clearing and breaking out in the morning. Forgotten: the "
             "insurer, and that a run ends at the first event that needs a person. Loses when the queue is shorter "
             "than the first stop.",
        edits=[*ASSESSED, add_row("plant.calendar.night.windows", days=WORKDAYS, start="16:00", end="06:00")],
    )  # fmt: skip


def _rivals() -> list[Entry]:
    return [
        saturday_shift(),
        option(
            "C3", "Second attended shift 16-24", "calendar", (3, 5, 8), lead=8, excludes=["C1"],
            note="Paid by hours. Forgotten: a second crew must be found and kept. Loses when one shift is enough.",
            edits=[add_row("plant.calendar.shifts", name="late", days=WORKDAYS, start="16:00", end="00:00",
                           breaks=[["18:00", "18:15"], ["20:30", "21:00"]]),
                   add_row("people", person_id="OP-2", skills=list(OPERATOR), rate_per_h=31.0, shift="late"),
                   add_row("people", person_id="BEN-3", skills=["bench"], rate_per_h=26.0, shift="late")],
        ),
        option(
            "C4", "Subcontract more", "calendar", (0, 0, 0), lead=2,
            note="The named subcontractor confirms 35 h a week instead of 20, at the invoice price. Forgotten: "
                 "transport, own checks, lead time. Loses when freed hours are at hand.",
            edits=[edit("plant.overflow.subcontract_confirmed_h_per_week", CONFIRMED_H),
                   edit("plant.rules.subcontract_cap_h_per_week", CONFIRMED_H)],
        ),
    ]  # fmt: skip
