"""Sections about tools: what they cost, which of them cause the changeovers, and the rules in force."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import pandas as pd

from simkit.analysis.clearances import clearance_uses
from simkit.analysis.magazine_sizes import LEAST_GAIN_SHARE, SizePoint
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate
from simkit.experiment.toolmeasures import HITS
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import exchange_bars
from simkit.report.palette import EXCHANGE_COLOURS
from simkit.report.sections.answers import answer
from simkit.report.sections.tool_care import fixed_h
from simkit.report.sections.tool_magazine import NIGHT_LOST, enough_places, magazine_points, night_points
from simkit.report.studydata import TODAY
from simkit.report.toolstudy import GRIPPER_KINDS, HAND_KINDS, PER_4_WEEKS, ToolStudy
from simkit.report.words import NO_BREAK, capitalised, listing, number, percent, plural, plus_minus

COSTS = ("exchange_visible_h", "tool_fault_h")
"""Measures that add up to the hours tools cost: exchanges while the machine stands, putting wrong tools right."""

RESIDUE = "state_first_piece_h"
TOP_TOOLS = 15
NO_TOOLS = "No order of this plant uses a tool: nothing is exchanged, and nothing can be saved."
Rows = TypeVar("Rows", pd.DataFrame, pd.Series)


def answer_tools(view: ToolStudy) -> Block:
    """Answer what tools cost, what each fix leaves of it, and how many places are enough."""
    if not view.study.plant.tools:
        return answer(view.study, [NO_TOOLS])
    return answer(view.study, [*_cost(view), *_left(view), *_without_capital(view), *_places(view), *_residue(view)])


def cost_h(view: ToolStudy, scenario: str) -> Estimate:
    """Hours per week that tools cost in a scenario."""
    return view.per_week(scenario, *(m for m in COSTS if view.study.has(scenario, m)))


def _hours(estimate: Estimate, *, difference: bool = False) -> str:
    return f"{plus_minus(estimate, difference=difference)}{NO_BREAK}h"


def _cost(view: ToolStudy) -> list[str]:
    cost, needed = cost_h(view, TODAY), view.per_week(TODAY, NEEDED)
    loads, dies = (view.per_week(TODAY, name) for name in ("tool_loads", "die_changes"))
    faults = _count(view, "tool_faults", "wrongly loaded {}", "tool")
    worn = _count(view, "tools_worn_out", "{} that fail in the middle of a sheet", "tool")
    return [
        f"Tools cost {_hours(cost)} of machine time a week today, {percent(cost.mean / needed.mean)} of the hours "
        "needed: "
        f"{listing([f'{number(loads.mean)} tool loads', f'{number(dies.mean)} die-only changes', *faults, *worn])} a "
        "week."
    ]  # fmt: skip


def _count(view: ToolStudy, measure: str, words: str, noun: str) -> list[str]:
    """A count per week in words, left out where nothing was counted."""
    if not view.study.has(TODAY, measure):
        return []
    mean = view.per_week(TODAY, measure).mean
    return [f"{number(mean)} {words.format(noun + 's')}"] if mean else []


def _left(view: ToolStudy) -> list[str]:
    study = view.study
    names = {study.package: "The low-capital package", view.magazine: f"the magazine ({view.magazine})",
             view.both: "both together"}  # fmt: skip
    left = [f"{words} leaves {_hours(cost_h(view, name))}" for name, words in names.items() if name and name != TODAY]
    if not left:
        return ["No low-capital package and no magazine was simulated."]
    text = ", ".join(left).replace("together leaves", "together leave")
    return [f"{capitalised(text)} of that a week.", *_on_top(view)]


def _on_top(view: ToolStudy) -> list[str]:
    """What the magazine adds to the package: the comparison that counts."""
    if not view.both:
        return []
    gap = view.change(view.both, view.study.package)
    doubt = "" if gap.tells else f" ({gap.verdict})"
    return [
        f"On top of the package the magazine changes the hours needed by {_hours(gap, difference=True)} a week{doubt}."
    ]


def _without_capital(view: ToolStudy) -> list[str]:
    changes = {name: view.fix_changes[name] for name in view.free_cases}
    if not changes:
        return ["Neither a standard layout nor a rule of sequencing was found that changes anything."]
    listed = listing(f"{view.named(name)} {_hours(gap, difference=True)}" for name, gap in changes.items())
    text = f"Without buying anything, in hours needed a week against today: {listed}."
    if view.magazine in (None, TODAY):
        return [text]
    best = min(changes, key=lambda name: changes[name].mean)
    gap = view.change(best, view.magazine or TODAY)
    if not gap.tells:
        return [text, f"{view.named(best)} cannot be told from the magazine in hours needed."]
    if gap.mean < 0:
        return [
            text,
            f"{view.named(best)} alone gets further than the magazine, by {_hours(gap, difference=True)} a week.",
        ]
    return [text, f"None of them gets as far as the magazine: {view.named(best)} needs {_hours(gap)} a week more."]


def _places(view: ToolStudy) -> list[str]:
    points = magazine_points(view)
    if not points:
        return ["No magazine was simulated at other sizes."]
    found, own = enough_places(view), next(point for point in points if point.share == 1)
    if found is None:
        return [f"The {own.places} places on offer are not shown to be enough: more of them still save hours."]
    least = percent(LEAST_GAIN_SHARE, 1)
    text = f"{found.places} magazine places are enough ({own.places} are on offer): fewer of those simulated surely "
    return [f"{text}cost {least} of the hours needed or more.", *_beyond(found), *_at_night(view, found.share)]


def _beyond(found: SizePoint) -> list[str]:
    """What all places on offer save beyond those that are enough."""
    gap = found.against_own
    return [f"All of them would save another {_hours(gap)} a week."] if gap and gap.tells and gap.mean > 0 else []


def _at_night(view: ToolStudy, share: float) -> list[str]:
    """What the magazine that is enough by day loses at night, where nights were simulated."""
    lost = {point.share: view.per_week(point.scenario, NIGHT_LOST) for point in night_points(view)}
    if share not in lost or share == 1:
        return []
    return [
        f"Unattended nights then lose {_hours(lost[share])} a week for want of a tool, {_hours(lost[1.0])} with all "
        "places."
    ]


def _residue(view: ToolStudy) -> list[str]:
    if not view.counted:
        return []
    name = view.both or view.magazine or TODAY
    fixed, first = fixed_h(view, name).mean, view.per_week(name, RESIDUE).mean
    where = "today" if name == TODAY else f"with {view.named(name)}"
    return [
        f"What no tool fix touches: {number(fixed)} h of fixed minutes per order and {number(first)} h of first "
        f"pieces a week {where}."
    ]


def tool_pareto(view: ToolStudy) -> Exhibit | Block:
    """Bars of the minutes of exchange by tool, the tools with the most first, with what package and magazine leave."""
    minutes = view.minutes(TODAY) if view.counted else pd.DataFrame()
    total = float(minutes.to_numpy().sum())
    if not total:
        return paragraph(_nothing_counted(view))
    labels = {kind: _kind_label(kind) for kind in (*HAND_KINDS, *GRIPPER_KINDS)}
    names = [name for name in (view.study.package, view.magazine) if name and name != TODAY]
    marks = {view.named(name): _labelled(view, view.minutes(name).sum(axis="columns")) for name in dict.fromkeys(names)}
    rest = minutes.iloc[TOP_TOOLS:].sum(axis="columns")
    note = (
        f"The {plural(len(rest), 'other tool')} make {number(float(rest.sum()), 0)} min together, none more than "
        f"{number(float(rest.max()))} min. " if len(rest) else ""
    )  # fmt: skip
    return exchange_bars(
        _labelled(view, minutes.head(TOP_TOOLS)).rename(columns=labels),
        {labels[kind]: colour for kind, colour in EXCHANGE_COLOURS.items()},
        marks,
        axis_label=f"minutes {PER_4_WEEKS} in which the machine stands for an exchange",
        title=_pareto_title(minutes, total), calibrated=view.study.calibrated, note=note + view.study.package_note,
    )  # fmt: skip


def _labelled(view: ToolStudy, rows: Rows) -> Rows:
    """Rows by tool, each with the tool's shape beside its id."""
    return rows.rename(index=lambda tool: f"{tool} {_shape(view, tool)}".strip())


