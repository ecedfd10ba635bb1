"""Sections about what risk rests on: the register of uncertain inputs, what moves together, and optimism."""

from __future__ import annotations

from simkit.finance.riskinputs import RiskInput
from simkit.finance.riskoptimism import EQUIPMENT, SOURCE, past_ratios
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.figures.risk import short
from simkit.report.riskstudy import RiskStudy
from simkit.report.sections.risk import NOTHING
from simkit.report.words import number, percent, plural

NOT_MOVED = "–"


def input_register(risk: RiskStudy) -> Block:
    """Every uncertain input: low, typical, high, basis, owner and source, with its swing."""
    if not risk.names:
        return paragraph(NOTHING)
    swing = {one.input.name: one.size for one in risk.swings}
    inputs = sorted(risk.model.inputs, key=lambda one: -swing.get(one.name, 0.0))
    rows = [_register_row(one, swing.get(one.name)) for one in inputs]
    defaults = sum(one.basis == "default" for one in inputs)
    title = f"{plural(len(rows), 'uncertain input')}, {defaults or 'none'} of them with a default range"
    currency = risk.cash.study.currency
    columns = ["input", "low", "typical", "high", f"swing, {currency}", "basis", "owner", "source"]
    note = (
        f"Law: {risk.risk.law}, from low to high with its peak at the typical value, so a lopsided range moves the "
        f"middle of the samples away from the value as quoted. {_together(risk)} Ranges of capital stand in "
        "options.toml, the others in the section risk of plant.toml; default: common practice, no source."
    )
    listed = table(title, columns, rows, note=note, words=[4, 5, 6])
    summary = f"{title}: the register"
    return Block("folded", {"summary": summary, "parts": [listed]}, summary)


def _register_row(one: RiskInput, swing: float | None) -> Row:
    law = "" if one.law == "triangular" else f" ({one.law})"
    cells = (
        short(one.low), short(one.typical), short(one.high), NOT_MOVED if swing is None else number(swing, 0),
        one.basis + law, one.owner or "not named", one.source or "not named",
    )  # fmt: skip
    return Row(f"{one.title}, {one.unit}", cells, "grey" if one.basis == "default" else "")


def _together(risk: RiskStudy) -> str:
    names = {one.name for one in risk.model.inputs}
    held = [pair for pair in risk.risk.correlations if pair.first in names and pair.second in names]
    if not held:
        return "All inputs are independent."
    pairs = "; ".join(f"{p.first} and {p.second} {p.coefficient:+g}" for p in held)
    return f"Correlated (of normal scores): {pairs}; all others are independent."


def optimism(risk: RiskStudy) -> Block:
    """The cases with published and with the plant's own experience of optimism; named sensitivities, no default."""
    if not risk.names:
        return paragraph(NOTHING)
    past = past_ratios(risk.risk.past_projects)
    lower, upper = 1.0 + EQUIPMENT.capital_lower, 1.0 + EQUIPMENT.capital_upper
    cases = [
        ("as quoted", 1.0, 1.0),
        (f"published, {EQUIPMENT.kind}, lower bound: capital +{percent(lower - 1)}", lower, 1.0),
        (f"published, {EQUIPMENT.kind}, upper bound: capital +{percent(upper - 1)}", upper, 1.0),
    ]
    if past is not None:
        benefit = 1.0 if past.benefit is None else past.benefit
        own = plural(past.projects, "project")
        text = f"the plant's last {own}: capital × {past.capital:.2f}, benefit × {benefit:.2f}"
        cases.append((text, past.capital, benefit))
    study = risk.cash.study
    rows = []
    for text, capital, benefit in cases:
        values = risk.with_uplifts(capital, benefit)
        rows.append(Row(text, tuple(number(values[n], 0) for n in risk.names)))
    columns = ["sensitivity", *(f"{study.named(n)}, {study.currency}" for n in risk.names)]
    title = f"Optimism as a sensitivity: {plural(len(rows), 'line')}, none of them a default"
    weeks = "" if past is None or past.weeks is None else f" Past projects took {past.weeks:.2f} times their weeks."
    hint = "" if past else " The plant has given no past projects (risk.past_projects), the better guide."
    note = (
        f"Published uplifts: {SOURCE}. Its upper bound is for development; a catalogue machine lies near the lower one."
        f"{weeks}{hint} Net present value; capital and benefit scaled, all else typical."
    )
    return table(title, columns, rows, note=note)
