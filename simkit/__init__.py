"""Discrete-event study kit for punching, forming and laser-cutting cells.

The names below are the desk: all that a notebook, a script or the command line needs, described in
``simkit/desk/README.md``. They load when they are first used, so that ``import simkit`` is quick and a worker of the
cell loads no tables. Whatever is deeper is for the kit's own code and may change without a word.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from simkit.base.compiled import use as _use_compiled

if TYPE_CHECKING:
    from simkit.base.messages import BadInput, ScenarioFailed
    from simkit.desk import plot
    from simkit.desk.answers import Answer, answer
    from simkit.desk.calibration_tables import Fit, calibrate
    from simkit.desk.copies import example_plant, write_option
    from simkit.desk.money import CashFlow
    from simkit.desk.panel import Panel, what_if
    from simkit.desk.plants import Plant, Scenario, read_plant
    from simkit.desk.recommending import Decision, recommend
    from simkit.desk.rendering import render
    from simkit.desk.study import Study, simulate

_HOMES = {
    "Answer": "simkit.desk.answers",
    "BadInput": "simkit.base.messages",
    "CashFlow": "simkit.desk.money",
    "Decision": "simkit.desk.recommending",
    "Fit": "simkit.desk.calibration_tables",
    "Panel": "simkit.desk.panel",
    "Plant": "simkit.desk.plants",
    "Scenario": "simkit.desk.plants",
    "ScenarioFailed": "simkit.base.messages",
    "Study": "simkit.desk.study",
    "answer": "simkit.desk.answers",
    "calibrate": "simkit.desk.calibration_tables",
    "example_plant": "simkit.desk.copies",
    "plot": "simkit.desk.plot",
    "read_plant": "simkit.desk.plants",
    "recommend": "simkit.desk.recommending",
    "render": "simkit.desk.rendering",
    "simulate": "simkit.desk.study",
    "what_if": "simkit.desk.panel",
    "write_option": "simkit.desk.copies",
}

__all__ = [
    "Answer",
    "BadInput",
    "CashFlow",
    "Decision",
    "Fit",
    "Panel",
    "Plant",
    "Scenario",
    "ScenarioFailed",
    "Study",
    "answer",
    "calibrate",
    "example_plant",
    "plot",
    "read_plant",
    "recommend",
    "render",
    "simulate",
    "what_if",
    "write_option",
]

_use_compiled()


def __getattr__(name: str) -> Any:
    """Load a name of the desk when it is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module 'simkit' has no attribute {name!r}; it has {', '.join(__all__)}")
    home = import_module(_HOMES[name])
    return home if _HOMES[name].endswith(f".{name}") else getattr(home, name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
