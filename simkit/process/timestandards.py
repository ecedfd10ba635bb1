"""Work study: how many cycles have to be timed until a mean is known. Textbook formula, from memory.

Times of one call are in one unit, s in the names; arrays that broadcast against each other give arrays of the common
shape; what lies outside its range is refused with a ValueError that names it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from simkit.process.quantities import Whole, above_zero, not_below_zero, whole

Z_95 = 1.96
"""Standard normal quantile of a two-sided 95 % interval."""


def observations_needed(mean_s: ArrayLike, deviation_s: ArrayLike, accuracy: ArrayLike, z: ArrayLike = Z_95) -> Whole:
    """Cycles to time until the mean is known to within a share of itself: ``(z s / (accuracy mean))^2``, rounded up.

    ``deviation_s`` is the standard deviation of a first sample; ``z`` 1.96 stands for 95 % confidence.
    """
    half_width = above_zero(accuracy, "accuracy") * above_zero(mean_s, "mean_s")
    cycles = (above_zero(z, "z") * not_below_zero(deviation_s, "deviation_s") / half_width) ** 2
    return whole(np.maximum(np.ceil(cycles), 1), "cycles")