def _pareto_title(minutes: pd.DataFrame, total: float) -> str:
    shares = minutes.sum(axis="columns").cumsum() / total
    half = int((shares < 0.5).sum()) + 1
    tail = len(minutes) // 2
    last = 1 - float(shares.iloc[len(minutes) - tail - 1]) if tail and len(minutes) > tail else 0.0
    return (
        f"{half} of {plural(len(minutes), 'tool')} make half of today's {number(total, 0)} min of tool exchanges "
        f"{PER_4_WEEKS}; the {tail} with the least make {percent(last)}"
    )


def _kind_label(kind: str) -> str:
    return describe(f"{kind}s").meaning


def _shape(view: ToolStudy, tool: str) -> str:
    return next((row.shape for row in view.study.plant.tools if row.tool_id == tool), "")


def _nothing_counted(view: ToolStudy) -> str:
    if not view.study.plant.tools:
        return NO_TOOLS
    demand = view.study.run.tool_demand
    if demand != view.study.demand_factor:
        return f"Exchanges were counted by tool at demand {demand:g} only."
    return "No exchange of a tool was counted: every order finds its tools in the turret."


def tool_table(view: ToolStudy) -> Block:
    """The tools with the most minutes: loads, die-only and angle changes, minutes, share, hits, and with the "
    "package."""
    minutes = view.minutes(TODAY) if view.counted else pd.DataFrame()
    total = float(minutes.to_numpy().sum())
    if not total:
        return paragraph(_nothing_counted(view))
    others = [name for name in view.main_cases if name != TODAY]
    rows = [_tool_row(view, tool, total, others) for tool in minutes.index[:TOP_TOOLS]]
    rest = minutes.index[TOP_TOOLS:]
    if len(rest):
        rows.append(_rest_row(view, list(rest), minutes, total, others))
    sums = [Row(f"all {len(minutes)} tools", _sum_cells(view, minutes, others), "total")]
    columns = ["tool", "loads", "die-only changes", "turned", "min, mean ± 95 %", "share, %", "hits",
               *(f"{view.named(name)}: min" for name in others)]  # fmt: skip
    first = minutes.index[0]
    title = (
        f"{first} alone costs {plus_minus(view.of_tool(TODAY, first))} min {PER_4_WEEKS}, "
        f"{percent(float(minutes.loc[first].sum()) / total, 1)} of all exchange time"
    )
    return table(title, columns, [*rows, *sums], note=(
        f"Amounts {PER_4_WEEKS}, means over {plural(view.study.run.replications, 'replication')}; minutes are those "
        "in which the machine stands, exchanges in the middle of programs and swaps for a regrind included. Hits: "
        f"punching and forming hits made with the tool. {view.study.package_note}"))  # fmt: skip


