"""What is made of a plant is made once, and kept for the plant's other runs."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

Source = TypeVar("Source")
Made = TypeVar("Made")
More = ParamSpec("More")
MOST = 256
"""So many results of one function are kept; then it begins anew."""


def kept(make: Callable[Concatenate[Source, More], Made]) -> Callable[Concatenate[Source, More], Made]:
    """Keep what a function makes of this very object (a plant is frozen) and further, hashable arguments by place."""
    known: dict[Hashable, tuple[Source, Made]] = {}

    @wraps(make)
    def found(source: Source, /, *more: More.args, **named: More.kwargs) -> Made:
        key = (id(source), *more, *named.items())
        if key not in known or known[key][0] is not source:
            if len(known) >= MOST:
                known.clear()
            known[key] = source, make(source, *more, **named)
        return known[key][1]

    return found
