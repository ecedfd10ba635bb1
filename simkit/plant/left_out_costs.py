"""Costs of a bought option that are usually left out: each needs a number or an explicit zero.

The list is common practice, no source. A topic is answered by a line of the option that names it (``topics``, or the
words below in its text), by an entry in ``nothing_for``, or by another input of the plant that carries it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from simkit.plant.options import CapitalLine, Option, YearlyLine
from simkit.plant.settings import Settings
from simkit.plant.tables import Stop


@dataclass(frozen=True)
class Topic:
    """A cost that quotations tend to leave out: what it is, and words that name it in a line's text."""

    meaning: str
    words: tuple[str, ...]


TOPICS: dict[str, Topic] = {
    "installation": Topic("installation, freight, crane", ("install", "crane", "freight", "erection")),
    "floor": Topic("floor and foundation", ("floor", "foundation")),
    "power_and_air": Topic("power, air, dust extraction", ("power", "air", "extraction", "electrical")),
    "fire_and_guarding": Topic(
        "fire detection, changed guarding, assessment of linked devices", ("fire", "guarding", "conformity", "fence")
    ),
    "software": Topic("licences and interfaces to planning", ("software", "licence", "interface")),
    "training": Topic("training, also of a second person in each shift", ("training", "second trained")),
    "tools": Topic("tagging, twin tools, clearance sets", ("tool", "twin", "tag", "clearance set")),
    "carriers": Topic("pallets, cassettes, carts, bins", ("pallet", "cassette", "cart", "bins", "shelf", "stock")),
    "program_rework": Topic("reworking programs of old parts", ("programming", "program rework", "rework of programs")),
    "yield_loss": Topic("nest yield lost", ("yield",)),
    "service": Topic("service contract", ("service", "maintenance")),
    "spares": Topic("spares and wearing parts: cups, brushes, filters", ("spare", "wearing", "cups", "brushes")),
    "installation_stop": Topic("production lost during installation", ("lost production", "installation stop")),
    "ramp_up": Topic("the weeks until it runs as promised", ("ramp", "run-in")),
    "night_attendance": Topic("night attendance or pay on call", ("on call", "on-call", "night attendance")),
    "insurance": Topic("insurance", ("insur",)),
    "scrap_price": Topic("a lower price of mixed scrap", ("scrap price", "mixed scrap", "separate bins")),
    "standing_energy": Topic("energy drawn at rest", ("standing load", "standby", "at rest")),
    "removal": Topic("taking away the old device, and this one at its end", ("removal of the old", "dismant")),
    "own_project_time": Topic("project hours of the plant's own people", ("own staff", "project", "own people")),
}
"""Topics by name."""


def unanswered(option: Option, settings: Settings, stops: Sequence[Stop] = ()) -> tuple[str, ...]:
    """Topics of an option for which nobody gave a number or an explicit zero, in the order of the list."""
    answered = {*option.nothing_for, *_by_lines(option), *_carried_elsewhere(option, settings, stops)}
    return tuple(name for name in TOPICS if name not in answered)


def contradicted(option: Option) -> tuple[str, ...]:
    """Topics named in ``nothing_for`` for which a line of the option gives an amount."""
    paid = option.model_copy(
        update={
            "capital_lines": tuple(line for line in option.capital_lines if line.quoted > 0),
            "yearly_lines": tuple(line for line in option.yearly_lines if line.quoted > 0),
        }
    )
    given = set(_by_lines(paid)) if option.nothing_for else ()
    return tuple(name for name in option.nothing_for if name in given)


def _by_lines(option: Option) -> Iterator[str]:
    texts = []
    lines: tuple[CapitalLine | YearlyLine, ...] = (*option.capital_lines, *option.yearly_lines)
    for line in lines:
        yield from line.topics
        texts.append(line.line.lower())
    for name, topic in TOPICS.items():
        if any(_beginning_with(topic.words).search(text) for text in texts):
            yield name
    yield from (own.budget for own in option.yearly_lines if own.budget in TOPICS)


@cache
def _beginning_with(words: tuple[str, ...]) -> re.Pattern[str]:
    """Pattern of a word that begins with one of these."""
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})")


def _carried_elsewhere(option: Option, settings: Settings, stops: Sequence[Stop]) -> Iterator[str]:
    """Topics whose number another input holds: finance settings, columns of the option, its edits."""
    finance = settings.finance
    paths = " ".join(edit.path for edit in option.edits)
    values = " ".join(str(edit.value) for edit in option.edits)
    held = {
        "training": finance.training > 0,
        "service": option.yearly_cost > 0,
        "installation_stop": option.stop_days > 0,
        "ramp_up": finance.ramp_months > 0 or any(stop.settle_weeks > 0 for stop in stops),
        "yield_loss": "yield" in paths,
        "program_rework": "programming" in paths + values,
        "scrap_price": "scrap_price" in paths,
        "own_project_time": option.yearly_labour_h > 0,
        "night_attendance": settings.calendar.night.rule == "allowed",
    }
    yield from (name for name, answered in held.items() if answered)
