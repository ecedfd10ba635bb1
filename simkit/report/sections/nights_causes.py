"""Sections about what ended nights: ranking, the value of each cause taken away, limits one by one, help at night."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.analysis.cases import Case
from simkit.analysis.night_cases import ALONE, ALONE_WORDS, FREED, HELP, IN_ORDER, MORE, SINGLE
from simkit.analysis.night_tables import share_whole
from simkit.analysis.night_wants import GROUPS, kind_of
from simkit.base.vocabulary import NO_SOURCE
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import NightStep, ends_of_nights, steps_of_nights
from simkit.report.nightstudy import HOURS, NightStudy
from simkit.report.sections.nights import LIMITS, NOTHING
from simkit.report.words import capitalised, listing, number, percent, plural, plus_minus, scaled


def ends_figure(view: NightStudy) -> Exhibit | Block:
    """What ended nights: bars of nights and of hours lost."""
    ends = () if view.why_not else view.causes(view.shown.name)
    if not ends:
        return paragraph(NOTHING if view.why_not else "Nothing ended a night before its morning.")
    lost = sum(end.lost_h for end in ends)
    rows = [(view.words(end.limit, end.want), 100 * end.share, 100 * end.lost_h / lost) for end in ends]
    first = ends[0]
    title = (
        f"{capitalised(view.words(first.limit, first.want))} cost {percent(first.lost_h / lost)} of the night hours "
        f"lost; the first three of {plural(len(ends), 'end')} cost {percent(sum(e.lost_h for e in ends[:3]) / lost)}"
    )
    return ends_of_nights(rows, title=title, calibrated=view.study.calibrated, note=view.study.package_note)


def ends_table(view: NightStudy) -> Block:
    """The same as a table, limit by limit, with stop causes apart."""
    if view.why_not:
        return paragraph(NOTHING)
    name = view.shown.name
    ends, nights = view.ends(name), view.nights(name)
    lost = sum(end.lost_h for end in ends) or 1.0
    rows: list[Row] = []
    for limit, words in LIMITS.items():
        own = [end for end in ends if end.limit == limit]
        if own:
            share, hours = sum(e.share for e in own), sum(e.lost_h for e in own)
            rows.append(Row(words, _end_cells(share, hours, lost, len(nights)), "total"))
            if limit != "queue":
                rows += [Row(f"· {view.words(e.limit, e.want)}", _end_cells(e.share, e.lost_h, lost, len(nights)))
                         for e in own]  # fmt: skip
    rows.append(Row("nothing: reached the morning", (number(100 * share_whole(nights), 0), "0", "0", "0")))
    counts = {limit: sum(e.share for e in ends if e.limit == limit) for limit in LIMITS}
    worst = max(counts, key=lambda limit: counts[limit])
    title = f"{LIMITS[worst].capitalize()} ended {percent(counts[worst])} of the nights, more than any other limit"
    columns = [
        "what was missing first",
        "nights, %",
        "hours lost a night",
        "of the hours lost, %",
        "lost when it ends one, h",
    ]
    return table(title, columns, rows, note=(
        f"{plural(len(nights), 'night')} of all replications. A night ends at the first event that needs a person; the "
        "hours after it are lost, whatever would have come later."))  # fmt: skip


def _end_cells(share: float, hours: float, lost: float, nights: int) -> tuple[str, ...]:
    return (number(100 * share, 0), number(hours / nights), number(100 * hours / lost, 0),
            number(hours / (share * nights)) if share else "–")  # fmt: skip


def removed_table(view: NightStudy) -> Block:
    """Each of the first causes taken away alone: paired differences in unattended hours and in hours needed."""
    cases = [] if view.why_not else view.cases(SINGLE)
    if not cases:
        return paragraph(NOTHING if view.why_not else "Nothing that ended a night can be taken away in the model.")
    hours, needed = (_gains(view, cases, measure) for measure in (UNATTENDED, NEEDED))
    ordered = sorted(cases, key=lambda case: -hours[case.name].mean)
    rows = [_removed_row(view, case, hours[case.name], needed[case.name]) for case in ordered]
    best = ordered[0]
    told = [case for case in cases if hours[case.name].tells and hours[case.name].mean > 0]
    title = (
        f"{len(told)} of {plural(len(cases), 'cause')} taken away alone surely give more hours; most gives "
        f"{best.what}, {plus_minus(hours[best.name], difference=True)} h a week"
    )
    columns = ["taken away", "worked a night, h", "unattended hours against as it is, h per week",
               "hours needed, h per week", "then most hours lost to"]  # fmt: skip
    return table(title, columns, rows, words=[3], note=(
        "The first causes by hours lost, each taken away alone, by day as well as by night. Mean ± 95 %; differences "
        "are paired and hold together. Grey: not enough replications to tell. The hours of a cause are not its value: "
        "behind it waits the next one."))  # fmt: skip


def _gains(view: NightStudy, cases: Sequence[Case], *measures: str) -> dict[str, Estimate]:
    return view.gains([case.name for case in cases], view.shown.name, *measures)


def _removed_row(view: NightStudy, case: Case, hours: Estimate, needed: Estimate) -> Row:
    cells = (plus_minus(view.per_night(case.name)), plus_minus(hours, difference=True),
             plus_minus(needed, difference=True), _worst(view, case.name))  # fmt: skip
    return Row(case.what, cells, "" if hours.tells else "grey")


def _worst(view: NightStudy, name: str) -> str:
    ends = view.causes(name)
    return f"{view.words(ends[0].limit, ends[0].want)} ({percent(ends[0].share)} of nights)" if ends else "nothing"


def order_figure(view: NightStudy) -> Exhibit | Block:
    """Hours a night as cause after cause is taken away."""
    steps = _steps(view)
    if len(steps) < 2:
        return paragraph(NOTHING if view.why_not else "Nothing that ended a night can be taken away in the model.")
    first, last = steps[0].hours.mean, steps[-1].hours.mean
    title = (
        f"From {number(first)} h a night to {number(last)} h of {number(view.allowed_h(view.shown.name))} h allowed: "
        f"what is left is lost {'to the queue' if _queue_last(view) else 'to what no case takes away'}"
    )
    return steps_of_nights(steps, allowed_h=view.allowed_h(view.shown.name), title=title,
                           calibrated=view.study.calibrated)  # fmt: skip


def _steps(view: NightStudy) -> list[NightStep]:
    if view.why_not:
        return []
    cases = [view.shown, *view.cases(IN_ORDER), *([view.freed] if view.freed else [])]
    return [NightStep(_step_name(view, case), view.per_night(case.name), _queue_share(view, case)) for case in cases]


def _step_name(view: NightStudy, case: Case) -> str:
    return "as it is" if case.name == view.shown.name else case.name


def _queue_share(view: NightStudy, case: Case) -> float:
    """Share of the nights' hours lost because no more orders were released."""
    nights = view.nights(case.name)
    return float(nights.loc[nights["ended_by"] == "queue", "lost_h"].sum() / nights["allowed_h"].sum())


