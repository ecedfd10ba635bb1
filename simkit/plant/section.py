"""The base of every section of ``plant.toml`` and of the options."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Section(BaseModel):
    """Base of all sections: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")
