"""Notes about tools in the sheets they are used on: press force, die clearance, figures narrower than the sheet.

Only pairs of tool and material that some program uses are looked at. Forming forces are not estimated: they depend on
the form, and the maker of the tool knows them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Material, Tool
from simkit.process.physicsnote import HIGH, LOW, MIDDLE, PRESS, TOOLS, PhysicsNote, listed, physics_note
from simkit.process.punching import (
    ANY,
    CLEARANCES,
    GROOVER,
    PressCheck,
    clearance_advice,
    is_narrow,
    press_check,
    punching_force_kn,
    shear_from_tensile_mpa,
    shear_strengths,
    sheared_punch_force_kn,
)
from simkit.process.slugs import CutFigure, figure_of

NEAR_CAPACITY = 0.8
"""Share of the press capacity from which a force is noted: common practice, no source."""
DEFAULT_SHEAR_MPA = 300.0
"""Shear strength where the plant gives none and print knows none: the middle of what is printed for mild steel."""
PENETRATION = 0.4
"""Share of the thickness after which a sheet breaks, as in a worked example of a teaching page: assumed, it differs."""


def shear_mpa(material: Material) -> tuple[float, str]:
    """Shear strength of a material in MPa, and where it comes from: given, from the tensile strength, or assumed.

    Assumed is the highest printed strength of its handbook metal: a force that is too low helps nobody.
    """
    if material.shear_strength_mpa is not None:
        return material.shear_strength_mpa, "given"
    if material.tensile_mpa is not None:
        return float(shear_from_tensile_mpa(material.tensile_mpa)), "0.8 of the tensile strength"
    printed = shear_strengths(material.handbook)
    if printed:
        return max(row.high_mpa for row in printed), f"the highest printed for {material.handbook}, none is given"
    return DEFAULT_SHEAR_MPA, "assumed, none is given"


@dataclass(frozen=True)
class PressUse:
    """A cutting tool in a material of the plant, the programs that use it so, and its force against the press."""

    tool: Tool
    material: Material
    programs: tuple[str, ...]
    figure: CutFigure
    check: PressCheck

    @property
    def share(self) -> float:
        """Force with stripping and margin over the press capacity."""
        return float(self.check.share)


def press_uses(plant: PlantInputs) -> tuple[PressUse, ...]:
    """Every pair of cutting tool and material that a program uses, the largest share of the capacity first.

    Tools whose sides are not given (0) are left out.
    """
    programs: dict[tuple[str, str], list[str]] = {}
    for use in plant.program_tools:
        tool = plant.tool_by_id[use.tool_id]
        if use.hits_per_sheet > 0 and tool.kind == "cutting" and min(tool.length_mm, tool.width_mm) > 0:
            key = use.tool_id, plant.program_by_id[use.program_id].material_id
            programs.setdefault(key, []).append(use.program_id)
    machine, found = plant.settings.machine, []
    for (tool_id, material_id), users in programs.items():
        tool, material = plant.tool_by_id[tool_id], plant.material_by_id[material_id]
        figure, thickness_mm, (shear, _) = figure_of(tool), material.thickness_mm, shear_mpa(material)
        check = press_check(
            punching_force_kn(figure.perimeter_mm, thickness_mm, shear), thickness_mm, shear,
            machine.press_capacity_kn, machine.stripping_share, machine.force_margin,
        )  # fmt: skip
        found.append(PressUse(tool, material, tuple(dict.fromkeys(users)), figure, check))
    return tuple(sorted(found, key=lambda use: -use.share))


def press_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """Forces above the capacity, and those above :data:`NEAR_CAPACITY` of it."""
    for use in press_uses(plant):
        if use.share <= NEAR_CAPACITY:
            return
        shear, how = shear_mpa(use.material)
        why = (
            f"{use.tool.shape} ({use.figure.how}) through {use.material.thickness_mm:g} mm {use.material.material_id} "
            f"with {shear:g} MPa shear strength ({how}): {use.check}; programs {listed(list(use.programs))}"
        )
        if use.check.exceeded:
            thickness_mm = use.material.thickness_mm
            sheared_kn = sheared_punch_force_kn(use.check.punching_kn, thickness_mm, PENETRATION, thickness_mm)
            mend = (
                "Do not plan it as it stands: fewer figures at once, a punch ground with shear (about "
                f"{sheared_kn:.0f} kN punching with {thickness_mm:g} mm of it, if the sheet breaks after "
                f"{100 * PENETRATION:g} % of its thickness: assumed), another tool or the laser; the limits of the "
                "press and of the station are the maker's"
            )
            yield physics_note(HIGH, PRESS, f"tools.csv {use.tool.tool_id}", why, mend)
        else:
            mend = "Confirm the strength of the sheet and the maker's limit for press and station before it is planned"
            yield physics_note(MIDDLE, PRESS, f"tools.csv {use.tool.tool_id}", why, mend)


def narrow_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """Figures narrower than the thickest sheet they are used on is thick: their punch may break."""
    thickest: dict[str, PressUse] = {}
    for use in press_uses(plant):
        known = thickest.get(use.tool.tool_id)
        if known is None or use.material.thickness_mm > known.material.thickness_mm:
            thickest[use.tool.tool_id] = use
    for use in sorted(thickest.values(), key=lambda use: use.tool.tool_id):
        if is_narrow(use.figure.width_mm, use.material.thickness_mm):
            why = (
                f"{use.tool.shape} is {use.figure.width_mm:g} mm wide and cuts {use.material.thickness_mm:g} mm "
                f"{use.material.material_id}: narrower than the sheet is thick, so that the punch may break; programs "
                f"{listed(list(use.programs))}"
            )
            mend = "Leave the figure to the laser or to a guided punch (the rule is common practice, no source)"
            yield physics_note(MIDDLE, TOOLS, f"tools.csv {use.tool.tool_id}", why, mend)


# ---- die clearance ----


def clearance_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """Clearances outside the textbook's range, or outside all that was found in print, by metal and percentage."""
    punched = {use.material.material_id for use in press_uses(plant)}
    groups: dict[tuple[str, float], list[Material]] = {}
    for row in plant.materials:
        if row.clearance_mm > 0 and row.material_id in punched:
            groups.setdefault((row.handbook, round(100 * row.clearance_mm / row.thickness_mm, 1)), []).append(row)
    for (metal, percent), rows in groups.items():
        yield from _clearance_note(metal, percent, [row.material_id for row in rows])


