"""The base of every section of ``plant.toml`` and of the options, and the limits that their numbers share."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

PRICE_LIMIT = 1e9
"""No price of a unit is higher, in any currency: common practice, no source. It refuses slips, it judges no price."""
AMOUNT_LIMIT = 1e12
"""No amount of a plant is higher, in any currency: common practice, no source."""

LARGEST = 1e15
"""No number of a plant is larger, in any unit: what is above is a slip, and would overflow somewhere."""
YEARS = range(1990, 2101)
"""Years of the days that a plant names: clocks and calendars hold them with room to spare."""

Price = Annotated[float, Field(ge=0, le=PRICE_LIMIT)]
Amount = Annotated[float, Field(ge=0, le=AMOUNT_LIMIT)]
SignedAmount = Annotated[float, Field(ge=-AMOUNT_LIMIT, le=AMOUNT_LIMIT)]
Share = Annotated[float, Field(ge=0, le=1)]
GrowthRate = Annotated[float, Field(gt=-0.5, lt=0.5)]
"""Growth or inflation a year as a fraction: 8 for 8 % is refused."""
Multiple = Annotated[float, Field(gt=0, le=10)]
"""A factor on something of today: 115 for 115 % is refused."""


def in_our_time(day: dt.date) -> dt.date:
    """Refuse a day whose year is out of :data:`YEARS`."""
    if day.year not in YEARS:
        raise ValueError(f"is not between the years {YEARS[0]} and {YEARS[-1]}")
    return day


OurDay = Annotated[dt.date, AfterValidator(in_our_time)]


class Section(BaseModel):
    """Base of all sections: frozen, no unknown keys, finite numbers."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
