"""Bought options that the demo plants share."""

from __future__ import annotations

from cell_rows import WRONG_LOADS, stations
from facts import Shop
from option_parts import (
    CONFORMITY,
    NOT_A_QUOTE,
    PRICE_SOURCE,
    Entry,
    add_row,
    edit,
    element,
    fault,
    line,
    option,
    zero_lines,
)

BOUGHT = "bought"
LINKED = (CONFORMITY, *zero_lines(*NOT_A_QUOTE, "training (paid once per set, in the finance settings)"))
"""Lines of every device that is linked to the machine."""

STACK_AWAY = element("stack_exchange", "min/stack_exchange", "outside", 3.0, "pallet", basis="default")
"""Taking a stack away: of parts when it is full, of whole sheets before a night if outputs are emptied then."""


def bought_options(shop: Shop) -> list[Entry]:
    """Return the options that are bought."""
    chute = any(family.chute for family in shop.families.values())
    return [
        *_magazines(), *_tool_devices(), _removal(chute), _sample_drawer(), _removal_with_store(chute), *_loaders(),
        _unloader(), *_small_devices(), _used_machine(), night_stack(30, (40, 52, 70)),
    ]  # fmt: skip


def _magazines() -> list[Entry]:
    common = [
        edit("plant.magazine.places", {"16": 50, "30": 44, "55": 18, "90": 8}),
        edit("plant.magazine.dies_per_place", {"16": 3, "30": 2, "55": 2, "90": 1}),
        element("magazine_exchange", "min/magazine_exchange", "changeover", 0.75),
        element("magazine_die_change", "min/magazine_die_change", "changeover", 0.6),
        element("magazine_load", "min/magazine_load", "outside", 3.0, "preparation", basis="default"),
        fault("gripper_fault", "tool_load", 0.002, 8.0, needs_entry=False),
    ]
    stays = (
        "Stays: fixed minutes and first piece of every order, and every tool that is not in the magazine. "
        "Forgotten: filling the magazine (the named hours), one copy cannot be in two places. "
    )
    lines = [*LINKED, line("tagging of tools", 1500, 1000, 2500), line("software interface to planning", 0)]
    return [
        option(
            "A1", "Tool magazine with look-ahead", BOUGHT, (160, 185, 215), yearly=9, lead=30, life=10, stop=5,
            yearly_labour_h=47.0, excludes=["A1b"], lines=lines,
            note=stays + "Loses when all jobs share their tools; hides nothing under programs that only punch.",
            edits=[*common, edit("plant.magazine.lookahead", True), edit("plant.rules.lookahead_sheets", 1)],
        ),
        option(
            "A1b", "Tool magazine without look-ahead", BOUGHT, (135, 155, 180), yearly=8, lead=30, life=10, stop=5,
            yearly_labour_h=47.0, excludes=["A1"], lines=lines,
            note=stays + "Every exchange is visible. Loses when all jobs share their tools.",
            edits=[*common, edit("plant.magazine.lookahead", False), edit("plant.rules.lookahead_sheets", 0)],
        ),
    ]  # fmt: skip


def _tool_devices() -> list[Entry]:
    retracting = [
        {**station, "retracting": True} if station["size_mm"] in (55.0, 90.0) else station for station in stations()
    ]
    return [
        option(
            "A2", "Tool check at load (reader, camera or gauge)", BOUGHT, (18, 24, 32), yearly=1.2, lead=12, life=10,
            note="Stays: fetching and fitting. Forgotten: every tool is tagged, unread marks stop the load, and a "
                 "wrong length in the record is worse than none. Loses when nobody mixes tools up.",
            lines=[line("tagging of 62 tools and twins", 1200, 800, 2000), *zero_lines(*NOT_A_QUOTE)],
            edits=[*(edit(f"load_faults[{fault}].rate", 0.04, "multiply") for fault in WRONG_LOADS),
                   element("tool_read", "s/tool_load", "changeover", 2.0),
                   element("tool_read_in_magazine", "s/magazine_exchange", "changeover", 2.0),
                   add_row("stops", cause="unread_mark", exposure="tool_load", rate=0.003, repair_law="gamma",
                           repair_min=2.0, repair_cv=0.5, clears="clear", needs_entry=False, basis="quoted",
                           source=PRICE_SOURCE)],
        ),
        option(
            "A3", "Retracting dies in ten stations", BOUGHT, (55, 68, 85), yearly=2.8, lead=26, life=10, stop=5,
            note="The 55 and 90 mm stations. Stays: marks by handling. Forgotten: each die rises once a sheet, small "
                 "stations keep fixed dies. Loses without coated or bright sheets and without forms.",
            lines=[line("dies for the retracting holders", 3500, 2500, 5000), *zero_lines(*NOT_A_QUOTE)],
            edits=[edit("plant.machine.stations", retracting), edit("quality[die_marks].rate", 0.005),
                   element("die_rise", "s/engagement", "punching", 0.3), edit("elements[shim].typical", 0.0)],
        ),
    ]  # fmt: skip