def _tool_row(view: ToolStudy, tool: str, total: float, others: Sequence[str]) -> Row:
    counts = (number(_loads(view, TODAY, tool)), number(_dies(view, TODAY, tool)),
              number(view.of_tool(TODAY, tool, "angle_change", "times").mean))  # fmt: skip
    own = view.of_tool(TODAY, tool)
    hits = view.of_tool(TODAY, tool, HITS, "times").mean
    beside = (plus_minus(view.of_tool(name, tool)) for name in others)
    cells = (*counts, plus_minus(own), number(100 * own.mean / total, 1), number(hits, 0), *beside)
    return Row(f"{tool} {_shape(view, tool)}".strip(), cells)


def _loads(view: ToolStudy, scenario: str, tool: str) -> float:
    return sum(view.of_tool(scenario, tool, kind, "times").mean for kind in ("tool_load", "magazine_exchange"))


def _dies(view: ToolStudy, scenario: str, tool: str) -> float:
    return sum(view.of_tool(scenario, tool, kind, "times").mean for kind in ("die_change", "magazine_die_change"))


def _rest_row(view: ToolStudy, rest: list[str], minutes: pd.DataFrame, total: float, others: Sequence[str]) -> Row:
    own = float(minutes.loc[rest].to_numpy().sum())
    counts = [sum(count(view, TODAY, tool) for tool in rest) for count in (_loads, _dies)]
    turned = sum(view.of_tool(TODAY, tool, "angle_change", "times").mean for tool in rest)
    hits = sum(view.of_tool(TODAY, tool, HITS, "times").mean for tool in rest)
    beside = (number(sum(view.of_tool(name, tool).mean for tool in rest)) for name in others)
    cells = (*(number(c) for c in counts), number(turned), number(own), number(100 * own / total, 1), number(hits, 0))
    return Row(f"{plural(len(rest), 'other tool')}", (*cells, *beside))


