"""Sections that compare options: low-capital first, then what is bought, against today and against the package."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from simkit.base.vocabulary import NIGHT_LIMITS
from simkit.experiment.compare import interaction
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import CANNOT_TELL, NEVER_DIFFERS, Estimate
from simkit.plant.options import Edit, Option
from simkit.report import cautions
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import difference_bars, night_ends, night_hours, time_in_state
from simkit.report.figures.bars import Difference
from simkit.report.figures.ribbon import TASK_LABELS
from simkit.report.sections.today import PER_WEEK, hours_needed, people_hours
from simkit.report.study import LEFT, Study
from simkit.report.studydata import TODAY
from simkit.report.words import listing, number, percent, percent_plus_minus, plural, plus_minus

LABOUR_TASKS = ("changeover", "preparation", "material", "load", "unload", "bench", "pallet", "clear", "programming")
KINDS = {"low_capital": "low-capital", "calendar": "calendar", "bought": "bought"}


LINES_BESIDE = 4
"""Lines in the demand figure beside today and the package."""

MOST_SETS = 2
"""Sets of several bought options that the figures show, those with the fewest hours; the table lists all."""


def main_cases(study: Study) -> list[str]:
    """Today, the package, each single bought option on top of it (alone without a package), and the best sets."""
    on_top = [n for n in study.bought if study.holds_package(n)] or list(study.bought)
    extra = {n: len(set(study.run.scenarios[n]) - study.package_options) for n in on_top}
    sets = sorted((n for n in on_top if extra[n] > 1), key=lambda n: study.total(n, NEEDED).mean)
    return list(dict.fromkeys([TODAY, study.package, *(n for n in on_top if extra[n] == 1), *sets[:MOST_SETS]]))


def bought_cases(study: Study) -> list[str]:
    """Bought sets in the order of the run card, each followed by the same set with the package."""
    cases: list[str] = []
    for name in study.bought:
        if not study.holds_package(name):
            cases += [name, study.with_package(name) or name]
    return list(dict.fromkeys([*cases, *study.bought]))


def options_against_today(study: Study) -> Exhibit:
    """Bars of the difference in hours needed against today: low-capital cases first, then single options."""
    singles = [n for n in (*study.calendar, *study.bought) if len(study.run.scenarios[n]) == 1]
    return _difference_figure(study, TODAY, [*study.low_capital, *singles])


def options_against_package(study: Study) -> Exhibit:
    """Bars of the difference in hours needed against the best low-capital package, for what comes on top of it."""
    on_top = [n for n in (*study.calendar, *study.bought) if study.holds_package(n)]
    return _difference_figure(study, study.package, on_top or [*study.calendar, *study.bought])


def _difference_figure(study: Study, base: str, scenarios: Sequence[str]) -> Exhibit:
    gaps = study.gaps(base)
    marked = study.leaves_more if base == study.package else frozenset()
    bars = [Difference(study.named(n), gaps[n], n in marked) for n in scenarios if n != base]
    dagger = _dagger(study, scenarios) if marked else ""
    name = "today" if base == TODAY else "the package"
    return difference_bars(
        bars, quantity="hours needed", unit="h", against=name, calibrated=study.calibrated,
        note=f"Grey: {CANNOT_TELL}, or the same in every replication. {dagger}{study.package_note}",
    )  # fmt: skip


def option_table(study: Study) -> Block:
    """Every bought set with and without the package: level, differences from both references, lateness."""
    cases = bought_cases(study)
    gaps = {base: study.gaps(base) for base in (TODAY, study.package)}
    rows = [Row("Low-capital", (), "group")]
    rows += [_option_row(study, n, gaps) for n in study.low_capital]
    if study.calendar:
        rows.append(Row("Working hours and bought hours: the rivals of any machine", (), "group"))
        rows += [_option_row(study, n, gaps) for n in study.calendar]
    rows.append(Row("Bought, without and with the package", (), "group"))
    rows += [_option_row(study, n, gaps) for n in cases]
    columns = ["case", "hours needed, h", "against today, h", "against the package, h", "given out or not made, h",
               "late orders, %",
               f"quoted capital, {study.currency}"]  # fmt: skip
    apart = {n: e for n, e in gaps[study.package].items() if e.verdict != CANNOT_TELL}
    losing = [n for n in cases if n in apart and apart[n].mean >= 0]
    title = f"{plural(len(cases), 'bought set')}: {len(losing)} need as many hours as the low-capital package or more"
    return table(title, columns, rows, note=(
        f"Mean ± 95 % interval over {number(study.run.weeks, 0)} weeks of orders. Differences are paired, and the "
        f"intervals of a column hold together. Grey: {CANNOT_TELL}, or no difference in any replication. "
        f"{_dagger(study, cases)}{study.package_note}"))  # fmt: skip


def _dagger(study: Study, cases: Sequence[str]) -> str:
    """The note on cases whose hours are fewer because work leaves the cell; empty if there are none."""
    return "†: gives out or refuses more work than the package. " if study.leaves_more & set(cases) else ""


def _option_row(study: Study, name: str, gaps: dict[str, dict[str, Estimate]]) -> Row:
    level, late = study.total(name, NEEDED), study.total(name, "late_share")
    from_today, from_package = gaps[TODAY].get(name), gaps[study.package].get(name)
    cells = (
        plus_minus(level),
        _gap_text(from_today),
        _gap_text(from_package) + (" †" if name in study.leaves_more else ""),
        number(sum(study.total(name, measure).mean for measure in LEFT)),
        percent_plus_minus(late),
        number(study.capital(name), 0),
    )
    grey = from_today is not None and not from_today.tells
    return Row(study.named(name), cells, "total" if name == study.package else "grey" if grey else "")


def _gap_text(gap: Estimate | None) -> str:
    if gap is None:
        return "–"
    return "0 in every run" if gap.verdict == NEVER_DIFFERS else plus_minus(gap, difference=True)


def where_the_time_goes(study: Study) -> Exhibit:
    """Bars of hours by machine state for the main cases; all have the same length."""
    return time_in_state(
        study.state_hours(main_cases(study)).rename(index=study.named), PER_WEEK, calibrated=study.calibrated
    )


def frontier(study: Study) -> Exhibit:
    """Hours needed against demand for today, the package, and the main cases with the fewest hours."""
    others = [name for name in main_cases(study) if name not in (TODAY, study.package)]
    fewest = sorted(others, key=lambda name: study.total(name, NEEDED).mean)[:LINES_BESIDE]
    return hours_needed(study, [TODAY, study.package, *fewest])


def interactions(study: Study) -> Block:
    """What pairs of options do together beyond the sum of both."""
    gaps = {base: study.gaps(base) for base in (TODAY, study.package)}
    rows = [_interaction_row(study, *pair, gaps) for pair in _pairs(study)]
    if not rows:
        return paragraph(
            "No two options were simulated alone and together, so nothing can be said on how they combine."
        )
    title = f"{plural(len(rows), 'pair')} of options: do their hours add up?"
    columns = ["pair", "first alone, h", "second alone, h", "both, h", "beyond the sum, h"]
    return table(title, columns, rows, note=(
        f"Differences in hours needed, mean ± 95 %, each one of {study.family} that hold together. Beyond the sum "
        "above zero: both save partly the same hours; below zero: each makes the other worth more. Grey: not enough "
        "replications to tell, or they add up."))  # fmt: skip


def _interaction_row(
    study: Study, first: str, second: str, both: str, base: str, gaps: dict[str, dict[str, Estimate]]
) -> Row:
    alone = (gaps[base][name] for name in (first, second, both))
    estimate = interaction(study.results, both, first, second, base, NEEDED, study.demand_factor, family=study.family)
    on = "" if base == TODAY else ", on the package"
    names = f"{_added(study, first, base)} and {_added(study, second, base)}{on}"
    return Row(names, (*(_gap_text(gap) for gap in alone), _gap_text(estimate)), "" if estimate.tells else "grey")


def _added(study: Study, scenario: str, base: str) -> str:
    """Options that a scenario adds to a base, the package by its word."""
    if base == TODAY:
        return study.named(scenario)
    return "+".join(o for o in study.run.scenarios[scenario] if o not in study.run.scenarios[base])


def _pairs(study: Study) -> list[tuple[str, str, str, str]]:
    """Scenarios (first, second, both, base): single options, or the package and an option; one at least is bought."""
    held = {n: frozenset(study.run.scenarios[n]) for n in study.scenarios}
    found = []
    for base in dict.fromkeys([TODAY, study.package]):
        own = [n for n in study.scenarios if held[n] > held[base]
               and (len(held[n] - held[base]) == 1 or (base == TODAY and n == study.package))]  # fmt: skip
        for i, first in enumerate(own):
            for second in own[i + 1 :]:
                apart = (held[first] - held[base]).isdisjoint(held[second] - held[base])
                both = study.run.named(held[first] | held[second])
                if apart and both in held and {first, second} & set(study.bought):
                    found.append((first, second, both, base))
    return found


def nights(study: Study) -> tuple[Exhibit | Block, ...]:
    """What ended the nights, and how long they ran; only with the assessment entered."""
    night = study.plant.settings.calendar.night
    run = [n for n in study.scenarios if study.has(n, "nights") and study.total(n, "nights").mean > 0]
    if not run:
        return (paragraph("No simulated case runs unattended."),)
    names = [n for n in run if night.assessed_by or any(assesses(o) for o in study.options_of(n))]
    if not names:
        text = (
            "Night results are not printed: plant.toml does not say who assessed unattended running and when "
            "(calendar.night.assessed_by, assessed_on)."
        )
        return (paragraph(text, "mark"),)
    best = max(names, key=lambda n: study.total(n, "night_running_h").mean)
    return (
        paragraph(_assessment(study, names), "mark"),
        _night_table(study, names),
        night_ends(_ends(study, best), name=study.named(best)),
        _night_figure(study, best),
    )


def _assessment(study: Study, names: Sequence[str]) -> str:
    """Who assessed unattended running, and when, as the plant or the options have it."""
    night = study.plant.settings.calendar.night
    entries: dict[str, list[str]] = {}
    if night.assessed_by:
        entries[f"{night.assessed_by}, on {night.assessed_on}"] = ["today"]
    held = dict.fromkeys(i for name in names for i in study.run.scenarios[name])
    for option in (o for o in map(study.plant.option_by_id.__getitem__, held) if assesses(o)):
        said = {edit.path.rsplit(".", 1)[-1]: edit.value for edit in option.edits}
        entries.setdefault(f"{said['assessed_by']}, on {said.get('assessed_on', 'no date')}", []).append(option.id)
    listed = "; ".join(f"{who} ({listing(ids)})" for who, ids in entries.items())
    return f"Unattended running assessed by: {listed}."


def assesses(option: Option) -> bool:
    """Whether an option enters who assessed unattended running."""
    return any(edit.path.endswith("night.assessed_by") and edit.value for edit in option.edits)


def _ends(study: Study, name: str) -> pd.DataFrame:
    rows = [
        (limit, study.total(name, f"night_ended_{limit}").mean, study.total(name, f"night_lost_{limit}_h").mean)
        for limit in NIGHT_LIMITS
    ]
    return pd.DataFrame(rows, columns=["limit", "nights", "lost_h"])


def _night_figure(study: Study, name: str) -> Exhibit:
    running = study.results.raw(name, "night_running_h", study.demand_factor)
    count = study.results.raw(name, "nights", study.demand_factor)
    allowed = study.total(name, "night_allowed_h").mean / study.total(name, "nights").mean
    per_night = running[count > 0] / count[count > 0]
    return night_hours(list(per_night), allowed_h=allowed, name=study.named(name), what="an average night of a run")


def _night_table(study: Study, names: Sequence[str]) -> Block:
    columns = ["case", "nights", "allowed, h", "ran, h", "share run, %", "blocked by the bench, h per week"]
    rows = [_night_row(study, name) for name in names]
    title = f"{plural(len(names), 'case')} with unattended nights: hours allowed and hours that really ran"
    note = (
        "Over the whole book, mean ± 95 %. A night ends at the first event that needs a person; the hours after it "
        "are lost, and nothing is made up later."
    )
    return table(title, columns, rows, note=note)


def _night_row(study: Study, name: str) -> Row:
    allowed, ran = study.total(name, "night_allowed_h"), study.total(name, "night_running_h")
    share = ran.mean / allowed.mean if allowed.mean else 0.0
    cells = (plus_minus(study.total(name, "nights")), plus_minus(allowed), plus_minus(ran), number(100 * share, 0),
             plus_minus(study.per_week(name, "state_blocked_h")))  # fmt: skip
    return Row(study.named(name), cells)


def labour_that_stays(study: Study) -> tuple[Exhibit, Block]:
    """People's hours by task for the main cases: what an option leaves to people."""
    cases = main_cases(study)
    tasks = [t for t in LABOUR_TASKS if study.has(TODAY, f"person_{t}_h")]
    rows = [_labour_row(study, name, tasks) for name in cases]
    columns = ["case", *(TASK_LABELS[t] for t in tasks), "all tasks ± 95 %"]
    least = min(cases, key=lambda n: study.per_week(n, "person_busy_h").mean)
    title = (
        f"People still work {number(study.per_week(least, 'person_busy_h').mean)} h a week in the case with the least "
        f"labour ({study.named(least)})"
    )
    return people_hours(study, cases), table(title, columns, rows, note="Hours per week, means.")


