"""A notebook becomes a page: strict parameters, no code, figures described, a failed cell named."""

from __future__ import annotations

import nbformat
import pytest

import simkit as sk
from tests.report.option_plant import write_option_plant

SETTINGS = 'name = "nobody"\ntimes = 2\nfactor = 1.5\nnames = ["a"]\nchanges = {}\nanything = None\nshown = True'
WORK = [
    "print(f'{name} {times * factor} {names} {changes}')",
    "import matplotlib.pyplot as plt\nax = plt.subplots()[1]\nax.set_xlabel('hours')\nax.plot([1, 2])\nax",
]


def notebook(folder, *cells):
    book = nbformat.v4.new_notebook()
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
    head = nbformat.v4.new_markdown_cell("# What is shown?")
    parameters = nbformat.v4.new_code_cell(SETTINGS, metadata={"tags": ["parameters"]})
    book.cells = [head, parameters, *(nbformat.v4.new_code_cell(cell) for cell in cells)]
    path = folder / "shown.ipynb"
    nbformat.write(book, path)
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("render")
    changes = {"elements[load].typical": 0.5}
    page = sk.render(
        notebook(folder, *WORK), folder / "page.html", name="<somebody>", factor=3, names=("x", "y"), changes=changes
    )
    return page, page.read_text(encoding="utf-8")


def test_the_page_shows_what_the_parameters_made_and_no_code(made):
    text = made[1]
    assert "&lt;somebody&gt; 6 ['x', 'y']" in text
    assert "elements[load].typical" in text
    assert "plt.subplots" not in text
    assert "<script" not in text


def test_a_cell_for_a_persons_hand_is_no_part_of_the_page(tmp_path):
    path = notebook(tmp_path, "print('shown')", "raise ValueError('a panel')")
    book = nbformat.read(path, as_version=4)
    book.cells[-1].metadata["tags"] = ["panel"]
    nbformat.write(book, path)
    text = sk.render(path, tmp_path / "page.html").read_text(encoding="utf-8")
    assert "shown" in text
    assert "panel" not in text


def test_the_page_names_notebook_and_parameters(made):
    text = made[1]
    assert "shown.ipynb" in text
    assert "<dt>Parameter factor</dt><dd>3</dd>" in text


def test_a_figure_is_described(made):
    assert 'alt="Across: hours"' in made[1]
    assert 'alt=""' not in made[1]


def test_a_page_of_the_kit_is_made_again_and_a_changed_one_is_not(made, tmp_path):
    page = tmp_path / "page.html"
    page.write_text(made[1], encoding="utf-8")
    source = notebook(tmp_path, "print('anew')")
    assert "anew" in sk.render(source, page).read_text(encoding="utf-8")
    page.write_text(page.read_text(encoding="utf-8").replace("anew", "mine"), encoding="utf-8")
    with pytest.raises(sk.BadInput, match="nothing is written over"):
        sk.render(source, page)
    assert "mine" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("parameters", "why"),
    [
        ({"nam": "x"}, "did you mean 'name'"),
        ({"times": 1.5}, "a int is needed"),
        ({"times": True}, "a int is needed"),
        ({"factor": float("inf")}, "finite"),
        ({"shown": 1}, "a bool is needed"),
        ({"changes": []}, "a dict is needed"),
        ({"names": "x"}, "needed"),
    ],
)
def test_wrong_parameters_are_refused_before_a_kernel_starts(tmp_path, monkeypatch, parameters, why):
    monkeypatch.setattr("simkit.desk.rendering.execute", None)
    with pytest.raises(sk.BadInput, match=why):
        sk.render(notebook(tmp_path), tmp_path / "page.html", **parameters)
    assert not (tmp_path / "page.html").exists()


def test_a_notebook_that_is_not_there_or_has_no_parameters(tmp_path):
    with pytest.raises(sk.BadInput, match="no such notebook"):
        sk.render(tmp_path / "none.ipynb", tmp_path / "page.html")
    nbformat.write(nbformat.v4.new_notebook(), tmp_path / "bare.ipynb")
    with pytest.raises(sk.BadInput, match="no parameters cell"):
        sk.render(tmp_path / "bare.ipynb", tmp_path / "page.html")


def test_a_page_of_simulated_work_shows_no_progress(tmp_path):
    plant = write_option_plant(tmp_path / "plant")
    work = "import simkit as sk\nstudy = sk.simulate(sk.read_plant(name).scenario('Today'), replications=2, workers=1)"
    text = sk.render(notebook(tmp_path, work, "study"), tmp_path / "page.html", name=str(plant)).read_text("utf-8")
    assert "2 replications of 1 weeks" in text
    assert "1 scenarios" not in text


def test_a_failed_cell_is_named_on_the_page_and_in_the_error(tmp_path):
    source = notebook(tmp_path, "print('before')", "1 / 0", "print('after')")
    with pytest.raises(sk.ScenarioFailed, match=r"cell 4, .*ZeroDivisionError"):
        sk.render(source, tmp_path / "page.html")
    text = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "It stopped in cell 4" in text
    assert "before" in text
    assert "<pre>after" not in text
