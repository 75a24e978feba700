"""How quickly cover runs go, and what the time is made of; run on demand, on a machine that does nothing else.

``python tests/benchmarks/cover_speed.py [SYSTEM]...``

Every fault run is a whole one: all applicable sequences, no filter, log and judge as ever. Workers are warm: each has
done one job of each sequence before the clock starts.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from statistics import median

import msgspec
import simpy

from stagecall.documents import Library
from stagecall.judge import Judge
from stagecall.model.event import AnyLine, Document, Header, Seal, VerdictLine
from stagecall.record import Log
from stagecall.rigs.clock import HandClock
from stagecall.rigs.contract import Move
from stagecall.run import trial
from stagecall.run.catalogue import catalogue
from stagecall.run.engines import engine
from stagecall.run.jobs import AT_ONCE
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import parse_fault, prepare
from stagecall.run.session import Session
from stagecall.run.trace import Tracer

USUAL = ("split-gas-cool", "heat-pump-strips-o", "boiler-two-zones", "two-stage-gas-cool")
KIT = "full"
ROUNDS = 5
"""Of what is measured alone, the best of so many counts: whatever else the machine does only adds."""
library = Library()


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def groups(system: str) -> dict[str, str]:
    """The applicable sequences of a system, each with its group."""
    ready = prepare(library, system=system, kit=KIT)
    return {one.name: one.group for one in ready.sequences if not (one.not_applicable or one.deferred)}


def jobs(systems: Sequence[str], faults: int | None = None) -> list[trial.Job]:
    """All jobs of those systems, with the whole catalogue or an even choice of it."""
    made = []
    for system in systems:
        texts = [entry.text for entry in catalogue(library, system)]
        chosen = texts if faults is None else texts[:: max(1, len(texts) // faults)][:faults]
        for sequence in groups(system):
            made += [
                trial.Job(system=system, kit=KIT, sequence=sequence, faults=tuple(chosen[at : at + AT_ONCE]))
                for at in range(0, len(chosen), AT_ONCE)
            ]
    return made


def best(do: Callable[[], object]) -> float:
    """Seconds of this process."""
    taken = []
    for _ in range(ROUNDS):
        before = time.process_time()
        do()
        taken.append(time.process_time() - before)
    return min(taken)


def by_group(systems: Sequence[str], processes: int) -> None:
    """Fault runs a second, all that applies and the whole catalogue."""
    with warm(None, processes, systems) as executor:
        overall = []
        for system in systems:
            work: dict[str, list[trial.Job]] = defaultdict(list)
            of = groups(system)
            for job in jobs([system]):
                work[of[job.sequence]].append(job)
            rates = {
                group: sum(len(job.faults) for job in those) / wall(executor, those)
                for group, those in sorted(work.items())
            }
            overall += rates.values()
            told = ", ".join(f"{group} {rate:.0f}" for group, rate in rates.items())
            say(f"{system}, {processes} processes, by group: {told}; median {median(rates.values()):.0f} a second")
        say(f"median of all {len(overall)} groups of {len(systems)} systems: {median(overall):.0f} a second")


def wall(executor: Executor, work: Sequence[trial.Job]) -> float:
    before = time.perf_counter()
    for future in [executor.submit(trial.work, job) for job in work]:
        future.result()
    return time.perf_counter() - before


@contextmanager
def warm(on: str | None, processes: int, systems: Sequence[str]) -> Iterator[Executor]:
    """Workers that know every sequence of those systems already."""
    with engine(on, processes) as (executor, workers):
        wall(executor, [job for job in jobs(systems, 1) for _ in range(3 * workers)])
        yield executor


def growth(name: str, on: str | None, processes: int, work: dict[str, list[trial.Job]]) -> None:
    systems = sorted({job.system for those in work.values() for job in those})
    with warm(on, processes, systems) as executor:
        for what, those in work.items():
            runs, seconds = sum(len(job.faults) for job in those), wall(executor, those)
            say(f"{name}, {what}: {runs} fault runs in {seconds:.1f} s, {runs / seconds:.0f} a second")


def on_dask(work: dict[str, list[trial.Job]]) -> None:
    try:
        from distributed import LocalCluster  # noqa: PLC0415 - an optional extra
    except ImportError:
        say("two Dask workers: Dask is not installed")
        return
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster:
        growth("two Dask workers", cluster.scheduler_address.replace("tcp://", "dask://"), 1, work)


class Recorded:
    """One run, kept so that its parts can be done again alone."""

    def __init__(self, system: str, sequence: str, fault: str) -> None:
        self.ready, self.stand = trial._ready(system, KIT, sequence), trial._stand(system, KIT)
        self.faults = parse_fault(library, fault)
        guarded = self.open()
        rig = guarded._rig
        self.header = Header(
            tool="benchmark", run="benchmark", start=trial.START.isoformat(), tested_on="model", rig=rig.name,
            system=system, kit=KIT, source=rig.bounds,
        )  # fmt: skip
        self.lines: list[AnyLine] = []
        self.moves: list[tuple[int, Move]] = []
        self.steps = 0
        move, step = rig._move, rig.plant._env.step

        def moved(one: Move) -> None:
            self.moves.append((rig.now, one))
            move(one)

        def stepped() -> None:
            self.steps += 1
            step()

        rig._move, rig.plant._env.step = moved, stepped
        turn(
            Session(self.ready, Ledger(Log.in_memory(self.header), Judge(), self.header, self.lines.append)),
            guarded, Silent(), clock=HandClock(trial.START),
        )  # fmt: skip
        self.until = rig.now
        unnumbered = [one for one in self.lines if not isinstance(one, Document | Seal)]
        self.fresh = [*self.ready.documents, *(msgspec.structs.replace(one, n=-1) for one in unnumbered)]

    def open(self):  # type: ignore[no-untyped-def]
        return self.stand.open(trial.TYPICAL, self.faults, drawn=False)

    def whole(self) -> None:
        trial.perform(self.ready, self.stand, trial.TYPICAL, self.faults, drawn=False)

    def plant(self) -> None:
        rig = self.open()._rig
        for moment, move in self.moves:
            rig.plant.advance(moment)
            rig._move(move)
        rig.plant.advance(self.until)

    def loop(self) -> None:
        """The bare event loop: as many events, and nothing that happens at them."""
        env = simpy.Environment()
        for _ in range(self.steps):
            env.timeout(1)
        env.run()

    def log(self) -> None:
        log = Log.in_memory(self.header)
        for line in self.fresh:
            log.append(line)
        log.close()

    def judge(self) -> None:
        judge = Judge()
        judge.feed(self.header)
        for line in self.lines:
            if type(line) is not VerdictLine:
                judge.feed(line)
        judge.finish(closed=True)

    def trace(self) -> None:
        tracer = Tracer()
        for line in self.lines:
            tracer.take(line)


def made_of(system: str) -> None:
    """What a fault run's time is made of; what is left over is session, guard and the rig's look at the plant."""
    sums: dict[str, float] = defaultdict(float)
    fault = catalogue(library, system)[0].text
    for sequence in groups(system):
        run = Recorded(system, sequence, fault)
        opened = best(run.open)
        parts = {
            "a new plant": opened, "plant": best(run.plant) - opened, "log": best(run.log), "judge": best(run.judge),
            "trace": best(run.trace),
        }  # fmt: skip
        whole = best(run.whole)
        for name, seconds in parts.items():
            sums[name] += seconds
        sums["session, guard and rig"] += whole - sum(parts.values())
        sums["whole"] += whole
        sums["bare"] += best(run.loop)
    whole, bare = sums.pop("whole"), sums.pop("bare")
    told = ", ".join(f"{name} {100 * seconds / whole:.0f} %" for name, seconds in sums.items())
    say(f"{system}, of a fault run's time: {told}. The bare event loop alone is {100 * bare / whole:.1f} % of it.")


def main(systems: Sequence[str]) -> None:
    for processes in (1, 2):
        by_group(systems, processes)
    first = systems[:1]
    for system in first:
        made_of(system)
    work = {f"{system}, {faults} faults": jobs([system], faults) for system in first for faults in (10, 20, 40)}
    work |= {f"{n} systems, 10 faults each": jobs(systems[:n], 10) for n in range(2, len(systems) + 1)}
    growth("one process", None, 1, work)
    growth("two processes", None, 2, work)
    on_dask(work)


if __name__ == "__main__":
    main(sys.argv[1:] or USUAL)
