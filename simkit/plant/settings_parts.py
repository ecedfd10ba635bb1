"""Settings of ``plant.toml`` about where sheets come from and parts go: store, removal, bench, stacks, hands."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from simkit.plant.settings_base import Section


class StoreSettings(Section):
    """Sheet store; absent when it has no shelves."""

    shelves: int = Field(
        default=0,
        ge=0,
        description="materials at hand without a person, the most used of the book; filling them is somebody's work, "
        "by rows of elements.csv per store_load (a pack) or, where a material is not counted in packs, stored_sheet",
    )
    packs: int = Field(default=0, ge=0, description="full packs kept of each of them; 0: it never runs out")
    remnants_kept: float = Field(
        default=0.0,
        ge=0,
        le=1,
        description="share of the remnants of programs.csv that is put back and really used again",
    )


class Removal(Section):
    """Automatic part removal; absent without pickers. Limits decide which parts it can take."""

    pickers: int = Field(default=0, ge=0, description="pickers that work on one sheet")
    pickers_share: bool = Field(
        default=True, description="pickers share a sheet's parts; else each its own zone, and the fuller one counts"
    )
    out_before_reclamp: bool = Field(
        default=True, description="parts cut before a re-clamp are out before it; else picks even out over the sheet"
    )
    max_removed_share: float = Field(
        default=1.0,
        ge=0,
        le=1,
        description="share of a sheet's area that may be taken out before the skeleton is too weak; a program above "
        "it keeps all its parts for the bench; 1: no limit",
    )
    max_mass_kg: float = Field(default=20.0, gt=0, description="heaviest part, kg")
    min_side_mm: float = Field(default=100.0, ge=0, description="shortest side at least, mm")
    max_side_mm: float = Field(default=1250.0, gt=0, description="longest side at most, mm")
    max_form_height_mm: float = Field(default=5.0, ge=0, description="forms must be lower than this, mm")
    min_flat_area_mm2: float = Field(default=0.0, ge=0, description="flat area for the cups, mm2")
    min_clear_circle_mm: float = Field(
        default=0.0, ge=0, description="circle free of holes around the centre of mass that a cup needs, mm"
    )
    takes_sensitive: bool = Field(default=True, description="takes parts with sensitive surfaces too, filmed or bright")
    stack_places: int = Field(default=4, ge=1, description="places for stacks")
    stack_height_mm: float = Field(default=400.0, gt=0, description="height at which a stack is full, mm")
    stack_mass_kg: float | None = Field(
        default=None, gt=0, description="mass at which a stack is full, kg; none: no limit"
    )
    stacking: Literal["by_order", "as_nested", "kits"] = Field(
        default="by_order",
        description="by_order: a place per kind of part, for one order; as_nested: one place per order, parts as they "
        "lay in the sheet; kits: a place per kind, kept open over several orders",
    )
    kit_orders: int = Field(default=2, ge=1, description="orders over which a kit's stacks stay open, per machine")
    skeleton_places: int = Field(default=0, ge=0, description="skeletons on their pallet, per machine; 0: never full")
    sample_drawer: bool = Field(default=False, description="first pieces come out without entering the cell")
    yield_loss: float = Field(
        default=0.0,
        ge=0,
        lt=1,
        description="share of the parts that no longer fit on a sheet with removal, for want of room between them: its "
        "orders take sheets / (1 - yield_loss), a fraction of a sheet as a whole one with that chance",
    )


class BenchSettings(Section):
    """Separation bench."""

    places: int = Field(default=3, ge=1, description="sheets waiting and in work")


class Scrap(Section):
    """What is kept apart by metal and what is sold mixed, at one credit; money only."""

    slugs: Literal["by_metal", "mixed"] = Field(
        default="by_metal", description="slugs in a bin for each metal, or all in one, as under a conveyor"
    )
    skeletons: Literal["by_metal", "mixed"] = Field(
        default="by_metal", description="skeletons and scrapped sheets by metal, or all in one container"
    )
    mixed_per_kg: float = Field(
        default=0.0,
        ge=0,
        description="credit for mixed scrap, money/kg; holds only where scrap of two metals or more is mixed",
    )


class HandlingSettings(Section):
    """Where hands are when sheets and parts are lifted, for the lifting equation: assumed until measured."""

    bench_height_mm: float = Field(default=900.0, ge=0, le=1750, description="hands at a part in the sheet, mm")
    stack_height_mm: float = Field(default=500.0, ge=0, le=1750, description="hands where parts are put down, mm")
    sheet_stack_height_mm: float = Field(default=500.0, ge=0, le=1750, description="hands at the stack of sheets, mm")
    table_height_mm: float = Field(default=950.0, ge=0, le=1750, description="hands at the machine's table, mm")
    twist_deg: float = Field(default=45.0, ge=0, le=135, description="turn of the body at both ends of a lift, degrees")
    grip: Literal["good", "fair", "poor"] = Field(
        default="poor", description="coupling of the hands; loose parts with sharp edges count as poor"
    )


class Stack(Section):
    """Stack for whole sheets, an automatic hand-over; absent without places."""

    places: int = Field(default=0, ge=0, description="whole sheets it holds")
    use: Literal["unattended", "always", "by_program"] = Field(
        default="unattended",
        description="which whole sheets go there while it has room: all in unattended hours; all, always; or those of "
        "programs with handover stack alone, which go there at any hour under each of these rules",
    )
