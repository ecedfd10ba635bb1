"""Sections about ways to hand over: compared through the cell, why hours move, exposure by hand, pairs of options."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence

from simkit.analysis.exposure import TOTAL, Exposure
from simkit.analysis.hand_over import CHUTE
from simkit.analysis.part_cases import WAY
from simkit.base.vocabulary import NO_WORK, STATES
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.bars import Difference, difference_bars
from simkit.report.palette import STATE_LABELS
from simkit.report.partstudy import ENTRIES, PartStudy
from simkit.report.sections.parts import BENCH_H, NO_REMOVAL, chute_words
from simkit.report.studydata import TODAY
from simkit.report.words import listing, number, percent_plus_minus, plural, plus_minus, signed

LEFT_OUT = (NO_WORK, "closed")
LEAST_H = 0.05
NO_SHIFT = "Lifts of a shift cannot be told: the weekly pattern has no attended shift, or no lifts were measured."


def _alone(view: PartStudy) -> list[str]:
    """Ways to hand over by themselves, today first."""
    roles = view.roles
    found = [TODAY, view.scenario_of(roles.bench_person), view.scenario_of(roles.stack), view.removal,
             *_changed(view, (), roles.removal)]  # fmt: skip
    return list(dict.fromkeys(name for name in found if name is not None))


def _on_package(view: PartStudy) -> list[str]:
    """The same on top of the low-capital package, the package first."""
    if view.study.package == TODAY:
        return []
    roles, package = view.roles, view.package
    found = [view.study.package, view.scenario_of(package, roles.bench_person), view.scenario_of(package, roles.stack),
             view.scenario_of(package, roles.removal), *_changed(view, package, roles.removal)]  # fmt: skip
    return list(dict.fromkeys(name for name in found if name is not None))


def _changed(view: PartStudy, base: Sequence[str], removal: Sequence[str] | None) -> Iterator[str]:
    """Removal with parts down the chute, and with a sample drawer."""
    for case in view.cases(WAY):
        if removal is not None and set(case.options) - {CHUTE} == {*base, *removal}:
            yield case.name


def _nights(view: PartStudy) -> list[str]:
    """The night sets of each way, the whole-sheet stack first, and the stack with a second person at the bench."""
    found = (view.night_stack, view.night_person, view.night_removal, view.night_both)
    return list(dict.fromkeys(name for name in found if name is not None))


def way_bars(view: PartStudy) -> Exhibit | Block:
    """Bars of the hours needed by each way to hand over alone, against today."""
    names = _alone(view)
    if len(names) < 2:
        return paragraph(NO_REMOVAL)
    gaps = view.changes(names, TODAY)
    found = [Difference(_way_name(view, name), gaps[name]) for name in names if name != TODAY]
    bars = difference_bars(found, quantity="hours needed", unit="h a week", against="today",
                           calibrated=view.study.calibrated, note=chute_words(view))  # fmt: skip
    return dataclasses.replace(bars, title=_bars_title(found))


def _bars_title(found: Sequence[Difference]) -> str:
    saving = [each for each in found if each.estimate.tells and each.estimate.mean < 0]
    costing = [each for each in found if each.estimate.tells and each.estimate.mean > 0]
    if saving:
        best = min(saving, key=lambda each: each.estimate.mean)
        return f"By day {best.name} saves most hours: {plus_minus(best.estimate, difference=True)} h a week"
    if costing:
        worst = max(costing, key=lambda each: each.estimate.mean)
        return (
            f"By day no way to hand over saves hours for sure, and {len(costing)} of {len(found)} cost some: "
            f"{worst.name} {plus_minus(worst.estimate, difference=True)} h a week"
        )
    return f"By day none of {plural(len(found), 'way')} to hand over differs from today for sure"


def _way_name(view: PartStudy, name: str) -> str:
    """Name of a way: the case, and what it is in words where it is one option alone."""
    if name in _nights(view):
        return view.spoken(name)
    options = [option for option in view.options_of(name) if option in view.study.plant.option_by_id]
    text = view.named(name)
    if len(options) == 1 and text == options[0]:
        return f"{text} {view.study.plant.option_by_id[options[0]].name}"
    return text


def _groups(view: PartStudy) -> dict[str, list[str]]:
    """Ways side by side, by what they are compared with; each group begins with its base."""
    groups = {"alone, against today": _alone(view), "on the low-capital package, against it": _on_package(view),
              "at night, against the whole-sheet stack": _nights(view)}  # fmt: skip
    return {name: members for name, members in groups.items() if len(members) > 1}


def way_table(view: PartStudy) -> Block:
    """Ways to hand over side by side: hours, people's hours, late orders; three groups."""
    groups = _groups(view)
    if not groups:
        return paragraph(NO_REMOVAL)
    rows: list[Row] = []
    for head, members in groups.items():
        gaps = view.changes(members, members[0])
        rows += [Row(head, (), "group"), *(_way_row(view, name, gaps.get(name)) for name in members)]
    columns = ["way to hand over", "hours needed", "difference", "unattended h", "bench work, h", "late orders, %",
               "given out or refused, h"]  # fmt: skip
    return table(_way_title(view), columns, rows, note=(
        "Per week, mean ± 95 %; differences are paired, and their intervals hold together within a group; a "
        "question mark: the sign "
        f"is not sure. {chute_words(view)} {view.nights_note} {view.study.package_note}".strip()))  # fmt: skip


