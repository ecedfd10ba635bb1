"""A page in a real browser: it opens, draws its figures, asks for nothing, and complains about nothing."""

from __future__ import annotations

import re
import subprocess
import tempfile
from pathlib import Path

import pytest
from matplotlib.image import imread

from simkit.base.vocabulary import CHANGEOVER
from simkit.process.preview import calendar_preview
from simkit.report.calendar_page import write_calendar_page
from simkit.report.palette import ACCENT, FAMILIES, FAMILY_OF, WITHIN
from tests.pages.test_calendar_page import SPRING, busy_plant
from tests.tools import BROWSER, found

QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--enable-logging=stderr",
)
CONSOLE = re.compile(r":CONSOLE[:(].*")
DARK = "--blink-settings=preferredColorScheme=0"


def browse(page: Path, *switches: str) -> tuple[str, list[str]]:
    """Open a page; returns what is printed and the lines of the page's console."""
    with tempfile.TemporaryDirectory() as profile:
        command = [str(found(BROWSER)), *QUIET, f"--user-data-dir={profile}", *switches, page.as_uri()]
        run = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    return run.stdout, CONSOLE.findall(run.stderr)


def picture(page: Path, folder: Path, *switches: str, size: str = "1200,4000"):
    """Pixels of a page, as whole numbers from 0 to 255."""
    shot = folder / "page.png"
    browse(page, f"--window-size={size}", f"--screenshot={shot}", *switches)
    return (imread(shot)[..., :3] * 255).round().astype(int)


def share_of(pixels, colour: str) -> float:
    """Share of the pixels that have a colour exactly."""
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return float((pixels == wanted).all(axis=-1).mean())


@pytest.fixture(scope="module")
def choice(rendering):
    """The page of a purchase."""
    return rendering.out_dir / "scenarios" / "tool-magazine-part-removal.html"


def test_every_page_opens_without_a_word_in_the_console(rendering):
    for page in (rendering.out_dir / made.file for made in rendering.report.pages):
        dom, console = browse(page, "--dump-dom")
        assert console == [], page
        assert re.search(r"<title>[^<]+ – Small plant</title>", dom), page
        assert dom.count("<img ") == page.read_text(encoding="utf-8").count("<img "), page


def test_figures_are_drawn_on_a_page_that_is_light_or_dark_as_the_reader_wishes(rendering, tmp_path):
    """The page of today: those of options are pale, since the model is not calibrated."""
    page = rendering.out_dir / "today.html"
    light, dark = picture(page, tmp_path), picture(page, tmp_path, DARK)
    assert light.mean() > 200
    assert dark[:, :100].mean() < 60
    for pixels in (light, dark):
        assert share_of(pixels, FAMILIES[FAMILY_OF[CHANGEOVER]][0]) > 0.001


def test_a_page_prints(choice, tmp_path):
    target = tmp_path / "page.pdf"
    browse(choice, "--no-pdf-header-footer", f"--print-to-pdf={target}")
    printed = target.read_bytes()
    assert printed.startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) >= 2


def test_an_outside_picture_would_be_refused_and_heard(choice, tmp_path):
    page = tmp_path / "page.html"
    bad = choice.read_text(encoding="utf-8").replace("<main", '<img src="http://127.0.0.1:9/x.png" alt="x"><main')
    page.write_text(bad, encoding="utf-8")
    _, console = browse(page, "--dump-dom")
    assert any("Content Security Policy" in line for line in console)


@pytest.mark.parametrize("width", [1200, 400])
def test_a_calendar_is_drawn_and_fits_its_window(tmp_path, width):
    page = tmp_path / "week.html"
    write_calendar_page(page, calendar_preview(busy_plant(), SPRING, 7), "Small plant")
    _, console = browse(page, "--dump-dom")
    assert console == []
    pixels = picture(page, tmp_path, size=f"{width},1800")
    assert pixels.shape[1] == width
    assert share_of(pixels, WITHIN) > 0.01
    assert share_of(pixels, ACCENT) > 0.01
    assert (pixels[:, -8:] >= 250).all(), "nothing reaches the edge of the window"
