"""The rule by which a simulated long-run mean is compared with a published one.

A case runs hardly longer than its broken twins: what a row can find is what they show, a service or a station 10 to
15 % faster, repairs a fifth shorter, a person, a machine or a place more. The widths are those of runs of this length.
"""

from __future__ import annotations

from typing import Any

from simkit.experiment.intervals import t_interval

GUARD = "widest 95 % half-width that still proves something; the mean itself is held to its 99.9 % t interval"
REPLICATIONS = 20


def problems(values: Any, expected: float, widest: float) -> list[str]:
    """What is wrong with a sample of replications against a long-run mean; nothing, if it agrees."""
    mean = t_interval(values).mean
    off = abs(mean - expected) > t_interval(values, level=0.999).half_width
    wide = not t_interval(values).half_width <= widest
    few = len(values) < REPLICATIONS
    return [f"{mean} is not {expected}"] * off + ["the interval is too wide"] * wide + ["too few"] * few