def _removal(chute: bool) -> Entry:
    """Return part removal; what went down the chute still does, beside it."""
    beside = [edit("programs[handover=chute].handover", "mixed")] if chute else []
    return option(
        "A4", "Automatic part removal, two pickers, four stack places", BOUGHT, (260, 305, 380), yearly=14, lead=36,
        life=10, stop=10,
        note="Stays: parts that cannot be gripped, sorting at the next operation, entries into the cell. Forgotten: "
             "lower yield, programming of every new part, cups, a place for skeletons. Loses with many small parts "
             "a sheet and with tall parts.",
        lines=[*LINKED, line("guarding changes and light curtain", 8000, 6000, 12000),
               line("stacking pallets", 2400, 1600, 3600)],
        edits=[
            edit("plant.removal.pickers", 2), edit("plant.removal.stack_places", 4),
            edit("plant.removal.max_mass_kg", 20.0), edit("plant.removal.min_side_mm", 100.0),
            edit("plant.removal.max_side_mm", 1250.0), edit("plant.removal.max_form_height_mm", 5.0),
            edit("plant.removal.yield_loss", 0.02), edit("plant.removal.skeleton_places", 60),
            edit("programs[handover=bench].handover", "removal"), *beside,
            element("pick", "s/pick", "unloading", 9.0), element("pick_blocking", "s/pick_blocking", "unloading", 3.0),
            element("skeleton_out", "min/skeleton", "unloading", 0.6, basis="default", low=0.3, high=1.5),
            element("skeleton_exchange", "min/skeleton_exchange", "outside", 3.0, "pallet", basis="default", low=1.0,
                    high=8.0),
            STACK_AWAY,
            element("cell_entry", "min/cell_entry", "first_piece", 2.5, "first_piece", low=1.0, high=4.0),
            element("programming", "min/new_program", "outside", 12.0, "programming", law="lognormal", cv=0.4),
            element("relabel", "s/pick", "outside", 1.0, "bench"),
            fault("pick_failure", "pick", 0.005, 4.0, "quoted", retries=1, retry_success=0.9, retry_s=9.0),
        ],
    )  # fmt: skip


BOTH_AT_ONCE = -38000.0
"""What the removal costs less when it is ordered with the store: one delivery, one guarding, one interface."""


def _removal_with_store(chute: bool) -> Entry:
    """Return part removal as it is offered together with the store."""
    return _removal(chute) | {
        "id": "A4p", "name": "Part removal as one package with the shelf store", "needs": ["A5b"],
        "excludes": ["A4", "A4s"], "bundle_adjustment": BOTH_AT_ONCE,
    }  # fmt: skip


USED_SLOWER = 1.15
"""Run time of a used machine over that of the plant's own. Invented, a default of the demo."""


def _used_machine() -> Entry:
    slower = f"elements[run_time_ratio].typical={USED_SLOWER}"
    return option(
        "A9", "Used machine of the same kind beside the first", BOUGHT, (160, 215, 290), yearly=11, lead=16, life=8,
        stop=2,
        note="Rival of all devices: twice the stations, served by the same people. Stays: every minute of set-up and "
             "handling. Forgotten: floor, extraction, a second set of common tools, and its age: a tenth and a half "
             "slower, its own breakdowns. Loses where people are what is short.",
        lines=[line("floor, power and extraction", 24000, 16000, 36000),
               line("twin tools for both machines", 9000, 6000, 14000),
               line("conformity check of a used machine", 5000, 3000, 8000),
               *zero_lines("installation and freight (in the quoted price)", "training (the same kind of machine)")],
        edits=[add_row("machines", machine_id="PL-2", overrides=slower)],
    )  # fmt: skip


