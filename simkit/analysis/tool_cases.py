"""Cases that only the study of tools simulates: layouts, sequencing, magazines of other sizes, no look-ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simkit.analysis.cases import Case
from simkit.analysis.low_capital import Options
from simkit.analysis.magazine_sizes import SHARES, magazine_case, magazine_of, places_at, size_overrides
from simkit.analysis.standard_layout import Layout, static_saved_h
from simkit.base.units import SECONDS_PER_HOUR
from simkit.plant.options import Option
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario

LAYOUT, RULE, MAGAZINE, NIGHT, BLIND = "layout", "rule", "magazine", "night", "no look-ahead"
PINNED, DISPATCH = "plant.rules.pinned", "plant.rules.dispatch"
SEARCHED = "searched"
SEARCH = (f"{DISPATCH}={SEARCHED}",)
"""The dispatch rule that searches an order of work."""


def layout_cases(plant: Plant, layouts: Sequence[Layout]) -> Iterator[Case]:
    """Each different layout on top of today, and the first one with the sequencing rule if there is one."""
    known: set[tuple[str, ...]] = set()
    for layout in layouts:
        if not layout.pins or layout.pins in known:
            continue
        name = "Layout with twins" if layout.twins else "Layout searched on" if known else "Layout found"
        known.add(layout.pins)
        facts = {"static_saved_h": layout.saved_h, "stations": len(layout.pins), "twins": len(layout.twins)}
        facts["before_h"] = layout.after_s[0] / SECONDS_PER_HOUR
        worth_h = tuple(seconds / SECONDS_PER_HOUR for seconds in layout.worth_s)
        yield Case(name, LAYOUT, "the standard layout found", (), layout.overrides, facts, worth_h)
    rule = option_editing(plant, DISPATCH)
    if known and rule:
        first, name = next(layout for layout in layouts if layout.pins), f"{rule.id} with layout found"
        what = f"{rule.name} and the standard layout found"
        yield from _legal(plant, Case(name, RULE, what, (rule.id,), first.overrides))


def rule_cases(plant: Plant) -> Iterator[Case]:
    """The searched order of work, where the plant does not use it yet."""
    if plant.settings.rules.dispatch != SEARCHED and plant.tools:
        yield Case("Searched order", RULE, "the order of work searched anew at each choice", (), SEARCH)


def magazine_cases(plant: Plant, night: Options | None = None) -> Iterator[Case]:
    """The magazine at other shares of its places, alone and in a night set, and without look-ahead."""
    base = magazine_case(plant)
    if base is None:
        return
    magazine = magazine_of(plant, base)
    for group, options in ((MAGAZINE, base), (NIGHT, night)):
        if options is not None:
            yield from _sizes(plant, group, options)
    if magazine.lookahead:
        name = f"{_named(base)} without look-ahead"
        yield Case(name, BLIND, "every exchange visible", base, ("plant.magazine.lookahead=false",))


def _sizes(plant: Plant, group: str, options: Options) -> Iterator[Case]:
    magazine = magazine_of(plant, options)
    for share in SHARES:
        if share == 1 or (not share and group == NIGHT):
            continue
        places = sum(places_at(magazine, share).values())
        facts = {"share": share, "places": float(places)}
        name = f"{_named(options)}, {share:.0%} of places"
        overrides = size_overrides(magazine, share)
        yield from _legal(plant, Case(name, group, f"{places} places", options, overrides, facts))


def option_editing(plant: Plant, path: str) -> Option | None:
    """The first low-capital option that edits a setting."""
    cheap = (option for option in plant.options if option.kind == "low_capital")
    return next((option for option in cheap if any(edit.path == path for edit in option.edits)), None)


def static_facts(plant: Plant, option: Option) -> dict[str, float]:
    """Facts of the layout of an option, by the same static sum as a layout that was searched."""
    scenario = make_scenario(plant, (option.id,))
    own = sum(tool.copies for tool in plant.tools)
    return {
        "static_saved_h": static_saved_h(plant, scenario.plant),
        "stations": len(scenario.plant.settings.rules.pinned) - len(plant.settings.rules.pinned),
        "twins": sum(tool.copies for tool in scenario.plant.tools) - own,
    }


def _legal(plant: Plant, case: Case) -> Iterator[Case]:
    if not case.why_illegal(plant):
        yield case


def _named(options: Options) -> str:
    return "+".join(options) or "Magazine"