def _labour_row(study: Study, name: str, tasks: Sequence[str]) -> Row:
    hours = (number(study.per_week(name, f"person_{task}_h").mean) for task in tasks)
    return Row(study.named(name), (*hours, plus_minus(study.per_week(name, "person_busy_h"))))


def eligible_parts(study: Study) -> Block:
    """Which share of parts and sheets a removal device can take."""
    names = [n for n in study.scenarios if study.has(n, "eligible_parts_share")
             and study.total(n, "eligible_parts_share").mean > 0]  # fmt: skip
    if not names:
        return paragraph("No simulated case removes parts automatically, so no part was tested for it.")
    rows = [
        Row(study.named(n), (number(100 * study.total(n, "eligible_parts_share").mean, 0),
                             number(100 * study.total(n, "eligible_sheets_share").mean, 0),
                             plus_minus(study.per_week(n, "bench_h")))) for n in names
    ]  # fmt: skip
    share = study.total(names[0], "eligible_parts_share").mean
    title = f"{percent(share)} of parts can be taken out automatically; the others stay for the bench or the chute"
    return table(
        title, ["case", "eligible parts, %", "sheets with all parts eligible, %", "bench work left, h per week"], rows
    )


def losers(study: Study) -> Block:
    """Cases that do not need fewer hours than today, and bought sets that do not beat the package, shown losing."""
    groups: list[tuple[str, dict[str, Estimate]]] = []
    for base, names in ((TODAY, study.scenarios), (study.package, study.bought)):
        gaps = {n: e for n, e in study.gaps(base).items() if n in names}
        word = "today" if base == TODAY else "the package"
        groups.append((f"As many hours as {word}, or more", {n: e for n, e in gaps.items() if _loses(e)}))
        unclear = {n: e for n, e in gaps.items() if not _loses(e) and not e.tells}
        groups.append((f"Against {word}: {CANNOT_TELL}", unclear))
    rows: list[Row] = []
    for head, found in groups:
        if found:
            rows.append(Row(head, (), "group"))
            rows += [Row(study.named(n), (study.described(n), _gap_text(e))) for n, e in found.items()]
    if not rows:
        return paragraph(
            "Every simulated case needs fewer hours than today, and every bought set fewer than the package, beyond "
            "its interval. Look twice before believing it."
        )
    lost, over = len(groups[0][1]), len(groups[2][1])
    title = (
        f"{plural(lost, 'case')} need as many hours as today or more; {plural(over, 'bought set')} as many as the "
        "low-capital package or more"
    )
    return table(title, ["case", "what", "difference in hours needed, h"], rows, words=[0])


