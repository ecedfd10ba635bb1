"""Temporary folders that do not outlive their process: what a killed one left is removed when the next one starts."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

from filelock import FileLock, Timeout

PREFIX, LOCK = "simkit-", ".lock"


@contextlib.contextmanager
def own_folder() -> Iterator[Path]:
    """A folder of this process alone, removed at the end.

    Its lock lies beside it and is held before the folder is there: whose lock is free is dead, on any system.
    """
    place = Path(tempfile.gettempdir())
    _remove_left(place)
    folder = place / f"{PREFIX}{uuid4().hex}"
    lock = folder.with_suffix(LOCK)
    try:
        with FileLock(lock):
            folder.mkdir(mode=0o700)
            try:
                yield folder
            finally:
                shutil.rmtree(folder, ignore_errors=True)
    finally:
        lock.unlink(missing_ok=True)


def _remove_left(place: Path) -> None:
    """Remove the folders whose process was killed; those of others are not ours to remove."""
    for lock in place.glob(f"{PREFIX}*{LOCK}"):
        with contextlib.suppress(Timeout, OSError), FileLock(lock, timeout=0):
            shutil.rmtree(lock.with_suffix(""), ignore_errors=True)
            lock.unlink(missing_ok=True)
