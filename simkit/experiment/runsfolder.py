"""Where runs are kept: one folder of the user, shared by the command line, notebooks and reports."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

import platformdirs

from simkit.base.messages import BadInput, Finding

KEPT_RUNS = "SIMKIT_RUNS"
"""Environment variable that names another folder."""

Keep = str | Path | Literal[False] | None


def runs_folder(keep: Keep = None) -> Path | None:
    """The folder of kept runs: ``keep``, else the shared one; None with False, or where the shared one is not writable.

    Raises BadInput where a folder that was named cannot be written.
    """
    if keep is False:
        return None
    folder = Path(keep or os.environ.get(KEPT_RUNS) or platformdirs.user_cache_path("simkit") / "runs")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        writable = os.access(folder, os.W_OK)
    except OSError:
        writable = False
    if writable:
        return folder
    if keep:
        raise BadInput([Finding(str(folder), "runs cannot be kept there", "Name a folder that can be written")])
    return None
