"""From an amount of money back to hours, runs, states of the machine, inputs and events; and who gave each price."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

import numpy as np

from simkit.base.vocabulary import STATES
from simkit.experiment.glossary import NEEDED
from simkit.finance.evaluate import MoneyResult
from simkit.finance.figures import lost
from simkit.finance.lines import CAPACITY, COST, COST_AVOIDED, HEADLINE_CLASSES, LINES, CashRow
from simkit.finance.timeline import demand_path, present_value
from simkit.plant.options import Edit, Option, capital_of
from simkit.plant.paths import values_at
from simkit.plant.plant import Plant
from simkit.plant.tables import TABLES
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.steps import Step, money_steps
from simkit.report.moneystudy import MoneyStudy
from simkit.report.palette import STATE_LABELS
from simkit.report.sections.money import LOST_WORDS
from simkit.report.sections.options import edit_words, value_words
from simkit.report.studydata import TODAY
from simkit.report.words import money, number, percent, plural, plus_minus, shortened, signed

MEASURE_OF = {
    "overtime": "overtime_h",
    "overrun": "person_overrun_h",
    "subcontract": "subcontract_h",
    "sales": "unmet_h",
    "energy": "energy_kwh",
    "gas": "gas_m3",
    "regrinds": "tools_reground",
    "parts_scrapped": "parts_scrapped",
}
"""The simulated measure behind a line of the cash-flow table, where there is one alone."""

SMALLEST_SHARE = 0.02
"""Lines of less than this share of the largest are drawn together."""

VALUES_SHOWN = 3


def drawn_case(cash: MoneyStudy, scenario: str = "") -> MoneyResult | None:
    """The scenario that a page follows: the named one, else the bought set of the highest value, else the package."""
    return cash.results[scenario] if scenario else (cash.best_bought or cash.package)


def value_steps(cash: MoneyStudy, scenario: str = "") -> Exhibit | Block:
    """Present value by line, from nothing to the headline, then with avoided cost and with signed sales."""
    result = drawn_case(cash, scenario)
    if result is None:
        return paragraph("There is no scenario with cash to draw.")
    finance = cash.cashflow.finance
    taken = {kind: present_value(finance, lost(cash.cashflow, result.scenario, kind)[:, 0]) for kind in LOST_WORDS}
    steps = _lines(cash, result.scenario, HEADLINE_CLASSES)
    steps += [Step(LOST_WORDS[kind], value) for kind, value in taken.items() if value]
    steps.append(Step("Headline", result.npv, total=True))
    for kind, head, total in (
        (COST_AVOIDED, "With avoided cost", result.npv_with_avoided),
        (CAPACITY, "With signed sales", result.npv_with_signed_sales),
    ):
        more = _lines(cash, result.scenario, (kind,))
        more += [Step(f"{LOST_WORDS[kind]}, counted above", -taken[kind])] if taken[kind] else []
        steps += [*more, Step(head, total, total=True)] if more else []
    title = (
        f"{cash.study.named(result.scenario)}: from benefits and costs to a net present value of "
        f"{money(result.npv, result.currency)}"
    )
    label = f"present value at {percent(result.rate, 1)}, {result.currency}, prices as quoted"
    return money_steps(steps, title=title, currency=result.currency, axis_label=label)


def _lines(cash: MoneyStudy, scenario: str, classes: Sequence[str]) -> list[Step]:
    """Present value of each line, gains first, the largest first; small ones of a sign together."""
    finance, found = cash.cashflow.finance, []
    for name, line in LINES.items():
        flows = cash.cashflow.flows(scenario, classes, lines=(name,))
        found.append(Step(line.title, present_value(finance, flows)))
    found = [step for step in found if step.amount]
    least = SMALLEST_SHARE * max((abs(step.amount) for step in found), default=0.0)
    small = [step for step in found if abs(step.amount) < least]
    if len(small) > 1:
        rest = sum(step.amount for step in small)
        found = [*(s for s in found if s not in small), Step(f"{plural(len(small), 'small line')} together", rest)]
    return sorted(found, key=lambda step: (step.amount < 0, -abs(step.amount)))


def why_this_number(cash: MoneyStudy, scenario: str = "") -> tuple[Block, ...]:
    """Follow the largest simulated benefit of a scenario back to runs, states, inputs and events."""
    result = drawn_case(cash, scenario)
    row = largest_benefit(cash, result.scenario) if result else None
    if result is None or row is None:
        return (paragraph("No amount of this case comes from a simulated measure that could be followed back."),)
    name = cash.study.named(row.scenario)
    head = (
        f"{LINES[row.line].title} of {name} in year {row.year}: {money(row.amount, result.currency)}. "
        f"It is {shortened(row.basis)}. The steps below follow it back to what happened in the cell. Any other amount "
        "goes the same way: its basis is in the table above, its measure in results.csv, its inputs in the plant's "
        "folder."
    )
    return (paragraph(head), _runs(cash, row), _states(cash, row), _inputs(cash, row), _events(cash, row))


def largest_benefit(cash: MoneyStudy, scenario: str) -> CashRow | None:
    """The largest amount of a scenario that one simulated measure stands behind: of the headline if there is one."""
    rows = [
        row for row in cash.cashflow.rows_of(scenario)
        if row.line in MEASURE_OF and row.benefit_class != COST and row.amount
        and cash.study.has(scenario, MEASURE_OF[row.line])
    ]  # fmt: skip
    return max(rows, key=lambda row: (row.benefit_class in HEADLINE_CLASSES, row.amount), default=None)


def _level(cash: MoneyStudy, row: CashRow) -> float:
    """The simulated demand level nearest to the demand of the row's year."""
    wanted = demand_path(cash.cashflow.finance)[row.year - 1].factor
    levels = [f for f in cash.study.results.demand_factors if cash.study.results.has(row.scenario, NEEDED, f)]
    return min(levels, key=lambda level: (abs(level - wanted), level))


