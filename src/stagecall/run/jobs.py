"""Every fault against every sequence that applies: what is to be done, and the doing of it on some executor."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from typing import Any

import msgspec

from stagecall.documents import Library
from stagecall.run.catalogue import Entry, catalogue
from stagecall.run.prepare import prepare
from stagecall.run.results import Place, Results
from stagecall.run.trial import TYPICAL, Done, Job, program_digest, work

AT_ONCE = 25
"""Runs in one job: some tenths of a second, so that little is lost when it is broken off."""
AHEAD = 3
"""Jobs handed out for each worker before their turn."""


class Task(msgspec.Struct, frozen=True, kw_only=True):
    """What a cover run is to do. ``places``: what applies where; ``faults``: of each system."""

    places: tuple[Place, ...]
    faults: dict[str, tuple[Entry, ...]]
    seeds: tuple[int, ...]
    digest: str

    @property
    def runs(self) -> int:
        """How many runs that are."""
        return sum(len(self.seeds) + len(self.faults[system]) for system, _, _ in self.places)


def task(
    library: Library,
    systems: Sequence[str] = (),
    kits: Sequence[str] = (),
    sequences: Sequence[str] = (),
    draws: int = 300,
) -> Task:
    """Find out what is to be done; an empty choice takes all that the library has (of kits: those of no bench).

    Healthy machines are the typical one and *draws* drawn ones.

    Raises:
        DocumentError: a document is wrong.
        NotInLibraryError: a name is unknown.
    """
    places: list[Place] = []
    faults = {}
    whole = hashlib.sha256(program_digest().encode())
    for system in systems or library.names("system"):
        faults[system] = catalogue(library, system)
        applicable: dict[str | bool, list[str]] = {}
        for kit in kits or _kits(library):
            loaded = library.load("kit", kit)
            means = kit if loaded.document.board else loaded.document.makes_calls
            if means not in applicable:  # nothing else of a kit without a board decides what applies
                ready = prepare(library, system=system, kit=kit, sequences=sequences)
                plans = [one for one in ready.sequences if not (one.not_applicable or one.deferred)]
                applicable[means] = [plan.name for plan in plans]
                whole.update("".join(one.digest for one in ready.documents).encode())
            places += [(system, kit, name) for name in applicable[means]]
            whole.update(loaded.raw.encode())
    seeds = tuple(range(TYPICAL, draws + 1))
    whole.update(repr((places, seeds)).encode())
    return Task(places=tuple(places), faults=faults, seeds=seeds, digest=whole.hexdigest())


def _kits(library: Library) -> list[str]:
    """All but those of a bench, which see one mockup's points only."""
    return [kit for kit in library.names("kit") if library.load("kit", kit).document.board is None]


def healthy_jobs(task: Task, results: Results) -> Iterator[Job]:
    """What is still to be done of the healthy draws."""
    done: dict[Place, set[int]] = {}
    for result in results.healthy:
        done.setdefault(result.place, set()).update(result.seeds)
    for place in task.places:
        left = [seed for seed in task.seeds if seed not in done.get(place, ())]
        for seeds in _batches(left):
            yield _job(place, seeds=tuple(seeds))


def fault_jobs(task: Task, results: Results) -> Iterator[Job]:
    """What is still to be done of the faults; only once all healthy draws are there."""
    done: dict[Place, set[str]] = {}
    for result in results.tried:
        done.setdefault(result.place, set()).add(result.fault)
    for place in task.places:
        left = [entry.text for entry in task.faults[place[0]] if entry.text not in done.get(place, ())]
        for faults in _batches(left):
            yield _job(place, faults=tuple(faults))


def _batches(items: list[Any]) -> Iterator[list[Any]]:
    for at in range(0, len(items), AT_ONCE):
        yield items[at : at + AT_ONCE]


def _job(place: Place, **share: Any) -> Job:
    system, kit, sequence = place
    return Job(system=system, kit=kit, sequence=sequence, library=program_digest(), **share)


class Inline(Executor):
    """Does each job at once, in this process."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """A future that is done already; what *fn* raises is raised here."""
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def carry_out(
    task: Task, results: Results, executor: Executor, workers: int, told: Callable[[int], None] = lambda _: None
) -> None:
    """Do what is still to be done, and keep each result as it comes. *told* hears how many runs were just finished.

    Raises:
        KeyboardInterrupt: broken off; what had come is kept.
    """
    for jobs in (healthy_jobs, fault_jobs):
        _all(jobs(task, results), results, executor, workers * AHEAD, told)


def _all(jobs: Iterable[Job], results: Results, executor: Executor, ahead: int, told: Callable[[int], None]) -> None:
    waiting = list(jobs)
    waiting.reverse()
    out: set[Future[Done]] = set()
    try:
        while waiting or out:
            while waiting and len(out) < ahead:
                out.add(executor.submit(work, waiting.pop()))
            finished, out = wait(out, return_when=FIRST_COMPLETED)
            for future in finished:
                done = future.result()
                results.take(done)
                told(len(done.trials))
    except KeyboardInterrupt:
        running = [future for future in out if not future.cancel()]
        for future in wait(running).done:
            if future.exception() is None:
                results.take(future.result())
        raise
