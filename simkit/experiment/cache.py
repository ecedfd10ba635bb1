"""Runs kept on disk: a change of money, or of nothing, never runs the cell again."""

from __future__ import annotations

import hashlib
import json
import logging
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import scipy

import simkit
from simkit.base.files import write_whole

ROOMS_THAT_SHAPE_RUNS = ("base", "plant", "process", "tooling", "cell", "experiment")
"""Packages whose code decides what a run measures."""


@dataclass(frozen=True)
class RunKey:
    """What decides the outcome of a run, apart from the code."""

    drawn_from: str
    physics: str
    seed: int
    replication: int
    weeks: float
    demand_factor: float
    model: str


@dataclass(frozen=True)
class Cache:
    """Totals of runs as small JSON files in ``folder``, named by a hash of key and code."""

    folder: Path
    code: str

    def load(self, key: RunKey) -> dict[str, float] | None:
        """Totals of an earlier run with this key and code, or None.

        A file that is not as it was written is told, set aside and counts as none.
        """
        path = self._path(key)
        if not path.exists():
            return None
        totals = _whole(path.read_bytes())
        if totals is None:
            path.replace(path.with_suffix(".damaged"))
            logging.getLogger(__name__).warning("%s: a kept run is damaged; it is set aside and run anew", path)
        return totals

    def store(self, key: RunKey, totals: dict[str, float]) -> None:
        """Keep the totals of a run; the file appears whole or not at all."""
        plain = {measure: float(value) for measure, value in totals.items()}
        write_whole(self._path(key), json.dumps({"totals": plain, "sha256": _digest(plain)}))

    def _path(self, key: RunKey) -> Path:
        text = json.dumps({**asdict(key), "code": self.code}, sort_keys=True)
        digest = hashlib.sha256(text.encode()).hexdigest()
        return self.folder / digest[:2] / f"{digest}.json"


def _digest(totals: dict[str, float]) -> str:
    return hashlib.sha256(json.dumps(totals).encode()).hexdigest()


def _whole(content: bytes) -> dict[str, float] | None:
    """Totals in a kept file, or None if they are not those that were written."""
    try:
        kept = json.loads(content)
        totals: dict[str, float] = kept["totals"]
        return totals if kept["sha256"] == _digest(totals) else None
    except (ValueError, KeyError, TypeError):
        return None


def open_cache(folder: Path) -> Cache:
    """A cache for the code as it is now; after a change of code, new runs are made."""
    return Cache(folder, code_hash())


@lru_cache(maxsize=2)
def code_hash(rooms: tuple[str, ...] = ROOMS_THAT_SHAPE_RUNS) -> str:
    """Hash of the code of these packages and of the numeric libraries that runs depend on."""
    root = Path(simkit.__file__).parent
    digest = hashlib.sha256(f"numpy {np.__version__} scipy {scipy.__version__}".encode())
    for room in rooms:
        for path in sorted((root / room).rglob("*.py")):
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()
