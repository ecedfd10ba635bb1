"""Sections about what a night takes and leaves: tools, pallets and sheets it needs, the morning after, its rivals."""

from __future__ import annotations

from simkit.analysis.cases import Case
from simkit.analysis.night_cases import FREED
from simkit.analysis.night_rivals import bench_posts, paid_h_per_week
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.nightstudy import NightStudy
from simkit.report.sections.nights import NOTHING
from simkit.report.study import LEFT
from simkit.report.studydata import TODAY
from simkit.report.words import listing, number, percent, percent_plus_minus, plural, plus_minus, scaled

UNLIMITED = "no limit"


def needs_table(view: NightStudy) -> Block:
    """What the longest nights of the model take, and what stands ready for a night."""
    if view.why_not:
        return paragraph(NOTHING)
    cases = [view.shown, *([view.freed] if view.freed else [])]
    rows = [
        Row(words, (*(cell for case in cases for cell in _used(view, case, column)), ready))
        for column, words, ready in _resources(view)
    ]
    columns = ["what a night takes"]
    for case in cases:
        head = "as it is" if case.group != FREED else "nothing but the queue"
        columns += [f"{head}: mean ± 95 %", f"{head}: 1 night in 10 takes more than"]
    longest = cases[-1]
    title = (
        f"{view.named(longest.name)}: 9 nights in 10 take {number(view.differ(longest.name, 'sheets').high)} sheets of "
        f"{number(view.differ(longest.name, 'materials').high)} materials or fewer"
    )
    return table(title, [*columns, "stands ready"], rows, words=[2 * len(cases)], note=(
        "Per night. Tools: tools at clearances that its programs use, whatever the turret held before. To reach the "
        "morning, what stands ready has to cover the nights that are to get there, and the queue released before the "
        "people go has to hold these sheets."))  # fmt: skip


def _used(view: NightStudy, case: Case, column: str) -> tuple[str, str]:
    return plus_minus(view.per_night(case.name, column)), number(view.differ(case.name, column).high)


def _resources(view: NightStudy) -> list[tuple[str, str, str]]:
    """Quantity of a night, its words, and what the set has ready for it."""
    settings = view.plant.settings
    places = sum(settings.magazine.places.values())
    store = settings.store
    shelves = f"{plural(store.shelves, 'shelf').replace('shelfs', 'shelves')}" if store.shelves else "no store"
    packs = f"; {plural(store.packs, 'pack')} of each" if store.packs else "; never runs out in the model"
    twins = sum(tool.copies - 1 for tool in view.plant.tools)
    return [
        ("running_h", "hours worked, h", f"{number(view.allowed_h(view.shown.name))} h allowed"),
        ("sheets", "sheets made: places for output", _output(view)),
        ("programs", "programs", f"night queue: {settings.rules.night_queue.replace('_', ' ')}"),
        ("materials", "materials", shelves + (packs if store.shelves else "")),
        ("tools", "tools at clearances",
         f"{places} magazine places, {plural(len(settings.machine.stations), 'station')}, {plural(twins, 'twin')}"),
        ("parts", "parts", "–"),
    ]  # fmt: skip


def _output(view: NightStudy) -> str:
    settings = view.plant.settings
    found = [f"{plural(settings.bench.places, 'bench place')}"]
    if settings.stack.places:
        found.append(f"a stack of {plural(settings.stack.places, 'sheet')}")
    if settings.removal.pickers:
        skeletons = settings.removal.skeleton_places
        found.append(f"{plural(settings.removal.stack_places, 'stack')} of parts")
        found.append(f"skeletons: {skeletons or UNLIMITED}")
    return ", ".join(found)


MORNING = (
    ("sheets", "sheets made at night"),
    ("hand_h", "bench work on them, h"),
    ("bench_sheets", "sheets on the bench at its end"),
    ("stack_sheets", "sheets on the stack at its end"),
    ("worked_off_h", "hours after its end until worked off, h"),
)


