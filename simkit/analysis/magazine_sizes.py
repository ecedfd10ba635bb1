"""Magazines of other sizes: which case brings the plant its magazine, and that magazine at shares of its places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from simkit.analysis.low_capital import Options, why_illegal
from simkit.analysis.standard_layout import StaticBook
from simkit.experiment.intervals import Estimate
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings import Magazine
from simkit.tooling.capacity import Deserving, keep_list

SHARES = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25)
"""Shares of its places at which a magazine is simulated; nothing at all is the first."""

LEAST_GAIN_SHARE = 0.005
"""What saves less than this share of today's hours is not worth a place (common practice, no source)."""


def magazine_case(plant: Plant) -> Options | None:
    """The case that has a magazine: today, else the first bought option that brings one; None if there is none."""
    if plant.settings.magazine.places:
        return ()
    bought = (option.id for option in plant.options if option.kind == "bought")
    legal = ((name,) for name in bought if not why_illegal(plant, (name,)))
    return next((options for options in legal if magazine_of(plant, options).places), None)


def magazine_of(plant: Plant, options: Options) -> Magazine:
    """The magazine that a case has."""
    return make_scenario(plant, options).plant.settings.magazine


def places_at(magazine: Magazine, share: float) -> dict[str, int]:
    """Places by station size (mm) at a share of those the magazine has, rounded to whole places, half upward."""
    return {size: int(share * places + 0.5) for size, places in magazine.places.items()}


def size_overrides(magazine: Magazine, share: float) -> tuple[str, ...]:
    """Overrides that give a case the share; listed contents give way to the most used tools, since they may not fit.

    At a share of zero there is no magazine.
    """
    places = places_at(magazine, share) if share else {}
    listed = (f"plant.magazine.contents={[]}",) if magazine.contents and share != 1 else ()
    return (f"plant.magazine.places={_inline(places)}", *listed)


def _inline(places: Mapping[str, int]) -> str:
    """Write places as an inline table of TOML."""
    return "{" + ", ".join(f'"{size}" = {count}' for size, count in places.items()) + "}"


def keep_rows(plant: Plant, options: Options) -> tuple[Deserving, ...]:
    """Tools in the order in which they deserve a place in the magazine of a case, over the book in order of release."""
    own = make_scenario(plant, options).plant
    return keep_list(own.settings, own.tools, [order.needs for order in StaticBook(own).orders])


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
