"""Magazines of other sizes: shares of the places on offer, which size is enough, and what belongs into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from simkit.analysis.standard_layout import StaticBook
from simkit.experiment.intervals import Estimate
from simkit.plant.plant import Plant
from simkit.plant.settings import Magazine
from simkit.tooling.capacity import Deserving, keep_list

SHARES = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25)
"""Shares of its places at which a magazine is simulated; nothing at all is the first."""

LEAST_GAIN_SHARE = 0.005
"""What saves less than this share of today's hours is not worth a place (common practice, no source)."""


def places_at(magazine: Magazine, share: float) -> dict[str, int]:
    """Places by station size (mm) at a share of those the magazine has, rounded to whole places, half upward."""
    return {size: int(share * places + 0.5) for size, places in magazine.places.items()}


def size_changes(magazine: Magazine, share: float) -> dict[str, Any]:
    """Changes that give a plant the share; listed contents give way to the most used tools, since they may not fit.

    At a share of zero there is no magazine.
    """
    listed: dict[str, Any] = {"plant.magazine.contents": []} if magazine.contents and share != 1 else {}
    return {"plant.magazine.places": places_at(magazine, share) if share else {}, **listed}


def keep_rows(plant: Plant) -> tuple[Deserving, ...]:
    """Tools in the order in which they deserve a place in the plant's magazine, over the book in order of release."""
    return keep_list(plant.settings, plant.tools, [order.needs for order in StaticBook(plant).orders])


@dataclass(frozen=True)
class SizePoint:
    """A size of the magazine: share of the places on offer, places, scenario, and hours needed against all places."""

    share: float
    places: int
    scenario: str
    against_own: Estimate | None


def enough(points: Sequence[SizePoint], least_h: float) -> SizePoint | None:
    """The smallest size that does not surely need ``least_h`` hours more than all places on offer.

    None if a larger size than the one on offer surely saves as much. Less than ``least_h`` is not worth a place.
    """
    if any(_differs(point, -1, least_h) for point in points if point.share > 1):
        return None
    return min((p for p in points if not _differs(p, 1, least_h)), key=lambda point: point.places, default=None)


def _differs(point: SizePoint, sign: int, least_h: float) -> bool:
    """Whether the difference surely has this sign and is worth mentioning."""
    gap = point.against_own
    return gap is not None and gap.tells and sign * gap.mean >= max(least_h, 0.0) and sign * gap.mean > 0
