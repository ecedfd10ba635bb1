"""Pages for everybody: an automated audit in a real browser, the keyboard, and pictures that can be read on a phone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.tools import BROWSER, found

AUDIT = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
FINDINGS = """axe.run(document, {resultTypes: ["violations"]}).then(
  found => found.violations.map(rule => rule.id + ": " + rule.nodes[0].html.slice(0, 120)))"""
UNFOLD = "document.querySelectorAll('details').forEach(each => { each.open = true })"
BEYOND = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
LETTERS = """[...document.querySelectorAll('figure.picture img')].filter(img => img.src.includes('svg')).map(img => {
  const svg = new DOMParser().parseFromString(atob(img.src.split(',')[1]), 'image/svg+xml').documentElement
  const sizes = [...svg.querySelectorAll('text')].map(text => parseFloat(/([\\d.]+)px/.exec(
    text.style.font || text.style.fontSize)[1]))
  const box = getComputedStyle(img), seen = img.clientWidth - parseFloat(box.paddingLeft) * 2
  return Math.min(...sizes) * seen / parseFloat(svg.getAttribute('viewBox').split(' ')[2])
})"""
PHONE, DESK = 400, 1200
LEAST_PX = 12
"""The smallest letters of a picture on a phone; the text around it has 16."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as browsers:
        opened = browsers.chromium.launch(executable_path=str(found(BROWSER)), args=["--no-sandbox"])
        yield opened
        opened.close()


def opened(browser: Browser, page: Path, width: int, colours: Any = "light") -> Page:
    """A page in a window of its own, in which a script may run though the page allows none."""
    context = browser.new_context(bypass_csp=True, color_scheme=colours, viewport={"width": width, "height": 900})
    window = context.new_page()
    window.goto(page.as_uri())
    return window


def faults(window: Page) -> list[str]:
    """What the audit finds on a page with everything unfolded."""
    window.evaluate(UNFOLD)
    window.evaluate(AUDIT)
    return window.evaluate(FINDINGS)


@pytest.mark.parametrize(("width", "colours"), [(DESK, "light"), (PHONE, "light"), (DESK, "dark")])
def test_no_page_has_a_fault_that_an_audit_finds(rendering, browser, width, colours):
    found = {}
    for page in rendering.pages:
        window = opened(browser, page, width, colours)
        found[page.name] = [*faults(window), *(["wider than the window"] if window.evaluate(BEYOND) > 0 else [])]
        window.context.close()
    assert {name: own for name, own in found.items() if own} == {}


def test_the_audit_hears_a_fault(rendering, browser, tmp_path):
    text = (rendering.out_dir / "index.html").read_text(encoding="utf-8")
    page = tmp_path / "bad.html"
    page.write_text(text.replace(' alt="', ' data-alt="').replace("<html lang", "<html data-lang"), encoding="utf-8")
    rules = {fault.split(":")[0] for fault in faults(opened(browser, page, DESK))}
    assert {"image-alt", "html-has-lang"} <= rules


def test_everything_that_acts_is_reached_by_keyboard(rendering, browser):
    window = opened(browser, rendering.out_dir / "index.html", DESK)
    links, folded = window.locator("a[href]").count(), window.locator("summary").count()
    window.keyboard.press("Tab")
    assert window.evaluate("document.activeElement.className") == "skip"
    seen: dict[int, str] = {}
    for _ in range(links + folded + window.locator("[tabindex='0']").count()):
        kind = window.evaluate("document.activeElement.tagName")
        if kind == "SUMMARY" and kind not in seen.values():
            window.keyboard.press("Enter")
            assert window.evaluate("document.activeElement.parentElement.open")
            window.keyboard.press("Enter")
        seen[window.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)")] = kind
        window.keyboard.press("Tab")
    reached = list(seen.values())
    assert reached.count("SUMMARY") == folded
    assert reached.count("A") == window.locator("a[href]:visible").count()


def test_letters_of_pictures_can_be_read_on_a_phone(rendering, browser):
    sizes = {}
    for page in rendering.pages:
        window = opened(browser, page, PHONE)
        sizes[page.name] = window.evaluate(LETTERS)
        window.context.close()
    assert sum(map(len, sizes.values())) > 20
    assert {name: own for name, own in sizes.items() if own and min(own) < LEAST_PX} == {}
