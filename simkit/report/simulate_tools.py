"""What the study of tools needs simulated: its own cases, and a few cases counted by tool and by family."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from simkit.analysis import standard_layout
from simkit.analysis.cases import Case, Simulated, with_physics
from simkit.analysis.low_capital import Options, why_illegal
from simkit.analysis.magazine_sizes import magazine_case
from simkit.analysis.record_tables import counted_tables
from simkit.analysis.standard_layout import Layout, find_layout, with_twins
from simkit.analysis.tool_cases import BLIND, layout_cases, magazine_cases, rule_cases
from simkit.experiment.cache import code_hash
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import Plant, Scenario
from simkit.plant.scenarios import make_scenario


def simulate_tools(
    plant: Plant,
    package: Options,
    night: Options | None,
    demand_factor: float,
    say: Callable[[str], None],
    **run: Any,
) -> Simulated:
    """Search layouts, simulate the cases, and count today, package and magazine by tool, at one demand level.

    ``night`` is the night set whose magazine is simulated at other sizes. ``run`` goes to
    :func:`simkit.experiment.runner.run_scenarios`; a layout once found is kept in its ``cache_dir``.
    """
    today = make_scenario(plant, ())
    cases = list(_cases(plant, today, night, run.get("cache_dir"), say))
    scenarios = [case.scenario(plant) for case in cases]
    say(f"{len(scenarios)} cases of tools")
    results = run_scenarios(today, [today, *scenarios], demand_factors=[demand_factor], **run)
    blind = [scenario for case, scenario in zip(cases, scenarios, strict=True) if case.group == BLIND]
    counted = [*(make_scenario(plant, options) for options in counted_options(plant, package)), *blind]
    tables = counted_tables(("tools", "tool_families", "tool_faults"), today, counted, demand_factor, **run)
    return Simulated(results, with_physics(cases, scenarios), tables)


def counted_options(plant: Plant, package: Options) -> list[Options]:
    """Today, the package, the magazine, and the magazine on top of the package where that is legal."""
    magazine = magazine_case(plant) or ()
    both = (*package, *(name for name in magazine if name not in package))
    wanted = [(), package, magazine, both]
    return list(dict.fromkeys(options for options in wanted if not why_illegal(plant, options)))


def _cases(
    plant: Plant, today: Scenario, night: Options | None, folder: Path | None, say: Callable[[str], None]
) -> Iterator[Case]:
    yield from layout_cases(plant, _layouts(plant, today, folder, say))
    yield from rule_cases(plant)
    yield from magazine_cases(plant, night)


def _layouts(plant: Plant, today: Scenario, folder: Path | None, say: Callable[[str], None]) -> list[Layout]:
    """The layout of copies owned, and what twins would add; searched once for a plant and this code."""
    source = Path(standard_layout.__file__).read_text(encoding="utf-8")
    digest = hashlib.sha256(f"{today.physics_hash} {code_hash()} {source}".encode()).hexdigest()
    kept = folder / f"layout-{digest[:32]}.json" if folder else None
    if kept and kept.is_file():
        return [Layout(**{n: tuple(v) for n, v in row.items()}) for row in json.loads(kept.read_text("utf-8"))]
    first = find_layout(plant)
    layouts = [first, with_twins(plant, first)]
    say(f"standard layout: {len(layouts[0].pins)} stations, {len(layouts[1].twins)} twins")
    if kept:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps([asdict(layout) for layout in layouts]), encoding="utf-8")
    return layouts
