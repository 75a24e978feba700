"""Whole runs on the simulated board with a modelled mockup on it, beside runs of the same kit on the model."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from unittest.mock import patch

import msgspec
from board_rigs import watched
from mockup import LockstepLink, Mockup, held_closed, hold
from simulated_board import LARGE, Bench, load

from stagecall.judge import Judge
from stagecall.model import plan
from stagecall.model.event import Header, VerdictLine
from stagecall.model.fault import AppliedFault
from stagecall.model.system import Energy, System
from stagecall.plant import Plant, blueprint, build
from stagecall.record import Log, read
from stagecall.rigs import board_rig
from stagecall.rigs.board import open_board
from stagecall.rigs.board_rig import SETTLING_US, BoardRig
from stagecall.rigs.channels import channels
from stagecall.rigs.clock import HandClock
from stagecall.rigs.contract import Move, Rig
from stagecall.rigs.guard import Guarded
from stagecall.rigs.registry import RigSpec, premises
from stagecall.rigs.simulated import SimulatedRig, see
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import parse_fault
from stagecall.run.session import Session
from whole.harness import LIBRARY, START, Performed, made_ready

MEASURED = (plan.Turns, plan.Order, plan.Times, plan.Reads)
"""Forms whose observed interval is of the equipment; the others observe how long was watched."""
HEARTBEAT_MS = 400
"""As seldom as is safe: a poll keeps the simulated processor as busy as a seventh of a second of waiting."""
DEAD_MS = 1_000
"""How long the twin's mockup is dead at the start: no control rides that through."""
SEED = 1
UP_MS = 10_000
"""How long a mockup stands powered before a run begins: its controls are up by then."""
POWERED_MS = UP_MS + SETTLING_US // 1000


def attended(rig: BoardRig, plant: Plant) -> BoardRig:
    """A rig with a person beside the mockup.

    Lets it come up, sees to the weather that is needed, and resets what has locked out.
    """
    by_relays, made_ready_by_board = rig._move, rig._make_ready

    def move(asked: Move) -> None:
        if asked.surroundings:
            plant.surroundings(asked.surroundings)
        by_relays(asked)

    def make_ready() -> str:
        stopped = made_ready_by_board()
        for _ in range(0, UP_MS, HEARTBEAT_MS):
            rig._exchange.listen(HEARTBEAT_MS * 1000)
            rig._exchange.done("STAT?")
        return stopped

    rig._move, rig._make_ready, rig.clear = move, make_ready, plant.clear
    return rig


class BenchRun(msgspec.Struct):
    """What a run on the bench left behind."""

    performed: Performed
    us: int
    """Of virtual time."""
    drift: tuple[float, float]
    """Between what ends the rig knew the board's clock to run slower than its own."""


def on_the_bench(
    harness: Path,
    firmware: Path,
    system: str,
    kit: str,
    *sequences: str,
    faults: tuple[str, ...] = (),
    heartbeat_ms: int = HEARTBEAT_MS,
    half_waves: bool = True,
    **source: float,
) -> BenchRun:
    """Run *sequences* through the *firmware* (the folder it was built in) on a modelled mockup of *system*.

    *source*: the mockup's ``frequency`` and ``crystal``.
    """
    with manned(
        harness, firmware, system, kit, *sequences, faults=faults, heartbeat_ms=heartbeat_ms, **source
    ) as bench:
        bench.mockup.half_waves = half_waves
        performed = _performed(bench.rig, bench.spec, sequences)
        return BenchRun(performed, bench.mockup.us, bench.rig._line.drift)


class Manned(msgspec.Struct):
    """A bench that is ready to run."""

    mockup: Mockup
    rig: BoardRig
    spec: RigSpec


@contextmanager
def manned(
    harness: Path,
    firmware: Path,
    system: str,
    kit: str,
    *sequences: str,
    faults: tuple[str, ...] = (),
    heartbeat_ms: int = HEARTBEAT_MS,
    **source: float,
) -> Iterator[Manned]:
    """A board with the *firmware*, a mockup of *system* on it, a rig on its line, and a person beside it."""
    installed, with_board = mockup_of(system), LIBRARY.load("kit", kit).document
    prepared = made_ready(system, kit, sequences)
    challenges = any(step.challenge for sequence in prepared.sequences for step in sequence.steps)
    profiles = LIBRARY.profiles(installed)
    spec = RigSpec(system=installed, profiles=profiles, kit=with_board, challenges=challenges)
    plant = build(blueprint(installed, profiles), seed=SEED, faults=applied(faults))
    board = Bench(load(harness), firmware, LARGE)
    with patch.object(board_rig, "HEARTBEAT_US", heartbeat_ms * 1000), closing(board):
        board.run(20)
        mockup = Mockup(board, plant, with_board, seed=SEED, **source)
        wanted = channels(with_board, installed.control.valve)
        rig = open_board(watched(LockstepLink(mockup), spec), wanted, spec, runs_ahead=True)
        yield Manned(mockup, attended(rig, plant), spec)