def _unloader() -> Entry:
    """Return the loader that also pulls whole sheets out onto a stack beside the bench."""
    plain = next(entry for entry in _loaders() if entry["id"] == "A5a")
    return option(
        "A5c", "Single-pallet loader with unloader", BOUGHT, (105, 132, 158), yearly=5.5, lead=24, life=12, stop=5,
        excludes=["A5a", "A5b"], lines=LINKED,
        note="Loads, and puts whole sheets on a stack of twenty beside the bench. Stays: every fetch at a material "
             "change, all of breaking out. Forgotten: sheets that hang at a tab, and the room for the stack. Loses "
             "where the bench is what is short.",
        edits=[*plain["edits"], edit("elements[pull_out].typical", 0.5), edit("elements[pull_out].task_of", "machine"),
               edit("plant.bench.places", 20), fault("sheet_hangs", "sheet", 0.004, 3.0, needs_entry=True)],
    )  # fmt: skip


def _sample_drawer() -> Entry:
    return option(
        "A4s", "Sample drawer at the part removal", BOUGHT, (4, 6, 9), yearly=0.3, lead=36, life=10, needs=["A4"],
        note="First pieces come out without entering the guarded cell. Stays: entries that a stop needs. Forgotten: it "
             "is ordered with the device. Loses where few first pieces are measured.",
        lines=zero_lines(*NOT_A_QUOTE), edits=[edit("plant.removal.sample_drawer", True)],
    )  # fmt: skip


def _loaders() -> list[Entry]:
    by_device = [edit("elements[load].typical", 0.9), edit("elements[load].task_of", "machine"),
                 fault("misfeed", "sheet", 0.005, 4.0, retries=1, retry_success=0.8, retry_s=20.0)]  # fmt: skip
    return [
        option(
            "A5a", "Single-pallet sheet loader", BOUGHT, (68, 85, 98), yearly=3.5, lead=20, life=12, stop=3,
            excludes=["A5b", "A5c"], lines=LINKED,
            note="Stays: every fetch at a material change, and pulling out. Forgotten: double sheets and films. "
                 "Loses at night with many materials.",
            edits=by_device,
        ),
        option(
            "A5b", "Shelf store with loader, eight shelves", BOUGHT, (190, 228, 270), yearly=10, lead=36, life=15,
            stop=8, excludes=["A5a", "A5c"], lines=[*LINKED, line("stock booking and shelf labels", 1200, 800, 2000)],
            note="Stays: filling the shelves, remnants, pulling out. Forgotten: floor, booking discipline, other "
                 "machines that draw on it. Equals the single-pallet loader with one material.",
            edits=[*by_device, edit("plant.store.shelves", 8),
                   element("store_exchange", "min/store_exchange", "changeover", 2.0),
                   element("store_fill", "s/stored_sheet", "outside", 5.0, "material", basis="default"),
                   fault("store_fault", "running_hour", 0.003, 20.0, needs_entry=False)],
        ),
    ]  # fmt: skip


def _small_devices() -> list[Entry]:
    return [
        option(
            "A6", "Scrap conveyor", BOUGHT, (30, 38, 48), yearly=1.6, lead=14, life=12,
            note="Emptied every three days instead of every eight running hours. Forgotten: jams, and mixed grades "
                 "sell for less. Loses when bins are emptied in breaks.",
            lines=[line("separate bins for stainless and aluminium", 1800, 1200, 2600), *zero_lines(*NOT_A_QUOTE)],
            edits=[edit("upkeep[scrap_bin].interval", 9.0, "multiply"),
                   edit("materials[*].scrap_price_per_kg", 0.95, "multiply"),
                   fault("conveyor_jam", "running_hour", 0.004, 15.0)],
        ),
        option(
            "A7", "Nozzle changer", BOUGHT, (22, 29, 36), yearly=2.1, lead=16, life=8,
            note="Changes and checks nozzles without a person. Stays: the protective window. Forgotten: a nozzle put "
                 "in the wrong place of the rack. Loses with one thickness all week.",
            lines=zero_lines(*NOT_A_QUOTE),
            edits=[edit("elements[nozzle_change].typical", 1.3), edit("elements[nozzle_change].task_of", "machine"),
                   edit("plant.machine.nozzle_automatic", True), edit("upkeep[nozzle_check].needs_person", False)],
        ),
    ]  # fmt: skip


def night_stack(places: int, thousand: tuple[float, float, float]) -> Entry:
    """Return the stack of whole sheets for nights, of so many places, at this capital (low, quoted, high)."""
    return option(
        "A8", "Whole-sheet stack for nights", BOUGHT, thousand, yearly=2, lead=18, life=12, lines=LINKED,
        note="Rival of part removal: whole sheets wait for the morning. Stays: breaking out, all of it, in the "
             "morning. Forgotten: the bench's backlog. Loses without unattended hours.",
        edits=[edit("plant.stack.places", places), fault("stack_fault", "sheet", 0.001, 6.0, acts="unattended"),
               STACK_AWAY],
    )  # fmt: skip
