"""Programs outside Python that some tests need, under the names they have on different systems."""

from __future__ import annotations

import shutil
from pathlib import Path

BROWSER = "a Chromium browser"
SPREADSHEET = "LibreOffice Calc"
COMPILER = "a C compiler"
LAB = "JupyterLab (make lab installs it)"
NAMES = {
    BROWSER: ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge"),
    SPREADSHEET: ("soffice", "libreoffice"),
    COMPILER: ("cc", "gcc", "clang"),
    LAB: ("jupyter-lab",),
}
LAB_FOLDER = Path(__file__).resolve().parent.parent / ".venv-lab" / "bin"
"""Where the Makefile puts JupyterLab."""
TOOLS = {
    "pages/test_browser.py": BROWSER,
    "pages/test_accessibility.py": BROWSER,
    "report/test_workbook_program.py": SPREADSHEET,
    "pages/test_lab.py": LAB,
    "cell/test_compiled.py": COMPILER,
}
"""Test file, relative to the tests folder, and the program without which it cannot run."""


def found(tool: str) -> Path | None:
    """Where a program is installed, if it is."""
    places = (shutil.which(name) or shutil.which(name, path=str(LAB_FOLDER)) for name in NAMES[tool])
    return next((Path(place) for place in places if place), None)