def applied(faults: tuple[str, ...]) -> list[AppliedFault]:
    """Faults by name."""
    return [one for fault in faults for one in parse_fault(LIBRARY, fault)]


def on_the_model(system: str, kit: str, *sequences: str, faults: tuple[str, ...] = ()) -> Performed:
    """The same kit's simulated twin; it begins as a bench does, dead, and then its 24 V and its switches close."""
    installed, with_board = mockup_of(system), LIBRARY.load("kit", kit).document
    profiles = LIBRARY.profiles(installed)
    plant = build(blueprint(installed, profiles), seed=SEED, faults=applied(faults))
    plant.advance(0)
    plant._env._now = -DEAD_MS - POWERED_MS
    for closed, until in ((False, -POWERED_MS), (True, 0)):
        for name in held_closed(with_board, plant):
            hold(plant, name, closed=closed)
        plant.advance(until)
    twin = SimulatedRig(plant, see(with_board, plant.points()), SEED)
    return _performed(twin, RigSpec(system=installed, profiles=profiles, kit=with_board), sequences)


def _performed(rig: Rig, spec: RigSpec, sequences: tuple[str, ...]) -> Performed:
    prepared = made_ready(spec.system.system, spec.kit.kit, sequences)
    header = Header(
        tool="0", run="bench", start=START.isoformat(), tested_on=rig.tested_on, rig=rig.name,
        system=spec.system.system, kit=spec.kit.kit, source=rig.bounds, seed=SEED,
    )  # fmt: skip
    log = Log.in_memory(header)
    session = Session(prepared, Ledger(log, Judge(), header))
    turn(session, Guarded(rig, premises(spec, on_model=rig.tested_on == "model")), Silent(), clock=HandClock(START))
    return Performed(list(read(log.contents()).lines), log.contents())


def runnable(system: str, kit: str) -> tuple[str, ...]:
    """The sequences that this kit's board can carry out on a mockup of *system*."""
    return tuple(p.name for p in made_ready(system, kit, ()).sequences if not (p.not_applicable or p.deferred))


def mockup_of(system: str) -> System:
    """The same installation with nothing live on it: relays may lie in its switches and its 24 V."""
    installed: System = LIBRARY.load("system", system).document
    return msgspec.structs.replace(installed, energy=Energy(fuel="none", compressor="none", elements="none"))


def differences(system: str, kit: str, sequences: tuple[str, ...], model: Performed, bench: Performed) -> Iterator[str]:
    """Every verdict that differs, and every observed interval that does not overlap."""
    ready = made_ready(system, kit, sequences)
    forms = {form.id: form for sequence in ready.sequences for step in sequence.steps for form in step.expect}
    expected, found = ({(v.of, v.id): v for v in run.verdicts()} for run in (model, bench))
    for key in expected.keys() | found.keys():
        a, b = expected.get(key), found.get(key)
        if a is None or b is None or (a.verdict, a.reason) != (b.verdict, b.reason):
            yield f"{'/'.join(key)}: {_said(a)} on the model, {_said(b)} on the bench"
        elif isinstance(forms.get(key[1]), MEASURED) and not _overlap(a, b):
            yield f"{'/'.join(key)}: {a.observed} on the model, {b.observed} on the bench"


def _said(line: VerdictLine | None) -> str:
    return "nothing" if line is None else f"{line.verdict} {line.reason or ''} {line.detail} {line.observed or ''}"


def _overlap(a: VerdictLine, b: VerdictLine) -> bool:
    if a.observed is None or b.observed is None:
        return a.observed == b.observed
    ends = (a.observed, b.observed)
    return max(e.low or 0 for e in ends) <= min(e.high if e.high is not None else float("inf") for e in ends)
