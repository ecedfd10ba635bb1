"""Sections that say how far to believe the numbers: validation, assumptions, rules in force, data, cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from simkit.base.vocabulary import BASES, PROCESS_STATES
from simkit.experiment.intervals import Estimate
from simkit.plant.section import Section
from simkit.plant.settings import Rules
from simkit.plant.tables import Element, ObservedWeek, Quality, Stop, Upkeep
from simkit.report import cautions
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.words import capitalised, number, percent, plural, plus_minus, signed

Observed = Callable[[ObservedWeek], float]

OBSERVED_MEASURES: tuple[tuple[str, str, Observed, tuple[str, ...], str], ...] = (
    ("attended hours, h", "", lambda w: w.attended_h, ("attended_h",), "–"),
    ("sheets", "", lambda w: w.sheets, ("sheets",), "±5 %"),
    ("orders finished", "", lambda w: w.orders_finished, ("orders_finished",), "–"),
    ("set-up, h", "changeover, first piece, waiting for material", lambda w: w.setup_h,
     ("state_changeover_h", "state_first_piece_h", "state_waiting_material_h"), "±10 %"),
    ("loading and pulling out, h", "", lambda w: w.handling_h, ("state_loading_h", "state_unloading_h"), "–"),
    ("process, h", "", lambda w: w.process_h, tuple(f"state_{s}_h" for s in PROCESS_STATES), "±3 points of attended"),
    ("stopped, h", "", lambda w: w.stopped_h, ("state_stopped_h",), "–"),
    ("tool loads", "", lambda w: w.tool_loads, ("tool_loads",), "–"),
    ("die-only changes", "", lambda w: w.die_changes, ("die_changes",), "–"),
)  # fmt: skip
"""Row, remark, observed value of a week, simulated measures that add up to it, tolerance agreed beforehand."""

FACTS = (
    "In manual high-mix work many machines spend more time being set up than processing sheets; a base model that "
    "shows the reverse needs a reason.",
    "Die changes for clearance can outnumber tool loads once thickness varies.",
    "Which of machine and person limits differs by job; a mean hides it.",
    "A program that needs more tools than the turret holds is run with exchanges in its middle, not refused.",
    "Breaking parts out of skeletons is bench work that somebody does; removal moves sorting to the next operation.",
)


def face_validity(study: Study) -> Block:
    """Observed weeks beside the simulated week, measure by measure."""
    weeks = study.plant.observed
    if not weeks:
        return paragraph("No observed weeks were handed in: the baseline has not been compared with the plant.", "mark")
    rows = [_observed_row(study, weeks, *spec) for spec in OBSERVED_MEASURES]
    note = (
        "Simulated: a projected week of the order book, mean ± 95 % interval; observed: mean and range of the weeks, "
        f"{plural(sum(w.use == 'validate' for w in weeks), 'week')} of them held back for validation. Tolerances are "
        "agreed before modelling. A replay of the same weeks is the sharper check."
    )
    title = f"Does this look like our week? {plural(len(weeks), 'observed week')} beside the simulated week"
    columns = ["per week", "observed: mean", "observed: range", "simulated: mean ± 95 %", "difference", "tolerance"]
    return table(title, columns, rows, note=note, words=[4])


def _observed_row(
    study: Study, weeks: Sequence[ObservedWeek], label: str, remark: str, seen: Observed,
    measures: tuple[str, ...], tolerance: str,
) -> Row:  # fmt: skip
    values = [seen(week) for week in weeks]
    observed = sum(values) / len(values)
    simulated = sum_per_week(study, TODAY, measures)
    gap = f"{signed(100 * (simulated.mean / observed - 1), 0)} %" if observed else "–"
    span = f"{number(min(values))} to {number(max(values))}"
    name = f"{label} ({remark})" if remark else label
    return Row(name, (number(observed), span, plus_minus(simulated), gap, tolerance))


def sum_per_week(study: Study, scenario: str, measures: Iterable[str]) -> Estimate:
    """Mean and interval of a sum of measures per week, added up replication by replication."""
    names = list(measures)
    total = study.weekly_values(scenario, *names)
    return study.known(total, study.results.units[names[0]])


def trade_facts() -> Block:
    """Facts of the trade against which the week is to be judged."""
    return Block("list", {"items": [{"head": "", "text": fact} for fact in FACTS]}, "Facts of the trade")


def basis_shares(study: Study) -> Block:
    """How many of the time elements, stops, upkeep and quality rows rest on which basis."""
    plant = study.plant
    groups: dict[str, Sequence[Element | Stop | Upkeep | Quality]] = {
        "time elements": plant.elements, "stops": plant.stops, "upkeep": plant.upkeep, "quality": plant.quality,
    }  # fmt: skip
    rows = []
    for name, members in groups.items():
        counts = Counter(row.basis for row in members)
        rows.append(Row(name, (*(str(counts[b]) for b in BASES), str(len(members)))))
    defaults = sum(row.basis == "default" for members in groups.values() for row in members)
    everything = sum(len(members) for members in groups.values())
    title = f"{defaults} of {everything} assumptions ({percent(defaults / everything)}) are defaults, not plant data"
    return table(title, ["assumptions", *BASES, "all"], rows)


def register(study: Study) -> Block:
    """The register of assumptions: every time element with its range, basis, observations and source."""
    rows = [_element_row(row) for row in study.plant.elements]
    columns = ["element", "for", "typical", "low to high", "unit", "basis", "source; owner; date"]
    return table(
        f"Register of {plural(len(rows), 'time element')}: what was assumed and who says so", columns, rows,
        words=[0, 3, 4, 5], note="Grey: a default, to be overwritten by plant data.",
    )  # fmt: skip


def _element_row(row: Element) -> Row:
    span = "–" if row.low is None or row.high is None else f"{row.low:g} to {row.high:g}"
    basis = f"{row.basis}, n = {row.n}" if row.n else row.basis
    source = "; ".join([row.source, row.owner or "no owner", row.date.isoformat() if row.date else "no date"])
    cells = (row.applies_to or "all", f"{row.typical:g}", span, row.unit, basis, source)
    return Row(row.element, cells, "grey" if row.basis == "default" else "")


def rule_cards(study: Study) -> Block:
    """The rules in force, as the plant's settings give them."""
    settings = study.plant.settings
    sections: list[tuple[str, Section]] = [
        ("orders, tools and caps", settings.rules), ("overflow", settings.overflow), ("people", settings.people),
        ("unattended running", settings.calendar.night), ("tool magazine", settings.magazine),
        ("part removal", settings.removal),
        ("bench and stack", settings.bench), ("whole-sheet stack", settings.stack), ("run", settings.run),
    ]  # fmt: skip
    rows = []
    for name, section in sections:
        rows.append(Row(name, (), "group"))
        rows += setting_rows(section)
    return table("Rules in force today", ["setting", "value", "meaning"], rows, words=True)


