"""Replications on several processes: no worker is left waiting for, and one that dies is reported."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.context import BaseContext

from simkit.base.messages import ScenarioFailed
from simkit.experiment.task import Job, Replicated, run_replication

WORKER_DIED = (
    "a worker process ended before its replication was done: the computer may have run out of memory, or the "
    "script that asks for the runs starts them outside `if __name__ == '__main__':`, which each worker would do "
    "again. Give it fewer workers (workers=1 needs no worker process), or guard the script"
)


def on_processes(job: Job, numbers: Sequence[int], workers: int) -> Iterator[Replicated]:
    """Replications of ``job`` as they get done, in no certain order, on ``workers`` processes.

    Raises what a run raises, and ScenarioFailed if a process dies. Runs not yet begun are then given up,
    as they are when the caller stops asking.
    """
    packed = job.packed()
    pool = ProcessPoolExecutor(min(workers, len(numbers)), mp_context=_context())
    try:
        waiting = [pool.submit(run_replication, number, packed) for number in numbers]
        for done in as_completed(waiting):
            yield done.result()
    except BrokenProcessPool as error:
        raise ScenarioFailed(WORKER_DIED) from error
    finally:
        pool.shutdown(cancel_futures=True)


def _context() -> BaseContext:
    """Workers that inherit no thread or lock of this process; where they can, they start with the cell loaded."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["simkit.experiment.task"])
    return context
