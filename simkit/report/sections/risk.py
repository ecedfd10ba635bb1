"""Sections about risk: the answer in a sentence, what may come, what moves it, and where the answer turns."""

from __future__ import annotations

import math

from simkit.analysis.flips import GROWTH_REACH, REACH, Flip
from simkit.analysis.responses import PROMISE, STEP
from simkit.analysis.tornado import SobolEffect
from simkit.base.vocabulary import NO_SOURCE
from simkit.finance.risksummary import Percentiles, Summary
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import demand_wage_map, tornado, value_distribution
from simkit.report.figures.risk import short
from simkit.report.riskstudy import WAGE_REACH, Promise, RiskStudy, flip_distance
from simkit.report.sections.answers import needed_hours
from simkit.report.studydata import TODAY
from simkit.report.words import capitalised, listing, number, percent, plural, signed, years

GUESSED = ("default", "estimated")
MOST_SHIFTS = 3
"""Inputs that are named as moving the expected value away from the value as quoted."""
NOTHING = "There is no case with cash whose risk could be shown."


def risk_sentences(risk: RiskStudy) -> list[str]:
    """What the answer box says about risk: payback and value with their range, chance of loss, where it turns."""
    if risk.main is None:
        return []
    found = risk.summaries[risk.main.scenario]
    name, currency = risk.cash.study.named(risk.main.scenario), risk.cash.study.currency
    guesses = sum(one.input.basis in GUESSED for one in risk.swings)
    ranges = f"{guesses} of {plural(len(risk.swings), 'range')} that move it are guesses (default or estimated)"
    return [
        *_hours(risk),
        f"As quoted, {name} is worth {number(risk.main.npv, 0)} {currency}; expected are {number(found.mean, 0)}. "
        f"8 cases in 10 lie between {number(found.npv.p10, 0)} and {number(found.npv.p90, 0)}, with paybacks from "
        f"{years(found.payback.p10)} to {years(found.payback.p90)}; {ranges}.",
        f"The chance of a value below zero is {percent(found.chance_of_loss)}, {risk.condition}.",
        *_turn(risk.nearest_flip),
    ]


def _hours(risk: RiskStudy) -> list[str]:
    """Hours needed today, with the package and with the main case, of the hours attended."""
    study, main = risk.cash.study, risk.main
    named = dict.fromkeys([study.package, main.scenario if main else TODAY])
    others = [name for name in named if name != TODAY]
    if not study.has(TODAY, "attended_h") or not others:
        return []
    words = {study.package: "the low-capital package"}
    brought = listing(
        f"{words.get(name, study.named(name))} brings it to {number(study.total(name, 'hours_needed').mean)} h"
        for name in others
    )
    return [f"{needed_hours(study)} {capitalised(brought)}."]


def _turn(flip: Flip | None) -> list[str]:
    if flip is None or flip.value is None:
        return ["No single input turns the result within its reach."]
    one = flip.input
    return [f"The result turns if the {one.title} passes {short(flip.value)} ({one.unit}; {_typical(flip)})."]


def _typical(flip: Flip) -> str:
    change = "" if flip.change is None else f", {signed(100 * flip.change, 0)} %"
    return f"typical {short(flip.input.typical)}{change}"