def _runs(cash: MoneyStudy, row: CashRow) -> Block:
    study, measure, level = cash.study, MEASURE_OF[row.line], _level(cash, row)
    before, after = (study.weekly.values(name, measure, level) for name in (TODAY, row.scenario))
    unit = study.results.units[measure]
    rows = [
        Row(str(number_), (number(a), number(b), signed(b - a)))
        for number_, (a, b) in enumerate(zip(before, after, strict=True))
    ]
    gap = study.weekly.paired(row.scenario, TODAY, measure, level)
    rows.append(Row("mean", (number(float(np.mean(before))), number(float(np.mean(after))),
                             plus_minus(gap, difference=True)), "total"))  # fmt: skip
    runs, changed = plural(len(before), "run"), plus_minus(gap, difference=True)
    title = f"From the amount to {runs}: {measure} per week, {changed} {unit}"
    note = (
        f"Demand {level:g}, the simulated level nearest to year {row.year}; the table of cash reads the means, linear "
        "between levels. Both columns of a run meet the same orders and the same luck. 95 % interval of the mean."
    )
    return table(title, ["replication", f"today, {unit}", f"with it, {unit}", "difference"], rows, note=note)


def _states(cash: MoneyStudy, row: CashRow) -> Block:
    study, level = cash.study, _level(cash, row)
    rows = []
    for state in STATES:
        measure = f"state_{state}_h"
        before, after = (study.weekly.estimate(name, measure, level).mean for name in (TODAY, row.scenario))
        gap = study.weekly.paired(row.scenario, TODAY, measure, level)
        if before or after:
            cells = (number(before), number(after), plus_minus(gap, difference=True))
            rows.append((abs(gap.mean), Row(STATE_LABELS[state], cells, "" if gap.tells else "grey")))
    ranked = [found for _, found in sorted(rows, key=lambda pair: -pair[0])]
    title = f"From hours to the machine: {ranked[0].head} changes most, {ranked[0].cells[2]} h per week"
    note = "The states of a machine add up to the calendar, so the differences sum to zero. Grey: not told from zero."
    return table(title, ["state of the machine", "today, h/week", "with it, h/week", "difference"], ranked, note=note)


