"""Sections about what helps without a magazine: a standard layout with its measured gain, and the order of work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from simkit.analysis.cases import Case
from simkit.analysis.tool_cases import LAYOUT, PINNED, static_facts
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import CANNOT_TELL, Estimate
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import difference_bars
from simkit.report.figures.bars import Difference
from simkit.report.studydata import TODAY
from simkit.report.toolstudy import ToolStudy
from simkit.report.words import number, percent_plus_minus, plural, plus_minus

NO_LAYOUT = (
    "The search found no tool that is worth a place of its own: pinning any tool saves less than a minute over the "
    "book, so no standard layout is proposed."
)
SEARCHED_ON = (
    "The search saw the order book as it stands, in order of release, with mean times and no luck; the cell then "
    "measured the layout on projected weeks of other orders with their own luck. The measured columns count."
)


def layout_table(view: ToolStudy) -> Block:
    """Standard layouts found and the plant's own: static gain on the searched book, measured gain in the cell."""
    cases = view.cases(LAYOUT)
    facts: dict[str, Mapping[str, float]] = {case.name: case.facts for case in cases}
    for name in view.own_layouts:
        facts[name] = static_facts(view.study.plant, view.study.options_of(name)[0])
    if not facts:
        return paragraph(NO_LAYOUT)
    changes = {name: view.fix_changes[name] for name in facts}
    rows = [_layout_row(view, name, facts[name], changes[name]) for name in facts]
    columns = ["layout", "stations", "twins to buy", "static gain on the searched book, h", "tool loads a week",
               "die-only changes a week", "visible exchange, h per week", "hours needed, h per week",
               "verdict"]  # fmt: skip
    return table(_layout_title(view, changes), columns, rows, words=[7], note=(
        "Measured columns: paired with today, mean ± 95 %; those of hours needed hold together for all fixes of this "
        f"study. {SEARCHED_ON}{'' if cases else ' ' + NO_LAYOUT}"))  # fmt: skip


def _layout_row(view: ToolStudy, name: str, facts: Mapping[str, float], gap: Estimate) -> Row:
    measured = (view.change(name, TODAY, m) for m in ("tool_loads", "die_changes", "exchange_visible_h"))
    verdict = ("fewer hours" if gap.mean < 0 else "more hours") if gap.tells else CANNOT_TELL
    cells = (
        number(facts["stations"], 0), number(facts["twins"], 0), number(facts["static_saved_h"]),
        *(plus_minus(estimate, difference=True) for estimate in measured),
        plus_minus(gap, difference=True), verdict,
    )  # fmt: skip
    return Row(view.named(name), cells, "" if gap.tells and gap.mean < 0 else "grey")


def _layout_title(view: ToolStudy, changes: dict[str, Estimate]) -> str:
    gains = {name: gap for name, gap in changes.items() if gap.tells and gap.mean < 0}
    if not gains:
        return f"None of {plural(len(changes), 'standard layout')} surely saves an hour: it is not worth fixing one"
    best = min(gains, key=lambda name: gains[name].mean)
    needed = view.per_week(TODAY, NEEDED).mean
    share = -100 * gains[best].mean / needed
    return (
        f"A standard layout changes the hours needed by {plus_minus(gains[best], difference=True)} h a week "
        f"({view.named(best)}), {number(share, 1)} % of them"
    )


