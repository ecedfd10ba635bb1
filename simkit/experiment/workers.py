"""Replications on several processes: no worker is left waiting for, and one that dies is reported."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import lru_cache
from multiprocessing.context import BaseContext
from pathlib import Path
from typing import Any

from simkit.base.messages import ScenarioFailed
from simkit.base.temporary import own_folder
from simkit.experiment.replication import Design, Replicated, run_replication

WORKER_DIED = (
    "a worker process ended before its replication was done: the computer may have run out of memory, or the "
    "script that asks for the runs starts them outside `if __name__ == '__main__':`, which each worker would do "
    "again. Give it fewer workers (workers=1 needs no worker process), or guard the script"
)


def on_processes(design: Design, numbers: Sequence[int], workers: int) -> Iterator[Replicated]:
    """Replications of ``design`` as they get done, in no certain order, on ``workers`` processes.

    Raises what a run raises, and ScenarioFailed if a process dies. Runs not yet begun are then given up,
    as they are when the caller stops asking.
    """
    pool = _pool(workers)
    with own_folder() as folder:
        kept = folder / "design"
        kept.write_bytes(design.packed())
        try:
            waiting = [pool.submit(_run_kept, number, kept) for number in numbers]
            for done in as_completed(waiting):
                yield done.result()
        except BaseException as error:
            _pool.cache_clear()
            pool.shutdown(wait=False, cancel_futures=True)
            if isinstance(error, BrokenProcessPool):
                raise ScenarioFailed(WORKER_DIED) from error
            raise


@lru_cache(maxsize=1)
def _pool(workers: int) -> ProcessPoolExecutor:
    """Workers are kept from one experiment to the next: each needs about half a second to start."""
    return ProcessPoolExecutor(workers, mp_context=_context(), initializer=_as_worker)


def _as_worker() -> None:
    """An interrupt reaches workers as well: the main process alone answers it, and an idle worker lives on.

    A main process that is killed can tell nobody: each worker waits for its end beside its work, and ends with it.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    main = multiprocessing.parent_process()
    if main is not None:
        threading.Thread(target=_end_after, args=(main,), daemon=True).start()


def _end_after(main: Any) -> None:
    main.join()
    os._exit(1)


def _run_kept(replication: int, kept: Path) -> Replicated:
    """One replication of a design in a file: what goes to a worker is small, so that nothing waits to read it."""
    return run_replication(replication, _read(kept))


@lru_cache(maxsize=1)
def _read(kept: Path) -> bytes:
    gc.freeze()  # what a worker has loaded stays: looking through it for garbage again and again takes a third of a run
    return kept.read_bytes()


def _context() -> BaseContext:
    """Workers that inherit no thread or lock of this process; where they can, they start with the cell loaded."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["simkit.experiment.replication"])
    return context
