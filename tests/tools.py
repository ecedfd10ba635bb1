"""Programs outside Python that some tests need, under the names they have on different systems."""

from __future__ import annotations

import shutil
from pathlib import Path

BROWSER = "a Chromium browser"
NAMES = {
    BROWSER: ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge"),
}
TOOLS = {"pages/test_browser.py": BROWSER}
"""Test file, relative to the tests folder, and the program without which it cannot run."""


def found(tool: str) -> Path | None:
    """Where a program is installed, if it is."""
    places = (shutil.which(name) for name in NAMES[tool])
    return next((Path(place) for place in places if place), None)