def _loses(gap: Estimate) -> bool:
    """Whether a case surely needs more hours, or exactly as many in every run."""
    return gap.verdict == NEVER_DIFFERS or (gap.tells and gap.mean > 0)


def option_cards(study: Study) -> tuple[Block, ...]:
    """What each option changes, what it needs, costs and leaves, and the standing line."""
    used = {option for options in study.run.scenarios.values() for option in options}
    shown = [o for o in study.plant.options if o.id in used]
    return tuple(_option_card(study, option) for option in shown)


def _option_card(study: Study, option: Option) -> Block:
    capital = option.capital
    needs = listing(n if isinstance(n, str) else " or ".join(n) for n in option.needs)
    span = f"{number(capital.low, 0)} to {number(capital.high, 0)}"
    yearly = f"{number(option.yearly_cost, 0)} {study.currency}, {option.yearly_labour_h:g} h of named people"
    facts: list[tuple[str, list[str]]] = [
        ("Capital", [f"{number(capital.quoted, 0)} {study.currency} quoted ({span})"]),
        (
            "Capital lines",
            [f"{line.line}: {number(line.quoted, 0)}" for line in option.capital_lines] or ["none entered"],
        ),
        ("Each year", [yearly]),
        ("Lead time, installation", [f"{option.lead_weeks:g} weeks, {option.stop_days:g} working days standing"]),
        ("Owner; share of the gain kept", [f"{option.owner or 'not named'}; {option.persistence.quoted:g}"]),
        ("Needs; excludes", [f"{needs}; {listing(option.excludes)}"]),
        ("Changes in the model", [edit_words(edit) for edit in option.edits] or ["none"]),
        ("What stays", [option.note or "not entered"]),
        ("Price from, valid until", [f"{option.price_source or 'not entered'}, {option.valid_until or 'no date'}"]),
    ]
    content = {
        "id": option.id, "name": option.name, "kind": KINDS[option.kind], "facts": facts,
        "caution": cautions.STANDING,
    }  # fmt: skip
    return Block("option", content, f"{option.id} {option.name}")


EDIT_WORDS = {
    "set": "{path} = {value}",
    "multiply": "{path} × {value}",
    "add": "{path} + {value}",
    "add_row": "new row in {path}: {value}",
    "remove_row": "without {path}",
}


def edit_words(edit: Edit) -> str:
    """What an edit changes, in words."""
    return EDIT_WORDS[edit.op].format(path=edit.path, value=value_words(edit.value))


def value_words(value: object) -> str:
    """A value of an edit as text: lists spaced, rows as column and value."""
    if isinstance(value, dict):
        return ", ".join(f"{name} {value_words(item)}" for name, item in value.items())
    if isinstance(value, list | tuple):
        return " ".join(value_words(item) for item in value) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)
