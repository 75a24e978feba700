"""``stagecall run``: sequences run on a rig, judged, logged, and told."""

from __future__ import annotations

import json
import sys

import msgspec

import stagecall as package
from stagecall.cli.console import Nobody, Screen, typist
from stagecall.cli.naming import log_path, run_id
from stagecall.cli.progress import Everything, OneLine, Progress
from stagecall.cli.saying import code_of, say, tell
from stagecall.documents import Library
from stagecall.errors import ExitCode, LogWriteError, UsageError
from stagecall.judge import Judge
from stagecall.model.event import Header
from stagecall.record import Log
from stagecall.report.as_json import as_object
from stagecall.report.record import Gathering, Record
from stagecall.report.terminal import drawn
from stagecall.rigs.clock import Clock, SystemClock
from stagecall.rigs.guard import Guarded
from stagecall.rigs.registry import RigSpec, Stand
from stagecall.run.ledger import Ledger
from stagecall.run.loop import turn
from stagecall.run.prepare import Prepared, prepare
from stagecall.run.session import Session

RIG = "simulated"
SYSTEM = "split-gas-cool"
"""The sample system that is taken where none is named."""
KIT = "full"
"""The kit that is taken where none is named."""


class Options(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for on the command line."""

    sequences: tuple[str, ...] = ()
    system: str | None = None
    kit: str | None = None
    pace: float | None = None
    step_by_step: bool = False
    faults: tuple[str, ...] = ()
    seed: int = 0
    log: str | None = None
    as_json: bool = False
    unattended: bool = False


def run(options: Options, clock: Clock | None = None, token: str | None = None) -> int:
    """Run, print the result, and give the exit code. *clock* and *token* (of the run id) are inputs for tests.

    Raises:
        StagecallError: nothing was called, and why.
    """
    clock = clock or SystemClock()
    at_a_terminal = sys.stdin.isatty()
    if options.step_by_step and (options.unattended or not at_a_terminal):
        raise UsageError("--step-by-step needs a person at a terminal, to press Enter before each step.")
    attended = at_a_terminal and not options.unattended
    library = Library()
    prepared = prepare(
        library,
        system=options.system or SYSTEM,
        kit=options.kit or KIT,
        sequences=options.sequences,
        faults=options.faults,
    )
    spec = RigSpec(system=prepared.system, profiles=prepared.profiles, kit=prepared.kit)
    rig = Stand(RIG, spec).open(options.seed, prepared.faults)
    header = _header(options, prepared, rig, clock, token)
    path = log_path(options.log, header.run)
    try:
        log = Log.create(path, header, real_time=rig.tested_on != "model")
    except BaseException:
        rig.close()
        raise
    gathering = Gathering(header, log=str(path))
    screen = Screen(_progress(options, attended=attended), typist() if attended else Nobody(), gathering.take)
    session = Session(
        prepared,
        Ledger(log, Judge(), header, screen.show),
        step_by_step=options.step_by_step,
        attended=attended,
    )
    try:
        with screen.listening():
            turn(session, rig, screen, clock=clock, pace=options.pace)
    except LogWriteError as error:
        say(f"stagecall: {error} All calls are off; what was written until then stays in {path}.")
        return ExitCode.RIG_LOST
    record = gathering.record(digest=session.digest)
    tell(json.dumps(as_object(record), indent=2) if options.as_json else drawn(record, sys.stdout))
    return _code(session, record)


def _header(options: Options, prepared: Prepared, rig: Guarded, clock: Clock, token: str | None) -> Header:
    return Header(
        tool=package.__version__,
        run=run_id(clock, token),
        start=clock.wall().isoformat(timespec="seconds"),
        tested_on=rig.tested_on,
        rig=rig.name,
        system=prepared.system.system,
        kit=prepared.kit.kit,
        source=rig.bounds,
        seed=options.seed,
        faults=prepared.fault_names,
    )


def _progress(options: Options, *, attended: bool) -> Progress:
    if options.pace or options.step_by_step:
        return Everything(attended=attended, because=not options.step_by_step)
    return OneLine(attended=attended) if sys.stderr.isatty() else Progress(attended=attended)


def _code(session: Session, record: Record) -> ExitCode:
    if session.interrupted:
        return ExitCode.INTERRUPTED
    if session.lost is not None:
        return ExitCode.RIG_LOST
    return code_of(record.verdict)
