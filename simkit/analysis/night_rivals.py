"""What stands beside the hours of a night: people's paid hours of a case, the rates of its stops, and the bench."""

from __future__ import annotations

from simkit.analysis.low_capital import Options
from simkit.finance.roster import Post, roster_of
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import tables_of


def paid_h_per_week(plant: Plant, options: Options) -> float:
    """Paid hours of an ordinary week of all posts of a case, overtime and calls apart, h."""
    return sum(post.h_per_week for post in roster_of(make_scenario(plant, options).plant).posts)


def bench_posts(plant: Plant, options: Options) -> tuple[Post, ...]:
    """Posts of a case that may work at the bench."""
    return tuple(post for post in roster_of(make_scenario(plant, options).plant).posts if "bench" in post.skills)


def sheet_exposures(plant: Plant, options: Options, loads_per_sheet: float) -> dict[str, float]:
    """Picks, hits and contours of a mean sheet of the book in a case, and tools loaded with it."""
    scenario = make_scenario(plant, options)
    tables, sheets = tables_of(scenario), [0.0] * len(scenario.plant.programs)
    for order in scenario.plant.orders:
        sheets[tables.index[order.program_id]] += order.sheets
    every = sum(sheets) or 1.0
    rows = list(zip(sheets, tables.programs, tables.flows, strict=True))
    return {
        "pick": sum(count * flow.picked for count, _, flow in rows) / every,
        "hit": sum(count * (row.hits_per_sheet + row.forming_hits_per_sheet) for count, row, _ in rows) / every,
        "contour": sum(count * row.contours for count, row, _ in rows) / every,
        "tool_load": loads_per_sheet,
    }
