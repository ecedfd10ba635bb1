"""Rows of what goes wrong and what is cared for: stops, tools loaded wrongly, upkeep, marks on parts."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic.dataclasses import dataclass

from simkit.base.vocabulary import (
    BASES,
    EXPECTED,
    EXPOSURES,
    FAULT_MOMENTS,
    NIGHT_LIMITS,
    PARAMETRIC_LAWS,
    PRICED,
)  # fmt: skip
from simkit.plant.conditions import Condition
from simkit.plant.fields import ROW, OneOf, column
from simkit.plant.values import LISTED, Flag, Id, Number, Whole

_PRICED = ("how money reads the sheets and tools that it costs: expected, probability times exposure; counted, what "
           "came in the runs")  # fmt: skip
CARE_EXPOSURES = ("running_hour", "cutting_hour", "sheet", "open_day", "slug_kg")
"""What upkeep is counted by; the last is the mass of slugs that falls into the bin."""

LawName = Annotated[str, OneOf(PARAMETRIC_LAWS)]
RepairLaw = Annotated[str, OneOf((*PARAMETRIC_LAWS, "sequence"))]
Basis = Annotated[str, OneOf(BASES)]
Priced = Annotated[str, OneOf(PRICED)]
Exchange = Annotated[str, OneOf(FAULT_MOMENTS)]


@dataclass(frozen=True, kw_only=True, config=ROW)
class Stop:
    """A cause of unplanned stops."""

    cause: Id = column("the cause", key=True)
    acts: Literal["both", "attended", "unattended"] = column(
        "hours in which it strikes and its exposure grows: both, or where a sheet's run begins or goes on attended, or "
        "unattended; a cause with two rates has a row for each", default="both", key=True)  # fmt: skip
    exposure: Annotated[str, OneOf(EXPOSURES)] = column("what it grows with")
    rate: Number = column("stops per unit of exposure", low=0)
    retries: Whole = column("tries to go on without a person", low=0, high=100, default=0)
    retry_success: Number = column("chance that one try succeeds", low=0, high=1, default=0.0)
    retry_s: Number = column("time of one try", unit="s", low=0, default=0.0)
    repair_law: RepairLaw = column("law of the time to clear", default="constant")
    repair_min: Number = column("mean time to clear", unit="min", low=0)
    repair_cv: Number = column("coefficient of variation of that time", low=0, default=0.0)
    clears: Literal["nobody", "clear", "technician"] = column("who clears it", default="clear")
    needs_entry: Flag = column("clearing it means entering the guarded cell of a removal device, where there is one; "
                               "else it is cleared at the panel", default=True)  # fmt: skip
    sheets_scrapped: Number = column("sheets lost on average", unit="sheets", low=0, default=0.0)
    break_share: Number = column("share that breaks a tool", low=0, high=1, default=0.0)
    file: str = column("file of exposures between stops and repair times, for sequence laws", default="")
    early_factor: Number = column("rate at the start of the run over the settled rate", low=0.01, high=100, default=1.0)
    settle_weeks: Number = column("time constant with which the rate settles exponentially; 0: settled from the start",
                                  unit="weeks", low=0, default=0.0)  # fmt: skip
    priced: Priced = column(_PRICED, default=EXPECTED)
    basis: Basis = column("where the number comes from", default="default")
    source: str = column("who or what says so", default="common practice, no source")

    @property
    def clock(self) -> str:
        """Name of its exposure clock and its luck: that of unattended hours has its own."""
        return f"{self.cause} {self.acts}" if self.acts == "unattended" else self.cause

    def acts_in(self, *, attended: bool) -> bool:
        """Whether it strikes in such hours."""
        return self.acts in ("both", "attended" if attended else "unattended")


@dataclass(frozen=True, kw_only=True, config=ROW)
class LoadFault:
    """A way in which a tool is loaded wrongly, or comes back from grinding wrongly.

    All rows that are for an exchange count, in the order of the file.
    """

    fault: Id = column("the fault", key=True)
    applies_to: Condition = column(
        "tools and programs it is for, as in elongated=true; empty: all", default="", key=True
    )
    exchanges: Annotated[tuple[Exchange, ...], LISTED] = column(
        "exchanges at which it happens; regrind: as a reground tool comes back, its die not shimmed or its length "
        "wrong in the record"
    )
    rate: Number = column("share of such exchanges that goes unnoticed", low=0, high=1)
    break_share: Number = column("share in which the tool breaks at its first hit", low=0, high=1, default=0.0)
    found_first_piece: Number = column("of those that break nothing, share found when a first piece is measured",
                                       low=0, high=1, default=0.0)  # fmt: skip
    found_after_sheets: Number = column("mean sheets made until it is found otherwise, at the latest the order's last",
                                        unit="sheets", low=1, default=1.0)  # fmt: skip
    repair_law: LawName = column("law of the time to put it right", default="constant")
    repair_min: Number = column("mean time to put it right", unit="min", low=0)
    repair_cv: Number = column("coefficient of variation of that time", low=0, default=0.0)
    clears: Literal["clear", "technician"] = column("who puts it right", default="clear")
    priced: Priced = column(_PRICED, default=EXPECTED)
    basis: Basis = column("where the number comes from", default="default")
    source: str = column("who or what says so", default="common practice, no source")


@dataclass(frozen=True, kw_only=True, config=ROW)
class Upkeep:
    """A routine task of upkeep."""

    task: Id = column("the task", key=True)
    exposure: Annotated[str, OneOf(CARE_EXPOSURES)] = column("what it is counted by")
    interval: Number = column("exposure between two times; of slug_kg, what the bin holds in kg", low=0)
    duration_min: Number = column("time, isolation apart", unit="min", low=0)
    duration_law: LawName = column("law of that time", default="constant")
    duration_cv: Number = column("coefficient of variation", low=0, default=0.0)
    needs_person: Flag = column("needs a person", default=True)
    planned_in_break: Flag = column("done in breaks, costs no machine time when attended", default=False)
    break_by: Literal["crew", "others"] = column(
        "who does what is planned in breaks: crew, the one with the skill upkeep whose break comes next, who takes the "
        "break after it; others, who are not of the cell", default="crew")  # fmt: skip
    isolation_min: Number = column(
        "time to isolate and release, never zero at a hazard", unit="min", low=0, default=0.0
    )
    night_limit: Annotated[str, OneOf(NIGHT_LIMITS)] = column("how a night that it ends is counted", default="output")
    basis: Basis = column("where the number comes from", default="default")
    source: str = column("who or what says so", default="common practice, no source")


@dataclass(frozen=True, kw_only=True, config=ROW)
class Quality:
    """A cause of marks, burr or scrap on parts."""

    cause: Id = column("the cause", key=True)
    applies_to: Condition = column("parts it is for, as in surface_sensitive=true; empty: all; handover is how the "
                                   "part itself leaves: bench, stack, removal or chute", default="",
                                   key=True)  # fmt: skip
    rate: Number = column("share of parts, or of lifts of a part, that it marks", low=0, high=1)
    per: Literal["part", "lift"] = column(
        "part: once a part; lift: at each time that the part is lifted after it is cut, alone or in its sheet",
        default="part")  # fmt: skip
    rework_min: Number = column("rework of one part", unit="min", low=0, default=0.0)
    scrap_share: Number = column("share of those that is scrap", low=0, high=1, default=0.0)
    basis: Basis = column("where the number comes from", default="default")
    source: str = column("who or what says so", default="common practice, no source")