def morning_table(view: NightStudy) -> Block:
    """What a night leaves for the morning, by how sheets and parts leave, as it is and with longer nights."""
    if view.why_not:
        return paragraph(NOTHING)
    sets = [view.shown, *view.rivals]
    freed = {case.of: case for case in view.cases(FREED)}
    cases = [case for own in sets for case in (own, freed.get(own.name)) if case]
    rows = [
        Row(words, tuple(_left(view, case, column) for case in cases)) for column, words in MORNING
    ]  # fmt: skip
    posts = bench_posts(view.study.plant, view.shown.options)
    at_bench = sum(post.h_per_week for post in posts)
    work = view.study.per_week(view.shown.name, "bench_h")
    who = listing(f"{post.person_id} ({post.shift})" for post in posts)
    longest = max(cases, key=lambda case: view.per_night(case.name, "hand_h").mean)
    title = (
        f"The morning pays {plus_minus(view.per_night(view.shown.name, 'hand_h'))} h of bench work as it is, and "
        f"{plus_minus(view.per_night(longest.name, 'hand_h'))} h with {_case_words(view, longest).lower()}"
    )
    return table(title, ["a night leaves", *(_case_words(view, case) for case in cases)], rows, note=(
        "Mean ± 95 %, in brackets what 1 night in 10 exceeds. Worked off: no more lies at bench and stack than before "
        "the night; the machine adds sheets meanwhile, and the morning after a Friday night is Monday's. Who does it: "
        f"{who}, {number(at_bench)} h a week, of which all bench work of the set takes {plus_minus(work)} h. Part "
        "removal leaves the sorting and the parts that it cannot take; the stack leaves every sheet whole. "
        f"{view.study.package_note}"))  # fmt: skip


def _case_words(view: NightStudy, case: Case) -> str:
    return f"{view.named(case.name)}, as it is" if case.group != FREED else case.name


def _left(view: NightStudy, case: Case, column: str) -> str:
    return f"{plus_minus(view.per_night(case.name, column))} ({number(view.differ(case.name, column).high)})"


def rival_cases(view: NightStudy) -> list[str]:
    """Today, the package, the sets that change hours alone or on the package, and those with nights."""
    study = view.study
    return list(dict.fromkeys([TODAY, study.package, *study.calendar, *view.allowing]))


def rivals_table(view: NightStudy) -> Block:
    """Overtime, Saturday, third shift, subcontracting beside the unattended night: hours, late orders, people."""
    if view.why_not:
        return paragraph(NOTHING)
    study = view.study
    rows = [_rival_row(view, name) for name in rival_cases(view)]
    base = view.shown.name
    limit = study.plant.settings.rules.late_share_limit
    kept = [n for n in rival_cases(view) if study.total(n, "late_share").mean <= limit and not _left_out(view, n)]
    cheapest = min(kept, key=lambda n: _paid(view, n), default=None)
    title = (
        f"{view.named(base)}: {plus_minus(study.per_week(base, UNATTENDED))} unattended hours a week beside "
        f"{number(_paid(view, base))} paid hours of people; today {number(_paid(view, TODAY))}"
    )
    least = "" if cheapest is None else (
        f" Fewest paid hours of those that make the whole book within {percent(limit)} late orders: "
        f"{view.named(cheapest)}."
    )  # fmt: skip
    columns = ["case", "hours needed, h per week", "attended, h per week", "unattended, h per week",
               "people's paid hours a week", "overtime beside them, h", "given out or not made, h per week",
               "late orders, %"]  # fmt: skip
    return table(title, columns, rows, note=(
        "Per week, mean ± 95 %. Paid hours: posts of an ordinary week without breaks and duties elsewhere; overtime, "
        "standby and calls apart. Overtime is in today's rule already, up to its cap. What each is worth in money "
        f" is the question of the study of payback.{least} {study.package_note}"))  # fmt: skip


def _paid(view: NightStudy, name: str) -> float:
    """Paid hours of posts a week, without overtime, h."""
    return paid_h_per_week(view.study.plant, view.study.run.scenarios[name])


def _left_out(view: NightStudy, name: str) -> bool:
    return sum(view.study.per_week(name, measure).mean for measure in LEFT) > 0


def _rival_row(view: NightStudy, name: str) -> Row:
    study = view.study
    unattended = plus_minus(study.per_week(name, UNATTENDED)) if name in view.allowing else "–"
    cells = (
        plus_minus(study.per_week(name, NEEDED)),
        number(study.per_week(name, "attended_h").mean),
        unattended,
        number(_paid(view, name)),
        number(study.per_week(name, "overtime_h").mean),
        number(sum(study.per_week(name, measure).mean for measure in LEFT)),
        percent_plus_minus(study.total(name, "late_share")),
    )
    return Row(view.named(name), cells, "total" if name == view.shown.name else "")


def weekly_hours(view: NightStudy) -> Block:
    """In a sentence: what all nights of a week give beside the attended hours."""
    if view.why_not:
        return paragraph(NOTHING)
    name, study = view.shown.name, view.study
    share = scaled(study.per_week(name, UNATTENDED), 1 / study.per_week(name, "attended_h").mean)
    return paragraph(
        f"All nights of a week together give {plus_minus(study.per_week(name, UNATTENDED))} h of machine work, "
        f"{percent(share.mean)} of the {number(study.per_week(name, 'attended_h').mean)} h attended."
    )