def _queue_last(view: NightStudy) -> bool:
    ends = view.ends((view.freed or view.shown).name)
    return bool(ends) and ends[0].limit == "queue"


def order_table(view: NightStudy) -> Block:
    """Causes taken away one after the other, each time the one with most hours lost."""
    cases = [] if view.why_not else view.cases(IN_ORDER)
    if not cases:
        return paragraph(NOTHING if view.why_not else "Nothing that ended a night can be taken away in the model.")
    total, needed = _gains(view, cases, UNATTENDED), _gains(view, cases, NEEDED)
    rows = []
    for case in cases:
        step = view.gains([case.name], case.of, UNATTENDED)[case.name]
        cells = (plus_minus(view.per_night(case.name)), plus_minus(step, difference=True),
                 plus_minus(total[case.name], difference=True), plus_minus(needed[case.name], difference=True),
                 _worst(view, case.name))  # fmt: skip
        rows.append(Row(case.name, cells, "" if step.tells else "grey"))
    last = cases[-1]
    title = (
        f"{plural(len(cases), 'cause')} taken away in order give {plus_minus(total[last.name], difference=True)} h a "
        "week together"
    )
    columns = ["taken away", "worked a night, h", "this step, h per week", "all steps, h per week",
               "hours needed, h per week", "then most hours lost to"]  # fmt: skip
    return table(title, columns, rows, words=[4], note=(
        "At each step the cause that cost most hours of those that can be taken away in the model. Differences are "
        "paired; those of all steps hold together. Grey: the step cannot be told from zero."))  # fmt: skip


def limits_table(view: NightStudy) -> Block:
    """Each kind of limit alone, and with more of what it lacks."""
    if view.why_not:
        return paragraph(NOTHING)
    rows = [Row("Each limit alone, all others taken away", (), "group")]
    rows += [_limit_row(view, case) for case in view.cases(ALONE, FREED) if case.of == view.shown.name]
    more = view.cases(MORE)
    if more:
        rows.append(Row("With more of it", (), "group"))
        rows += [_more_row(view, case) for case in more]
    alone = sorted(view.cases(ALONE), key=lambda case: view.per_night(case.name).mean)
    tightest = (
        f"{alone[0].name.lower()} leave {number(view.per_night(alone[0].name).mean)} h"
        if alone
        else "none was simulated"
    )
    title = f"The tightest limit alone: {tightest} of {number(view.allowed_h(view.shown.name))} h a night"
    columns = ["what can end a night", "worked a night, h", "8 nights in 10, h", "reach the morning, %",
               "against what it adds to, h per week", "most hours lost to"]  # fmt: skip
    return table(title, columns, rows, words=[4], note=(
        "What no edit of the model takes away may still end a night: see the last column. The queue is always there. "
        "Differences are paired, each on its own. Grey: cannot be told from zero. "
        f"How much more of each: {NO_SOURCE}."))  # fmt: skip


