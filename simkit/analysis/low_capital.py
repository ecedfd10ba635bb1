"""What a plant can do for little money before it buys anything: which options, and whether they go together.

Which of them make the best package is the question of :mod:`simkit.analysis.package`.
"""

from __future__ import annotations

from collections.abc import Sequence

from simkit.base.messages import BadInput
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario

Options = tuple[str, ...]
"""A set of options, by id."""


def low_capital_options(plant: Plant) -> Options:
    """Ids of the options marked low_capital, in the order of the file."""
    return tuple(option.id for option in plant.options if option.kind == "low_capital")


def why_illegal(plant: Plant, options: Sequence[str]) -> str:
    """Why these options cannot go together, or an empty text."""
    try:
        make_scenario(plant, options)
    except BadInput as error:
        return error.whys
    return ""
