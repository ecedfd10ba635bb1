"""Numbers of one purpose of the draws, fetched in growing blocks as a run asks for them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simkit.process.draws import Draws

_CHUNK = 64


class Stream:
    """The uniform numbers of one purpose; the n-th is the same however many are asked for."""

    def __init__(self, draws: Draws, purpose: str) -> None:
        self.draws, self.purpose, self.values = draws, purpose, np.zeros(0)

    def __getitem__(self, number: int) -> float:
        if number >= len(self.values):
            self.values = self.draws.uniform(self.purpose, max(_CHUNK, 2 * (number + 1)))
        return float(self.values[number])

    def block(self, numbers: range) -> NDArray[np.float64]:
        """The numbers of a range."""
        self[numbers.stop - 1]
        return self.values[numbers.start : numbers.stop]
