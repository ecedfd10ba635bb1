"""Sections about unattended nights: cautions first, the answer, how long nights run, and why not longer."""

from __future__ import annotations

from collections import Counter

import pandas as pd

from simkit.analysis.cases import Case
from simkit.analysis.night_cases import SINGLE
from simkit.analysis.night_tables import by_weekday, mean_expected_h, share_below_half, share_whole
from simkit.base.vocabulary import WEEKDAYS
from simkit.experiment.intervals import Estimate, Spread
from simkit.report import cautions
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import Nights, hours_of_nights
from simkit.report.nightstudy import NightStudy
from simkit.report.sections.answers import answer
from simkit.report.study import LEFT
from simkit.report.words import NO_BREAK, capitalised, listing, number, percent, plural, plus_minus, scaled, with_unit

NOTHING = "No night is shown here, for the reason in the answer."
CAUTIONS = (
    (
        "Who decides",
        "the kit plans hours; it declares no night safe. Whether a cell may run with nobody there is decided by the "
        "plant's own risk assessment, local codes and the competent persons, before any hour below is counted on",
    ),
    (
        "Fire",
        "unattended cutting throws sparks into dust, oil film and scrap; detection, extinguishing, who is alarmed and "
        "who comes are settled with the fire authority and by local code",
    ),
    (
        "Insurer",
        "the insurer's agreement in writing comes before the first night; a night it does not know of may not be "
        "covered",
    ),
    (
        "Lone work",
        "whoever visits or is called at night works alone on a machine that has stopped for an unknown reason; local "
        "rules on lone work, rest times and entering a guarded cell hold, and isolation is never planned as zero",
    ),
    (
        "What-ifs",
        "cases that take a stop, a check or a first piece away say what it costs; they are no advice to leave it out",
    ),
)


def night_cautions(view: NightStudy) -> tuple[Block, ...]:
    """What to mind before any hour is read, and who assessed unattended running."""
    items = [{"head": "Standing line", "text": cautions.STANDING}]
    items += [{"head": head, "text": f"{capitalised(text)}."} for head, text in CAUTIONS]
    return (Block("list", {"items": items}, cautions.STANDING), paragraph(_assessed(view), "mark"))


def _assessed(view: NightStudy) -> str:
    if not view.assessments:
        return "Unattended running assessed by: nobody, says the plant folder."
    return f"Unattended running assessed by: {'; '.join(view.assessments)}."


def answer_nights(view: NightStudy) -> Block:
    """Answer how many hours a night really gives, what ends it, and what the morning pays."""
    if view.why_not:
        return answer(view.study, [view.why_not])
    return answer(view.study, [*_hours(view), *_ended(view), *_next(view), *_beyond(view), _morning(view)])


def _hours(view: NightStudy) -> list[str]:
    name = view.shown.name
    nights, spread, allowed = view.nights(name), view.differ(name), view.allowed_h(name)
    below = share_below_half(nights)
    per_week = view.study.per_week(name, "nights").mean
    return [
        f"With {view.study.described(name)}, {with_unit(allowed, 'h')} may run unattended in each of "
        f"{number(per_week, 0)} nights a week; the machine works {_estimate(view.per_night(name))} of them "
        f"(95 % interval), 8 nights in 10: {_range(spread)}.",
        f"{percent(below.mean)} (± {number(100 * below.half_width, 0)} points) of the nights work less than half of "
        f"what is allowed; {percent(share_whole(nights))} reach the morning.",
    ]  # fmt: skip


def _estimate(estimate: Estimate, unit: str = "h") -> str:
    return f"{plus_minus(estimate)}{NO_BREAK}{unit}"


def _range(spread: Spread, unit: str = "h") -> str:
    return f"{number(spread.low)} to {with_unit(spread.high, unit)}"


def _ended(view: NightStudy) -> list[str]:
    ends = view.causes(view.shown.name)
    if not ends:
        return ["Nothing ended a night before its morning."]
    lost = sum(end.lost_h for end in ends)
    often = max(ends, key=lambda end: end.nights)
    first = ends[0]
    text = f"What cost most hours: {view.words(first.limit, first.want)}, {percent(first.lost_h / lost)} of those lost"
    if often != first:
        return [
            f"{text}; what ended most nights: {view.words(often.limit, often.want)}, {percent(often.share)} of them."
        ]
    return [f"{text}; it also ended most nights, {percent(often.share)} of them."]


def _next(view: NightStudy) -> list[str]:
    """The removed cause that gives most, if any surely gives something."""
    gains = view.gains([case.name for case in view.cases(SINGLE)], view.shown.name, "night_running_h")
    if not gains:
        return []
    best = max(gains, key=lambda name: gains[name].mean)
    case, nights = view.case(best), view.study.per_week(view.shown.name, "nights").mean
    words = case.what if case else best
    gain = scaled(gains[best], 1 / nights)
    if not gains[best].tells:
        return ["Taking away one single cause gives nothing that can be told from zero."]
    return [f"Worth most if taken away alone: {words}, {plus_minus(gain, difference=True)}{NO_BREAK}h a night."]


