"""Learning curves: how time falls with the number of pieces made.

Kept for their published rows and for notebooks: no page reads them, since no input of a plant counts pieces made, and
a plant's ramp is a straight line by months.
"""

from __future__ import annotations

import math


def wright_average(first: float, share: float, count: float) -> float:
    """Cumulative average per piece after ``count`` pieces, falling to ``share`` of it at each doubling.

    The total of the first n pieces is n times it. Source: Wright's curve, textbook standard; checked against D33.
    """
    return float(first * count ** math.log2(share))


def crawford_unit(first: float, share: float, piece: float) -> float:
    """Time of one piece, falling to ``share`` of it at each doubling of its number.

    Source: Crawford's curve, textbook standard; checked against D33.
    """
    return float(first * piece ** math.log2(share))


def crawford_total(first: float, share: float, count: int, after: int = 0) -> float:
    """Total of ``count`` pieces after the first ``after`` ones, on Crawford's curve. Checked against D33."""
    return sum(crawford_unit(first, share, piece) for piece in range(after + 1, after + count + 1))