def _clearance_note(metal: str, percent: float, names: list[str]) -> Iterator[PhysicsNote]:
    """A material that names no handbook metal is held against the advice for every metal."""
    known = metal if metal in {row.family for row in CLEARANCES} else ANY
    advice = clearance_advice(known) if metal else CLEARANCES
    low, high = _span([row.total_percent for row in advice])
    textbook = [row.total_percent for row in advice if metal and row.source == GROOVER]
    outside = not low <= percent <= high
    if not outside and (not textbook or _span(textbook)[0] <= percent <= _span(textbook)[1]):
        return
    why = (
        f"{metal or 'no handbook metal'}, {listed(names)}: die clearance {_both(percent, percent)} of the thickness is "
    )
    if outside:
        why += f"outside all printed advice seen, {_both(low, high)}"
    else:
        side = "above" if percent > _span(textbook)[1] else "below"
        why += f"{side} {_both(*_span(textbook))} ({GROOVER}); all printed advice seen spans {_both(low, high)}"
    mend = "Keep it if burr, slugs and tool life are good; else try the next die, since the prints differ two to one"
    yield physics_note(MIDDLE if outside else LOW, TOOLS, "materials.csv", why, mend, "clearance_mm")


def _span(ranges: list[tuple[float, float]]) -> tuple[float, float]:
    return min(low for low, _ in ranges), max(high for _, high in ranges)


def _both(low: float, high: float) -> str:
    """A range of total clearance, and the same per side."""
    if low == high:
        return f"{low:g} % total ({low / 2:g} % per side)"
    return f"{low:g} to {high:g} % total ({low / 2:g} to {high / 2:g} % per side)"
