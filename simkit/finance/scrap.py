"""What scrap earns: the credit of each metal, and less where metals are mixed."""

from __future__ import annotations

from collections.abc import Mapping

from simkit.plant.plant import Plant


def scrap_credit(plant: Plant) -> dict[str, float]:
    """Credit of scrap that is kept apart, money/kg by metal: the mean over its thicknesses."""
    metals: dict[str, list[float]] = {}
    for material in plant.materials:
        metals.setdefault(material.metal, []).append(material.scrap_price_per_kg)
    return {metal: sum(credits) / len(credits) for metal, credits in metals.items()}


def change_by_mixing(plant: Plant, totals: Mapping[str, float]) -> dict[str, float]:
    """What mixing adds to the mean credit of a run's scrap, money/kg by metal: below 0 where mixed scrap earns less.

    ``totals`` holds ``scrap_kg_<metal>`` and, of these, ``slug_kg_<metal>``. Where ``plant.scrap`` mixes slugs or
    skeletons, but scrap of one metal alone falls there, nothing is mixed. Definition: a mean weighted by mass.
    """
    own, rule = scrap_credit(plant), plant.settings.scrap
    slugs = {metal: totals.get(f"slug_kg_{metal}", 0.0) for metal in own}
    rest = {metal: max(totals.get(f"scrap_kg_{metal}", 0.0) - slugs[metal], 0.0) for metal in own}
    mixed = dict.fromkeys(own, 0.0)
    for lot, together in ((slugs, rule.slugs == "mixed"), (rest, rule.skeletons == "mixed")):
        if together and sum(kg > 0 for kg in lot.values()) > 1:
            mixed = {metal: kg + lot[metal] for metal, kg in mixed.items()}
    share = {metal: mixed[metal] / (slugs[metal] + rest[metal]) if mixed[metal] > 0 else 0.0 for metal in own}
    return {metal: share[metal] * (rule.mixed_per_kg - credit) for metal, credit in own.items()}