def _sum_cells(view: ToolStudy, minutes: pd.DataFrame, others: Sequence[str]) -> tuple[str, ...]:
    tools = list(minutes.index)
    counts = [sum(count(view, TODAY, tool) for tool in tools) for count in (_loads, _dies)]
    turned = sum(view.of_tool(TODAY, tool, "angle_change", "times").mean for tool in tools)
    hits = sum(view.of_tool(TODAY, tool, HITS, "times").mean for tool in tools)
    beside = (number(float(view.minutes(name).to_numpy().sum())) for name in others)
    total = number(float(minutes.to_numpy().sum()))
    return (*(number(c) for c in counts), number(turned), total, number(100, 1), number(hits, 0), *beside)


def clearance_table(view: ToolStudy) -> Block:
    """Between which clearances the tools with the most die-only changes go to and fro."""
    uses = clearance_uses(view.study.plant)
    dies = {tool: _dies(view, TODAY, tool) for tool in uses} if view.counted else {}
    ranked = [tool for tool in sorted(dies, key=lambda tool: -dies[tool]) if dies[tool]][:TOP_TOOLS]
    if not ranked:
        return paragraph("No tool is used at two clearances, so no die is changed for clearance alone.")
    rows = [_clearance_row(view, tool, uses[tool].orders, uses[tool].changes, dies[tool]) for tool in ranked]
    every = sum(dies.values())
    top = sum(dies[tool] for tool in ranked)
    title = (
        f"{len(ranked)} of {plural(len(uses), 'tool')} used at more than one clearance make {percent(top / every)} of "
        f"the {number(every, 0)} die-only changes {PER_4_WEEKS}"
    )
    columns = [
        "tool",
        f"die-only changes {PER_4_WEEKS}",
        "orders at each clearance, mm",
        "changes by pair of clearances",
    ]
    return table(title, columns, rows, words=[1, 2], note=(
        "Changes by hand or by the magazine, simulated. Pairs: the book in order of release, one copy that never "
        "leaves the turret; a frequent pair is where a second copy, or one clearance for both thicknesses with "
        "quality's agreement, has most to give."))  # fmt: skip


def _clearance_row(
    view: ToolStudy, tool: str, orders: dict[float, int], changes: dict[tuple[float, float], int], dies: float
) -> Row:
    at = "; ".join(f"{clearance:g}: {count}" for clearance, count in orders.items())
    pairs = "; ".join(f"{a:g} and {b:g}: {count}" for (a, b), count in changes.items())
    return Row(f"{tool} {_shape(view, tool)}".strip(), (number(dies), at, pairs))
