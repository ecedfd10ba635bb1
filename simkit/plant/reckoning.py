"""What a value becomes under edits: set, then multiplied, then added to."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from simkit.plant.options import Edit
from simkit.plant.section import LARGEST
from simkit.plant.values import Fault


def reckoned(value: Any, chosen: Edit | None, asked: Sequence[Edit], fit: Callable[[Any], Any]) -> Any:
    """Return the value after the set, the product of the factors and the sum of the summands."""
    if chosen is not None:
        value = fit(chosen.value)
    factors = [_number(edit, "factor") for edit in asked if edit.op == "multiply"]
    summands = [edit for edit in asked if edit.op == "add"]
    if not factors and not summands:
        return value
    if isinstance(value, list | tuple) and not factors:
        extra = [item for edit in summands for item in (edit.value if isinstance(edit.value, list) else [edit.value])]
        return [*value, *(item for at, item in enumerate(extra) if item not in value and item not in extra[:at])]
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise Fault("kind", f"cannot be multiplied or added to: it holds {value!r}", 'Use op = "set"')
    result = value * math.prod(factors) + math.fsum(_number(edit, "summand") for edit in summands)
    return int(result) if isinstance(value, int) and result == int(result) else result


def unset(value: Any) -> Any:
    """Return None for the word none, which TOML cannot write otherwise."""
    return None if value == "none" else value


def _number(edit: Edit, what: str) -> float:
    value = edit.value
    if not isinstance(value, int | float) or isinstance(value, bool) or not abs(value) <= LARGEST:
        raise Fault("kind", f"{value!r} is not a {what}", "Write a number without quotation marks")
    return value
