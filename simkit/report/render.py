"""Run the studies and write their pages and the index.

Parameters are checked before a kernel starts. A study that fails still gets a page, which names the
cell; the others are not affected. Files are written only into a folder that is new or marked as ours.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import papermill
from jupyter_core.utils import ensure_event_loop

import simkit
from simkit.base.messages import BadInput, Finding
from simkit.report.folder import claim_folder, seal_folder
from simkit.report.moneystudy import money_of, write_money
from simkit.report.pages import (
    MONEY,
    WORKBOOK,
    Failure,
    PageFacts,
    RenderedStudy,
    answer_of,
    kept_pages,
    read_notebook,
    title_of,
    withdraw_pages,
    write_index,
    write_page,
)
from simkit.report.parameters import SCHEMAS, Value, check_parameters, check_studies
from simkit.report.study import Study, open_study
from simkit.report.workbook import write_workbook

KERNELS = 2
STUDY_FAILED = 3


def studies_folder() -> Path:
    """Return the folder of the notebooks: beside the code in a checkout, else where the installation put them."""
    beside = Path(simkit.__file__).resolve().parent.parent / "studies"
    return beside if beside.is_dir() else Path(sys.prefix) / "share" / "simkit" / "studies"


def copy_notebooks(folder: Path) -> list[Path]:
    """Copy the notebooks to work in, with the demo plant where they look for it; refuses to write over anything."""
    source, target = studies_folder(), folder / "studies"
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput([Finding(str(folder), "holds something, and nothing is written over", "Name a new folder")])
    shutil.copytree(source, target, ignore=shutil.ignore_patterns(".*", "*.png", "first_plant", "own_plant"))
    shutil.copytree(source.parent / "data" / "tarnholt", folder / "data" / "tarnholt")
    return sorted(target.glob("*.ipynb"))


def exit_code(rendered: Sequence[RenderedStudy]) -> int:
    """Return 0, or 3 if a study failed."""
    return STUDY_FAILED if any(study.failure for study in rendered) else 0


def render_studies(
    plant_folder: Path,
    out_dir: Path,
    studies: Sequence[str] | None = None,
    parameters: Mapping[str, Any] | None = None,
    results_dir: Path | None = None,
    notebooks: Path | None = None,
    say: Callable[[str], None] = print,
) -> list[RenderedStudy]:
    """Run the studies (all if None) on a study folder; write ``<study>.html``, ``index.html``, and beside the
    payback study ``money.csv`` and ``workbook.xlsx``. Pages of other studies that still hold stay in the index.

    ``parameters`` go to every study that knows them; ``results_dir`` is ``out_dir/results`` unless given. Studies
    answer at the demand at which they were run, or at a ``demand_factor`` among the parameters. ``say`` gets one line
    per study. Raises BadInput for bad parameters, an unreadable plant or study folder, or an output folder that is
    not ours.
    """
    names = check_studies(studies)
    checked = check_parameters(names, parameters or {})
    sources = {name: _notebook(notebooks or studies_folder(), name) for name in names}
    results = (results_dir or out_dir / "results").resolve()
    study = open_study(plant_folder, results, (parameters or {}).get("demand_factor"))
    claim_folder(out_dir, study.plant.settings.name, say)
    facts = PageFacts.of(study)
    places: dict[str, Value] = {
        "plant_folder": str(plant_folder.resolve()), "results_dir": str(results), "demand_factor": study.demand_factor,
    }  # fmt: skip
    titles = {name: title_of(source) for name, source in sources.items()}
    others = {name: title_of(studies_folder() / f"{name}.ipynb") for name in SCHEMAS if name not in names}
    kept = list(kept_pages(out_dir, others, facts))
    titles |= {page.name: page.title for page in kept}
    withdrawn = withdraw_pages(out_dir, [f"{name}.html" for name in set(others) - {page.name for page in kept}])
    for page in sorted(withdrawn):
        say(f"{page}: was made from other inputs and is withdrawn; simkit report makes it again")

    def one(name: str) -> RenderedStudy:
        return _render(name, sources[name], {**checked[name], **places}, out_dir.resolve(), facts, titles, say, kernel)

    # The kernels are processes of their own: the tables of money are made while they run.
    with_money = "payback" in names
    with (
        TemporaryDirectory(dir=out_dir) as aside,
        kernels_by_themselves() as kernel,
        ThreadPoolExecutor(KERNELS + with_money) as pool,
    ):
        tables = pool.submit(_write_tables, study, Path(aside)) if with_money else None
        rendered = list(pool.map(one, names))
        shown = sorted([*rendered, *kept], key=lambda page: list(SCHEMAS).index(page.name))
        write_index(out_dir / "index.html", shown, facts)
        if tables and any(page.name == "payback" and not page.failure for page in rendered):
            for path in tables.result():
                path.replace(out_dir / path.name)
    seal_folder(out_dir, ("index.html", MONEY, WORKBOOK, *withdrawn, *(page.page.name for page in rendered)))
    return rendered


@contextmanager
def kernels_by_themselves(first: str = "") -> Iterator[dict[str, Any]]:
    """Let kernels run none of the user's own start-up files, modules of the working folder or plotting settings.

    ``first`` is what they run before their notebook. Gives what to tell papermill: they stand in a folder of their own.
    """
    with TemporaryDirectory(prefix="simkit-") as own:
        startup = Path(own) / "profile_default" / "startup"
        startup.mkdir(parents=True)
        (startup / "first.py").write_text(first, encoding="utf-8")
        settings = Path(own) / "matplotlibrc"
        settings.write_text("", encoding="utf-8")
        wanted = {
            "IPYTHONDIR": own, "MPLCONFIGDIR": own, "MATPLOTLIBRC": str(settings),
            "PYTHONSAFEPATH": "1", "PYTHONNOUSERSITE": "1",
        }  # fmt: skip
        unwanted = ("PYTHONSTARTUP", "PYTHONINSPECT")
        before = {name: os.environ.get(name) for name in (*wanted, *unwanted)}
        try:
            os.environ.update(wanted)
            for name in unwanted:
                os.environ.pop(name, None)
            yield {
                "kernel_name": "python3", "resources": {"metadata": {"path": own}},
                "extra_arguments": ["--log-level=50", "--InteractiveShellApp.ignore_cwd=True"],
            }  # fmt: skip
        finally:
            for name, value in before.items():
                if value is None:
                    os.environ.pop(name, None)
                else:
                    os.environ[name] = value


def _write_tables(study: Study, folder: Path) -> tuple[Path, ...]:
    """Write the table of cash and the workbook; return where they are."""
    cash = money_of(study)
    write_money(cash, folder / MONEY)
    write_workbook(cash.content, folder / WORKBOOK)
    return folder / MONEY, folder / WORKBOOK


def _notebook(folder: Path, name: str) -> Path:
    path = folder / f"{name}.ipynb"
    if not path.is_file():
        raise BadInput(
            [Finding(f"studies/{name}.ipynb", "the notebook is missing", "Run from a whole copy of the kit")]
        )
    return path


def _render(
    name: str,
    source: Path,
    parameters: Mapping[str, Value],
    out_dir: Path,
    facts: PageFacts,
    titles: Mapping[str, str],
    say: Callable[[str], None],
    kernel: Mapping[str, Any],
) -> RenderedStudy:
    executed = out_dir / "notebooks" / f"{name}.ipynb"
    executed.parent.mkdir(exist_ok=True)
    failure = execute(source, executed, parameters, kernel)
    notebook = read_notebook(executed)
    page = out_dir / f"{name}.html"
    failure = write_page(page, notebook, name, facts, titles, failure)
    answer = answer_of(notebook)
    say(f"{name}: {f'failed in cell {failure.cell}, {failure.error}' if failure else page.name}")
    return RenderedStudy(name, titles[name], page, answer, failure)


def _as_it_is(path: Path) -> str:
    """A path in which papermill takes no brace for the name of a parameter."""
    return str(path).replace("{", "{{").replace("}", "}}")


def execute(source: Path, executed: Path, parameters: Mapping[str, Any], kernel: Mapping[str, Any]) -> Failure | None:
    """Run a notebook in a kernel of its own; called in a worker thread, whose event loop is closed behind it."""
    try:
        papermill.execute_notebook(
            _as_it_is(source), _as_it_is(executed), parameters=dict(parameters), progress_bar=False, log_output=False,
            language="python", **kernel,
        )  # fmt: skip
    except papermill.PapermillExecutionError as error:
        return Failure.of(read_notebook(source), error)
    finally:
        ensure_event_loop().close()
    return None
