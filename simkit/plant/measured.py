"""The rows of ``measured.csv``: timed observations, to which laws are fitted."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass

from simkit.plant.fields import ROW, column
from simkit.plant.values import Day, Flag, Number, Whole


@dataclass(frozen=True, kw_only=True, config=ROW)
class Measured:
    """A timed observation of a time element, as of a time study."""

    number: Whole = column("number of the observation", key=True, low=1)
    element: str = column("the element's name")
    applies_to: str = column("the row of the element, as it stands there", default="")
    value: Annotated[Number, Field(gt=0)] = column("how long it took, in the element's unit")
    cut_off: Flag = column("watching ended before it did", default=False)
    date: Day | None = column("when it was taken", default=None)
