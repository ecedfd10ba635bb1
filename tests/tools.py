"""Programs outside Python that some tests need, under the names they have on different systems."""

from __future__ import annotations

import shutil
from pathlib import Path

BROWSER = "a Chromium browser"
SPREADSHEET = "LibreOffice Calc"
NAMES = {
    BROWSER: ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge"),
    SPREADSHEET: ("soffice", "libreoffice"),
}
TOOLS = {"pages/test_browser.py": BROWSER, "report/test_workbook_program.py": SPREADSHEET}
"""Test file, relative to the tests folder, and the program without which it cannot run."""


def found(tool: str) -> Path | None:
    """Where a program is installed, if it is."""
    places = (shutil.which(name) for name in NAMES[tool])
    return next((Path(place) for place in places if place), None)
