"""The inputs of a study that move its answer most."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from simkit.analysis.responses import Probe, time_probes
from simkit.desk.simulated import Simulated

MOST, ADDED = 10, 3
"""Inputs that are shown, and how many of them may be rows that only options add: common practice, no source."""


@dataclass(frozen=True)
class Lever:
    """An input that can be moved between its low and high; ``factor``: it multiplies all rows of its name."""

    title: str
    path: str
    low: float
    typical: float
    high: float
    unit: str
    basis: str
    factor: bool

    @property
    def words(self) -> str:
        """Where it stands, in words."""
        kind = "times the plant's" if self.factor else self.unit
        return f"low {self.low:.3g} · typical {self.typical:.3g} · high {self.high:.3g} {kind} ({self.basis})"


def levers(study: Simulated, most: int = MOST) -> tuple[Lever, ...]:
    """Inputs that move the answer most: those whose range times how often the book meets them is widest.

    Among them are up to :data:`ADDED` of the rows that only the options of the study's scenarios add.
    """
    found: dict[str, dict[str, Lever]] = {"own": {}, "added": {}}
    own = {row.element for row in study.scenarios[0].made.plant.elements}
    for scenario in study.scenarios:
        plant = scenario.made.plant
        rows = Counter(row.element for row in plant.elements)
        for probe in time_probes(plant, study.results, scenario.name, study.numbers.level, (), most):
            name = probe.path.removeprefix("elements[").removesuffix("].typical")
            if scenario is study.scenarios[0] or name not in own:
                found["own" if name in own else "added"].setdefault(name, _lever(probe, rows[name] > 1))
    added = list(found["added"].values())[:ADDED]
    return (*list(found["own"].values())[: most - len(added)], *added)


def _lever(probe: Probe, several: bool) -> Lever:
    """The input of a row; of several rows of one name, a factor on all of them."""
    one = probe.input
    scale = one.typical if several and one.typical else 1.0
    low, typical, high = one.low / scale, one.typical / scale, one.high / scale
    path = f"{probe.path}*" if several else probe.path
    return Lever(one.title.removeprefix("time of "), path, low, typical, high, one.unit, one.basis, several)
