"""Notebooks: where they are, what they ask, how a kernel of their own runs them, and how they become pages.

A page has a template of ours, no code, no script, and nothing from outside the file.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import sys
from collections.abc import Awaitable, Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Any, TypeVar

import nbformat
import papermill
from jupyter_client.blocking.client import BlockingKernelClient
from jupyter_client.manager import AsyncKernelManager
from jupyter_core.utils import ensure_event_loop
from nbconvert import HTMLExporter
from papermill import PapermillExecutionError
from traitlets.config import Config

import simkit
from simkit.base.temporary import own_folder
from simkit.plant.writing import require_empty
from simkit.report.exhibits import TEMPLATES

Made = TypeVar("Made")

LONGEST_ERROR = 1200
FORGET = (
    "get_ipython().reset(new_session=True, aggressive=False); "
    "__import__('sys').modules['__main__'].__spec__ = None"  # processes that are started ask the main module for it
)
HIDDEN_TAGS = ("remove-cell", "parameters", "injected-parameters", "papermill-error-cell-tag")
SLOWEST_S = 60
"""Seconds in which a kernel that lives forgets what it was told."""


@dataclass(frozen=True)
class Failure:
    """Where a study stopped: number of the cell in the notebook (from 1), heading above it, first line, error."""

    cell: int
    heading: str
    source: str
    error: str

    @classmethod
    def of(cls, notebook: Any, error: PapermillExecutionError) -> Failure:
        """Find the cell of an error in the notebook as its author knows it, without the injected cell."""
        source = str(error.source)
        index = next((i for i, cell in enumerate(notebook.cells) if cell.source == source), error.cell_index)
        return cls(
            index + 1,
            _heading_above(notebook, index),
            _first_line(source),
            f"{error.ename}: {error.evalue}"[:LONGEST_ERROR],
        )


def studies_folder() -> Path:
    """Return the folder of the notebooks: beside the code in a checkout, else where the installation put them."""
    beside = Path(simkit.__file__).resolve().parent.parent / "studies"
    return beside if beside.is_dir() else Path(sys.prefix) / "share" / "simkit" / "studies"


def copy_notebooks(folder: Path) -> list[Path]:
    """Copy the notebooks to work in, with the demo plant where they look for it; refuses to write over anything."""
    source, target = studies_folder(), folder / "studies"
    require_empty(folder)
    shutil.copytree(source, target, ignore=shutil.ignore_patterns(".*", "*.png", "first_plant", "own_plant"))
    shutil.copytree(source.parent / "data" / "tarnholt", folder / "data" / "tarnholt")
    return sorted(target.glob("*.ipynb"))


def read_notebook(path: Path) -> Any:
    """Read a notebook file."""
    return nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]


def title_of(notebook: Path) -> str:
    """Return the question a notebook asks: its first heading."""
    cells = read_notebook(notebook).cells
    lines = (line for cell in cells if cell.cell_type == "markdown" for line in cell.source.splitlines())
    return next((line[2:].strip() for line in lines if line.startswith("# ")), notebook.stem)


@contextmanager
def kernels_by_themselves(first: str = "") -> Iterator[dict[str, Any]]:
    """Let kernels run none of the user's own start-up files, modules of the working folder or plotting settings.

    ``first`` is what they run before their notebook. Gives what to tell papermill: they stand in a folder of their own.
    """
    with own_folder() as folder:
        own, startup = str(folder), folder / "profile_default" / "startup"
        startup.mkdir(parents=True)
        (startup / "first.py").write_text(first, encoding="utf-8")
        settings = folder / "matplotlibrc"
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


class _Manager(AsyncKernelManager):
    """A manager that can close the connections it has handed out: papermill leaves them open for who keeps a kernel."""

    _open: list[Any]

    def client(self, **how: Any) -> Any:
        """Open a connection."""
        self._open = [*getattr(self, "_open", ()), super().client(**how)]
        return self._open[-1]

    def hang_up(self) -> None:
        """Close all connections."""
        for client in getattr(self, "_open", ()):
            client.stop_channels()
        self._open = []


class Kernel:
    """One kernel for notebook after notebook of a folder: what it loads is loaded once, names are forgotten between.

    A kernel that has died is followed by another. ``how`` is what :func:`kernels_by_themselves` gives.
    """

    def __init__(self, how: Mapping[str, Any]) -> None:
        self._how = dict(how)
        self._manager: _Manager | None = None

    def ready(self, folder: Path) -> dict[str, Any]:
        """What to tell papermill, so that it uses this kernel, standing in ``folder``, with nothing named in it yet."""
        return {**self._how, "km": _aside(lambda: self._living(folder))}

    def _living(self, folder: Path) -> _Manager:
        manager = self._manager
        if manager is None or not _now(manager.is_alive()):
            self._stop()
            self._manager = manager = _Manager(kernel_name=self._how["kernel_name"])
            _now(manager.start_kernel(cwd=str(folder), extra_arguments=self._how["extra_arguments"]))
        else:
            self._forget(manager)
        return manager

    def _forget(self, manager: AsyncKernelManager) -> None:
        client = BlockingKernelClient()
        client.load_connection_info(manager.get_connection_info())
        client.start_channels()
        try:
            client.execute(FORGET, silent=True, store_history=False, reply=True, timeout=SLOWEST_S)
        finally:
            client.stop_channels()
            client.context.destroy()

    def close(self) -> None:
        """Stop the kernel, if there is one."""
        _aside(self._stop)

    def _stop(self) -> None:
        if self._manager is not None:
            _now(self._manager.shutdown_kernel(now=True))
            self._manager.context.destroy()


@contextmanager
def kept_kernels(count: int, folder: Path, first: str) -> Iterator[SimpleQueue[Kernel]]:
    """So many kernels in ``folder``, started now: they load while the caller works on; ``first`` is what they load.

    Who uses one takes it out, and puts it back.
    """
    free: SimpleQueue[Kernel] = SimpleQueue()
    with kernels_by_themselves(first) as how:
        kernels = tuple(Kernel(how) for _ in range(count))
        try:
            for kernel in kernels:
                kernel.ready(folder)
                free.put(kernel)
            yield free
        finally:
            for kernel in kernels:
                kernel.close()


def _aside(work: Callable[[], Made]) -> Made:
    """What ``work`` returns, done in a thread whose event loop ends with it: the caller may have one that runs."""

    def done() -> Made:
        try:
            return work()
        finally:
            ensure_event_loop().close()

    with ThreadPoolExecutor(1) as thread:
        return thread.submit(done).result()


def _now(awaited: Awaitable[Any]) -> Any:
    """What is awaited, in an event loop of its own."""

    async def done() -> Any:
        return await awaited

    return asyncio.run(done())


def _as_it_is(path: Path) -> str:
    """A path in which papermill takes no brace for the name of a parameter."""
    return str(path).replace("{", "{{").replace("}", "}}")


def execute(source: Path, executed: Path, parameters: Mapping[str, Any], kernel: Mapping[str, Any]) -> Failure | None:
    """Run a notebook in a kernel of its own, or in one that is kept."""
    return _aside(lambda: _executed(source, executed, parameters, kernel))


def _executed(source: Path, executed: Path, parameters: Mapping[str, Any], kernel: Mapping[str, Any]) -> Failure | None:
    try:
        papermill.execute_notebook(
            _as_it_is(source), _as_it_is(executed), parameters=dict(parameters), progress_bar=False, log_output=False,
            language="python", request_save_on_cell_execute=False, **kernel,
        )  # fmt: skip
    except papermill.PapermillExecutionError as error:
        return Failure.of(read_notebook(source), error)
    finally:
        if "km" in kernel:
            kernel["km"].hang_up()
    return None


def _heading_above(notebook: Any, index: int) -> str:
    cells = reversed(notebook.cells[: index + 1])
    lines = (line for c in cells if c.cell_type == "markdown" for line in reversed(c.source.splitlines()))
    return next((f"under “{line.lstrip('# ')}”" for line in lines if line.startswith("#")), "before the first heading")


def _first_line(source: str) -> str:
    return next((line for line in source.splitlines() if line.strip()), "")


def page_of(notebook: Any, content: Mapping[str, Any]) -> str:
    """The page of an executed notebook without its code; ``content`` is what the template ``study`` asks for."""
    config = Config()
    config.TagRemovePreprocessor.enabled = True
    config.TagRemovePreprocessor.remove_cell_tags = HIDDEN_TAGS
    exporter = HTMLExporter(  # type: ignore[no-untyped-call]
        config=config,
        template_name="study",
        extra_template_basedirs=[str(TEMPLATES)],
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
        embed_images=True,
    )
    html, _ = exporter.from_notebook_node(notebook, resources={"study": content})
    return str(html)
