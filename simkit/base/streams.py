"""Random streams keyed by (seed, replication, purpose); the entity is the index into the stream.

A purpose has its own stream, so that switching one thing off never changes the luck of another,
and the first ``n`` numbers of a stream do not depend on how many are asked for.
"""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray


def uniforms(seed: int, replication: int, purpose: str, count: int) -> NDArray[np.float64]:
    """Return ``count`` uniform numbers in [0, 1) for this seed, replication and purpose."""
    words = (seed, replication, zlib.crc32(purpose.encode()))
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(words))).random(count)
