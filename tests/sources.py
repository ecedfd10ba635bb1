"""Imported before anything of the kit: in the processes of the tests its sources run, even where it was compiled.

Tests look into the cell and break it, which only sources allow; SIMKIT_TESTS=compiled runs them on what was compiled.
What a test starts as a process of its own (a command, a worker) runs as it does for everybody.
"""

from __future__ import annotations

import os

from simkit.base import compiled

WAY = "as compiled" if os.environ.get("SIMKIT_TESTS") == "compiled" else "as sources"
if WAY == "as sources":
    compiled.leave()