def _way_title(view: PartStudy) -> str:
    name = view.removal
    if name in (None, TODAY):
        return "Ways to hand sheets over, side by side"
    needed, bench = view.change(name, TODAY), view.change(name, TODAY, BENCH_H)
    return (
        f"Removal alone: {plus_minus(needed, difference=True)} h needed and {plus_minus(bench, difference=True)} h "
        "of bench work a week against today"
    )


def _way_row(view: PartStudy, name: str, gap: Estimate | None) -> Row:
    cells = (
        plus_minus(view.per_week(name, NEEDED)),
        told(gap),
        plus_minus(view.per_week(name, UNATTENDED)),
        plus_minus(view.per_week(name, BENCH_H)),
        percent_plus_minus(view.study.per_week(name, "late_share")),
        plus_minus(view.per_week(name, "subcontract_h", "unmet_h")),
    )
    return Row(_way_name(view, name), cells)


def told(gap: Estimate | None) -> str:
    """Write a difference: a dash without one, ``none`` where every run is the same, a question mark where it may be."""
    if gap is None:
        return "–"
    if gap.mean == 0 and gap.half_width == 0:
        return "none"
    return plus_minus(gap, difference=True) + ("" if gap.tells else " ?")


def side_table(view: PartStudy) -> Block:
    """What comes along with each way: marks, metal lost, scrap credit, entries into the guarded cell."""
    groups = _groups(view)
    if not groups:
        return paragraph(NO_REMOVAL)
    rows: list[Row] = []
    for head, members in groups.items():
        rows += [Row(head.partition(",")[0], (), "group"), *(_side_row(view, name) for name in members)]
    columns = ["way to hand over", "parts marked", "sheet metal lost, kg", f"scrap credit, {view.study.currency}",
               "stacks taken away", "entries into the guarded cell"]  # fmt: skip
    return table(_side_title(view), columns, rows, note=(
        "Per week, means, entries with ± 95 %. Parts marked: reworked or scrapped for marks. Sheet metal lost: "
        "scrapped sheets and the yield lost to gaps, for the sheets made in house. Scrap credit: all scrap at the "
        "plant's prices; it grows with what is lost and never pays for it. Entries: for first pieces and stops, "
        f"each with its access and reset time. {view.nights_note}".strip()))  # fmt: skip


def _side_title(view: PartStudy) -> str:
    name = view.removal
    if name is None or name == TODAY or not _lost(view, name):
        return "What comes along with each way to hand over"
    more = view.per_week(name, *_lost(view, name)).mean - view.per_week(TODAY, *_lost(view, TODAY)).mean
    entries = f" and {plus_minus(view.per_week(name, ENTRIES), 0)} entries" if view.has(name, ENTRIES) else ""
    return f"Removal alone brings {number(more, 0)} kg of lost sheet metal a week more than today{entries}"


def _lost(view: PartStudy, name: str) -> list[str]:
    return [m for m in view.study.results.measures if m.startswith("lost_kg_") and view.study.has(name, m)]


