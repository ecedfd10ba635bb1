"""One kernel for many notebooks: what one named is forgotten, what it loaded is kept, a dead kernel is followed."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest

from simkit.report.notebooks import Kernel, execute, kernels_by_themselves, read_notebook

SPEC = {"name": "python3", "language": "python", "display_name": "Python"}
TELL = "import os, sys\nprint(os.getpid(), 'colorsys' in sys.modules, 'mine' in dir(), os.path.basename(os.getcwd()))"


@pytest.fixture
def kernel(tmp_path: Path):
    (tmp_path / "studies").mkdir()
    with kernels_by_themselves() as how:
        kept = Kernel(how)
        yield kept
        kept.close()


def said(kernel: Kernel, folder: Path, *sources: str):
    """What a notebook of these cells prints at its end, and where it failed."""
    cells = [nbformat.v4.new_code_cell(source) for source in sources]
    notebook = nbformat.v4.new_notebook(cells=cells, metadata={"kernelspec": SPEC})
    nbformat.write(notebook, folder / "in.ipynb")
    failure = execute(folder / "in.ipynb", folder / "out.ipynb", {}, kernel.ready(folder / "studies"))
    outputs = read_notebook(folder / "out.ipynb").cells[-1].outputs
    return "".join(output.get("text", "") for output in outputs).split(), failure


def test_names_are_forgotten_and_what_was_loaded_is_kept(kernel, tmp_path):
    first, none = said(kernel, tmp_path, "import colorsys\nmine = 1", TELL)
    second, _ = said(kernel, tmp_path, TELL)
    assert none is None
    assert first[1:] == ["True", "True", "studies"]
    assert second == [first[0], "True", "False", "studies"]


def test_a_kernel_that_has_forgotten_still_starts_processes(kernel, tmp_path):
    start = (
        "import concurrent.futures as f, multiprocessing as m\n"
        "with f.ProcessPoolExecutor(1, m.get_context('spawn')) as p:\n"
        "    print(p.submit(abs, -3).result())"
    )
    assert [said(kernel, tmp_path, start) for _ in range(2)] == [(["3"], None)] * 2


def test_a_cell_that_fails_leaves_the_kernel_to_the_next_notebook(kernel, tmp_path):
    first, _ = said(kernel, tmp_path, TELL)
    _, failure = said(kernel, tmp_path, "mine = 1", "1 / 0")
    second, _ = said(kernel, tmp_path, TELL)
    assert failure is not None
    assert (failure.cell, failure.error) == (2, "ZeroDivisionError: division by zero")
    assert second == [first[0], "False", "False", "studies"]


def test_a_kernel_that_died_is_followed_by_another(kernel, tmp_path):
    first, _ = said(kernel, tmp_path, TELL)
    with pytest.raises(Exception, match="died"):
        said(kernel, tmp_path, "import os\nos._exit(1)")
    second, _ = said(kernel, tmp_path, TELL)
    assert second[1:] == first[1:]
    assert second[0] != first[0]
