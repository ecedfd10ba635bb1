"""Laws of uncertain inputs, points that fill them evenly, and inputs that move together.

Points are Latin hypercube points with a fixed seed; correlations act on normal scores (a Gaussian copula, textbook
standard), so every input keeps its own law.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import scipy  # its heavy rooms load when they are first used

from simkit.base.arrays import Floats
from simkit.base.messages import BadInput, Finding

LEAST_EIGENVALUE = -1e-9
"""Rounding below zero that a correlation matrix may show."""


def quantiles(law: str, low: float, typical: float, high: float, share: Floats) -> Floats:
    """Values of a law at cumulative shares 0 to 1: ``triangular`` and ``pert`` peak at ``typical``.

    The PERT law is a beta law with weight 4 on the peak (Malcolm et al. 1959, from memory). ``uniform`` ignores the
    typical value. A range of width 0 gives the typical value. Raises ValueError if the three are not ascending.
    """
    if not low <= typical <= high:
        raise ValueError(f"low {low:g}, typical {typical:g}, high {high:g} do not ascend")
    width = high - low
    if width == 0:
        return np.full(share.shape, typical)
    if law == "uniform":
        return low + width * share
    peak = (typical - low) / width
    if law == "pert":
        return low + width * np.asarray(scipy.stats.beta.ppf(share, 1 + 4 * peak, 1 + 4 * (1 - peak)), float)
    rising = np.sqrt(share * peak)
    falling = 1.0 - np.sqrt((1.0 - share) * (1.0 - peak))
    return low + width * np.where(share <= peak, rising, falling)


def correlation_matrix(names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> Floats:
    """The matrix of all pairs, 1 on its diagonal, 0 where nothing is said. Pairs of other inputs are left out.

    Raises :class:`BadInput` if no inputs can be correlated like that (an eigenvalue below zero).
    """
    place = {name: number for number, name in enumerate(names)}
    matrix = np.eye(len(names))
    for (first, second), coefficient in pairs.items():
        if first in place and second in place:
            matrix[place[first], place[second]] = matrix[place[second], place[first]] = coefficient
    if len(names) and np.linalg.eigvalsh(matrix).min() < LEAST_EIGENVALUE:
        why = "no inputs can be correlated like this: the matrix has a negative eigenvalue"
        raise BadInput([Finding("plant.toml", why, "Bring the coefficients nearer to 0", column="risk.correlations")])
    return matrix


def even_points(count: int, width: int, seed: int) -> Floats:
    """Latin hypercube points in the unit cube, shape (count, width); the same for the same seed."""
    if not width:
        return np.empty((count, 0))
    return np.asarray(scipy.stats.qmc.LatinHypercube(d=width, rng=np.random.default_rng(seed)).random(count), float)


def correlated(points: Floats, matrix: Floats) -> Floats:
    """Reorder points in the unit cube so that their normal scores have this correlation; each column keeps its values.

    Ranks are those of correlated normal scores (Iman and Conover 1982, from memory), so the columns stay as even as
    they were.
    """
    if np.array_equal(matrix, np.eye(len(matrix))):
        return points
    values, vectors = np.linalg.eigh(matrix)
    root = vectors @ np.diag(np.sqrt(np.clip(values, 0.0, None))) @ vectors.T
    ranks = np.argsort(np.argsort(scipy.stats.norm.ppf(points) @ root, axis=0), axis=0)
    return np.asarray(np.take_along_axis(np.sort(points, axis=0), ranks, axis=0), float)


def shared_luck(points: Floats, degrees: int) -> Floats:
    """Standard errors of a simulated value in each sample, one column per replication, from even points.

    ``points`` of shape (samples, replications + 1) lie in the unit cube. The sum of the columns, each times what
    leaving out its replication changes, is an error of the value. The last column widens them to Student's t with
    ``degrees`` of freedom; where these are 2 or fewer, t has no variance and the errors stay normal.
    """
    luck = np.asarray(scipy.stats.norm.ppf(points[:, :-1]), float)
    if degrees > 2:
        luck = luck / np.sqrt(scipy.stats.chi2.ppf(points[:, -1:], degrees) / degrees)
    return np.asarray(luck - luck.mean(axis=0))