def setting_rows(section: Section) -> list[Row]:
    """A row for each setting of a section: its value in force and its meaning."""
    rows = []
    for name, spec in type(section).model_fields.items():
        value = getattr(section, name)
        text = "none" if value in (None, "", (), {}) else _value_text(value)
        rows.append(Row(name, (text, spec.description or "")))
    return rows


def _value_text(value: object) -> str:
    if isinstance(value, dict):
        return "; ".join(f"{key}: {item}" for key, item in value.items())
    if isinstance(value, tuple):
        return "; ".join(_value_text(item) for item in value)
    if isinstance(value, Section):
        return ", ".join(f"{name} {_value_text(getattr(value, name))}" for name in type(value).model_fields)
    return str(value)


def order_of_rules(study: Study) -> Block:
    """Today's rules for orders, tools and first pieces in one sentence."""
    rules: Rules = study.plant.settings.rules
    return paragraph(
        f"Orders are taken by the rule “{rules.dispatch}”, tools leave the turret by “{rules.eviction}”, a first piece "
        f"is released by “{rules.first_piece}”. A late share of {percent(rules.late_share_limit)} is accepted."
    )


def data_fixes(study: Study) -> Block:
    """What was read, and every note of the checks."""
    counts = {
        name: len(getattr(study.plant, name)) for name in ("orders", "programs", "tools", "materials", "elements")
    }
    read = ", ".join(f"{number(n, 0)} {name}" for name, n in counts.items())
    rows = [
        Row(f.place, (str(f.row or "–"), f"{f.column} {f.value}".strip() or "–", f.why, f.mend)) for f in study.findings
    ]
    if not rows:
        return paragraph(
            f"Read and used: {read}. Reading them left no note; nothing was fixed, "
            "nothing refused. What simkit check says of forces, gas, lifting and money stands there."
        )
    title = f"{plural(len(rows), 'note')} of the checks; read and used: {read}"
    return table(title, ["place", "row", "value", "why", "how to mend"], rows, words=True)


def caution_list() -> Block:
    """The usual cautions, with the standing line first."""
    items = [{"head": "Standing line", "text": cautions.STANDING}]
    items += [{"head": topic, "text": f"{capitalised(text)}."} for topic, text in cautions.TOPICS]
    return Block("list", {"items": items}, cautions.STANDING)


def how_it_was_run(study: Study) -> Block:
    """The run card: seed, replications, span, start, hashes and versions."""
    run = study.run
    rows = [
        Row("seed", (str(run.seed),)),
        Row("replications, with the same luck in every scenario", (str(run.replications),)),
        Row("weeks released", (number(run.weeks, 0),)),
        Row("demand factors", ("; ".join(f"{f:g}" for f in run.demand_factors),)),
        Row(
            "start",
            ("start.csv: the plant's turret and backlog" if study.plant.start else "empty turret and warm-up cut",),
        ),
        Row("warm-up cut, s", (number(study.plant.settings.run.warmup_s, 0),)),
        Row("overrides", ("; ".join(run.overrides) or "none",)),
        *(Row(f"version of {name}", (text,)) for name, text in run.versions.items()),
    ]
    return table(
        f"Run card: {plural(run.replications, 'replication')} from seed {run.seed}",
        ["setting", "value"],
        rows,
        words=True,
    )


def money_caution() -> Block:
    """That the money pages are no tax or investment advice."""
    return paragraph(cautions.MONEY, "caution")
