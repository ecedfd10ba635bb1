"""Values of scenarios replication by replication: their intervals and differences are those of paired samples."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simkit.experiment.intervals import pseudo_values
from simkit.finance.risklaws import Array
from simkit.finance.riskmodel import RiskModel


def values_by_replication(model: RiskModel, values: Mapping[str, float]) -> dict[str, Array]:
    """One value per replication of each scenario, prices as quoted: their mean is its headline ``values`` entry."""
    if model.runs < 2:
        return {name: np.array([value]) for name, value in values.items()}
    left = model.without_each(list(values)).npv
    return {name: pseudo_values(value, left[name]) for name, value in values.items()}