def chances(risk: RiskStudy) -> Block:
    """Value as quoted and expected, percentiles with the error of the simulation, and the chance of loss."""
    if not risk.names:
        return paragraph(NOTHING)
    limit, currency = risk.risk.payback_limit_years, risk.cash.study.currency
    columns = [
        "case", f"as quoted, {currency}", f"expected, {currency}", f"P10, {currency}", f"P50, {currency}",
        f"P90, {currency}", "error of the simulation, % of the variance", "payback: P10, P50, P90", "chance of loss",
        f"mean of the losses, {currency}", *([f"payback within {limit:g} years"] if limit else []),
    ]  # fmt: skip
    rows = [_chance_row(risk, found) for found in risk.summaries.values()]
    first = next(iter(risk.summaries.values()))
    runs = risk.cash.study.run.replications
    title = f"{plural(len(rows), 'case')} under {plural(len(risk.model.inputs), 'uncertain input')}: range of values"
    note = (
        "As quoted: every input as quoted, the mean of the runs. Expected: the mean of all samples. "
        f"{number(first.samples, 0)} samples by two Latin hypercubes, seed {first.seed}; P10 to P90 are percentiles. "
        f"Halves of the samples differ by at most {number(max(s.half_difference for s in risk.summaries.values()), 0)} "
        f"{currency}. {_luck(runs)} A payback of never is longer than {risk.cash.cashflow.finance.horizon_years} years."
    )
    return table(title, columns, rows, note=note, words=[6])


def _luck(runs: int) -> str:
    if runs < 2:
        return "One replication has no known error, so none of the simulation is in the range."
    return (
        "The error of the simulation is in the range: each sample holds one, independent of its inputs, as the "
        f"jackknife over {runs} replications has it, the same luck for all cases."
    )


def _chance_row(risk: RiskStudy, found: Summary) -> Row:
    npv, name = found.npv, found.scenario
    share = "not known" if found.simulation_share is None else number(100 * found.simulation_share, 0)
    cells = [number(risk.cash.results[name].npv, 0), number(found.mean, 0),
             *(number(v, 0) for v in (npv.p10, npv.p50, npv.p90)), share, _paybacks(found.payback),
             percent(found.chance_of_loss), number(found.shortfall, 0)]  # fmt: skip
    cells += [] if found.chance_of_payback is None else [percent(found.chance_of_payback)]
    look = "total" if risk.main is not None and name == risk.main.scenario else ""
    return Row(risk.cash.study.named(name), tuple(cells), look)


def _paybacks(found: Percentiles) -> str:
    shown = (years(value if math.isfinite(value) else None) for value in (found.p10, found.p50, found.p90))
    return ", ".join(shown)


def quoted_and_expected(risk: RiskStudy) -> Block:
    """Why the expected value is not the value as quoted, and under which conditions the chance of loss holds."""
    if risk.main is None:
        return paragraph(NOTHING)
    found, currency = risk.summaries[risk.main.scenario], risk.cash.study.currency
    shift = found.mean - risk.main.npv
    largest = list(risk.lopsided.items())[:MOST_SHIFTS]
    parts = listing(f"{title} {signed(value, 0)}" for title, value in largest)
    rest = shift - sum(value for _, value in largest)
    text = (
        f"The expected value of {risk.cash.study.named(risk.main.scenario)} is {signed(shift, 0)} {currency} from the "
        "value as quoted, because ranges reach further to one side than to the other and because caps, ramp and limits "
        f"cut one side: {parts}, all others and what acts together {signed(rest, 0)}. {_error_words(risk, found)} The "
        f"chance of loss is the share of samples with a value below zero, {risk.condition}."
    )
    return paragraph(text, "" if risk.cash.study.calibrated else "mark")


def _error_words(risk: RiskStudy, found: Summary) -> str:
    """How percentiles hang together with the interval of the value as quoted."""
    known = risk.cash.intervals[found.scenario]
    if found.simulation_share is None or not math.isfinite(known.half_width):
        return "The error of the simulation is not known, so the percentiles are without it."
    return (
        f"The error of the simulation brings {percent(found.simulation_share)} of the variance of the samples. The "
        f"value as quoted is known to ± {number(known.half_width, 0)}: that interval holds with 95 % for all "
        f"{plural(len(risk.cash.results), 'case')} together, P10 to P90 hold 8 cases in 10 of one, so that they may "
        "lie closer together."
    )


