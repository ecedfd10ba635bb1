"""When the study folder of an earlier report still holds: nothing that the simulate step reads has changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from simkit.analysis.low_capital import Options
from simkit.experiment.cache import ROOMS_THAT_SHAPE_RUNS, code_hash
from simkit.plant.hashes import hashes
from simkit.plant.options import capital_of
from simkit.plant.plant import Plant
from simkit.report.studydata import COLUMNS, RESULTS, RUN, RunCard, digests, read_card

ROOMS_THAT_SHAPE_STUDIES = (*ROOMS_THAT_SHAPE_RUNS, "finance", "analysis", "report")


def asked(unpriced: Plant, numbers: Mapping[str, Any], versions: Mapping[str, str]) -> str:
    """Return the hash of all that the simulate step reads: the plant without prices, the run's numbers, the code."""
    content = [*hashes(unpriced), dict(numbers), dict(versions), code_hash(ROOMS_THAT_SHAPE_STUDIES)]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def card_that_holds(folder: Path, question: str, plant: Plant) -> RunCard | None:
    """Return the run card of a study folder that answers this very question, or None.

    Its tables must be as they were written, and the sets whose response was simulated still the cheapest.
    """
    if _answered(folder) != question:
        return None
    card = read_card(folder)
    if by_price(plant, card.sets_by_price) != list(card.sets_by_price):
        return None
    return card if card.files == digests(folder) else None


def _answered(folder: Path) -> str:
    """The question that the folder's card answers; none if there is no whole study with a card."""
    if not all((folder / name).is_file() for name in (RUN, RESULTS, *COLUMNS)):
        return ""
    try:
        card = json.loads((folder / RUN).read_text(encoding="utf-8"))
    except ValueError:  # a card that cannot be read is written anew, with its study
        return ""
    return str(card.get("asked", "")) if isinstance(card, dict) else ""


def by_price(plant: Plant, sets: Iterable[Options]) -> list[Options]:
    """Return sets of options, the cheapest first, with all that is paid at first; ties by name."""
    known = plant.option_by_id
    return sorted(sets, key=lambda options: (capital_of([known[name] for name in options]), options))
