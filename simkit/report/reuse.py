"""When the study folder of an earlier report still holds: nothing that the simulate step reads has changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from simkit.experiment.cache import ROOMS_THAT_SHAPE_RUNS, code_hash
from simkit.experiment.glossary import NEEDED
from simkit.experiment.results import Results
from simkit.plant.hashes import hashes
from simkit.plant.plant import Plant
from simkit.report.moneystudy import money_of
from simkit.report.study import Study
from simkit.report.studydata import FILES, RESULTS, RUN, RunCard, digests, read_card

ROOMS_THAT_SHAPE_STUDIES = (*ROOMS_THAT_SHAPE_RUNS, "finance", "analysis", "report")


def asked(unpriced: Plant, numbers: Mapping[str, Any], versions: Mapping[str, str]) -> str:
    """Return the hash of all that the simulate step reads: the plant without prices, the run's numbers, the code."""
    content = [*hashes(unpriced), dict(numbers), dict(versions), code_hash(ROOMS_THAT_SHAPE_STUDIES)]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def card_that_holds(folder: Path, question: str, plant: Plant) -> RunCard | None:
    """Return the run card of a study folder that answers this very question, or None.

    Its tables must be as they were written, and the sets whose risk is told still the same at today's prices.
    """
    if _answered(folder) != question:
        return None
    card = read_card(folder)
    if card.files != digests(folder):
        return None
    leading = leading_sets(plant, card, Results.from_csv(folder / RESULTS))
    return card if leading == card.leading else None


def _answered(folder: Path) -> str:
    """The question that the folder's card answers; none if there is no whole study with a card."""
    if not all((folder / name).is_file() for name in (RUN, *FILES)):
        return ""
    try:
        card = json.loads((folder / RUN).read_text(encoding="utf-8"))
    except ValueError:  # a card that cannot be read is written anew, with its study
        return ""
    return str(card.get("asked", "")) if isinstance(card, dict) else ""


def leading_sets(plant: Plant, card: RunCard, results: Results) -> tuple[str, ...]:
    """Return the scenarios whose risk a report tells, apart from the package, from results at the demand of all sets.

    Their responses and their hoped demand are simulated, and no others'.
    """
    level = card.tool_demand
    everywhere = [f for f in results.demand_factors if all(results.has(n, NEEDED, f) for n in card.scenarios)]
    held = results.frame[results.frame["demand_factor"].isin(everywhere)].reset_index(drop=True)
    study = Study(plant=plant, results=Results(held), run=card, demand_factor=level)
    return tuple(name for name in money_of(study).risk.names if name != card.package)