def distribution(risk: RiskStudy) -> Exhibit | Block:
    """Distribution of the net present value of each case."""
    if not risk.names:
        return paragraph(NOTHING)
    ordered = [*(n for n in risk.names if risk.main and n != risk.main.scenario), *risk.names]
    names = list(dict.fromkeys(ordered))
    study = risk.cash.study
    return value_distribution(
        {study.named(n): risk.sampled.outcome.npv[n] for n in names},
        {study.named(n): risk.summaries[n] for n in names},
        currency=study.currency, condition=risk.condition, calibrated=study.calibrated,
    )  # fmt: skip


def tornado_of(risk: RiskStudy) -> Exhibit | Block:
    """Swings of the main case."""
    if risk.main is None or not risk.swings:
        return paragraph(NOTHING)
    study = risk.cash.study
    return tornado(
        risk.swings, name=study.named(risk.main.scenario), base=risk.main.npv, currency=study.currency,
        calibrated=study.calibrated, also=_not_in_it(risk) + _times(risk),
    )  # fmt: skip


def _not_in_it(risk: RiskStudy) -> str:
    """The error of the simulation, which no bar holds, and the share of default ranges."""
    known = risk.cash.intervals.get(risk.main.scenario) if risk.main else None
    share = f"{percent(risk.default_share)} of the summed swings rest on default ranges."
    if known is None or not math.isfinite(known.half_width):
        return share
    return f"{share} Beside them stands the error of the simulation, ± {number(known.half_width, 0)}."


def _times(risk: RiskStudy) -> str:
    return (
        "" if risk.times_known else " Times of elements are not in it: no response to them was simulated for all cases."
    )


def total_effect_table(risk: RiskStudy) -> Block:
    """Shares of the variance of the main case that each of the largest inputs brings alone and with others, ranked."""
    if risk.main is None or not risk.effects:
        return paragraph(NOTHING)
    rows = [_effect_row(one) for one in risk.effects]
    unranked = sum("–" in one.rank for one in risk.effects)
    title = (
        f"{capitalised(risk.effects[0].input.title)} brings {percent(risk.effects[0].total)} of the variance; "
        f"{unranked or 'none'} of {plural(len(rows), 'input')} cannot be ranked"
    )
    note = (
        "Sobol effects of the inputs with the largest swings, taken as independent, the others typical and the error "
        "of the simulation left out; ± 95 %. First order: what the input brings alone; total: with all it does "
        "together with others, so that totals may sum to more than 100 %. A stretch of ranks: intervals overlap."
    )
    columns = ["input", "first order, %", "± %", "total effect, %", "± %", "rank"]
    return table(title, columns, rows, note=note)


def _effect_row(one: SobolEffect) -> Row:
    shares = (one.first, one.first_half_width, one.total, one.total_half_width)
    return Row(one.input.title, (*(number(100 * share, 1) for share in shares), one.rank))


def switching_table(risk: RiskStudy) -> Block:
    """Value of each input, alone, at which the net present value is zero."""
    if risk.main is None or not risk.flips:
        return paragraph(NOTHING)
    rows = [_rate_row(risk), *(_flip_row(flip) for flip in sorted(risk.flips, key=flip_distance))]
    inside = [flip for flip in risk.flips if flip.within_range]
    head = f"{len(inside) or 'None'} of {plural(len(risk.flips), 'input')} can turn the result within its own range"
    title = f"{head}, the others typical: {risk.cash.study.named(risk.main.scenario)}"
    columns = ["input", "typical", "zero at", "change", "low to high", "within it", "basis"]
    note = (
        "Where the net present value is zero with one input changed, the nearest such value if there are several; "
        "inputs nearest to turning first, in widths of their range. No flip: there is none in the stretch named. The "
        "discount rate stands apart: it is the firm's choice, not a risk. Looked for from 0 to "
        f"{REACH:g} times the typical value, for growth up to {100 * GROWTH_REACH:g} points from it ({NO_SOURCE})."
    )
    return table(title, columns, rows, note=note, words=[1, 3, 4, 5])