def _limit_row(view: NightStudy, case: Case) -> Row:
    spread = view.differ(case.name)
    cells = (plus_minus(view.per_night(case.name)), f"{number(spread.low)} to {number(spread.high)}",
             number(100 * share_whole(view.nights(case.name)), 0), "–", _worst(view, case.name))  # fmt: skip
    return Row(case.name, cells, "total" if case.group == FREED else "")


def _more_row(view: NightStudy, case: Case) -> Row:
    gain = view.gains([case.name], case.of, UNATTENDED)[case.name]
    row = _limit_row(view, case)
    cells = (*row.cells[:3], plus_minus(gain, difference=True), row.cells[4])
    return Row(case.name, cells, "" if gain.tells else "grey")


def shares_by_kind(view: NightStudy) -> dict[str, float]:
    """Share of the hours lost by kind of end, care and stops apart; kinds without any left out."""
    ends = view.ends(view.shown.name)
    lost = sum(end.lost_h for end in ends) or 1.0
    found: dict[str, float] = {}
    for end in ends:
        kind = "queue" if end.limit == "queue" else kind_of(view.plant, end.want)
        found[kind] = found.get(kind, 0.0) + end.lost_h / lost
    return found


def why_shorter(view: NightStudy) -> Block:
    """Why a night is shorter than the closed form says: hours lost by kind of end."""
    if view.why_not:
        return paragraph(NOTHING)
    shares = shares_by_kind(view)
    words = {**ALONE_WORDS, "shift": "work the shift left", "queue": "the queue"}
    named = [f"{words[kind]} {percent(shares[kind])}" for kind in (*GROUPS, "shift", "queue") if kind in shares]
    return paragraph(
        f"Of the hours lost at night: {listing(named)}. The closed form knows only the first of these."
        if "stop" in shares else f"Of the hours lost at night: {listing(named)}. The closed form knows none of these."
    )  # fmt: skip


def help_table(view: NightStudy) -> Block:
    """What somebody at night gives: hours gained in the window of the night against hours paid."""
    cases = [] if view.why_not else view.cases(HELP)
    if not cases:
        return paragraph(NOTHING if view.why_not else "Nobody of this plant has the skills to help at night.")
    gains = _gains(view, cases, *HOURS)
    paid = {case.name: case.paid_h + _away(view, case).mean for case in cases}
    rows = [_help_row(view, case, gains[case.name], paid[case.name]) for case in cases]
    worth = [case for case in cases if gains[case.name].tells and gains[case.name].mean > 0 and paid[case.name] > 0]
    best = max(worth, key=lambda case: gains[case.name].mean / paid[case.name], default=None)
    title = "None of the forms of help surely gives hours" if best is None else (
        f"{best.name}: {plus_minus(gains[best.name], difference=True)} h a week for {number(paid[best.name])} h paid, "
        f"{number(gains[best.name].mean / paid[best.name])} h gained per hour paid"
    )  # fmt: skip
    columns = ["help", "machine hours gained, h per week", "of them while visited, h",
               "hours paid, h per week", "gained per hour paid, h", "calls a week", "late orders, %"]  # fmt: skip
    return table(title, columns, rows, note=(
        "Gained: hours that the machine works in the window of the night, unattended or while visited, against "
        "the same nights without help; paired, holding together. Paid: the hour of each visit; of somebody on call the "
        "hours from the call until the person has left again, without standby pay. Mean ± 95 %. Grey: cannot be told "
        "from zero. Whoever comes works alone: see the cautions. "
        f"Times and length of visits, response and calls: {NO_SOURCE}."))  # fmt: skip


def _away(view: NightStudy, case: Case) -> Estimate:
    return view.per_week(case.name, "on_call_h")


def _help_row(view: NightStudy, case: Case, gain: Estimate, paid: float) -> Row:
    late = scaled(view.study.per_week(case.name, "late_share"), 100.0)
    visited = number(view.per_week(case.name, "visit_running_h").mean)
    cells = (plus_minus(gain, difference=True), visited, number(paid), number(gain.mean / paid) if paid else "–",
             number(view.per_week(case.name, "on_call_calls").mean), plus_minus(late, 1))  # fmt: skip
    return Row(case.name, cells, "" if gain.tells else "grey")
