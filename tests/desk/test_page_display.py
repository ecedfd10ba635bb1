"""The page of the desk is true: its code is run, and it lists the names that there are."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys

import matplotlib.pyplot as plt

import simkit as sk
from tests.house import ROOT
from tests.report.option_plant import write_option_plant

PAGE = ROOT / "simkit" / "desk" / "README.md"
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def test_the_code_of_the_page_runs(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    with plt.rc_context({"backend": "agg"}):
        tried = doctest.testfile(str(PAGE), False, globs={"folder": folder}, optionflags=FLAGS)
        plt.close("all")
    assert tried.failed == 0
    assert tried.attempted > 20


def test_a_wrong_page_is_seen():
    example = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, 0)
    assert doctest.DocTestRunner(verbose=False).run(example, out=lambda _: None).failed == 1


def test_the_page_lists_every_name():
    named = set(re.findall(r"`sk\.(\w+)", PAGE.read_text(encoding="utf-8")))
    returned = {"Plant", "Scenario", "Study", "CashFlow", "Answer", "Panel"}
    assert named | returned == set(sk.__all__)


def test_every_name_loads_and_an_unknown_one_is_refused():
    assert all(getattr(sk, name) for name in sk.__all__)
    assert set(sk.__all__) <= set(dir(sk))
    assert not hasattr(sk, "recommend_everything")


def test_the_import_loads_no_tables():
    code = "import sys, simkit; print(sorted({'pandas', 'numpy', 'matplotlib', 'pydantic'} & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
