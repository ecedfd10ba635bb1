"""The notebooks in a real browser against a real JupyterLab: run all, move a slider, write an option, find it."""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from playwright.sync_api import Page, sync_playwright

from simkit.plant.reading import read_plant
from tests.report.option_plant import write_option_plant
from tests.tools import BROWSER, LAB, found

ROOT = Path(__file__).resolve().parents[2]
TOKEN = "only-here"
SWITCHES = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking")
PATIENCE_MS = 240_000
ANSWER = ".jp-OutputArea .widget-html-content:has-text('Quick answer')"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the notebook and a small plant, as an analyst would have them."""
    folder = tmp_path_factory.mktemp("desk")
    write_option_plant(folder / "plant")
    _rewrite(
        folder / "plant" / "elements.csv", "load", lambda row: {"low": row["typical"] / 2, "high": 8 * row["typical"]}
    )
    content = json.loads((ROOT / "studies" / "compare.ipynb").read_text(encoding="utf-8"))
    (cell,) = (c for c in content["cells"] if "parameters" in c["metadata"].get("tags", []))
    own = {"plant": "plant", "options": {"Tool magazine": ["A1"]}, "replications": 2, "weeks": 1.0, "demand": 1.0}
    cell["source"] = "".join(cell["source"]) + "".join(f"\n{name} = {value!r}" for name, value in own.items())
    (folder / "compare.ipynb").write_text(json.dumps(content), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def address(desk: Path) -> Iterator[str]:
    """A running JupyterLab on that folder, on this computer only."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    home = desk / ".home"
    command = [str(found(LAB)), "--no-browser", "--allow-root", "--ip", "127.0.0.1", "--port", str(port),
               f"--IdentityProvider.token={TOKEN}", f"--ServerApp.root_dir={desk}"]  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(home), "SIMKIT_RUNS": str(desk / ".runs")}
    home.mkdir()
    server = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    base = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{base}/api?token={TOKEN}", server)
        yield base
    finally:
        server.terminate()
        server.wait(60)


def _rewrite(table: Path, element: str, change: Callable[[Any], dict[str, float]]) -> None:
    """Change cells of an element's rows in elements.csv."""
    frame = pd.read_csv(table, dtype={"element": str})
    for row in frame.index[frame["element"] == element]:
        for column, value in change(frame.loc[row]).items():
            frame[column] = frame[column].astype(object)
            frame.loc[row, column] = value
    frame.to_csv(table, index=False)


def _wait_for(url: str, server: subprocess.Popen[bytes]) -> None:
    for _ in range(240):
        assert server.poll() is None, "JupyterLab ended"
        try:
            urllib.request.urlopen(url, timeout=5)
            return
        except OSError:
            time.sleep(0.5)
    raise AssertionError("JupyterLab did not answer within two minutes")


@pytest.fixture(scope="module")
def page(address: str) -> Iterator[Page]:
    with sync_playwright() as browsers:
        browser = browsers.chromium.launch(executable_path=str(found(BROWSER)), args=list(SWITCHES))
        opened = browser.new_page(viewport={"width": 1400, "height": 1100})
        opened.set_default_timeout(PATIENCE_MS)
        opened.goto(f"{address}/lab/tree/compare.ipynb?token={TOKEN}")
        opened.wait_for_selector(".jp-Notebook")
        yield opened
        browser.close()


def _run_all(page: Page) -> None:
    page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='idle']")
    _start_all(page)
    page.wait_for_selector(ANSWER)
    page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='idle']")


def _start_all(page: Page) -> None:
    """Run all cells; a kernel that seems idle may not be connected yet, so it is asked until it has begun."""
    begun = "() => [...document.querySelectorAll('.jp-InputPrompt')].some(e => /\\[(\\*|\\d+)\\]/.test(e.innerText))"
    for _ in range(6):
        page.wait_for_timeout(5_000)
        page.keyboard.press("Escape")
        page.click(".lm-MenuBar-itemLabel:text-is('Run')")
        page.click(".lm-Menu-itemLabel:text-is('Run All Cells')")
        page.wait_for_timeout(5_000)
        if page.evaluate(begun):
            return
    raise AssertionError("the kernel did not begin")


def _numbers(text: str) -> list[str]:
    return re.findall(r"[\d.]+ ± [\d.]+", text)


def _button(page: Page, name: str) -> Any:
    return page.locator(f".jp-OutputArea button:has-text('{name}')").first


def test_an_analyst_runs_all_moves_a_slider_and_keeps_the_change(page: Page, desk: Path) -> None:
    before = {path: path.read_bytes() for path in (desk / "plant").rglob("*") if path.is_file()}
    _run_all(page)
    assert page.locator(".jp-OutputArea-output .jp-RenderedImage, .jp-OutputArea-output img").count() >= 3
    assert not page.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.error']").count()
    answer = page.locator(ANSWER).first
    first = answer.inner_text()
    handle = page.locator(".widget-slider .noUi-handle").first
    handle.focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(
        "(old) => [...document.querySelectorAll('.widget-html-content')].some("
        "e => e.innerText.includes('Quick answer') && e.innerText !== old)",
        arg=first,
    )
    assert _numbers(answer.inner_text()) != _numbers(first)

    page.locator(".widget-text input").last.fill("with my option")
    page.keyboard.press("Tab")
    _button(page, "Write as an option").click()
    page.wait_for_function(
        "() => [...document.querySelectorAll('.widget-textarea textarea')].some(e => e.value.includes('was written'))"
    )
    written = read_plant(desk / "with my option").option_by_id["X1"]
    assert len(written.edits) == 1
    assert before == {path: path.read_bytes() for path in (desk / "plant").rglob("*") if path.is_file()}

    _button(page, "Copy as a cell").click()
    page.wait_for_function(
        "() => [...document.querySelectorAll('.widget-textarea textarea')].some(e => e.value.includes('changes={'))"
    )
    kept = page.locator(".widget-textarea textarea").last.input_value()
    assert str(written.edits[0].path) in kept


def test_a_time_changed_in_the_plant_folder_moves_the_numbers_of_the_next_run(page: Page, desk: Path) -> None:
    """No path leads to old numbers under new inputs."""
    read = "() => document.querySelector('.jp-Notebook').innerText"
    first = page.evaluate(read)
    table = desk / "plant" / "elements.csv"
    kept = table.read_text(encoding="utf-8")
    _rewrite(table, "load", lambda row: {"typical": 3 * row["typical"]})
    try:
        _start_all(page)
        page.wait_for_timeout(2_000)
        page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='idle']")
        page.wait_for_selector(ANSWER)
        assert _numbers(page.evaluate(read)) != _numbers(first)
    finally:
        table.write_text(kept, encoding="utf-8")
        shutil.rmtree(desk / "with my option", ignore_errors=True)
