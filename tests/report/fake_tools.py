"""What the study of tools reads, made by simple arithmetic: its own cases, and counts by tool, family and fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from simkit.analysis.cases import Case
from simkit.analysis.record_tables import ALL, TABLES
from simkit.analysis.tool_cases import BLIND, LAYOUT, MAGAZINE, NIGHT, RULE
from simkit.experiment.toolmeasures import HITS

PINS = ('plant.rules.pinned=["TL-001", "TL-003@0.3"]',)
SHARES = {0.0: 0, 0.25: 9, 0.5: 18, 0.75: 27, 1.25: 44}
NIGHT_SET = ("N1", "N2", "A1", "A4", "C1")

TOOL_MIN = {"TL-001": (24.0, 90.0), "TL-002": (60.0, 15.0), "TL-003": (40.0, 12.0), "TL-004": (16.0, 0.0),
            "TL-005": (4.0, 1.5)}  # fmt: skip
"""Minutes of four weeks of loads and of die changes by tool, today."""

LEFT = {"today": 1.0, "N1+N2": 0.4, "A1": 0.2, "N1+N2+A1": 0.1, "A1 without look-ahead": 0.3}
"""What of them is left in the counted cases."""

HIDDEN = {"A1": 0.1, "N1+N2+A1": 0.05}
FAMILIES = {"BOOK": (30.0, 60.0, 12.0), "LOCK": (70.0, 30.0, 18.0)}
"""Punching and cutting minutes of four weeks, and orders."""


def _size(share: float, options: Sequence[str], group: str) -> Case:
    name = f"{'+'.join(options)}, {share:.0%} of places"
    places = {"share": share, "places": float(SHARES[share])}
    return Case(name, group, f"{SHARES[share]} places", tuple(options), (f"share={share}",), places)


def tool_cases() -> dict[str, Case]:
    """The cases of the small plant: a layout, the layout with N1, sizes of the magazine by day and night."""
    facts = {"static_saved_h": 2.0, "before_h": 9.0, "stations": 2.0, "twins": 0.0}
    cases = [
        Case("Layout found", LAYOUT, "the standard layout found", (), PINS, facts, (0.5, 1.5)),
        Case("N1 with layout found", RULE, "sequencing and the layout", ("N1",), PINS),
        *(_size(share, ("A1",), MAGAZINE) for share in SHARES),
        *(_size(share, NIGHT_SET, NIGHT) for share in SHARES if share),
        Case("A1 without look-ahead", BLIND, "every exchange visible", ("A1",), ("lookahead=false",)),
    ]
    return {case.name: case for case in cases}


def effects_of(case: Case) -> tuple[str, ...]:
    """Options and stand-ins for the overrides, which the made-up results know by these names."""
    extra = {LAYOUT: ("layout",), RULE: ("layout",), BLIND: ("blind",)}.get(case.group, ())
    share = case.facts.get("share")
    if share is not None:
        extra = () if share >= 0.75 else (f"places {share:g}",)
    options = case.options if share != 0 else tuple(o for o in case.options if o != "A1")
    return (*options, *extra)


def fake_tool_rows(half: float = 2.0) -> pd.DataFrame:
    """Rows of ``tools.csv``: loads of 4 min and die changes of 1.5 min, by the magazine if there is one."""
    rows: list[tuple[object, ...]] = []
    for scenario, left in LEFT.items():
        kinds = ("magazine_exchange", "magazine_die_change") if "A1" in scenario else ("tool_load", "die_change")
        for tool, minutes in TOOL_MIN.items():
            visible = [amount * left for amount in minutes]
            hidden = [amount * HIDDEN.get(scenario, 0.0) for amount in minutes]
            counts = [minutes[0] / 4, minutes[1] / 1.5]
            for kind, count, seen, unseen in zip(kinds, counts, visible, hidden, strict=True):
                rows.append((scenario, tool, kind, count, seen, unseen, 1.0, half, half))
            rows.append((scenario, tool, ALL, sum(counts), sum(visible), sum(hidden), 1.0, half, half))
            rows.append((scenario, tool, HITS, 1000.0, 0.0, 0.0, 10.0, 0.0, 0.0))
    return pd.DataFrame(rows, columns=list(TABLES["tools"].columns))


def fake_family_rows() -> pd.DataFrame:
    """Rows of ``tool_families.csv``, whose minutes sum to those by tool."""
    rows: list[tuple[object, ...]] = []
    every = sum(sum(minutes) for minutes in TOOL_MIN.values())
    for scenario, left in LEFT.items():
        found: dict[str, Sequence[float]] = {}
        for share, (family, (punch, cut, orders)) in zip((0.25, 0.75), FAMILIES.items(), strict=True):
            seen, unseen = every * left * share, every * HIDDEN.get(scenario, 0.0) * share
            found[family] = (seen, unseen, punch, cut, 9 * orders, orders)
        found[ALL] = [sum(column) for column in zip(*found.values(), strict=True)]
        rows += [(scenario, family, *values, 3.0, 1.0, 0.0, 0.0, 4.0, 0.0) for family, values in found.items()]
    return pd.DataFrame(rows, columns=list(TABLES["tool_families"].columns))


def fake_fault_rows(faults: Mapping[str, float]) -> pd.DataFrame:
    """Rows of ``tool_faults.csv``: of each fault so many are found at the first piece, a fourth later."""
    rows = [
        (scenario, fault, where, count * share, 0.5)
        for scenario in LEFT
        for fault, count in faults.items()
        for where, share in (("first_piece", 1.0), ("later", 0.25))
    ]
    return pd.DataFrame(rows, columns=list(TABLES["tool_faults"].columns))
