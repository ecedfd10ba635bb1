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


@dataclass(frozen=True)
class Row:
    """A published value beside its source.

    ``function`` is the full dotted name of a public function, ``inputs`` its keyword arguments.
    ``expected`` is a number, a word, a tuple or a mapping of them, in ``unit``. ``tolerance`` is the
    largest absolute difference, in the same unit; 0 means equal. ``source`` names a publication,
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
        expected = pytest.approx(self.expected, rel=0.0, abs=self.tolerance)
        assert actual == expected, f"{self.id}: {actual} is not {self.expected} {self.unit} ({self.source})"
