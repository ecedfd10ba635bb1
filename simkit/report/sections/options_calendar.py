"""Sections on calendar options beside machines: each with each bought one, what it adds, whose posts it saves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simkit.analysis.calendar_pairs import CalendarPair
from simkit.analysis.low_capital import Options
from simkit.experiment.intervals import CANNOT_TELL, NEVER_DIFFERS, Estimate
from simkit.report.calendarstudy import OVER, WHOLE, CalendarStudy, calendar_of
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.worths import Worth, worth_panels
from simkit.report.study import LEFT, Study
from simkit.report.words import NO_BREAK, listing, number, plural, plus_minus, signed

NO_PAIRS = "This plant has no bought option and calendar option to combine."
OTHER_DEMAND = "Bought options with calendar options were simulated at another demand level than that of these answers."
GROUPS = {False: "Without the low-capital package", True: "On the low-capital package"}
NOTHING_BOUGHT = "nothing bought"


def calendar_with_bought(study: Study) -> tuple[Block | Exhibit, ...]:
    """The matrix, the picture of what each calendar option is worth with each bought one, and the folded numbers."""
    view = calendar_of(study)
    if not view.simulated:
        return (paragraph(OTHER_DEMAND if study.run.calendar_pairs else NO_PAIRS),)
    first, *others = sorted({pair.on_package for pair in view.pairs}, reverse=True)
    folded = [_folded(_matrix(view, group)) for group in others]
    return (_picture(view), _matrix(view, first), *folded, _folded(_sums(view)), paragraph(_how_to_pay(view)))


def _folded(inner: Block) -> Block:
    return Block("folded", {"summary": f"{inner.text}: the numbers", "parts": [inner]}, inner.text)


def _calendars(view: CalendarStudy) -> list[str]:
    return list(dict.fromkeys(pair.calendar for pair in view.pairs))


def _words(view: CalendarStudy) -> str:
    """Calendar options by id and name."""
    return "; ".join(f"{name} {view.study.plant.option_by_id[name].name}" for name in _calendars(view))


def _matrix(view: CalendarStudy, on_package: bool) -> Block:
    pairs = view.pairs_of(on_package)
    rows = [_row_without(view, pairs)]
    rows += [_matrix_row(view, pairs, name) for name in dict.fromkeys(pair.bought for pair in pairs)]
    names = view.study.plant.option_by_id
    columns = ["needed, h / late, % / over, h", "hours as today",
               *(f"{name} {names[name].name}" for name in _calendars(view))]  # fmt: skip
    return table(_matrix_title(view, pairs), columns, rows, words=True, note=(
        "Means per week: hours needed; share of late orders; over: hours of overtime, of orders given out and of "
        f"orders not made, which the ordinary week does not hold. {_due_rule(view)} †, more out: surely more given "
        "out or not made than by the same set at today's hours, which money charges to it. "
        f"{_added(view)}{view.study.package_note}"))  # fmt: skip


def _due_rule(view: CalendarStudy) -> str:
    """What posts mean for money, and what for a recommendation."""
    rules = view.study.plant.settings.finance.value_rules
    off = "" if "posts" in rules and "hours_only" not in rules else " The rule of posts is off here: money counts none."
    return (
        "Money pays the roster of each set, whatever its due dates. A set can be recommended if it has not surely more "
        "late orders, refused hours or unconfirmed hours given out than today and keeps attendance and skills; money "
        f"asks this at the demand of each year, this table at {view.study.demand_factor:g}.{off}"
    )


def _added(view: CalendarStudy) -> str:
    """Posts that each calendar option adds."""
    found: dict[str, tuple[str, ...]] = {}
    for pair in view.simulated:
        found.setdefault(pair.calendar, view.posts(pair.options).more)
    texts = [f"{name} {listing(more)}" for name, more in found.items() if more]
    return f"Posts added: {'; '.join(texts)}. " if texts else ""


def _matrix_title(view: CalendarStudy, pairs: Sequence[CalendarPair]) -> str:
    sets = {pair.options: pair for pair in pairs if not pair.refused}
    kept = [options for options in sets if view.verdict(options).ok]
    fewer = [options for options in sets if view.posts(options).fewer]
    where = GROUPS[pairs[0].on_package]
    text = f"{where}: {len(kept)} of {plural(len(sets), 'set')} of a bought and a calendar option can be recommended"
    if not fewer:
        return f"{text}; none has fewer posts than today"
    out = [options for options in fewer if view.leaves_more(sets[options])]
    but = f", with more work given out or not made in {len(out)}" if out else ""
    good = len([options for options in fewer if options in kept])
    return f"{text}; {len(fewer)} have fewer posts than today{but}, of which {good or 'none'} can be recommended"


def _row_without(view: CalendarStudy, pairs: Sequence[CalendarPair]) -> Row:
    """Hours as today and each calendar option with nothing bought."""
    plain = {p.calendar: p for p in pairs if view.is_plain(p)}
    package = next((p.under for p in plain.values()), None)
    cells = [_cell(view, package) if package is not None else "–"]
    for name in _calendars(view):
        alone = plain[name].without_bought if name in plain else None
        cells.append(_cell(view, alone) if alone is not None else "–")
    return Row(NOTHING_BOUGHT, tuple(cells))


def _matrix_row(view: CalendarStudy, pairs: Sequence[CalendarPair], bought: str) -> Row:
    own = {pair.calendar: pair for pair in pairs if pair.bought == bought}
    plain = next((pair.without_calendar for pair in own.values() if view.is_plain(pair)), None)
    cells = [_cell(view, plain) if plain is not None else "–"]
    cells += [_pair_cell(view, own[name]) for name in _calendars(view)]
    return Row(bought, tuple(cells))


def _pair_cell(view: CalendarStudy, pair: CalendarPair) -> str:
    if pair.refused:
        return f"– ({pair.refused})"
    text = f"{_with(view.beside(pair))}{_cell(view, pair.options)}"
    if not view.leaves_more(pair):
        return text
    if not view.posts(pair.options).fewer:
        return f"{text}{NO_BREAK}†"
    return f"{text}, {number(view.worth(pair, LEFT).mean, 1)}{NO_BREAK}h more out{NO_BREAK}†"


def _with(beside: Sequence[str]) -> str:
    return f"with {'+'.join(beside)}: " if beside else ""


def _cell(view: CalendarStudy, options: Options) -> str:
    """Hours needed, late share and hours over the ordinary week of a set, and what does not hold."""
    needed, over = view.per_week(options, WHOLE).mean, view.per_week(options, OVER).mean
    late = view.late(options).mean
    texts = [" / ".join([number(needed), number(100 * late, 1), number(over, 1)]).replace(" ", NO_BREAK)]
    posts, verdict = view.posts(options), view.verdict(options)
    if posts.fewer:
        texts.append(f"{plural(len(posts.fewer), 'post')} fewer")
    if not verdict.ok:
        texts.append(verdict.text)
    return "; ".join(texts)


def _picture(view: CalendarStudy) -> Exhibit:
    """What each calendar option changes in hours over the ordinary week, with each bought option."""
    panels = {name: list(_worths(view, name)) for name in _calendars(view)}
    rows = [NOTHING_BOUGHT, *dict.fromkeys(pair.bought for pair in view.pairs)]
    return worth_panels(
        {name: worths for name, worths in panels.items() if worths}, rows, title=_picture_title(view),
        axis_label="change in hours over the ordinary week, h per week",
        groups=[GROUPS[group] for group in sorted({pair.on_package for pair in view.pairs})],
        calibrated=view.study.calibrated,
        note="Over the ordinary week: overtime, given out, not made. Left of zero: the option takes hours off. "
        f"Hollow: {CANNOT_TELL}, or the same in every run. A gap: not legal, or it needs more than is bought there. "
        f"The intervals of a panel hold together. {_words(view)}. {view.study.package_note}",
    )  # fmt: skip


def _worths(view: CalendarStudy, calendar: str) -> Iterator[Worth]:
    for pair in view.simulated:
        if pair.calendar != calendar:
            continue
        place = int(pair.on_package)
        alone = view.worth_without(pair, OVER)
        if alone is not None and view.is_plain(pair) and pair.bought == _first_plain(view, pair):
            yield Worth(NOTHING_BOUGHT, place, alone)
        yield Worth(pair.bought, place, view.worth(pair, OVER))


def _first_plain(view: CalendarStudy, like: CalendarPair) -> str:
    return next(p.bought for p in view.pairs_of(like.on_package) if p.calendar == like.calendar and view.is_plain(p))


def _picture_title(view: CalendarStudy) -> str:
    """The calendar option and the bought one whose effects overlap or help one another most, if any surely do."""
    found = {pair: gap for pair in view.simulated if (gap := view.interaction(pair, OVER)) is not None and gap.tells}
    if not found:
        return (
            f"For none of {plural(len(view.simulated), 'pair')} can it be told that a calendar option is worth more or "
            "less beside a machine"
        )
    pair = max(found, key=lambda p: abs(found[p].mean))
    alone, beside = view.worth_without(pair, OVER), view.worth(pair, OVER)
    where = "on the package" if pair.on_package else "without the package"
    return (
        f"{pair.calendar} {where} changes the hours over the ordinary week by "
        f"{signed(alone.mean) if alone else 0}{NO_BREAK}h a week, beside {pair.bought} by {signed(beside.mean)}"
        f"{NO_BREAK}h: {plus_minus(found[pair], difference=True)}{NO_BREAK}h beyond the sum of both"
    )


def _sums(view: CalendarStudy) -> Block:
    rows: list[Row] = []
    for on_package in sorted({pair.on_package for pair in view.pairs}):
        for calendar in _calendars(view):
            pairs = [p for p in view.simulated if p.calendar == calendar and p.on_package == on_package]
            if pairs:
                rows.append(Row(f"{calendar} – {GROUPS[on_package].lower()}", (), "group"))
                rows += [_sum_row(view, pair) for pair in pairs]
    clear = [p for p in view.simulated if (gap := view.interaction(p, OVER)) is not None and gap.tells]
    title = (
        f"{plural(len(view.simulated), 'pair')} of a bought and a calendar option: in {len(clear)} the hours over the "
        "ordinary week do not add up"
    )
    columns = ["with", "over the week, without it, h", "over the week, with it, h", "beyond the sum, h",
               "hours needed, with it, h", "beyond the sum, h"]  # fmt: skip
    return table(title, columns, rows, note=(
        "What the calendar option of the group changes, h per week, paired, mean ± 95 %; the intervals of a group hold "
        "together. Beyond the sum: both less each alone. Of two that save hours, above zero: both save partly the same "
        "hours; below zero: each makes the other worth more. –: the calendar option needs the bought one. Grey: "
        f"{CANNOT_TELL}, or they add up. Hours given out and not made are standard hours of today's plant. "
        f"{view.study.package_note}"))  # fmt: skip


def _sum_row(view: CalendarStudy, pair: CalendarPair) -> Row:
    beyond = view.interaction(pair, OVER)
    cells = (
        _gap(view.worth_without(pair, OVER)), _gap(view.worth(pair, OVER)), _gap(beyond),
        _gap(view.worth(pair, WHOLE)), _gap(view.interaction(pair, WHOLE)),
    )  # fmt: skip
    beside = view.beside(pair)
    head = f"{pair.bought}, beside {'+'.join(beside)}" if beside else pair.bought
    return Row(head, cells, "" if beyond is not None and beyond.tells else "grey")


def _gap(gap: Estimate | None) -> str:
    if gap is None:
        return "–"
    return "0 in every run" if gap.verdict == NEVER_DIFFERS else plus_minus(gap, difference=True)


def _how_to_pay(view: CalendarStudy) -> str:
    paid = {frozenset(options) for options in view.study.run.scenarios.values()}
    some = next((pair for pair in view.simulated if frozenset(pair.options) not in paid), None)
    priced = [pair for pair in view.simulated if frozenset(pair.options) in paid]
    ready = listing(dict.fromkeys("+".join(pair.options) for pair in priced if not pair.on_package))
    text = (
        f"Money reads the demand of each year, and these pairs were simulated at demand {view.study.demand_factor:g} "
        f"alone; in the study of payback stand {ready}, which are sets of the report."
    )
    if some is None:
        return text
    own = "+".join(name for name in some.options if name not in view.study.package_options)
    return (
        f"{text} To have another one paid, without and with the package, name it: simkit report PLANT --options {own}."
    )
