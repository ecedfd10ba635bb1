"""The base of every section of ``plant.toml`` and of the options, and the limits that their numbers share."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

PRICE_LIMIT = 1e9
"""No price of a unit is higher, in any currency: common practice, no source. It refuses slips, it judges no price."""
AMOUNT_LIMIT = 1e12
"""No amount of a plant is higher, in any currency: common practice, no source."""

Price = Annotated[float, Field(ge=0, le=PRICE_LIMIT)]
Amount = Annotated[float, Field(ge=0, le=AMOUNT_LIMIT)]
SignedAmount = Annotated[float, Field(ge=-AMOUNT_LIMIT, le=AMOUNT_LIMIT)]
Share = Annotated[float, Field(ge=0, le=1)]
GrowthRate = Annotated[float, Field(gt=-0.5, lt=0.5)]
"""Growth or inflation a year as a fraction: 8 for 8 % is refused."""
Multiple = Annotated[float, Field(gt=0, le=10)]
"""A factor on something of today: 115 for 115 % is refused."""


class Section(BaseModel):
    """Base of all sections: frozen, no unknown keys, finite numbers."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
