"""Random streams keyed by (seed, replication, purpose); the entity is the index into the stream.

A purpose has its own stream, so that switching one thing off never changes the luck of another,
and the first ``n`` numbers of a stream do not depend on how many are asked for. What has a name of its own and no
number among its like (a part on a sheet) is drawn by its name alone: see :func:`keyed`.
"""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import ArrayLike, NDArray

UInts = NDArray[np.uint64]

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX = (np.uint64(30), np.uint64(0xBF58476D1CE4E5B9), np.uint64(27), np.uint64(0x94D049BB133111EB), np.uint64(31))


def uniforms(seed: int, replication: int, purpose: str, count: int) -> NDArray[np.float64]:
    """Return ``count`` uniform numbers in [0, 1) for this seed, replication and purpose."""
    words = (seed, replication, name_of(purpose))
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(words))).random(count)


def mixed(start: ArrayLike, number: ArrayLike) -> UInts:
    """Output ``number`` (from 0) of the generator SplitMix64 started at ``start``, element by element; 64 bits each.

    Source: Steele, Lea and Flood, Fast splittable pseudorandom number generators, 2014 (from memory).
    """
    first, one, second, two, third = _MIX
    with np.errstate(over="ignore"):
        z = np.asarray(start, np.uint64) + _GOLDEN * (np.asarray(number, np.uint64) + np.uint64(1))
        z = (z ^ (z >> first)) * one
        z = (z ^ (z >> second)) * two
    return np.asarray(z ^ (z >> third))


def name_of(text: str) -> int:
    """A number that stands for a name, the same in every run."""
    return zlib.crc32(text.encode())


def entity(*numbers: ArrayLike) -> UInts:
    """One number for what several whole numbers name together, as a sheet, a part and which of them; element-wise."""
    found: UInts = np.zeros((), np.uint64)
    for number in numbers:
        found = mixed(found, number)
    return found


def keyed(seed: int, replication: int, purpose: str, entities: ArrayLike) -> NDArray[np.float64]:
    """Uniform numbers in [0, 1), each by its entity alone (:func:`entity`), whatever else is drawn beside it."""
    words = (seed, replication, name_of(purpose))
    start = np.random.SeedSequence(words).generate_state(1, np.uint64)
    return np.asarray((mixed(start[0], entities) >> np.uint64(11)) * 2.0**-53)
