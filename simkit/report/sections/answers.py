"""The answer boxes: one pattern, filled with numbers, without adjectives."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.plant.tables import Element
from simkit.report.exhibits import Block, Row, table
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.words import UNKNOWN, listing, number, percent, percent_plus_minus, plural, plus_minus, with_unit

GUESSES = ("default", "estimated")
ANSWER_MEASURES = (
    (NEEDED, "hours needed for the book, h"),
    ("attended_h", "attended, h"),
    ("overtime_h", "overtime, h"),
    ("subcontract_h", "given out, h"),
    ("unmet_h", "not made, h"),
    ("late_mean_days", "days late, mean of late orders"),
)


def answer_today(study: Study) -> Block:
    """Answer whether today's cell can make the order book."""
    limit = study.plant.settings.rules.late_share_limit
    sentences = [
        needed_hours(study),
        _overflow(study),
        _late(study, limit),
        *_package(study),
    ]
    return answer(study, sentences)


def answer_options(study: Study) -> Block:
    """Answer what the options give, low-capital first."""
    return answer(study, [needed_hours(study), *_package(study), *_best_on_top(study)])


def answer(study: Study, sentences: Sequence[str]) -> Block:
    """Make an answer box; its sentences go to the index."""
    content = {"sentences": list(sentences), "basis": basis(study)}
    text = " ".join(sentences)
    return Block("answer", content, text, {"answer": text})


def basis(study: Study) -> str:
    """Say what the numbers rest on."""
    elements = study.plant.elements
    guesses = sum(row.basis in GUESSES for row in elements)
    state = "is" if study.calibrated else "is not"
    return (
        f"Demand {study.demand_factor:g} times the order book, {number(study.run.weeks, 0)} weeks released, "
        f"{plural(study.run.replications, 'replication')}. {study.luck_note} The baseline {state} calibrated. "
        f"{guesses} of {plural(len(elements), 'time element')} are guesses (default or estimated)."
    )


def answer_table(study: Study) -> Block:
    """Table beside the answer: today and the low-capital package, mean, interval and 8 runs in 10."""
    names = list(dict.fromkeys([TODAY, study.package]))
    columns = ["over the whole book"]
    for name in names:
        columns += [f"{study.named(name)}: mean ± 95 %", "8 runs in 10"]
    rows = [
        Row(label, _cells(study, names, measure)) for measure, label in ANSWER_MEASURES if study.has(TODAY, measure)
    ]
    rows.append(Row("late orders, %", _share_cells(study, names, "late_share")))
    title = f"{study.named(names[0])} and the low-capital package over {number(study.run.weeks, 0)} weeks"
    return table(title, columns, rows, note=_runs_note(study))


def _cells(study: Study, names: Sequence[str], measure: str) -> tuple[str, ...]:
    cells: list[str] = []
    for name in names:
        runs = study.runs(name, measure)
        cells += [plus_minus(study.total(name, measure)), f"{number(runs.low)} to {number(runs.high)}"]
    return tuple(cells)


def _share_cells(study: Study, names: Sequence[str], measure: str) -> tuple[str, ...]:
    cells: list[str] = []
    for name in names:
        runs, mean = study.runs(name, measure), study.total(name, measure)
        cells += [
            percent_plus_minus(mean),
            f"{number(100 * runs.low, 1)} to {number(100 * runs.high, 1)}",
        ]
    return tuple(cells)


def _runs_note(study: Study) -> str:
    return (
        f"Mean ± half-width of its 95 % interval from {plural(study.run.replications, 'replication')}: how well the "
        "average is known. 8 runs in 10: how much single runs differ by the order of weeks and by other luck, as "
        "simulated. How much weeks differ stands apart, in the table of the book's weeks."
    )


def needed_hours(study: Study) -> str:
    """Say what today's cell needs for the book of the hours attended."""
    need, attended = study.total(TODAY, NEEDED), study.total(TODAY, "attended_h")
    runs = study.runs(TODAY, NEEDED)
    return (
        f"With today's cell the {number(study.run.weeks, 0)}-week order book needs {plus_minus(need)} h of "
        f"{with_unit(attended.mean, 'h')} attended ({percent(need.mean / attended.mean)}, 8 runs in 10: "
        f"{number(runs.low)} to {with_unit(runs.high, 'h')})."
    )


def _overflow(study: Study) -> str:
    """Whether today's shifts suffice, and where the hours go that do not fit."""
    overtime, bought, unmet = (study.total(TODAY, m).mean for m in ("overtime_h", "subcontract_h", "unmet_h"))
    if not (overtime or bought or unmet):
        return "The shifts are enough: no overtime, nothing given out, every order made."
    return (
        f"The shifts alone are not enough: in it are {with_unit(bought, 'h', 1)} given out and "
        f"{with_unit(unmet, 'h', 1)} of orders not made; {with_unit(overtime, 'h', 1)} of the attended hours are "
        "overtime."
    )


def _late(study: Study, limit: float) -> str:
    late = study.total(TODAY, "late_share")
    if late.mean == 0 and late.half_width == 0:
        runs = plural(study.run.replications, "run")
        return f"No order is late in any of {runs}; the plant's limit is {percent(limit)}."
    return (
        f"{percent(late.mean, 1)} of orders are late (95 % interval ± {number(100 * late.half_width, 1)} points); "
        f"the plant's limit is {percent(limit)}."
    )


def _package(study: Study) -> list[str]:
    if study.package == TODAY:
        return ["No low-capital package was found that does better than today."]
    level = study.total(study.package, NEEDED)
    return [f"The low-capital package ({study.described(study.package)}) brings it to {with_unit(level.mean, 'h')}."]


def _best_on_top(study: Study) -> list[str]:
    names = [n for n in study.bought if study.holds_package(n)] or list(study.bought)
    if not names:
        return ["No bought option was simulated."]
    good = study.recommendable(names)
    top = " on top of the package" if study.holds_package(names[0]) else ""
    sets = f"Of {plural(len(names), 'bought set')}{top}"
    if not good:
        return [f"{sets} none can be recommended at signed demand; the study of payback says why."]
    found = study.fewest_hours(good)
    best = found.name
    level = study.total(best, NEEDED)
    gap = study.gaps(study.package)[best]
    doubt = "" if gap.tells else f" ({open_sign(gap, study.replications_to_tell(best, study.package))})"
    ties = len(found.ties) - 1
    beside = "" if not ties else f" (not told apart from {plural(ties, 'dearer set')})"
    return [
        f"{sets}, {study.named(best)} needs the fewest hours{beside}: "
        f"{with_unit(level.mean, 'h')}, {plus_minus(gap, difference=True)} h against the package{doubt}.",
        *_left_out(study, [name for name in names if name not in good]),
    ]


def open_sign(gap: Estimate, needed: int | None) -> str:
    """What a reader may conclude of a difference without a sure sign, and how many replications would decide."""
    more = "" if needed is None else f": {number(needed, 0)} replications would decide if it is what it seems"
    return f"{gap.verdict}{more}"


def _left_out(study: Study, left: Sequence[str]) -> list[str]:
    if not left:
        return []
    does = "is" if len(left) == 1 else "are"
    names = listing(study.named(name) for name in left)
    return [f"Not counted: {names}, which {does} not recommendable; the study of payback says why."]


def element_minutes(elements: Sequence[Element], name: str) -> str:
    """Write the mean time of an element as its file gives it, with unit and basis, or that it is not given."""
    rows = [row for row in elements if row.element == name]
    return f"{number(rows[0].typical)} {rows[0].unit.split('/')[0]} ({rows[0].basis})" if rows else UNKNOWN
