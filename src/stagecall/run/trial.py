"""One whole run for the sake of its verdicts and its trace, and a worker's share of many."""

from __future__ import annotations

import gc
import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache, lru_cache
from pathlib import Path

import msgspec

import stagecall as package
from stagecall.documents import Library
from stagecall.documents.library import library_folder
from stagecall.errors import StagecallError
from stagecall.judge import Judge
from stagecall.model import plan
from stagecall.model.event import Header, VerdictLine
from stagecall.model.fault import AppliedFault
from stagecall.model.sequence import Anchor
from stagecall.model.verdict import Verdict
from stagecall.record import Log
from stagecall.rigs.clock import HandClock
from stagecall.rigs.registry import RigSpec, Stand
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import Prepared, parse_fault, prepare
from stagecall.run.session import Session
from stagecall.run.trace import Envelope, Trace, Tracer

START = datetime(2026, 1, 1, tzinfo=UTC)
RIG = "simulated"
TIDY_AFTER = 50_000
"""Objects more than before until the interpreter looks for what refers to itself: some ten runs."""
TYPICAL = 0
"""The seed that stands for the typical machine; every other draws a healthy one."""


class Job(msgspec.Struct, frozen=True, kw_only=True):
    """A worker's share: one sequence, on one system seen with one kit, for some faults or for some healthy draws."""

    system: str
    kit: str
    sequence: str
    faults: tuple[str, ...] = ()
    """``NAME@TARGET`` each."""
    seeds: tuple[int, ...] = ()
    """Healthy machines."""
    library: str = ""
    """What :func:`program_digest` must be where the job is done; empty: whatever it is."""


class Failure(msgspec.Struct, frozen=True):
    """An expectation that failed, and the points that it is about."""

    of: str
    id: str
    points: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.of}/{self.id}"


class Trial(msgspec.Struct):
    """What one run came to. ``broken`` says why it could not be made, and then all else is empty."""

    what: str
    """The fault, or the seed of a healthy machine."""
    failures: tuple[Failure, ...] = ()
    not_verified: tuple[str, ...] = ()
    """``NAME/expectation: reason``."""
    trace: Trace = msgspec.field(default_factory=Trace)
    broken: str = ""


class Done(msgspec.Struct):
    """A worker's answer to a job; of healthy machines only the envelope of their traces."""

    job: Job
    trials: list[Trial]
    envelope: Envelope


def perform(ready: Prepared, stand: Stand, seed: int, faults: Sequence[AppliedFault], *, drawn: bool) -> Trial:
    """One whole run, logged in memory and judged as ever."""
    rig = stand.open(seed, faults, drawn=drawn)
    header = Header(
        tool=package.__version__, run="cover", start=START.isoformat(), tested_on=rig.tested_on, rig=rig.name,
        system=ready.system.system, kit=ready.kit.kit, source=rig.bounds, seed=seed,
    )  # fmt: skip
    tracer = Tracer()
    ledger = Ledger(Log.in_memory(header), Judge(), header, tracer.take)
    session = Session(ready, ledger)
    turn(session, rig, Silent(), clock=HandClock(START))
    if session.lost is not None:
        return Trial("", broken=str(session.lost))
    counted = [line for line in ledger.verdicts if line.id and line.counted]
    return Trial(
        what="",
        failures=tuple(_failure(line, ready) for line in counted if line.verdict is Verdict.FAIL),
        not_verified=tuple(
            f"{line.of}/{line.id}: {line.reason}" for line in counted if line.verdict is Verdict.NOT_VERIFIED
        ),
        trace=tracer.trace,
    )


def work(job: Job) -> Done:
    """Do a job, in whatever process this is.

    Raises:
        StagecallError: this process has another library or another program than the one that gave the job.
    """
    if job.library and job.library != program_digest():
        raise StagecallError("a worker has another library, or another version of the program, than this process")
    with _seldom_tidied():
        return _work(job)


def _work(job: Job) -> Done:
    ready, stand = _ready(job.system, job.kit, job.sequence), _stand(job.system, job.kit)
    envelope, trials = Envelope(), []
    for seed in job.seeds:
        trial = perform(ready, stand, seed, (), drawn=seed != TYPICAL)
        envelope.add(trial.trace)
        trial.what, trial.trace = str(seed), Trace()
        trials.append(trial)
    for fault in job.faults:
        try:
            trial = perform(ready, stand, TYPICAL, _faults(fault), drawn=False)
        except StagecallError as error:
            trial = Trial("", broken=str(error))
        trial.what = fault
        trials.append(trial)
    return Done(job, trials, envelope)


@contextmanager
def _seldom_tidied() -> Iterator[None]:
    """Runs leave little that refers to itself, so that looking for it every 700 objects is a twentieth of the time."""
    before = gc.get_threshold()
    gc.set_threshold(TIDY_AFTER, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


@cache
def program_digest() -> str:
    """SHA-256 over the program's own text and its library."""
    whole = hashlib.sha256()
    for folder, pattern in ((Path(package.__file__).parent, "*.py"), (library_folder(), "s*/**/*.yaml")):
        for file in sorted(folder.rglob(pattern) if pattern == "*.py" else folder.glob(pattern)):
            whole.update(file.read_bytes())
    return whole.hexdigest()


@cache
def _library() -> Library:
    return Library()


@lru_cache(maxsize=1024)
def _faults(text: str) -> tuple[AppliedFault, ...]:
    return tuple(parse_fault(_library(), text))


@lru_cache(maxsize=128)
def _ready(system: str, kit: str, sequence: str) -> Prepared:
    return prepare(_library(), system=system, kit=kit, sequences=(sequence,))


@lru_cache(maxsize=8)
def _stand(system: str, kit: str) -> Stand:
    installed = _library().load("system", system).document
    profiles = _library().profiles(installed)
    return Stand(RIG, RigSpec(system=installed, profiles=profiles, kit=_library().load("kit", kit).document))


def _failure(line: VerdictLine, ready: Prepared) -> Failure:
    asked = next((one for one in ready.sequences if one.name == line.of), None)
    if asked is not None:
        forms = [form for step in asked.steps for form in step.expect]
        starts = tuple(one.point for one in asked.starts)
    else:
        forms = [form for one in ready.monitors if one.name == line.of for form in one.expect]
        starts = ()
    found = next((form for form in forms if form.id == line.id), None)
    return Failure(line.of, line.id, starts if found is None else points_of(found))


def points_of(form: plan.Form) -> tuple[str, ...]:  # noqa: PLR0911 - a table
    """The points that an expectation is about, its anchor's too."""
    match form:
        case plan.Turns():
            return form.turns.point, *_anchored(form.each or form.since)
        case plan.Stays():
            return form.stays.point, *_anchored(form.each or form.since)
        case plan.Order():
            return tuple(one.point for one in form.order)
        case plan.Never():
            return tuple(one.point for one in form.never)
        case plan.Reads():
            return (form.reads,)
        case plan.Times():
            return (form.times.point,)
        case _:
            return ()


def _anchored(anchor: Anchor) -> tuple[str, ...]:
    return (anchor.name,) if anchor.kind == "point" else ()