def _beyond(view: NightStudy) -> list[str]:
    """What is left to gain if nothing but want of work ends a night."""
    freed = view.freed
    if freed is None:
        return []
    hours, allowed = view.per_night(freed.name), view.allowed_h(freed.name)
    text = f"If nothing but want of work ended a night, it would work {_estimate(hours)} of {with_unit(allowed, 'h')}"
    if hours.mean < 0.5 * allowed:
        short = f"{text}: more than half of the night has no orders to run, whatever is bought for it."
        return [short, *_given_out(view, freed.name)]
    return [f"{text}."]


def _given_out(view: NightStudy, name: str) -> list[str]:
    """Work that leaves the cell while its nights are empty: the overflow rule counts attended hours alone."""
    hours = view.per_week(name, *LEFT)
    if hours.mean <= 0:
        return []
    return [
        f"Meanwhile {_estimate(hours)} a week are still given out or not made: the rule of overflow weighs the orders "
        "against attended hours and knows no night."
    ]


def _morning(view: NightStudy) -> str:
    name = view.shown.name
    sheets, hand = view.per_night(name, "sheets"), view.per_night(name, "hand_h")
    most = view.differ(name, "worked_off_h").high
    return (
        f"The morning pays {_estimate(hand)} of bench work for the {plus_minus(sheets)} sheets of a night; in 9 of 10 "
        f"nights bench and stack are back where they were {with_unit(most, 'h')} after its end or sooner."
    )


def set_table(view: NightStudy) -> Block:
    """Every case that allows nights: hours allowed and worked, how much nights differ, what ended them."""
    if view.why_not:
        return paragraph(NOTHING)
    rows = [_set_row(view, name) for name in view.allowing]
    columns = ["case", "nights a week", "allowed a night, h", "worked a night, h", "8 nights in 10, h",
               "less than half, %", "most hours lost to"]  # fmt: skip
    most = max(view.allowing, key=lambda name: _mean_night(view, name).mean)
    title = (
        f"{plural(len(view.allowing), 'case')} with unattended nights: the longest work "
        f"{number(_mean_night(view, most).mean)} h a night ({view.named(most)})"
    )
    return table(title, columns, rows, words=[5], note=(
        "Mean ± 95 %: how well the average is known. 8 nights in 10: how much single nights differ; –: nights of this "
        "case were not looked at one by one. Heavy: the set that this page looks at, the one with most hours a week. "
        f"{view.study.package_note}"))  # fmt: skip


def _mean_night(view: NightStudy, name: str) -> Estimate:
    """Hours worked in a mean night, from the nights or from the totals of runs."""
    if len(view.nights(name)):
        return view.per_night(name)
    return scaled(view.study.total(name, "night_running_h"), 1 / view.study.total(name, "nights").mean)


def _set_row(view: NightStudy, name: str) -> Row:
    study, nights = view.study, view.nights(name)
    allowed = study.total(name, "night_allowed_h").mean / study.total(name, "nights").mean
    spread = _range(view.differ(name), "").strip() if len(nights) else "–"
    below = number(100 * share_below_half(nights).mean, 0) if len(nights) else "–"
    lost = Counter({limit: study.total(name, f"night_lost_{limit}_h").mean for limit in LIMITS})
    ends = view.causes(name) if len(nights) else ()
    worst = view.words(ends[0].limit, ends[0].want) if ends else LIMITS[max(lost, key=lambda key: lost[key])]
    count, worked = study.per_week(name, "nights").mean, _mean_night(view, name)
    cells = (number(count, 1), number(allowed), plus_minus(worked), spread, below, worst)
    return Row(view.named(name), cells, "total" if name == view.shown.name else "")


LIMITS = {
    "stop": "stops and checks", "release": "release", "tool": "tools", "material": "material and set-up",
    "output": "output", "queue": "no more orders released",
}  # fmt: skip


def distribution(view: NightStudy) -> Exhibit | Block:
    """Histograms of hours per night: the set, stops alone beside the closed form, and nothing but the queue."""
    if view.why_not:
        return paragraph(NOTHING)
    stops, freed = view.only_stops, view.freed
    rate = sum(row.settled_per_h for row in view.rates)
    panels = [Nights(f"{view.named(view.shown.name)}: as it is", view.nights(view.shown.name))]
    panels += [Nights(f"{r.name if r.name not in view.study.run.scenarios else view.named(r.name)}: as it is",
                      view.nights(r.name)) for r in view.rivals]  # fmt: skip
    if stops:
        panels.append(Nights(f"{stops.name} and the queue; dots: closed form", view.nights(stops.name), rate))
    if freed:
        panels.append(Nights("Nothing but the queue", view.nights(freed.name)))
    name = view.shown.name
    title = (
        f"{view.named(name)}: half of the nights work {number(float(view.nights(name)['running_h'].median()))} h or "
        f"less of {number(view.allowed_h(name))} h allowed"
    )
    return hours_of_nights(panels, title=title, calibrated=view.study.calibrated, note=view.study.package_note)


