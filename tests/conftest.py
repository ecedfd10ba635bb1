"""Makes the project root importable from every test folder, so that ``tests.small_plant`` is found.

Checks that need a program which is no Python package (a browser, a spreadsheet program) are left out where it
is missing, and the end of the run says which. With SIMKIT_REQUIRE_TOOLS=1 they run all the same, and fail.

Plants drawn at random are the same ones in every run, and no draw is timed: a busy machine turns nothing red.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

from tests.tools import TOOLS, found

REQUIRED = os.environ.get("SIMKIT_REQUIRE_TOOLS") == "1"
LEFT_OUT = {} if REQUIRED else {path: tool for path, tool in TOOLS.items() if found(tool) is None}
"""Test file, relative to this folder, and the missing program that it needs."""

collect_ignore = list(LEFT_OUT)
settings.register_profile(
    "house", derandomize=True, database=None, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("house")
pytest_plugins = ["tests.report.rendered", "tests.demo.calibrated"]


@pytest.fixture(scope="session", autouse=True)
def _runs_of_these_tests(tmp_path_factory):
    """Runs that tests keep lie in a folder of their own: nothing of an earlier run, or of the user, is met."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SIMKIT_RUNS", str(tmp_path_factory.mktemp("runs")))
        yield


def pytest_terminal_summary(terminalreporter):
    for path, tool in LEFT_OUT.items():
        terminalreporter.write_line(f"left out: tests/{path} ({tool} is not installed)", yellow=True)
