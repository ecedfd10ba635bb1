"""Stacks of picked parts that stand open together at a machine: of one order, or of a kit. Told what happens; no clock.

By order, an order holds a place for each kind of part; as nested, one place; a kit keeps the places of its kinds over
several orders. Stacks that stand open together are taken away together, when the first of them is full or their orders
are done. A kit that needs a place that is not free is taken away as it is and goes on with its other orders, so that
nobody waits while holding places.
"""

from __future__ import annotations

from collections.abc import Sequence

from simkit.plant.part_ways import StackStep
from simkit.plant.settings_parts import Removal

FULL_HEIGHT, FULL_MASS, ORDER_DONE, KIT_DONE, NO_PLACE, NO_WORK_LEFT, NIGHT_COMES = (
    "height", "mass", "order", "kit", "places", "no_work", "night",
)  # fmt: skip
WHY_TAKEN = (FULL_HEIGHT, FULL_MASS, ORDER_DONE, KIT_DONE, NO_PLACE, NO_WORK_LEFT, NIGHT_COMES)
"""Why stacks are taken away."""


class OpenStacks:
    """The open stacks of one machine: ``held`` places, height and mass by kind."""

    def __init__(self, limits: Removal) -> None:
        self.limits = limits
        self.kits = limits.stacking == "kits"
        self.held = self.orders = 0
        self.height_mm: dict[str, float] = {}
        self.mass_kg: dict[str, float] = {}

    def empty(self) -> int:
        """The open stacks go; return the places that they held."""
        held, self.held = self.held, 0
        self.height_mm, self.mass_kg = {}, {}
        return held

    def why_full(self, steps: Sequence[StackStep]) -> str:
        """Why the open stacks do not take another sheet; empty if they do."""
        limits = self.limits
        for step in steps:
            if self.height_mm.get(step.kind, 0.0) + step.height_mm > limits.stack_height_mm and self.held:
                return FULL_HEIGHT
        heaviest = limits.stack_mass_kg
        if heaviest is None or not self.held:
            return ""
        return FULL_MASS if any(self.mass_kg.get(s.kind, 0.0) + s.mass_kg > heaviest for s in steps) else ""

    def wanted(self, steps: Sequence[StackStep], places: int) -> int:
        """Places that the kinds of a sheet need besides those held; ``places`` are all there are."""
        new = sum(step.kind not in self.height_mm for step in steps)
        return new if self.held else min(new, places)

    def add(self, steps: Sequence[StackStep], taken: int) -> None:
        """A sheet's parts are put down, some on places just taken."""
        self.held += taken
        for step in steps:
            self.height_mm[step.kind] = self.height_mm.get(step.kind, 0.0) + step.height_mm
            self.mass_kg[step.kind] = self.mass_kg.get(step.kind, 0.0) + step.mass_kg

    def why_done(self, orders: int) -> str:
        """So many orders are done; return why the open stacks go now, empty while a kit stays open."""
        self.orders += orders
        if self.kits and self.orders < self.limits.kit_orders:
            return ""
        self.orders = 0
        return KIT_DONE if self.kits else ORDER_DONE

    def why_idle(self) -> str:
        """No work waits: a kit ends as it is; return why its stacks go, empty if none stand open."""
        self.orders = 0
        return NO_WORK_LEFT if self.held else ""


class SkeletonPallet:
    """Skeletons on one machine's pallet."""

    def __init__(self, places: int) -> None:
        self.places, self.lying, self.put_down, self.filled = places, 0, 0, 0

    def put(self) -> bool:
        """One more is put down; return whether the pallet is full now and goes."""
        self.lying += 1
        self.put_down += 1
        full = self.places > 0 and self.lying >= self.places
        if full:
            self.take()
        return full

    def take(self) -> None:
        """The pallet goes with what lies on it."""
        self.lying = 0
        self.filled += 1