def layout_pins(view: ToolStudy) -> Block:
    """The layout found, the pin that is worth most beside the others first."""
    case = next(iter(view.cases(LAYOUT)), None)
    if case is None:
        return paragraph(NO_LAYOUT)
    tools = {tool.tool_id: tool for tool in view.study.plant.tools}
    rows = []
    for pin, worth_h in sorted(zip(pins_of(case), case.worth_h, strict=True), key=lambda pair: -pair[1]):
        name, _, die = pin.partition("@")
        row = Row(f"{name} {tools[name].shape}".strip(), (f"{tools[name].station_size_mm:g}", die or "any",
                  number(worth_h, 2)))  # fmt: skip
        rows.append(row)
    columns = ["tool that stays", "station, mm", "die that stays, mm", "saves over the book beside the others, h"]
    title = (
        f"{plural(len(rows), 'station')} of the layout take {number(case.facts['static_saved_h'], 1)} of "
        f"{number(case.facts['before_h'], 1)} h of tool exchange off the book, by the static sum"
    )
    return table(title, columns, rows, words=[1], note=(
        "Saves: what is lost if this tool alone is not fixed; the rows do not add up to the whole. The search adds the "
        "tool that saves most beside those chosen, drops what has become idle and adds again: a good layout, not "
        "surely the best one. Any: the tool stays, its die changes."))  # fmt: skip


def pins_of(case: Case) -> list[str]:
    """Pins of a layout case."""
    text = next(o.partition("=")[2] for o in case.overrides if o.startswith(f"{PINNED}="))
    return [part.strip().strip('"') for part in text.strip("[]").split(",")]


def fixes(view: ToolStudy) -> Exhibit | Block:
    """Bars of the difference in hours needed against today: free fixes, the package, the magazine."""
    if not view.fix_changes:
        return paragraph("No fix for tools was simulated.")
    bars = [Difference(view.named(name), gap) for name, gap in view.fix_changes.items()]
    return difference_bars(
        bars, quantity="hours needed per week", unit="h", against="today", calibrated=view.study.calibrated,
        note=f"Paired; intervals hold together. Grey: {CANNOT_TELL}. {_beyond_tools(view)}{view.study.package_note}",
    )  # fmt: skip


def _beyond_tools(view: ToolStudy) -> str:
    """That the package saves other hours as well, where there is one."""
    return "" if view.study.package == TODAY else "The package saves hours of other kinds as well. "


def fix_table(view: ToolStudy) -> Block:
    """The fixes with what they are, tool hours, hours needed, late orders and capital."""
    changes = view.fix_changes
    if not changes:
        return paragraph("No fix for tools was simulated.")
    rows = [_fix_row(view, TODAY, None), *(_fix_row(view, name, gap) for name, gap in changes.items())]
    columns = ["case", "what", "visible exchange, h per week", "hours needed against today, h per week", "late "
                                                                                                         "orders, %",
               "late against today, points", f"quoted capital, {view.study.currency}"]  # fmt: skip
    best = min(changes, key=lambda name: changes[name].mean)
    title = (
        f"{len(changes)} cases against today: {view.named(best)} changes the hours needed most, by "
        f"{plus_minus(changes[best], difference=True)} h a week"
    )
    return table(title, columns, rows, words=[0], note=(
        "Mean ± 95 %; differences are paired. A rule of sequencing changes which orders wait, so lateness stands "
        f"beside the hours. {_beyond_tools(view)}{view.study.package_note}"))  # fmt: skip


def _fix_row(view: ToolStudy, name: str, gap: Estimate | None) -> Row:
    study = view.study
    late = study.results.estimate(name, "late_share", study.demand_factor)
    cells = (
        _what(view, name),
        plus_minus(view.per_week(name, "exchange_visible_h")),
        "–" if gap is None else plus_minus(gap, difference=True),
        percent_plus_minus(late),
        "–" if gap is None else percent_plus_minus(view.change(name, TODAY, "late_share")),
        number(_capital(view, name), 0),
    )
    return Row(view.named(name), cells, "grey" if gap is not None and not gap.tells else "")


def _what(view: ToolStudy, name: str) -> str:
    if name == view.study.package != TODAY:
        return "the best low-capital package, see below"
    case = view.own_cases.get(name)
    return case.what if case else view.study.described(name)


def _capital(view: ToolStudy, name: str) -> float:
    """Quoted capital of a scenario; of a case of tools that of its options, twins not priced."""
    case = view.own_cases.get(name)
    options: Sequence[str] = case.options if case else view.study.run.scenarios[name]
    scenario = view.study.run.named(frozenset(options))
    return view.study.capital(scenario) if scenario else 0.0
