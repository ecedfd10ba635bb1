"""One printable file of a report: the first page and the pages of its choices, on A4 or Letter, with page numbers."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from simkit.base.files import write_whole
from simkit.base.temporary import own_folder

Paper = Literal["A4", "Letter"]
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
SWITCHES = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
)  # fmt: skip
SECONDS = 180
MAIN = re.compile(r"<main id=\"main\">(.*)</main>", re.DOTALL)
FOLDED = re.compile(r"<details\b.*?</details>", re.DOTALL)


def one_page(pages: Sequence[Path], paper: Paper = "A4") -> str:
    """The pages as one HTML, each from a new sheet of paper; folded tables stay out, for they lie beside as files."""
    first = pages[0].read_text(encoding="utf-8")
    parts = [FOLDED.sub("", found[1]) for page in pages if (found := MAIN.search(page.read_text(encoding="utf-8")))]
    whole = '<main id="main">' + '<div class="new-page"></div>'.join(parts) + "</main>"
    text = MAIN.sub(lambda _: whole, first, count=1)
    return text.replace("size: A4", f"size: {paper}", 1)


def write_pdf(pages: Sequence[Path], out: Path, paper: Paper = "A4") -> str:
    """Write the PDF with the browser of this computer; return an empty text, or why none was written."""
    browser = next((place for name in BROWSERS if (place := shutil.which(name))), None)
    if browser is None:
        return "no PDF was written: no Chromium browser was found; print index.html from your browser"
    with own_folder() as folder:
        page, made = folder / "report.html", folder / "report.pdf"
        write_whole(page, one_page(pages, paper))
        command = [browser, *SWITCHES, f"--user-data-dir={folder}/profile", f"--print-to-pdf={made}", page.as_uri()]
        try:
            subprocess.run(command, capture_output=True, check=True, timeout=SECONDS)
        except (subprocess.SubprocessError, OSError) as error:
            return f"no PDF was written: {Path(browser).name} did not print it ({type(error).__name__})"
        if not made.is_file():
            return f"no PDF was written: {Path(browser).name} printed nothing"
        shutil.move(made, out)
    return ""
