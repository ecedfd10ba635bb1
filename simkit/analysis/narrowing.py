"""What knowing some inputs exactly would take away of the spread of an answer, from samples that are there already.

The share of the variance that inputs explain together is Var(E[Y|X]) / Var(Y). It is estimated on the given samples by
least squares on Legendre polynomials of the inputs' ranks, corrected for the number of terms as an adjusted R². Samples
may be correlated: an input then counts with what it tells of the others (textbook standard; the first-order index of
independent inputs is the same quantity).
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

import numpy as np
import scipy  # its heavy rooms load when they are first used
from numpy.polynomial import legendre
from numpy.typing import NDArray

Floats = NDArray[np.float64]
DEGREES, DEGREE = {1: 10, 2: 6, 3: 4}, 2
"""Highest sum of degrees of the polynomials of one, two and three inputs, and of more: terms grow fast with them."""


def explained_share(inputs: Sequence[Floats], values: Floats) -> float:
    """Share 0 to 1 of the variance of ``values`` that some inputs explain together; one array of samples each.

    0 without inputs or where nothing varies. Raises ValueError for fewer samples than twice the terms.
    """
    if not inputs or np.ptp(values) == 0:
        return 0.0
    terms = _terms([_spread(one) for one in inputs])
    count, width = terms.shape
    if count < 2 * width:
        raise ValueError(f"{count} samples are too few for {width} terms")
    fitted, *_ = np.linalg.lstsq(terms, values, rcond=None)
    left = float(np.square(values - terms @ fitted).sum() / np.square(values - values.mean()).sum())
    return float(np.clip(1 - left * (count - 1) / (count - width), 0.0, 1.0))


def shares(inputs: Mapping[str, Floats], values: Floats) -> dict[str, float]:
    """The share of each input alone, the largest first."""
    found = {name: explained_share([one], values) for name, one in inputs.items()}
    return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def narrowed(share: float) -> float:
    """Width of a range over what it was, once inputs that explain this share of the variance are known."""
    return float(np.sqrt(1.0 - share))


def _spread(values: Floats) -> Floats:
    """Ranks, from -1 to 1."""
    return np.asarray(2 * (scipy.stats.rankdata(values) - 0.5) / len(values) - 1, float)


def _terms(points: Sequence[Floats]) -> Floats:
    """All products of Legendre polynomials of the points with a sum of degrees up to the highest."""
    highest = DEGREES.get(len(points), DEGREE)
    alone = [legendre.legvander(one, highest) for one in points]
    degrees = (d for d in itertools.product(range(highest + 1), repeat=len(points)) if sum(d) <= highest)
    return np.column_stack([np.prod([own[:, d] for own, d in zip(alone, of, strict=True)], axis=0) for of in degrees])
