"""Sentences about tools and about how parts leave the machine, filled from numbers: titles, notes and answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from simkit.experiment.intervals import Estimate
from simkit.report.words import NO_BREAK, number, percent, plural, plus_minus

PAIRED = (
    "Differences are paired: the same orders and chance events in every case, mean ± 95 %, all intervals of a column "
    "together."
)


def hours(estimate: Estimate) -> str:
    """Hours a week with their interval."""
    return f"{plus_minus(estimate)}{NO_BREAK}h"


def freed(gaps: Mapping[str, Estimate], among: str) -> str:
    """Which of some cases frees most machine hours a week; ``gaps`` are hours freed, negative where they are lost.

    ``among`` names the cases, in the plural.
    """
    sure = {name: gap for name, gap in gaps.items() if gap.tells}
    saving = {name: gap for name, gap in sure.items() if gap.mean > 0}
    if not gaps:
        return f"There are no {among} to compare"
    if not saving:
        worst = f"; {min(sure, key=lambda name: sure[name].mean)} costs most" if sure else ""
        return f"None of the {among} frees machine hours for sure ({len(gaps)} tried){worst}"
    best = max(saving, key=lambda name: saving[name].mean)
    rest = f"; {len(gaps) - len(saving)} of {len(gaps)} free none for sure" if len(saving) < len(gaps) else ""
    return f"{best} frees most machine hours of the {among}: {hours(saving[best])} a week{rest}"


def standing(hours_by_case: Mapping[str, Estimate]) -> tuple[str, str]:
    """How long the machine stands for exchanges: in the first case, and in the one that leaves least."""
    base, *others = hours_by_case
    title = f"The machine stands {hours(hours_by_case[base])} a week for exchanges of tools and dies"
    if others:
        least = min(others, key=lambda name: hours_by_case[name].mean)
        title += f"; {least} leaves {hours(hours_by_case[least])}"
    return title, (
        f"{PAIRED} Freed: machine hours needed for the same orders, less than today. Standing: the machine waits until "
        "a tool or die is exchanged. Capital as quoted. Moved work occupies somebody: money is told on the page of "
        "payback."
    )


def exchanges(half: int, tools: int, total_min: float, least: float) -> tuple[str, str]:
    """How few tools make half of the exchanges, and what the half with the least makes."""
    title = (
        f"{half} of {plural(tools, 'tool')} make half of the {number(total_min, 0)} minutes a week in which the "
        f"machine stands for tools; the half with the least makes {percent(least)}"
    )
    note = "Per week, mean ± 95 %; exchanges in the middle of programs and swaps for a regrind are in it."
    return title if tools else "No tool is exchanged: every order finds its tools in the turret", note


def layout(pins: int, saved_h: float) -> tuple[str, str]:
    """The standard layout found."""
    saved = f"{plural(pins, 'tool')} that never leave the turret save {number(saved_h, 1)} h of the book"
    return f"{saved}, by the static sum" if pins else "No tool is worth a station of its own", (
        "Worth: what is lost if this one is left out. The search is greedy and sees the book as it stands; the cell "
        "measures the layout on other weeks with their own chance events, and that counts."
    )


def clearances(tools: int, of: int, share: float, total: float) -> tuple[str, str]:
    """How few tools make the die changes for clearance alone."""
    title = (
        f"{plural(tools, 'tool')} of the {of} used at more than one clearance make{'s' * (tools == 1)} "
        f"{percent(share)} of the {number(total, 0)} dies a week changed for clearance alone"
    )
    return title if total else "No die is changed for clearance alone", (
        "Pairs: orders in a row that want the tool at two clearances, as the book is released. Where a pair is "
        "frequent, a second copy has most to give, or one clearance for both thicknesses if quality agrees."
    )


def places(enough: int | None, own: int, fewer: tuple[int, Estimate | None] | None) -> str:
    """How many magazine places are enough; ``fewer`` is the next smaller size and the hours that it needs more."""
    if not own:
        return "No option of this plant brings a tool magazine, so no number of places was tried"
    if enough is None:
        return f"More than the {own} magazine places on offer would still free hours"
    if not enough:
        return f"None of the {own} magazine places on offer is shown to free hours"
    needed = f"All {own} magazine places on offer are needed"
    text = needed if enough >= own else f"{enough} magazine places are enough of the {own} on offer"
    if fewer is None or fewer[1] is None:
        return text
    return f"{text}: with {fewer[0] or 'none'} the cell needs {hours(fewer[1])} a week more"


PLACES_NOTE = (
    f"{PAIRED} Compared with all places on offer. By hand: tools and dies that the magazine does not hold, or "
    "exchanged without one. A smaller magazine holds the most used tools of each size. Enough: the fewest places "
    "that do not clearly need half a per cent of the hours more than all; less is not worth a place."
)


def contents(share: float, out: int, rows: int) -> tuple[str, str]:
    """What finds its place in the magazine."""
    title = (
        f"{percent(share)} of the exchanges find tool and die in the magazine; {number(out, 0) if out else 'none'} of "
        f"the {rows} tools and dies that the book exchanges {'find' if out > 1 else 'finds'} no place"
    )
    return title if rows else "The book exchanges no tool that needs a magazine place", (
        "The book in order of release through one turret, from an empty one; most exchanged per place first. A die "
        "alone joins its tool where a place keeps several, or takes a place."
    )


NOTHING_HIDDEN = "No exchange is hidden behind cutting"


def look_ahead(hidden: float, gap: Estimate) -> tuple[str, str]:
    """What look-ahead hides, and what that frees."""
    doubt = "" if gap.tells else ", which is not sure"
    title = f"Look-ahead hides {percent(hidden)} of the magazine's exchange time and frees {hours(gap)} a week{doubt}"
    return title if hidden else NOTHING_HIDDEN, (
        "By family of programs, most laser first. An exchange is hidden while the last sheet of the order before is "
        "cut; a family that only punches can hide nothing."
    )


def care(wrong: Estimate, worn: Estimate) -> tuple[str, str]:
    """Tools loaded wrongly, and worn tools."""
    title = "No tool is loaded wrongly and none fails: no row of the plant says so, which is rarely true"
    if wrong.mean or worn.mean:
        loads = f"{plus_minus(wrong)} tools a week are loaded wrongly today"
        title = f"{loads}, and {plus_minus(worn)} fail in the middle of a sheet"
    return title, (
        "Cases that change none of it are left out. A wrong punch or die can burst, sets are heavy and sharp, and work "
        "on tools is isolated first: the kit counts and makes nothing safe; local codes and competent persons decide."
    )


def regrinds(off: float, weeks: int, off_line_h: float, worths: Sequence[float]) -> tuple[str, str]:
    """Regrinds of the coming weeks; how the forecast was made.

    ``worths`` are the costs of a failure, in planned changes, for which the plant's limits are the cheapest ones.
    """
    title = (
        f"{number(off, 0)} tools come off for grinding in {weeks} weeks if the book repeats: {number(off_line_h, 0)} h "
        "away from the machine"
    )
    note = (
        "Expected numbers from hits and life laws, all hits on one copy, worn at the start as start.csv says; a "
        "forecast by formula, no run of the cell. Tools that come due later are left out. Counted: taken off at its "
        "limit; not counted: it fails when its life ends."
    )
    if worths:
        low, high = (f"{end:.2g}" for end in (min(worths), max(worths)))
        note += (
            f" The limits of the tools are the cheapest ones where a failure costs "
            f"{low if low == high else f'{low} to {high}'} times as much as a planned change (age replacement, Barlow "
            "and Proschan 1965, from memory): lower them where it costs more."
        )
    return title if off else "No tool comes due for a regrind in the weeks ahead", note


def set_up_left(name: str, rest_h: float, share: float) -> tuple[str, str]:
    """What no tool fix touches."""
    title = (
        f"{name}: {number(rest_h, 0)} h a week of fixed minutes and first pieces stay, {percent(share)} of the set-up. "
        "Faster exchanges do not touch them"
    )
    return title, (
        "Hours a week in which the machine stands for set-up. Fixed: program, papers and what else an order takes once "
        "at the machine. Only rules and preparation outside touch fixed minutes and first pieces."
    )


def tool_cost(cost: Estimate, share: float, loads: float, dies: float) -> str:
    """What tools cost today."""
    return (
        f"Tools cost {hours(cost)} of machine time a week, {percent(share)} of the hours needed: {number(loads, 0)} "
        f"tools loaded and {number(dies, 0)} dies changed for clearance alone."
    )


def moves(gap: Estimate) -> str:
    """Hours freed, or what they cost where they are negative, and whether that is sure."""
    size = Estimate(abs(gap.mean), gap.half_width, gap.n)
    doubt = "" if gap.tells else " (not sure)"
    return f"{'costs' if gap.mean < 0 else 'frees'} {hours(size)} of the machine a week{doubt}"


def on_top(name: str, gap: Estimate, base: str) -> str:
    """What a case adds to another."""
    return f"On top of {base}, {name} {moves(gap)}."