def _rate_row(risk: RiskStudy) -> Row:
    main = risk.main
    roots = main.irr.roots if main is not None else ()
    rate = main.rate if main is not None else 0.0
    at = "; ".join(number(100 * root, 1) for root in roots) or "no flip"
    change = f"{signed(100 * (roots[0] / rate - 1), 0)} %" if len(roots) == 1 and rate else "–"
    return Row("discount rate, % a year (apart)", (number(100 * rate, 1), at, change, "–", "–", "the firm's"))


def _flip_row(flip: Flip) -> Row:
    one = flip.input
    at = f"no flip from {short(flip.low)} to {short(flip.high)}" if flip.value is None else short(flip.value)
    change = "–" if flip.change is None else f"{signed(100 * flip.change, 0)} %"
    inside = "yes" if flip.within_range else "no"
    cells = (short(one.typical), at, change, f"{short(one.low)} to {short(one.high)}", inside, one.basis)
    return Row(f"{one.title}, {one.unit}", cells)


def promises(risk: RiskStudy) -> Block:
    """What suppliers must guarantee and prove at acceptance for a net present value of zero."""
    found = risk.promises
    if not found:
        return paragraph("No promise of a supplier was simulated: there is no magazine, device or unattended night.")
    rows = [_promise_row(risk, one) for one in found]
    reached, all_of_them = sum(one.flip.value is not None for one in found), plural(len(rows), "promise")
    title = f"None of {all_of_them} brings its case to zero, however well kept"
    if reached:
        title = f"{reached} of {all_of_them} can bring its case to zero, if guaranteed and proved at acceptance"
    currency = risk.cash.study.currency
    columns = ["promise", "case", "as planned", f"value as planned, {currency}", f"value if kept to 0, {currency}",
               "needed for a value of zero"]  # fmt: skip
    note = (
        f"Through slopes simulated once at {1 - STEP[PROMISE]:g} and {1 + STEP[PROMISE]:g} times the plan (same luck; "
        f"the step: {NO_SOURCE}), all else typical. Proof at "
        "acceptance: the plant's own programs over an agreed number of shifts, counted by the machine's log. A promise "
        "on hours a night needs the unattended running assessed by the plant first; nothing here declares it safe."
    )
    return table(title, columns, rows, note=note, words=[0, 1, 4])


def _promise_row(risk: RiskStudy, one: Promise) -> Row:
    put, flip = one.input, one.flip
    planned = f"{short(put.typical)} {put.unit}"
    needed = (
        f"no value from 0 to {short(flip.high)}" if flip.value is None else f"at most {short(flip.value)} {put.unit}"
    )
    if flip.value is not None and one.npv_if_perfect < one.npv:
        needed = f"at least {short(flip.value)} {put.unit}"
    if one.night_hours is not None:
        before, at = one.night_hours
        planned += f" ({number(before, 1)} h a night)"
        needed += "" if at is None else f" ({number(at, 1)} h a night)"
    name = risk.cash.study.named(one.scenario)
    return Row(put.title, (name, planned, number(one.npv, 0), number(one.npv_if_perfect, 0), needed))


def break_even(risk: RiskStudy) -> Exhibit | Block:
    """Map of the value over demand and wage."""
    low, high = risk.demand if risk.names else (1.0, 1.0)
    if risk.main is None:
        return paragraph(NOTHING)
    if low == high:
        return paragraph(f"No map of demand and wage: the cases were simulated at demand {low:g} alone.")
    study = risk.cash.study
    return demand_wage_map(
        risk.map, name=study.named(risk.main.scenario), currency=study.currency, calibrated=study.calibrated,
        note=f"Demand as far as it was simulated; wages from {WAGE_REACH[0]:g} to {WAGE_REACH[1]:g} times the plant's "
             f"({NO_SOURCE}).",
    )  # fmt: skip
