"""Streams: by seed, replication and purpose; longer ones contain shorter ones."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from simkit.base import streams
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


def test_named_numbers_come_from_the_published_generator() -> None:
    """SplitMix64 started at 1234567 gives these first numbers (published test values, from memory)."""
    found = [int(streams.mixed(1234567, number)) for number in range(3)]
    assert found == [6457827717110365317, 3203168211198807973, 9817491932198370423]


def test_what_is_drawn_by_its_name_does_not_depend_on_its_company() -> None:
    names = streams.entity(np.arange(1000), 7, 3)
    luck = streams.keyed(41, 2, "pick", names)
    assert streams.keyed(41, 2, "pick", names[[900, 3]]).tolist() == luck[[900, 3]].tolist()
    assert len(set(names.tolist())) == 1000
    assert luck.min() >= 0
    assert luck.max() < 1
    assert abs(luck.mean() - 0.5) < 4 * np.sqrt(1 / 12 / 1000)
    assert abs(np.corrcoef(luck[:-1], luck[1:])[0, 1]) < 4 / np.sqrt(1000)
    assert (streams.keyed(41, 3, "pick", names) != luck).all()
