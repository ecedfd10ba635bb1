"""Changes of what an option costs and promises, by paths such as ``options[A1].capital.quoted``.

What an option does to the plant is not changed so: that is a change of the plant itself. When only the quoted price of
a range changes, its low and high change in proportion, so that the relative uncertainty is kept.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from simkit.base.messages import Finding
from simkit.plant.options import Edit, Option
from simkit.plant.paths import OPTIONS, holder_of, steps_of, unknown, way_in
from simkit.plant.settings_base import LARGEST
from simkit.plant.toml_files import validate
from simkit.plant.values import Refusal, near

FIXED = ("id", "kind", "needs", "excludes", "overrides", "edits")
"""Keys that say what an option is and does."""
ENDS = ("low", "quoted", "high")


def names_option(path: str) -> bool:
    """Whether a path begins with ``options``."""
    return steps_of(path)[:1] == [OPTIONS]


def changed_options(options: Sequence[Option], edits: Sequence[Edit]) -> tuple[tuple[Option, ...], list[Finding]]:
    """Return the options with the edits applied in their order, and what is wrong with the others."""
    found = {option.id: option for option in options}
    findings: list[Finding] = []
    for edit in edits:
        try:
            option = _changed(found, edit)
        except Refusal as fault:
            findings.append(Finding("", fault.why, fault.mend, column=edit.path, value=str(edit.value)))
        else:
            found[option.id] = option
    return tuple(found.values()) if edits else tuple(options), findings


def _changed(options: dict[str, Option], edit: Edit) -> Option:
    """One option with one edit; raises Refusal where the path leads nowhere or the value does not fit."""
    _, *steps = steps_of(edit.path)
    name = steps[0][1:-1] if steps and steps[0].startswith("[") else ""
    if name not in options:
        raise unknown(f"'{name}' is not an option", near(name, options) if options else "the plant has none")
    content = options[name].model_dump(mode="json")
    way = way_in(Option, f"{OPTIONS}[{name}]", steps[1:], content)
    if way[0] in FIXED:
        why = f"'{way[0]}' says what the option is and does"
        raise Refusal("path", why, "Change the plant itself, or edit options.toml")
    holder = holder_of(content, way)
    before, last = dict(holder) if isinstance(holder, dict) else {}, way[-1]
    holder[last] = reckoned(holder[last], edit if edit.op == "set" else None, [edit], unset)
    option = _checked(content)
    if last not in ENDS or not set(ENDS) <= set(before):
        return option
    _keep_proportion(holder, before, last)
    return _checked(content)


def _checked(content: dict[str, Any]) -> Option:
    option, faults = validate(Option, content)
    if option is None:
        raise Refusal("value", faults[0][1].why, faults[0][1].mend)
    return option


def _keep_proportion(holder: Any, before: dict[str, Any], changed: int | str) -> None:
    """Scale low and high with a new quoted price; refuse ends that no longer lie on their sides of it."""
    if changed == "quoted":
        factor = holder["quoted"] / before["quoted"] if before["quoted"] else None
        ends = {end: holder["quoted"] if factor is None else before[end] * factor for end in ("low", "high")}
        holder.update({end: value for end, value in ends.items() if before[end]})
    named = [holder[end] for end in ENDS if holder[end] or end == "quoted"]
    if named != sorted(named):
        raise Refusal("range", "low, quoted and high are not in this order", "Change quoted alone, or all three")


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
        raise Refusal("kind", f"cannot be multiplied or added to: it holds {value!r}", 'Use op = "set"')
    result = value * math.prod(factors) + math.fsum(_number(edit, "summand") for edit in summands)
    return int(result) if isinstance(value, int) and result == int(result) else result


def unset(value: Any) -> Any:
    """Return None for the word none, which TOML cannot write otherwise."""
    return None if value == "none" else value


def _number(edit: Edit, what: str) -> float:
    value = edit.value
    if not isinstance(value, int | float) or isinstance(value, bool) or not abs(value) <= LARGEST:
        raise Refusal("kind", f"{value!r} is not a {what}", "Write a number without quotation marks")
    return value