def _side_row(view: PartStudy, name: str) -> Row:
    lost = _lost(view, name)
    cells = (
        number(view.per_week(name, "parts_reworked", "parts_scrapped").mean, 0),
        number(view.per_week(name, *lost).mean, 0) if lost else "–",
        number(view.scrap_credit(name).mean, 0),
        number(view.per_week(name, "stacks_exchanged").mean, 0) if view.has(name, "stacks_exchanged") else "–",
        plus_minus(view.per_week(name, ENTRIES), 0) if view.has(name, ENTRIES) else "–",
    )
    return Row(_way_name(view, name), cells)


def why_table(view: PartStudy) -> Block:
    """Where the machine's hours go with removal, state by state, against today."""
    name = view.removal
    if name in (None, TODAY):
        return paragraph("There is no way without removal to compare with." if name == TODAY else NO_REMOVAL)
    gaps = {state: view.change(name, TODAY, f"state_{state}_h") for state in STATES if state not in LEFT_OUT}
    shown = {state: gap for state, gap in gaps.items() if abs(gap.mean) >= LEAST_H}
    if not shown:
        return paragraph("Removal moves no hours of the machine.")
    ranked = sorted(shown, key=lambda state: -shown[state].mean)
    title = f"Removal {_moved(shown, 1, 'adds')} and {_moved(shown, -1, 'takes')}"
    rows = [Row(STATE_LABELS[s], (plus_minus(view.per_week(TODAY, f"state_{s}_h")),
                                  plus_minus(view.per_week(name, f"state_{s}_h")),
                                  plus_minus(shown[s], difference=True))) for s in ranked]  # fmt: skip
    columns = ["state of the machine", "today, h a week", f"{view.named(name)}, h a week", "difference, h a week"]
    return table(title, columns, rows, note=(
        "Hours of the released weeks, mean ± 95 %, differences paired. A person who releases a first piece or "
        f"clears a stop enters the guarded cell first: that time stands in these states, {_entries(view, name)}. "
        "Pulling out holds waiting for picks; given-out orders leave the machine, so that a busier cell shows fewer "
        "process hours."))  # fmt: skip


def _moved(shown: Mapping[str, Estimate], sign: int, verb: str) -> str:
    """The states that surely gain or lose the most hours, with their hours."""
    sure = [s for s in shown if shown[s].tells and sign * shown[s].mean > 0]
    most = sorted(sure, key=lambda state: -abs(shown[state].mean))[:2]
    off = "" if sign > 0 else " off any state"
    if not most:
        return f"{verb} no hours{off} for sure"
    listed = listing(f"{number(abs(shown[s].mean))} h of “{STATE_LABELS[s]}”" for s in most)
    return f"{verb} {listed}" if sign > 0 else f"{verb} {listed} off"


def _entries(view: PartStudy, name: str) -> str:
    if not view.has(name, ENTRIES):
        return "not counted here"
    return f"{plus_minus(view.per_week(name, ENTRIES), 0)} entries a week"


# ---- exposure by hand ----


def exposure_table(view: PartStudy) -> Block:
    """Lifts and kilograms by hand in a shift, today and with each way, never a verdict."""
    found = view.exposures
    if TODAY not in found or len(found) < 2:
        return paragraph(NO_SHIFT if TODAY not in found else NO_REMOVAL)
    others = [name for name in found if name != TODAY]
    best = max(others, key=lambda name: found[name].taken_away[TOTAL].lifts.mean)
    today, less = found[TODAY].asked[TOTAL], found[best].taken_away[TOTAL]
    title = (
        f"Hands lift {number(today.lifts.mean, 0)} times and {number(today.kg.mean, 0)} kg a shift today; "
        f"“{view.spoken(best)}” takes {plus_minus(less.lifts, 0)} lifts and {plus_minus(less.kg, 0)} kg of that away"
    )
    columns = ["way to hand over", "lifts a shift of its own", "kg a shift of its own", "lifts taken away",
               "kg taken away", "of these, parts: lifts", "sheets: lifts", "skeletons: lifts"]  # fmt: skip
    return table(title, columns, [_exposure_row(view, name, found[name]) for name in found], note=(
        "Exposure for the same sheets in today's shifts, mean ± 95 %; a minus is exposure added. A sheet that two "
        "persons lift counts once, what a lifter, loader or device takes counts not at all. Fewer lifts are not a "
        "safe task: what is left, and the hazards that a device adds, need their own assessment. Parts down a chute "
        "are handled again when they are sorted, which is not counted, so that such cases are left out. "
        f"{view.nights_note}"))  # fmt: skip


