"""Where the work of a cover run is done: in this process, in several of them, or on workers that stand elsewhere."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any

from stagecall.errors import StagecallError, UsageError
from stagecall.run.jobs import Inline

DASK = "dask://"
PATIENCE = "10 s"
"""How long a scheduler may take to answer."""


@contextmanager
def engine(on: str | None, processes: int) -> Iterator[tuple[Executor, int]]:
    """An executor and how many workers it has; they are let go of when the block ends.

    Args:
        on: ``dask://HOST:PORT`` of a scheduler; None: *processes* of this machine, where 1 is this process itself.
        processes: how many.

    Raises:
        UsageError: no such engine, nobody answers there, or it has no workers.
        StagecallError: a worker went away in the middle of a job, or has no such program.
    """
    if on is not None and on.startswith(DASK):
        with _dask("tcp://" + on.removeprefix(DASK)) as those:
            yield those
    elif on is not None:
        raise UsageError(f"'{on}' names no workers: say {DASK}HOST:PORT of a Dask scheduler")
    elif processes == 1:
        yield Inline(), 1
    else:
        try:
            with ProcessPoolExecutor(processes, initializer=_deaf) as executor:
                yield executor, processes
        except BrokenExecutor:
            raise StagecallError(
                "a worker was ended from outside, or ran out of memory; the same command goes on from there"
            ) from None


def _deaf() -> None:
    """Ctrl-C goes to every process of the terminal; only the first one answers it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _dask(address: str) -> Iterator[tuple[Executor, int]]:
    try:
        from distributed import Client, KilledWorker  # noqa: PLC0415 - an optional extra, needed here only
    except ImportError:
        raise UsageError(f"{DASK} needs Dask: pip install 'stagecall[dask]'") from None
    connect: Any = Client
    try:
        client = connect(address, timeout=PATIENCE)
    except (OSError, ValueError):
        raise UsageError(f"no Dask scheduler answers at {address}") from None
    with client:
        workers = sum(client.nthreads().values())
        if not workers:
            raise UsageError(f"the Dask scheduler at {address} has no workers")
        try:
            with client.get_executor() as executor:
                yield executor, workers
        except (KilledWorker, CancelledError):
            raise StagecallError(
                f"the workers of {address} went away in the middle of a job; the same command goes on from there"
            ) from None
        except ModuleNotFoundError as error:
            raise StagecallError(f"the workers of {address} have not what is needed here: {error}") from None
