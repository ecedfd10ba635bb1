"""Makes the project root importable from every test folder, so that ``tests.small_plant`` is found.

Checks that need a program which is no Python package (a browser, a spreadsheet program) are left out where it
is missing, and the end of the run says which. With SIMKIT_REQUIRE_TOOLS=1 they run all the same, and fail.

Plants drawn at random are the same ones in every run, and no draw is timed: a busy machine turns nothing red.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.sources import WAY
from tests.tools import TOOLS, found

REQUIRED = os.environ.get("SIMKIT_REQUIRE_TOOLS") == "1"
LEFT_OUT = {} if REQUIRED else {path: tool for path, tool in TOOLS.items() if found(tool) is None}
"""Test file, relative to this folder, and the missing program that it needs."""

collect_ignore = list(LEFT_OUT)
LONGEST = (
    "cell/test_oracle.py",
    "desk/test_reporting.py",
    "published/test_more_queues.py",
    "published/test_interference.py",
    "published/test_lines.py",
    "published/test_tool_wear_plants.py",
    "published/test_failing_lines.py",
    "published/test_machines_as_servers.py",
    "published/test_queues.py",
    "report/test_workbook_program.py",
    "report/test_workbook.py",
    "demo/test_fit.py",
)
"""Test files that last longest, the longest first: begun first, so that all processors end together."""
settings.register_profile(
    "house", derandomize=True, database=None, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("house")
pytest_plugins = ["tests.report.rendered", "tests.demo.calibrated"]


def pytest_report_header():
    return f"the cell runs {WAY}"


@pytest.fixture(scope="session", autouse=True)
def _runs_of_these_tests(tmp_path_factory):
    """Runs that tests keep lie in a folder of their own: nothing of an earlier run, or of the user, is met."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SIMKIT_RUNS", str(tmp_path_factory.mktemp("runs")))
        yield


def pytest_collection_modifyitems(items):
    folder = Path(__file__).parent
    rank = {folder / name: place for place, name in enumerate(LONGEST)}
    assert [path for path in rank if not path.is_file()] == [], "files of LONGEST that are gone"
    items.sort(key=lambda item: rank.get(item.path, len(rank)))


def pytest_terminal_summary(terminalreporter):
    for path, tool in LEFT_OUT.items():
        terminalreporter.write_line(f"left out: tests/{path} ({tool} is not installed)", yellow=True)