def _inputs(cash: MoneyStudy, row: CashRow) -> Block:
    plant = cash.study.plant
    options = cash.study.options_of(row.scenario)
    rows = [found for option in options for found in _edits(plant, option)]
    title = f"From the machine to {plural(len(rows), 'input')} that {plural(len(options), 'option')} change"
    note = "Values of today's plant folder; the options' own are in options.toml. Change either and run again to see."
    return table(title, ["option", "input", "today", "change"], rows, note=note, words=True)


def _edits(plant: Plant, option: Option) -> Iterator[Row]:
    content = plant.settings.model_dump(mode="json")
    rows = {name: getattr(plant, name) for name in TABLES}
    for edit in option.edits:
        now = values_at(edit.path, content, rows) if edit.op in ("set", "multiply", "add") else []
        yield Row(f"{option.id} {option.name}", (edit.path, _now(edit, now), edit_words(edit)))


def _now(edit: Edit, values: Sequence[object]) -> str:
    different = list(dict.fromkeys(value_words(value) for value in values))
    if not different:
        return "–"
    more = f" and {len(different) - VALUES_SHOWN} other values" if len(different) > VALUES_SHOWN else ""
    return ", ".join(different[:VALUES_SHOWN]) + more


def _events(cash: MoneyStudy, row: CashRow) -> Block:
    run = cash.study.run
    options = "+".join(run.scenarios[row.scenario])
    command = (
        f"simkit run PLANT --options {options} --seed {run.seed} --weeks {run.weeks:g} --replications 1 "
        f"--set plant.run.demand_factor={_level(cash, row):g} --events events.csv"
    )
    return paragraph(
        f"From the runs to events: `{command}` writes every stretch of replication 0, of today and of this case: "
        "machine, people and calendar, with state, start, end, order, program and sheet. The hours of a state in it "
        "are those of replication 0 in results.csv."
    )


def who_gave_the_price(cash: MoneyStudy) -> Block:
    """Each option's price with its source and the date until which it holds, beside the date of the study."""
    plant, currency = cash.study.plant, cash.study.currency
    as_of = plant.settings.as_of
    priced = [option for option in plant.options if option.capital.high or option.yearly_cost or option.capital_lines]
    rows = [_price_row(option, as_of) for option in priced]
    open_ = sum(row.look == "lost" for row in rows)
    priced_options = plural(len(rows), "priced option")
    title = f"Who gave the price, and until when: {open_} of {priced_options} lack a source or a valid date"
    columns = ["option", f"capital with its lines, {currency}", "source", "valid until", f"on {as_of}", "owner"]
    return table(title, columns, rows, words=[1, 2, 3, 4], note="A price without a source or past its date is a guess.")


def _price_row(option: Option, as_of: dt.date) -> Row:
    state = price_state(option, as_of)
    low, high = number(option.capital.low, 0), number(option.capital.high, 0)
    span = f"{number(capital_of([option]), 0)} ({low} to {high} without lines)"
    cells = (
        span,
        option.price_source or "not entered",
        option.valid_until or "not entered",
        state,
        option.owner or "–",
    )
    return Row(f"{option.id} {option.name}", cells, "" if state == "valid" else "lost")


def price_state(option: Option, as_of: dt.date) -> str:
    """Whether a price holds on a date: valid, expired, or not dated."""
    try:
        until = dt.date.fromisoformat(option.valid_until)
    except ValueError:
        return "not dated"
    if not option.price_source:
        return "no source"
    return "valid" if until >= as_of else "expired"
