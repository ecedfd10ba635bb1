"""One row per published or worked value: what goes in, what must come out, how near, why, and who says so.

A module of ``tests/published`` holds a list ``PUBLISHED`` of rows and one test over it::

    @pytest.mark.parametrize("row", PUBLISHED, ids=str)
    def test_published(row):
        row.check()
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import pytest


def in_words(expected: Any) -> bool:
    """Whether an expected value is a word, or a tuple or mapping of words only."""
    if isinstance(expected, Mapping):
        expected = tuple(expected.values())
    if isinstance(expected, tuple):
        return bool(expected) and all(isinstance(value, str) for value in expected)
    return isinstance(expected, str)


@dataclass(frozen=True)
class Row:
    """A published value beside its source.

    ``function`` is the full dotted name of a public function, ``inputs`` its keyword arguments.
    ``expected`` is a number, a tuple or a mapping of numbers, in ``unit``; or words, a tuple or a mapping of words,
    which are compared as they stand. ``tolerance`` is the largest absolute difference of numbers, in the same
    unit; 0 means equal, and words need 0. ``source`` names a publication,
    or says "worked by hand" or "common practice, no source". ``read`` takes the value to
    compare out of the result, when the function returns more.
    """

    id: str
    function: str
    inputs: Mapping[str, Any]
    expected: Any
    unit: str
    tolerance: float
    tolerance_reason: str
    source: str
    read: Callable[[Any], Any] | None = None

    def __str__(self) -> str:
        return self.id

    def target(self) -> Callable[..., Any]:
        """The function that ``function`` names."""
        module, _, name = self.function.rpartition(".")
        return getattr(importlib.import_module(module), name)

    def check(self) -> None:
        """Call the function and compare; fails with the row's id, unit and source."""
        result = self.target()(**self.inputs)
        actual = self.read(result) if self.read else result
        words = in_words(self.expected)
        assert not (words and self.tolerance), f"{self.id}: words have no tolerance"
        expected = self.expected if words else pytest.approx(self.expected, rel=0.0, abs=self.tolerance)
        assert actual == expected, f"{self.id}: {actual} is not {self.expected} {self.unit} ({self.source})"
