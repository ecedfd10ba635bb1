"""Runs kept on disk: a change of money, or of nothing, never runs the cell again."""

from __future__ import annotations

import hashlib
import json
import logging
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import scipy

import simkit
from simkit.base.files import code_sha256, write_whole
from simkit.experiment.tables import PackedTables, Records, packed

ROOMS_THAT_SHAPE_RUNS = ("base", "plant", "process", "tooling", "cell", "experiment")
"""Packages whose code decides what a run measures."""
ROOMS_THAT_SHAPE_ANSWERS = (*ROOMS_THAT_SHAPE_RUNS, "finance", "analysis", "report", "desk")
"""Packages whose code decides what is said of runs."""


class Run(NamedTuple):
    """What a run gives: its totals by measure name, and its records."""

    totals: dict[str, float]
    records: Records


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
    """Runs as small files in ``folder``, named by a hash of key and code: a digest, the totals as JSON, the records."""

    folder: Path
    code: str

    def load(self, key: RunKey, *, records: bool = True) -> Run | None:
        """An earlier run with this key and code, or None; its ``records`` are read where they are wanted."""
        content = read_whole(self._path(key))
        if content is None:
            return None
        totals, _, tables = content.partition(b"\n")
        return Run(json.loads(totals), PackedTables(tables) if records else {})

    def holds(self, key: RunKey) -> bool:
        """Whether there is a run with this key and code."""
        return self._path(key).exists()

    def store(self, key: RunKey, run: Run) -> None:
        """Keep a run."""
        plain = {measure: float(value) for measure, value in run.totals.items()}
        content = json.dumps(plain).encode() + b"\n" + packed(run.records)
        keep_whole(self._path(key), content)

    def _path(self, key: RunKey) -> Path:
        text = json.dumps({**asdict(key), "code": self.code}, sort_keys=True)
        digest = hashlib.sha256(text.encode()).hexdigest()
        return self.folder / digest[:2] / f"{digest}.run"


def read_whole(path: Path) -> bytes | None:
    """What :func:`keep_whole` wrote; None where there is nothing.

    A file that is not as it was written is told, set aside and counts as none.
    """
    if not path.exists():
        return None
    digest, _, content = path.read_bytes().partition(b"\n")
    if digest == _digest(content):
        return content
    path.replace(path.with_suffix(".damaged"))
    logging.getLogger(__name__).warning("%s: a kept run is damaged; it is set aside and run anew", path)
    return None


def keep_whole(path: Path, content: bytes) -> None:
    """Keep a content with its digest; the file appears whole or not at all."""
    write_whole(path, _digest(content) + b"\n" + content)


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()


def open_cache(folder: Path) -> Cache:
    """A cache for the code as it is now; after a change of code, new runs are made."""
    return Cache(folder, code_hash())


@lru_cache(maxsize=2)
def code_hash(rooms: tuple[str, ...] = ROOMS_THAT_SHAPE_RUNS) -> str:
    """Hash of the code of these packages and of the numeric libraries that runs depend on."""
    return code_sha256(Path(simkit.__file__).parent, rooms, f"numpy {np.__version__} scipy {scipy.__version__}")
