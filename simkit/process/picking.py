"""How long a sheet stands on a machine whose parts are taken out one by one: pure arithmetic, vectorised.

While the picker works the machine goes on, but for the part of each pick during which the sheet must stand still; and
a sheet stays until its picks are done. Before a re-clamp all parts that were cut so far must be out, so the time is
summed over the stretches between re-clamps, over which process and parts are split evenly, parts as whole ones.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.plant.settings_parts import Removal

Floats = NDArray[np.float64]


def sheet_time_s(
    process_s: ArrayLike, picks_s: ArrayLike, blocking_s: ArrayLike, picked: ArrayLike, reclamps: ArrayLike,
    limits: Removal,
) -> Floats:  # fmt: skip
    """Seconds of a sheet from its first stroke until its last part is out, one entry per sheet.

    ``picks_s`` and ``blocking_s`` are the sums over its ``picked`` parts of the whole cycle and of the share that holds
    the sheet still; ``reclamps`` counts its re-clamps. Each stretch takes its process and blocking time, and never
    less than its picks: shared by all pickers, or, where each has a zone of its own, those of the fuller zone. Source:
    rules of the cell; closed form worked by hand.
    """
    process, picks, blocking = (np.asarray(each, float) for each in (process_s, picks_s, blocking_s))
    number = np.maximum(np.asarray(picked, np.int64), 1)
    stretches = np.asarray(reclamps, np.int64) * limits.out_before_reclamp + 1
    fewer, longer = number // stretches, number % stretches

    def stretch_s(parts: NDArray[np.int64]) -> Floats:
        share = parts / number
        seconds: Floats = np.maximum(process / stretches + blocking * share, picks * (_cycles(parts, limits) / number))
        return seconds

    total: Floats = longer * stretch_s(fewer + 1) + (stretches - longer) * stretch_s(fewer)
    return total


def _cycles(parts: NDArray[np.int64], limits: Removal) -> Floats:
    """Picks that follow one another where so many parts are picked: shared evenly, or those of the fuller zone."""
    pickers = max(limits.pickers, 1)
    return parts / pickers if limits.pickers_share else np.ceil(parts / pickers)
