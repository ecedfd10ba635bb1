"""Tools loaded wrongly: which faults an order carries, and when each is found. Pure: no clock.

A fault that breaks the tool is found at its first hit. Of the others some are found when a first piece is
measured; the rest after so many sheets while somebody is there to look, and at the latest with the order's last
sheet. Every sheet made with the wrong tool is lost and made again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from simkit.cell.orders import Job

if TYPE_CHECKING:
    from simkit.process.wrongloads import WrongLoad

AT_FIRST_HIT, AT_FIRST_PIECE, LATER = "first_hit", "first_piece", "later"


@dataclass
class FaultCounts:
    """Faults by row of load_faults.csv and by where each was found, and the seconds of work to put them right."""

    found: dict[tuple[int, str], int] = field(default_factory=dict)
    repair_s: float = 0.0

    def note(self, fault: WrongLoad, where: str) -> None:
        """Count a fault that has been found."""
        key = (fault.row, where)
        self.found[key] = self.found.get(key, 0) + 1
        self.repair_s += fault.repair_s


def take_risks(
    job: Job, risky: Mapping[str, tuple[tuple[int, ...], ...]], struck: Mapping[str, Mapping[int, WrongLoad]],
    needs: Iterable[tuple[str, int]],
) -> None:  # fmt: skip
    """Count, by row of load_faults.csv, the exchanges for an order that may have gone wrong; it carries the faults of
    those whose luck was bad. ``needs`` are the kinds of the exchanges and the numbers of the needs behind them."""
    risked = job.risked
    for kind, need in needs:
        if kind in risky:
            for row in risky[kind][need]:
                risked[row] = risked.get(row, 0) + 1
        fault = struck[kind].get(need) if kind in struck else None
        if fault is not None and fault not in job.faults:
            job.faults.append(fault)


def breaking(job: Job) -> WrongLoad | None:
    """Take the next fault of an order that breaks its tool, None if there is none."""
    for fault in job.faults:
        if fault.breaks:
            job.faults.remove(fault)
            return fault
    return None


def found_now(job: Job, made: int, *, measured: bool, attended: bool, last: bool) -> list[tuple[WrongLoad, str]]:
    """Take the faults found now, after ``made`` sheets with a wrong tool, and where each was found.

    ``measured``: this sheet was measured as a first piece; ``attended``: somebody is there to look;
    ``last``: it is the last sheet to make.
    """
    found = []
    for fault in job.faults:
        if measured and fault.at_first_piece:
            found.append((fault, AT_FIRST_PIECE))
        elif last or (attended and made >= fault.after_sheets):
            found.append((fault, LATER))
    taken = [id(fault) for fault, _ in found]
    job.faults = [fault for fault in job.faults if id(fault) not in taken]
    return found
