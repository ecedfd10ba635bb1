"""How the cell's processor time grows, and what a sheet and an order cost: part of ``bench.json`` and ``bench.html``.

One thing grows at a time and all else stays: weeks simulated; orders of the same weeks, beyond what the cell can make;
machines that share the same orders and people; tools, each given several names that its programs share out, so that no
order needs more tools but the turret holds fewer of those asked for; and options held together, in the order of
options.toml, each that goes with those before it. Every point of a curve is a ratio to the first.

What a sheet and an order cost is found by least squares over the same work cut into long and short orders.
"""

from __future__ import annotations

import dataclasses
import html
from typing import NamedTuple

import numpy as np

from simkit.base.messages import BadInput
from simkit.cell.run import simulate
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import MachineRow
from simkit.process.draws import make_draws
from simkit.process.workload import Workload, make_workload
from tests.bench.timing import calls_of, events_of, medians

SEED = 1
STEPS = (1, 2, 3, 4)
DEMANDS = (0.5, 1.0, 1.5, 2.0)
SHEETS_PER_ORDER = (0.5, 1.0, 2.0, 4.0)


class Point(NamedTuple):
    """A point of a curve: how much there is of what grows, and the time as a ratio to the first point."""

    size: float
    ratio: float


Sized = tuple[float, Workload]
Curves = dict[str, list[Point]]

UNITS = {
    "sheet_us": "processor time a sheet, microseconds of this computer",
    "order_us": "processor time an order, microseconds of this computer",
    "residual_share": "largest miss of that sum at one of its workloads, as a share",
    "calls_per_sheet": "calls of functions a sheet, by the profiler, orders included",
    "events_per_sheet": "events of the clock a sheet, orders included",
}


def work_of(plant: PlantInputs, weeks: float, demand: float = 1.0, options: tuple[str, ...] = ()) -> Workload:
    """The first replication of a plant with these options."""
    draws = make_draws(plant, SEED, 0, weeks=weeks, demand_factor=demand)
    return make_workload(make_scenario(plant, options), draws)


def with_machines(plant: PlantInputs, count: int) -> PlantInputs:
    """The plant with so many machines, all like its first."""
    first = plant.machines[0]
    more = (MachineRow(machine_id=f"{first.machine_id}-{n}", overrides=first.overrides) for n in range(1, count))
    return dataclasses.replace(plant, machines=(first, *more))


def with_tools(plant: PlantInputs, times: int) -> PlantInputs:
    """The plant with so many times its tools; the programs share the names of a tool out among themselves."""

    def named(tool_id: str, number: int) -> str:
        return f"{tool_id}-{number}" if number else tool_id

    number = {program.program_id: row % times for row, program in enumerate(plant.programs)}
    tools = [dataclasses.replace(tool, tool_id=named(tool.tool_id, n)) for n in range(times) for tool in plant.tools]
    uses = [dataclasses.replace(use, tool_id=named(use.tool_id, number[use.program_id])) for use in plant.program_tools]
    return dataclasses.replace(plant, tools=tuple(tools), program_tools=tuple(uses))


def with_sheets_per_order(plant: PlantInputs, factor: float) -> PlantInputs:
    """The plant with so many times the sheets in each order, at least one."""
    orders = [dataclasses.replace(order, sheets=max(1, round(order.sheets * factor))) for order in plant.orders]
    return dataclasses.replace(plant, orders=tuple(orders))


def held_together(plant: PlantInputs) -> tuple[str, ...]:
    """Options in the order of their file, each that can be held with those before it."""
    held: tuple[str, ...] = ()
    for option in plant.options:
        try:
            make_scenario(plant, (*held, option.id))
        except BadInput:
            continue
        held = (*held, option.id)
    return held


