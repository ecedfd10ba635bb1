"""Streams: by seed, replication and purpose; longer ones contain shorter ones."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from simkit.base.streams import uniforms


def test_a_longer_stream_contains_a_shorter_one() -> None:
    assert uniforms(1, 2, "load", 10).tolist() == uniforms(1, 2, "load", 1000)[:10].tolist()


def test_each_part_of_the_key_gives_another_stream() -> None:
    keys = [(1, 2, "load"), (2, 2, "load"), (1, 3, "load"), (1, 2, "unload"), (2, 1, "load")]
    for one, other in combinations(keys, 2):
        assert abs(np.corrcoef(uniforms(*one, 10_000), uniforms(*other, 10_000))[0, 1]) < 0.04


def test_numbers_are_uniform() -> None:
    values = uniforms(1, 0, "any", 100_000)
    assert 0.0 <= values.min() < values.max() < 1.0
    assert values.mean() == pytest.approx(0.5, abs=4 / np.sqrt(12 * 100_000))