def _exposure_row(view: PartStudy, name: str, row: Exposure) -> Row:
    asked, less = row.asked[TOTAL], row.taken_away
    if name == TODAY:
        return Row("Today", (plus_minus(asked.lifts, 0), plus_minus(asked.kg, 0), *("–",) * 5))
    kinds = (plus_minus(less[kind].lifts, 0) for kind in ("parts", "sheets", "skeletons"))
    cells = (plus_minus(asked.lifts, 0), plus_minus(asked.kg, 0), plus_minus(less[TOTAL].lifts, 0),
             plus_minus(less[TOTAL].kg, 0), *kinds)  # fmt: skip
    return Row(_way_name(view, name), cells)


# ---- interactions ----


def pair_table(view: PartStudy) -> Block:
    """Removal and magazine, removal and store: each alone, both, and what both do beyond the sum."""
    rows = list(_pair_rows(view))
    if not rows:
        return paragraph("There is no pair of removal with a magazine or a store to compare.")
    title = _pair_title([row for row in rows if row.look != "group"])
    columns = [
        "pair A and B",
        "without both",
        "A alone",
        "B alone",
        "A + B",
        "sum of A and B",
        "interaction",
        "what it says",
    ]
    return table(title, columns, rows, words=[6], note=(
        "Per week, mean ± 95 %, changes against the same base without either, paired. Interaction: both less the "
        "sum. For hours needed above zero means that both partly save the same hours; for unattended hours above "
        "zero means that each needs the other. At night on what a night needs besides the pair, and on the package "
        f"where it goes with it. {view.study.package_note}"))  # fmt: skip


def _pair_title(rows: Sequence[Row]) -> str:
    sure = [row for row in rows if "sure" in row.cells[-1]]
    if not sure:
        return f"None of {plural(len(rows), 'interaction')} of removal with magazine and store can be told from zero"
    told_of = listing(f"{row.head.partition(', B ')[2]} {row.cells[-2]} h ({row.cells[-1].partition(' (')[0]})"
                      for row in sure)  # fmt: skip
    return f"Beyond the sum of both, a week: removal with {told_of}"


def _pair_rows(view: PartStudy) -> Iterator[Row]:
    for head, measure, of_base in (
        ("hours needed a week, by day", NEEDED, dict.fromkeys(view.roles.pairs, ())),
        ("unattended hours a week, at night", UNATTENDED, view.over.night_bases),
    ):
        rows = [row for name in view.roles.pairs if name in of_base
                for row in _pair_row(view, name, measure, of_base[name])]  # fmt: skip
        if rows:
            yield Row(head, (), "group")
            yield from rows


def _pair_row(view: PartStudy, name: str, measure: str, base: Sequence[str]) -> Iterator[Row]:
    pair = view.roles.pairs[name]
    sets = view.over.corners(pair, tuple(base))
    both, first, second, neither = (view.scenario_of(options) for options in sets)
    if both is None or first is None or second is None or neither is None:
        return
    effect = view.together(both, first, second, neither, measure)
    one, two, all_ = (view.change(each, neither, measure) for each in (first, second, both))
    says = f"{_meaning(effect, measure)} ({effect.verdict})"
    cells = (plus_minus(view.per_week(neither, measure)), *(plus_minus(e, difference=True) for e in (one, two, all_)),
             signed(one.mean + two.mean), plus_minus(effect, difference=True), says)  # fmt: skip
    yield Row(f"A removal {'+'.join(pair[0])}, B {name} {'+'.join(pair[1])}", cells)


def _meaning(effect: Estimate, measure: str) -> str:
    if not effect.tells:
        return "the effects may simply add up"
    if measure == UNATTENDED:
        return "each needs the other" if effect.mean > 0 else "they free the same hours"
    return "they save the same hours" if effect.mean > 0 else "together they save more than apart"