def workloads(plant: PlantInputs, weeks: float) -> dict[str, list[Sized]]:
    """The workloads of each curve, by the size of what grows."""
    held = held_together(plant)
    shares = [len(held) * step // (len(STEPS) - 1) for step in range(len(STEPS))]
    orders = [work_of(plant, weeks, demand) for demand in DEMANDS]
    return {
        "weeks": [(weeks * step, work_of(plant, weeks * step)) for step in STEPS],
        "orders": [(len(work.program), work) for work in orders],
        "machines": [(step, work_of(with_machines(plant, step), weeks)) for step in STEPS],
        "tools": [(step * len(plant.tools), work_of(with_tools(plant, step), weeks)) for step in STEPS],
        "options held": [(share, work_of(plant, weeks, options=held[:share])) for share in shares],
    }


def timed(sized: list[Sized], rounds: int) -> list[float]:
    """Median seconds of the cell for each workload."""
    steps = {str(row): lambda work=work: simulate(work) for row, (_, work) in enumerate(sized)}  # type: ignore[misc]
    return list(medians(steps, rounds).values())


def curves(plant: PlantInputs, weeks: float, rounds: int) -> Curves:
    """Every curve of growth, four points each."""
    found = {}
    for name, sized in workloads(plant, weeks).items():
        seconds = timed(sized, rounds)
        found[name] = [Point(size, s / seconds[0]) for (size, _), s in zip(sized, seconds, strict=True)]
    return found


def made(work: Workload) -> tuple[int, int]:
    """Sheets made and orders finished in a run; what is given out or refused costs hardly any time."""
    trace = simulate(work)
    return sum(len(log.made) for log in trace.machines), sum(job.machine_done for job in trace.jobs)


def costs(plant: PlantInputs, weeks: float, rounds: int) -> dict[str, float]:
    """What a sheet and an order cost the cell of today."""
    sized = [(f, work_of(with_sheets_per_order(plant, f), weeks, 1.0 / f)) for f in SHEETS_PER_ORDER]
    counts = np.array([made(work) for _, work in sized], dtype=float)
    seconds = np.array(timed(sized, rounds))
    per, *_ = np.linalg.lstsq(counts, seconds, rcond=None)
    work = work_of(plant, weeks)
    sheets, _ = made(work)
    return {
        "sheet_us": float(per[0]) * 1e6,
        "order_us": float(per[1]) * 1e6,
        "residual_share": float(np.max(np.abs(counts @ per - seconds) / seconds)),
        "calls_per_sheet": calls_of(lambda: simulate(work)) / sheets,
        "events_per_sheet": events_of(lambda: simulate(work)) / sheets,
    }


WIDTH, HEIGHT, LEFT, BOTTOM, TOP, RIGHT = 260, 190, 34, 40, 14, 20


def picture(name: str, points: list[Point]) -> str:
    """One curve as a small picture; the dashed line is time in proportion, where what grows does not begin at none."""
    first, last = points[0].size, points[-1].size
    in_proportion = last / first if first else 1.0
    highest = max(in_proportion, *(point.ratio for point in points))

    def x(size: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (size - first) / (last - first)

    def y(ratio: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * ratio / highest

    line = " ".join(f"{x(size):.1f},{y(ratio):.1f}" for size, ratio in points)
    dashed = f'<path d="M{x(first):.1f} {y(1):.1f}L{x(last):.1f} {y(in_proportion):.1f}" stroke-dasharray="4 3"/>'
    sizes = "".join(f'<text x="{x(p.size):.1f}" y="{HEIGHT - BOTTOM + 14}">{p.size:g}</text>' for p in points)
    ratios = "".join(
        f'<circle cx="{x(p.size):.1f}" cy="{y(p.ratio):.1f}" r="2.5" fill="#222"/>'
        f'<text x="{x(p.size):.1f}" y="{y(p.ratio) + 15:.1f}">{p.ratio:.2f}</text>'
        for p in points
    )
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" role="img" font-size="10" text-anchor="middle">'
        f"<title>Time of the cell against {html.escape(name)}</title>"
        f'<g fill="none" stroke="#888"><path d="M{LEFT} {TOP}V{HEIGHT - BOTTOM}H{WIDTH - RIGHT}"/>'
        f'{dashed if first else ""}<polyline points="{line}" stroke="#222"/></g>{sizes}{ratios}'
        f'<text x="{(LEFT + WIDTH - RIGHT) / 2}" y="{HEIGHT - 8}">{html.escape(name)}</text></svg>'
    )


def section(found: Curves, per: dict[str, float]) -> str:
    """Curves and costs as a part of the page."""
    rows = "".join(f"<tr><td>{html.escape(UNITS[name])}<td>{value:.3g}" for name, value in per.items())
    return (
        "<h2>How the time of the cell grows</h2><p>Each curve as a ratio to its first point; dashed: in proportion.</p>"
        f"<p>{''.join(picture(name, points) for name, points in found.items())}</p>"
        f"<h2>What a sheet and an order cost, today</h2><table><tr><th>what<th>value{rows}</table>"
    )