def closed_form_table(view: NightStudy) -> Block:
    """Expected hours to the first stop by the closed form, settled and early in life, beside what was simulated."""
    if view.why_not:
        return paragraph(NOTHING)
    if not view.rates:
        return paragraph("No stop of stops.csv needs a person, so the closed form has no first stop to wait for.")
    windows = view.nights(view.shown.name)["allowed_h"]
    rows = [_rate_row(row.cause.replace("_", " "), row.settled_per_h, row.early_per_h, windows) for row in view.rates]
    settled, early = (sum(getattr(row, name) for row in view.rates) for name in ("settled_per_h", "early_per_h"))
    rows.append(_rate_row("all causes together", settled, early, windows, "total"))
    rows += [Row("Simulated", (), "group"), *_simulated(view)]
    columns = ["cause", "per hour worked, settled", "per hour worked, early in life", "hours to it, settled",
               "hours to it, early in life"]  # fmt: skip
    title = (
        f"Stops alone would leave {number(mean_expected_h(settled, windows))} h a night by the closed form; simulated "
        f"with all that can end it: {number(view.per_night(view.shown.name).mean)} h"
    )
    early_life = "" if early != settled else " No cause has an early life here, so both rates are the same."
    return table(title, columns, rows, note=(
        "Closed form: (1 − exp(−λH)) / λ with λ stops per hour worked that need a person and H hours allowed; it knows "
        "neither queue nor tools, material, output or release, nor care that falls due. Rates of stops.csv, less what "
        "retries clear, put on the clock of hours worked at night (a running hour of the machine is a part of it). "
        f"Its hours and the simulated ones differ by just those limits.{early_life}"))  # fmt: skip


def _rate_row(head: str, settled: float, early: float, windows: object, look: str = "") -> Row:
    hours = (mean_expected_h(rate, windows) for rate in (settled, early))  # type: ignore[arg-type]
    return Row(head, (number(settled), number(early), *(number(h) for h in hours)), look)


def _simulated(view: NightStudy) -> list[Row]:
    cases = [case for case in (view.only_stops, view.shown) if case]
    return [
        Row(_simulated_words(view, case), ("", "", plus_minus(view.per_night(case.name)), ""))
        for case in cases
    ]  # fmt: skip


def _simulated_words(view: NightStudy, case: Case) -> str:
    return f"{view.named(case.name)}, as it is" if case.name == view.shown.name else case.what


def demand_table(view: NightStudy) -> Block:
    """Hours worked a night at other levels of demand: what a short queue takes."""
    if view.why_not:
        return paragraph(NOTHING)
    results, name = view.study.results, view.shown.name
    levels = [level for level in results.demand_factors if results.has(name, "nights", level)]
    rows = []
    for level in levels:
        nights = results.estimate(name, "nights", level).mean
        worked = scaled(results.estimate(name, "night_running_h", level), 1 / nights)
        ended = results.estimate(name, "night_ended_queue", level).mean / nights
        late = results.estimate(name, "late_share", level)
        cells = (plus_minus(worked), number(100 * ended, 0), plus_minus(scaled(late, 100.0), 1))
        rows.append(Row(f"{level:g}", cells, "total" if level == view.study.demand_factor else ""))
    queue = [f"{r.head} ({r.cells[1]} %)" for r in rows]
    title = f"Nights of {view.named(name)} that ended because no more orders were released, by demand: {listing(queue)}"
    columns = ["demand, times the order book", "worked a night, h", "nights ended by the queue, %", "late orders, %"]
    return table(title, columns, rows, note=(
        "Mean ± 95 %. A night whose queue is shorter than the time to its first stop gives the hours of its queue and "
        "no more, whatever is spent on stops."))  # fmt: skip


def weekday_table(view: NightStudy) -> Block:
    """Hours worked by the weekday on which a night starts: as it is, and with nothing but the queue."""
    if view.why_not:
        return paragraph(NOTHING)
    own = by_weekday(view.nights(view.shown.name))
    freed = by_weekday(view.nights(view.freed.name)) if view.freed else {}
    rows = [_weekday_row(WEEKDAYS[day], nights, freed.get(day)) for day, nights in own.items()]
    empty = [WEEKDAYS[day] for day, nights in own.items() if _queue_share(nights) >= 0.5]
    title = (
        f"On {listing(empty)} half of the nights or more end because no more orders are released" if empty
        else "On no weekday do half of the nights end because no more orders are released"
    )  # fmt: skip
    columns = [
        "night starts on",
        "worked, as it is, h",
        "ended by the queue, %",
        "worked with nothing but the queue, h",
    ]
    return table(title, columns, rows, note=(
        "Means of all nights of all replications. The last column is what the queue released by then gives if nothing "
        "else ends the night: the work there is for a night."))  # fmt: skip


def _queue_share(nights: pd.DataFrame) -> float:
    return float((nights["ended_by"] == "queue").mean())


def _weekday_row(day: str, nights: pd.DataFrame, freed: pd.DataFrame | None) -> Row:
    worked = "–" if freed is None else number(float(freed["running_h"].mean()))
    return Row(day, (number(float(nights["running_h"].mean())), number(100 * _queue_share(nights), 0), worked))
