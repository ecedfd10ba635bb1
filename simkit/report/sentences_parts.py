"""Sentences about how parts leave the machine, filled from numbers: titles, notes and answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from simkit.analysis.exposure import ShiftLifts
from simkit.analysis.part_clocks import GainBreakEven
from simkit.experiment.intervals import Estimate
from simkit.report.sentences_tools import PAIRED, hours, moves
from simkit.report.words import NO_BREAK, listing, number, percent, plural, plus_minus

NO_REMOVAL = "No option of this plant brings part removal, and it has none: parts leave by hand"


def ways(today: Estimate, left: Estimate | None, entries: Estimate, losing: Estimate | None) -> tuple[str, str]:
    """What the bench takes today, what removal leaves of it and brings; what the ways are compared with, and whether
    removal loses where it must.
    """
    title = f"The bench takes {hours(today)} of people's time a week"
    if left is not None:
        title += f"; removal leaves {hours(left)} and brings {plus_minus(entries)} entries into the guarded cell"
    note = (
        f"{PAIRED} Freed: machine hours needed for the same orders, less than today. Bench: people's hours, of which "
        "rework. Entries: of people into the guarded cell. Lost: scrapped sheets and yield lost to gaps."
    )
    if losing is None:
        return title, note
    if losing.tells and losing.mean > 0:
        return title, f"{note} Removal that can pick no part still frees {hours(losing)}: do not believe this page."
    return title, f"{note} Where no part fits the gripper, removal may free nothing, and it does not."


def hands(people: Sequence[str], before_h: float, after_h: float | None) -> tuple[str, str]:
    """Who breaks out, and what removal leaves of it."""
    who = f"{plural(len(people), 'person')} at the bench".replace("persons", "people") if people else "Nobody"
    names = f" ({listing(people)})" if people else ""
    text = f"{who}{names} break{'s' if len(people) < 2 else ''} out {number(before_h, 0)} h of the order book by hand"
    return text if after_h is None else f"{text}; with removal {number(after_h, 0)} h are left", (
        "At mean times, every sheet of the order book. A row by tab counts micro-joints: fewer tabs cost less here and "
        "more tipped parts at the machine. A time that is zero is held by another row, or is not known. Skeletons cut, "
        "tabs spring, tall stacks tip: local codes and competent persons decide how it is done."
    )


def clocks(rows: int, person: float, slower: float | None, *, shared: bool) -> tuple[str, str]:
    """Who is the slower clock of a sheet, and how the clocks are told."""
    title = f"The person at the bench is the slower clock on {percent(person)} of the sheets today"
    if slower is not None:
        title += f"; {percent(slower)} of the sheets take longer with removal"
    whose = (
        "The person at the bench also loads and pulls out, so that this counts on both clocks."
        if shared
        else "The person at the bench does nothing else; with several of them divide that clock by their number."
    )
    return title if rows else "The order book holds no sheet", (
        "Closed form at mean times, no set-up, no stops, no waiting: a sheet takes the longer of machine and person. "
        f"Every sheet of the book counts. {whose}"
    )


def picked(parts_share: float, parts: int, sheet_share: float, sheets: int) -> tuple[str, str]:
    """Which share of parts and sheets the device can take."""
    title = (
        f"The device can pick {percent(parts_share)} of {number(parts, 0)} parts of the book and empty "
        f"{percent(sheet_share)} of {number(sheets, 0)} sheets"
    )
    return title if parts else "The order book names no parts, so nothing can be said about picking them", (
        "The first limit that a part fails counts; a sheet can stand in several rows. Hours: today's bench work at "
        "mean times, split evenly over the parts of a sheet."
    )


def pick_time(found: GainBreakEven | None) -> str:
    """Up to which time of a pick removal frees hours."""
    if found is None:
        return "Removal was not simulated with other times of a pick"
    if found.estimate is not None:
        return f"Removal stops freeing machine hours at {plus_minus(found.estimate)}{NO_BREAK}s a pick"
    if found.below == found.runs:
        return "No time of a pick that was tried makes removal free machine hours"
    if found.above == found.runs:
        return "Removal still frees machine hours with the slowest picks tried"
    return (
        f"Up to which time of a pick removal frees hours is not sure: {found.below} of {found.runs} runs free none "
        f"with the quickest, {found.above} still do with the slowest"
    )


PICKS_NOTE = (
    f"{PAIRED} Closed form: seconds of the clocks of a sheet, times the sheets of a week. The cell adds waiting for "
    "people, failed picks, entries into the guarded cell, and the relief of the bench. Standing still moves in "
    "proportion to the pick."
)


def deciding(turning: Sequence[str], most: str, moved: float, currency: str) -> tuple[str, str]:
    """Which input alone turns what removal is worth, and which moves it most; how the inputs that may decide are tried.

    The worth itself is told with money.
    """
    text = "No input alone decides within its range whether part removal pays"
    if turning:
        named = listing(f"“{name}”" for name in turning)
        text = f"Alone within its range, {named} decide{'s' * (len(turning) == 1)} whether part removal pays"
    if moved:
        text += f"; “{most}” moves its value most, by {number(moved, 0)}{NO_BREAK}{currency}"
    return text, (
        f"Net present value in {currency} against today, the same orders and chance events, means over the "
        "replications; each input alone, the others as told. What is done by hand is changed today as well. Ranges: "
        "the rows' own low and high, else half and twice (common practice, no source)."
    )


def nights(runs: Mapping[str, Estimate], lost: Mapping[str, Estimate]) -> tuple[str, str]:
    """What nights give by how sheets leave."""
    title = "No option of this plant allows unattended nights"
    if runs:
        told = listing(f"{hours(known)} with {name.removeprefix('Night, ')}" for name, known in runs.items())
        most = max(lost, key=lambda name: lost[name].mean)
        full = f"; {most.removeprefix('Night, ')} loses {hours(lost[most])} at a full output"
        title = f"Unattended nights run {told} a week{full if lost[most].mean else ''}"
    return title, (
        f"{PAIRED} Output: stacks, skeleton pallet or whole-sheet stack full, or a sheet that somebody must pull out. "
        "Stopped by a pick: sheets on which at least one pick failed. Running unattended needs its own risk assessment "
        "and the insurer's agreement."
    )


LIFTING_NOTE = (
    "For the same sheets in today's shifts, mean ± 95 %; a minus is exposure added. What a lifter, loader or device "
    "takes counts not at all. Fewer lifts are no safe task: what is left, and the hazards a device adds, need their "
    "own assessment. For orientation, from memory: ISO 11228-1 names at most 10,000 kg in 8 h under ideal conditions, "
    "6,000 kg with carries of 20 m; check the edition."
)


def lifting(today: ShiftLifts | None, best: str, less: ShiftLifts | None) -> str:
    """What hands lift, and what takes most of it away."""
    if today is None or less is None:
        return "Lifts of a shift cannot be told: the weekly pattern has no attended shift"
    text = f"Hands lift {number(today.lifts.mean, 0)} times and {number(today.kg.mean, 0)} kg a shift today"
    if less.kg.mean <= 0 or not less.kg.tells:
        return f"{text}; no way to hand over clearly takes any of that away"
    return f"{text}; {best} takes {plus_minus(less.lifts)} lifts and {plus_minus(less.kg)} kg of that away"


def masses(share: float, limit_kg: float) -> tuple[str, str]:
    """How many sheets are too heavy for one person."""
    title = f"{percent(share)} of the sheets weigh more than the {limit_kg:g} kg that one person may lift here"
    return title if limit_kg else "The plant names no mass up to which one person lifts a sheet", (
        "Mass of the whole sheet before it is worked. The limit is the plant's; local limits of manual lifting decide. "
        "Two persons above twice the limit of one need a lifter, whatever the plant's rule says."
    )


def bench(known: Estimate, slower: float) -> str:
    """What the bench takes today."""
    return (
        f"The bench takes {hours(known)} of people's time a week; the person there is the slower clock on "
        f"{percent(slower)} of the sheets."
    )


def removal(machine: Estimate, hands_less: Estimate) -> str:
    """What removal frees of machine and people."""
    return f"Part removal {moves(machine)}, and takes {hours(hands_less)} off the bench."
