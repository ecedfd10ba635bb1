"""Sections about the tool magazine: how many places are enough, what belongs into it, and what look-ahead hides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from simkit.analysis.cases import Case
from simkit.analysis.magazine_sizes import (
    LEAST_GAIN_SHARE,
    SizePoint,
    enough,
    keep_rows,
    magazine_case,
    magazine_of,
    places_at,
)
from simkit.analysis.record_tables import ALL
from simkit.analysis.tool_cases import MAGAZINE, NIGHT
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import SizeCurve, size_curves, stacked_hours
from simkit.report.palette import EXCHANGE_COLOURS, HIDDEN_COLOUR
from simkit.report.sections.options import assesses
from simkit.report.studydata import TODAY
from simkit.report.toolstudy import GRIPPER_KINDS, PER_4_WEEKS, ToolStudy
from simkit.report.words import listing, number, percent, plural, plus_minus
from simkit.tooling.capacity import Deserving

BY_HAND = ("tool_loads", "die_changes", "angle_changes")
"""Exchanges by hand: with a magazine they are the misses."""

NIGHT_LOST = "night_lost_tool_h"
NIGHT_WORDS = "night hours lost for want of a tool"
NOT_AT_THIS_DEMAND = "Magazines of other sizes were simulated at another demand level than that of these answers."
NO_MAGAZINE = "No case of this plant has a tool magazine, so no number of places was tried."
SHOWN = 3
"""Rows of the keep list on each side of the limit of a size."""


def magazine_points(view: ToolStudy) -> list[SizePoint]:
    """Simulated sizes of the magazine, smallest first; empty where no magazine was simulated at other sizes."""
    return _points(view, MAGAZINE, view.magazine)


def night_points(view: ToolStudy) -> list[SizePoint]:
    """The same of a night set; empty without one whose unattended running has been assessed."""
    cases = view.cases(NIGHT)
    own = view.study.run.named(frozenset(cases[0].options)) if cases else None
    if own not in view.study.scenarios or not own:
        return []
    assessed = view.study.plant.settings.calendar.night.assessed_by
    if not assessed and not any(assesses(option) for option in view.study.options_of(own)):
        return []
    return _points(view, NIGHT, own)


def _points(view: ToolStudy, group: str, own: str | None) -> list[SizePoint]:
    cases: list[Case] = view.cases(group)
    if own is None or not cases:
        return []
    magazine = magazine_of(view.study.plant, cases[0].options)
    against = view.changes([case.name for case in cases], own)
    points = [SizePoint(c.facts["share"], int(c.facts["places"]), c.name, against[c.name]) for c in cases]
    points.append(SizePoint(1.0, sum(places_at(magazine, 1.0).values()), own, None))
    return sorted(points, key=lambda point: point.places)


def enough_places(view: ToolStudy) -> SizePoint | None:
    """The smallest simulated size that is not surely worse than all places on offer, by more than matters."""
    return enough(magazine_points(view), worth_h(view))


def worth_h(view: ToolStudy) -> float:
    """Hours a week below which a difference between sizes is not worth a place."""
    return LEAST_GAIN_SHARE * view.per_week(TODAY, NEEDED).mean


def magazine_curve(view: ToolStudy) -> Exhibit | Block:
    """Curves over the places: exchanges by hand, visible exchange, hours needed against today, night hours lost."""
    points = magazine_points(view)
    if not points:
        return paragraph(_no_points(view))
    nights = night_points(view)
    curves = [
        _curve("exchanges by hand (misses), per week", points, lambda p: view.per_week(p.scenario, *BY_HAND)),
        _curve(f"{describe('exchange_visible_h').meaning}, h per week", points,
               lambda p: view.per_week(p.scenario, "exchange_visible_h")),
    ]  # fmt: skip
    if view.magazine != TODAY:
        label = "hours needed against today, h per week (paired)"
        curves.append(_curve(label, points, lambda p: view.change(p.scenario, TODAY), zero=True))
    if nights:
        name = view.named(nights[-1].scenario if nights[-1].share == 1 else _own(nights).scenario)
        label = f"{NIGHT_WORDS}, h per week ({name})"
        curves.append(_curve(label, nights, lambda p: view.per_week(p.scenario, NIGHT_LOST)))
    own = _own(points)
    return size_curves(
        curves, axis_label="magazine places, all sizes together", title=_curve_title(view, points), own=own.places,
        note=f"Means with 95 % intervals. Dotted: the {own.places} places on offer ({view.named(own.scenario)}). "
        "Smaller magazines hold the most used tools of each size; listed contents count only at the size on offer.",
    )  # fmt: skip


def _no_points(view: ToolStudy) -> str:
    """Why there is no curve."""
    elsewhere = any(case.group == MAGAZINE for case in view.own_cases.values())
    return NOT_AT_THIS_DEMAND if elsewhere else NO_MAGAZINE


def _own(points: list[SizePoint]) -> SizePoint:
    return next(point for point in points if point.share == 1)


def _curve(
    label: str, points: list[SizePoint], value: Callable[[SizePoint], Estimate], *, zero: bool = False
) -> SizeCurve:
    return SizeCurve(label, tuple((float(point.places), value(point)) for point in points), zero)


def _curve_title(view: ToolStudy, points: list[SizePoint]) -> str:
    found, own = enough_places(view), _own(points)
    missed = view.per_week(own.scenario, *BY_HAND)
    if found is None:
        return f"{own.places} places leave {number(missed.mean)} exchanges by hand a week; more places still save hours"
    left = view.per_week(found.scenario, *BY_HAND)
    return (
        f"{found.places} places are enough: {number(left.mean)} exchanges by hand a week are left, "
        f"{number(missed.mean)} with all {own.places}"
    )


def magazine_table(view: ToolStudy) -> Block:
    """The same numbers as a table, each against the places on offer."""
    points = magazine_points(view)
    if not points:
        return paragraph(_no_points(view))
    found = enough_places(view)
    lost = {point.share: view.per_week(point.scenario, NIGHT_LOST) for point in night_points(view)}
    rows = [_size_row(view, point, lost, "total" if point == found else "") for point in points]
    columns = ["places", "share of those on offer, %", "exchanges by hand a week", "visible exchange, h per week",
               "hours needed against today, h per week", "against all places, h per week"]  # fmt: skip
    if lost:
        columns.append(f"{NIGHT_WORDS}, h per week")
    sizes = f"{plural(len(points), 'size')} of the magazine"
    title = (
        f"{sizes}: {found.places} places are as good as {_own(points).places}, to {percent(LEAST_GAIN_SHARE, 1)} of "
        "the hours needed"
        if found
        else f"{sizes}: none is shown to be enough"
    )
    return table(title, columns, rows, note=(
        "Mean ± 95 %; differences are paired, those against all places hold together. Heavy: the fewest places of "
        f"those simulated that do not surely need {percent(LEAST_GAIN_SHARE, 1)} more of the hours needed today, "
        f"{number(worth_h(view))} h a week, than all of them."
    ))  # fmt: skip


def _size_row(view: ToolStudy, point: SizePoint, lost: dict[float, Estimate], look: str) -> Row:
    from_today = None if point.scenario == TODAY else view.change(point.scenario, TODAY)
    cells = [
        number(100 * point.share, 0),
        plus_minus(view.per_week(point.scenario, *BY_HAND)),
        plus_minus(view.per_week(point.scenario, "exchange_visible_h")),
        "–" if from_today is None else plus_minus(from_today, difference=True),
        "–" if point.against_own is None else plus_minus(point.against_own, difference=True),
    ]
    if lost:
        cells.append(plus_minus(lost[point.share]) if point.share in lost else "–")
    return Row(str(point.places), tuple(cells), look)


def keep_table(view: ToolStudy) -> Block:
    """Which tools deserve a place, by size: the most exchanged, the last that are kept, the first left out."""
    options = magazine_case(view.study.plant)
    listed = keep_rows(view.study.plant, options) if options is not None else ()
    if not listed:
        return paragraph(NO_MAGAZINE if options is None else "The book exchanges no tool, so none needs a place.")
    rows: list[Row] = []
    for size in dict.fromkeys(row.size_mm for row in listed):
        own = [row for row in listed if row.size_mm == size]
        inside = sum(row.kept for row in own)
        rows.append(Row(f"{size:g} mm: {inside} of {len(own)} kept", (), "group"))
        shown = dict.fromkeys(
            [*range(min(SHOWN, inside)), *range(max(inside - SHOWN, 0), min(inside + SHOWN, len(own)))]
        )
        rows += [_keep_row(view, own[at]) for at in shown]
    out = sum(not row.kept for row in listed)
    covered = sum(row.share for row in listed if row.kept)
    title = (
        f"{percent(covered, 1)} of the exchanges find tool and die in the magazine; {out or 'none'} of the "
        f"{len(listed)} tools and dies that the book exchanges {'find' if out > 1 else 'finds'} no place"
    )
    columns = ["tool", "what", "dies kept, mm", "exchanges over the book", "share, %", "in the magazine"]
    return table(title, columns, rows, words=[0, 1, 4], note=(
        f"The book in order of release through one turret, from an empty one. By size, most exchanged per place first: "
        f"the first {SHOWN}, the last kept and the first left out (grey). A die alone joins its tool where a place "
        "keeps several, or takes a place. Exchanges that find nothing want a die that no copy holds."))  # fmt: skip


def _keep_row(view: ToolStudy, row: Deserving) -> Row:
    tool = view.study.plant.tools[row.tool]
    what = {0: "die alone", 1: "tool"}.get(row.copy, f"copy {row.copy}")
    dies = "; ".join(f"{die:g}" for die in row.dies if die >= 0) or "–"
    cells = (what, dies, number(row.loads, 0), number(100 * row.share, 1), "yes" if row.kept else "no")
    return Row(f"{tool.tool_id} {tool.shape}".strip(), cells, "" if row.kept else "grey")


@dataclass(frozen=True)
class _Family:
    name: str
    orders: float
    cut_min: float
    laser_share: float


def _families(view: ToolStudy, scenario: str) -> list[_Family]:
    """Families of programs, the one with the most laser first."""
    rows = view.study.table("tool_families", scenario)
    found = [_family(view, scenario, str(name), str(name)) for name in rows["family"] if name != ALL]
    return sorted(found, key=lambda family: -family.laser_share)


def _family(view: ToolStudy, scenario: str, family: str, name: str) -> _Family:
    row = _family_row(view, scenario, family)
    cut, punch = float(row["cut_min"]), float(row["punch_min"])
    return _Family(name, float(row["orders"]), cut, cut / max(cut + punch, 1e-9))


def _family_row(view: ToolStudy, scenario: str, family: str) -> pd.Series:
    rows = view.study.table("tool_families", scenario)
    return rows[rows["family"] == family].iloc[0]


def _hides(view: ToolStudy) -> str | None:
    """The scenario whose look-ahead is shown."""
    return view.magazine if view.counted and view.blind else None


def lookahead_bars(view: ToolStudy) -> Exhibit | Block:
    """Bars of exchange minutes by family of programs with look-ahead: visible and hidden behind cutting."""
    name = _hides(view)
    if name is None:
        return paragraph("No case with a magazine that looks ahead was counted, so nothing is hidden behind cutting.")
    families = _families(view, name)
    rows = {
        f"{family.name} ({percent(family.laser_share)} laser)": {
            "visible": view.of_family(name, family.name, "visible").mean,
            "hidden": view.of_family(name, family.name, "hidden").mean,
        }
        for family in families
    }
    labels = {"visible": "the machine stands", "hidden": "hidden behind cutting"}
    frame = pd.DataFrame.from_dict(rows, orient="index").rename(columns=labels)
    visible, hidden = (view.of_family(name, ALL, column).mean for column in labels)
    share = hidden / (visible + hidden) if visible + hidden else 0.0
    title = (
        f"{view.named(name)} hides {percent(share)} of {number(visible + hidden)} exchange minutes {PER_4_WEEKS} "
        "behind cutting"
    )
    colours = {labels["visible"]: EXCHANGE_COLOURS["magazine_exchange"], labels["hidden"]: HIDDEN_COLOUR}
    axis = f"exchange minutes {PER_4_WEEKS} by family; laser: share of cutting in the time sheets are processed"
    return stacked_hours(frame, colours, axis, title, calibrated=view.study.calibrated)


def lookahead_table(view: ToolStudy) -> Block:
    """Hidden and visible minutes by family, with and without look-ahead, and gripper time against cutting time."""
    name, blind = _hides(view), view.blind
    if name is None or blind is None:
        return paragraph("Without look-ahead every exchange is visible.")
    families = _families(view, name)
    rows = [_lookahead_row(view, name, blind.name, family.name, family) for family in families]
    rows.append(_lookahead_row(view, name, blind.name, ALL, _family(view, name, ALL, "all families")))
    punch_only = [f.name for f in families if f.laser_share == 0]
    gain = view.change(name, blind.name)
    gained = plus_minus(gain, difference=True)
    title = f"Look-ahead changes the hours needed by {gained} h a week; {_who_hides(punch_only)}"
    columns = ["family", "orders", "laser share, %", "cutting, min", "hidden, min ± 95 %", "visible, min ± 95 %",
               "visible without look-ahead, min ± 95 %"]  # fmt: skip
    return table(title, columns, rows, note=(
        f"Amounts {PER_4_WEEKS} of {view.named(name)}. {_gripper(view, name)} What is hidden is computed exchange by "
        "exchange from the cutting of the last sheets of the order before, less the gripper's work for the program "
        "that runs."
    ))  # fmt: skip


def _who_hides(punch_only: list[str]) -> str:
    if not punch_only:
        return "every family cuts, so each can hide something"
    return f"{listing(punch_only)} only {'punches' if len(punch_only) == 1 else 'punch'} and can hide nothing"


def _gripper(view: ToolStudy, name: str) -> str:
    """How long the gripper works beside how long the laser cuts."""
    rows = view.tool_rows(name)
    own = rows[rows["exchange"].isin(GRIPPER_KINDS)]
    gripper = float((own["visible_min"] + own["hidden_min"]).sum())
    cutting = _family(view, name, ALL, ALL).cut_min
    share = f", {percent(gripper / cutting)} of it" if cutting else ""
    return f"The gripper works {number(gripper)} min, the laser cuts {number(cutting, 0)} min{share}."


def _lookahead_row(view: ToolStudy, name: str, blind: str, family: str, facts: _Family) -> Row:
    cells = (
        number(facts.orders),
        number(100 * facts.laser_share, 0),
        number(facts.cut_min, 0),
        plus_minus(view.of_family(name, family, "hidden")),
        plus_minus(view.of_family(name, family, "visible")),
        plus_minus(view.of_family(blind, family, "visible")),
    )
    return Row(facts.name, cells, "total" if family == ALL else "")
