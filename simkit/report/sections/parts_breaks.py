"""Sections about where removal stops paying in hours: time of a pick, failing picks; and the cautions about parts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simkit.analysis.part_breaks import BreakEven, at_share, failing_share, gained_per_sheet_s, stopped_share
from simkit.analysis.part_cases import FAIL, FAIL_SHARES, PICK, PICK_SHARES
from simkit.analysis.record_tables import EXPECTED, PICKED, STOPPED
from simkit.analysis.record_tables import PICK as PICKS
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import NO_SOURCE
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.clocks import GainCurve, gain_curves
from simkit.report.partstudy import PartStudy
from simkit.report.studydata import TODAY
from simkit.report.words import NO_BREAK, capitalised, listing, number, percent, plus_minus, scaled

NO_CURVE = "Removal was not simulated with other picks: the plant has no such option, or a pick takes no time."
PER_1000 = 1000.0
EXAMPLE_SHEETS = 40
"""Sheets of a night that stands as an example."""

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("Sharp edges and tabs", "parts and skeletons cut; micro-joints spring, tall stacks tip; gloves, sleeves and stack "
     "heights follow site rules"),
    ("Lifting", "counts of lifts and kilograms are exposure, not a verdict; sheets above the plant's limit for one "
                "person "
     "need the lifter or a second person, and local limits apply (ISO 11228: named from memory)"),
    ("Entries into the guarded cell", "a removal device adds a hazard zone; its access and reset times are inputs "
                                      "and are "
     "never to be shortened in a what-if; who enters isolates it first (ISO 10218, ISO 11161: named from memory)"),
    ("Unattended nights", "a part that hangs, a sheet that lifts or a full pallet waits for nobody; results of nights "
     "stand only with the plant's own assessment and the insurer's agreement"),
    ("Skeletons", "a skeleton of which too much is gone falls apart in the grip; the share that may be taken out is a "
     "limit of the plant, not of this kit"),
)  # fmt: skip


# ---- in words ----


def pick_words(view: PartStudy) -> str:
    """Up to which pick time removal saves hours, simulated and by the closed form."""
    found = view.pick_break
    if found is None:
        return "Up to which pick time removal saves hours was not simulated."
    beside = _closed_words(view)
    offered = f"{number(view.pick_s, 1)}{NO_BREAK}s are on offer"
    if found.estimate is not None:
        return (
            f"Removal alone stops saving hours at {plus_minus(found.estimate, 1)}{NO_BREAK}s a pick ({offered}; "
            f"{beside})."
        )
    if found.below == found.runs:
        return (
            f"No pick time makes removal alone save hours against today, not even picks that take none ({offered}; "
            f"{beside})."
        )
    return f"Removal alone {_some_runs(found, 'a pick')} ({offered}; {beside})."


def _closed_words(view: PartStudy) -> str:
    """What the closed form says of the same break-even, alone and with the entries into the guarded cell."""
    closed, paid = view.closed_pick, view.closed_with_entries
    if closed is None:
        return "the closed form of the clocks finds no such time either"
    text = f"the closed form of the clocks alone says {number(closed, 1)}{NO_BREAK}s"
    if not view.entries_h:
        return text
    more = "with none left" if paid is None else f"{number(paid, 1)}{NO_BREAK}s"
    return f"{text}, {more} when {number(view.entries_h)}{NO_BREAK}h a week of entries are paid"


def _some_runs(found: BreakEven, what: str) -> str:
    if found.above == found.runs:
        return f"still saves hours at the longest time of {what} simulated"
    return (
        f"has no single break-even: {found.below} of {found.runs} runs gain nothing at any time of {what}, "
        f"{found.above} still gain at the longest"
    )


def fail_words(view: PartStudy) -> list[str]:
    """Up to which share of failing picks a night with removal beats the whole-sheet stack."""
    found = view.fail_break
    if found is None:
        return []
    offered = f"{number(PER_1000 * view.fail_rate, 1)} in 1,000 on offer"
    if found.estimate is not None:
        per_1000 = scaled(found.estimate, PER_1000)
        return [
            f"At night removal loses its lead over the whole-sheet stack at {plus_minus(per_1000, 0)} failed picks "
            f"in 1,000 ({offered}); {_share_words(view, found.estimate.mean)}."
        ]
    if found.below == found.runs:
        return [f"At night removal has no lead over the whole-sheet stack, even if no pick ever fails ({offered})."]
    if found.above == found.runs:
        return [
            f"At night removal keeps its lead over the whole-sheet stack at all failure rates simulated ({offered})."
        ]
    return [
        f"At night the lead of removal over the whole-sheet stack is not sure: {found.below} of {found.runs} runs "
        f"have none even if no pick fails, {found.above} keep it at the highest failure rate ({offered})."
    ]


def _share_words(view: PartStudy, rate: float) -> str:
    picks = mean_picks(view)
    return (
        f"then {percent(float(stopped_share(rate, picks)))} of sheets with {number(picks, 0)} picks stop at least once"
    )


def mean_picks(view: PartStudy) -> float:
    """Mean parts picked from a sheet of the book that has any."""
    picks = view.removal_clocks.picks if view.removal_clocks else np.zeros(0)
    return float(picks[picks > 0].mean()) if (picks > 0).any() else 0.0


# ---- curves ----


def pick_curve(view: PartStudy) -> Exhibit | Block:
    """Hours that removal alone saves a week over the time of a pick, with the closed form."""
    points = view.curve(PICK, view.removal)
    if not points or view.removal == TODAY or view.removal_plant is None:
        return paragraph(NO_CURVE)
    gains = [(share * view.pick_s, _saved(view, name)) for _, name, share in points]
    curve = GainCurve("Hours needed that removal alone saves a week against today, h", tuple(gains),
                      _closed_lines(view), view.pick_s)  # fmt: skip
    return gain_curves([curve], axis_labels=["seconds a pick, its standing still in proportion"],
                       title=_pick_title(view), note=(
        "Mean ± 95 %, paired. Closed form: sheets of a week times the seconds that the clocks save; less the "
        "entries into the guarded cell for first pieces and stops, as counted, at mean time. The cell adds waiting "
        "for people, failed picks, and the relief of the bench. The break-even is found run by run, straight "
        f"between two points. {_points(PICK_SHARES)}"))  # fmt: skip


def _points(shares: Sequence[float]) -> str:
    return f"Points at {listing(f'{share:g}' for share in shares)} times what is offered: {NO_SOURCE}."


def _closed_lines(view: PartStudy) -> dict[str, list[tuple[float, float]]]:
    """Hours a week by the closed form of the clocks, and less what the entries take, over the time of a pick."""
    assert view.removal_plant is not None
    sheets = view.per_week(TODAY, "sheets").mean
    clocks = [
        (share * view.pick_s,
         gained_per_sheet_s(view.clocks, at_share(view.removal_plant, share)) * sheets / SECONDS_PER_HOUR)
        for _, _, share in view.curve(PICK, view.removal)
    ]  # fmt: skip
    lines = {"closed form of the clocks": clocks}
    if view.entries_h:
        lines["less the entries"] = [(place, hours - view.entries_h) for place, hours in clocks]
    return lines


def _saved(view: PartStudy, name: str) -> Estimate:
    return view.change(TODAY, name, NEEDED)


def _pick_title(view: PartStudy) -> str:
    return pick_words(view).rstrip(".")


def fail_curve(view: PartStudy) -> Exhibit | Block:
    """Unattended hours of the night over the share of failing picks, against the whole-sheet stack."""
    points, rival = view.curve(FAIL, view.night_removal), view.night_stack
    if not points or rival is None or not view.fail_rate:
        return paragraph("No night with other failure rates was simulated beside a whole-sheet stack.")
    gains = tuple(
        (PER_1000 * share * view.fail_rate, view.change(name, rival, UNATTENDED)) for _, name, share in points
    )
    curve = GainCurve(f"Unattended hours a week more than with the whole-sheet stack, {view.named(rival)}", gains,
                      offered=PER_1000 * view.fail_rate)  # fmt: skip
    return gain_curves([curve], axis_labels=["failed picks in 1,000, before any retry"],
                       title=(fail_words(view) or [""])[0].rstrip("."), note=(
        f"Mean ± 95 %, paired, of {view.named(view.night_removal or TODAY)}. A failed pick is tried again as the "
        f"stop's row says; what retries do not mend ends the night. {_points(FAIL_SHARES)} "
        f"{view.nights_note}".strip()))  # fmt: skip


def fail_table(view: PartStudy) -> Block:
    """Sheets that a failed pick stops: the closed form beside the cell, and what is left after retries."""
    points = view.curve(FAIL, view.night_removal)
    rows = [row for _, name, share in points if (row := _fail_row(view, name, share)) is not None]
    if not rows:
        return paragraph("No picks were counted at this demand.")
    picks = mean_picks(view)
    own = float(stopped_share(view.fail_rate, picks))
    title = (
        f"{number(PER_1000 * view.fail_rate, 1)} failed picks in 1,000 and {number(picks, 0)} picks a sheet stop "
        f"{percent(own, 1)} of the sheets, before retries"
    )
    columns = ["failed picks in 1,000", "sheets with picks, a run", "of these stopped, closed form, %",
               "stopped in the cell, % ± 95 %", "a sheet of mean picks that retries do not save, %",
               f"{EXAMPLE_SHEETS} such sheets in a night without one, %"]  # fmt: skip
    return table(title, columns, rows, note=(
        "Closed form: 1 - (1 - p)^n with each sheet's own n, mean over the sheets made. The cell: sheets on which "
        "at least one pick failed. "
        "After retries p becomes what they do not mend. "
        f"{EXAMPLE_SHEETS} sheets: an example of a night ({NO_SOURCE})."))  # fmt: skip


def _fail_row(view: PartStudy, name: str, share: float) -> Row | None:
    counts = view.counts(name, PICKS)
    if counts.empty or view.removal_plant is None:
        return None
    means = dict(zip(counts["which"], counts["mean"], strict=True))
    half = dict(zip(counts["which"], counts["mean_half_width"], strict=True))
    sheets = max(means[PICKED], 1.0)
    stopped = Estimate(100 * means[STOPPED] / sheets, 100 * half[STOPPED] / sheets, view.study.run.replications)
    left = float(stopped_share(share * failing_share(view.removal_plant, after_retries=True), mean_picks(view)))
    cells = (number(sheets, 0), number(100 * means[EXPECTED] / sheets, 1), plus_minus(stopped, 1),
             number(100 * left, 2), number(100 * (1 - left) ** EXAMPLE_SHEETS, 0))  # fmt: skip
    return Row(number(PER_1000 * share * view.fail_rate, 1), cells, "grey" if share == 1.0 else "")


def part_cautions() -> Block:
    """What to mind when parts, sheets and skeletons are handled, first of all."""
    items = [{"head": head, "text": f"{capitalised(text)}."} for head, text in CAUTIONS]
    return Block("list", {"items": items}, "Cautions about parts")
