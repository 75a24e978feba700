"""``stagecall run``: sequences run on a rig, judged, logged, and told."""

from __future__ import annotations

import json
import shlex
import sys
from pathlib import Path

import msgspec

from stagecall.cli.cautions import cautions
from stagecall.cli.console import Nobody, Screen, typist
from stagecall.cli.drawing import draw, rows, texts
from stagecall.cli.naming import header_of, log_path, run_id
from stagecall.cli.progress import Everything, OneLine, Progress
from stagecall.cli.retesting import all_passed, left_in
from stagecall.cli.saying import code_of, say, tell
from stagecall.documents import Library
from stagecall.errors import ExitCode, LogWriteError, UsageError
from stagecall.judge import Judge
from stagecall.model.system import System
from stagecall.record import Log, read
from stagecall.report.as_json import as_object
from stagecall.report.draws import Draws
from stagecall.report.record import Gathering, Record
from stagecall.report.terminal import drawn
from stagecall.rigs.clock import Clock, SystemClock
from stagecall.rigs.guard import DryRun
from stagecall.rigs.registry import MODELLED, RIGS, RigSpec, Stand, unknown_rig
from stagecall.run.again import Again
from stagecall.run.cautions import check_order
from stagecall.run.dry import dry_run
from stagecall.run.exercise import Exercise, watched_alone
from stagecall.run.ledger import Ledger
from stagecall.run.loop import turn
from stagecall.run.prepare import Prepared, prepare
from stagecall.run.session import Session

RIG = "simulated"
"""The rig that is taken where none is named: the model."""
SYSTEM = "split-gas-cool"
"""The sample system that is taken where none is named, on the model."""
KITS = {"simulated": "full", "by-hand": "by-hand"}
"""The kit that is taken on a rig where none is named."""


class Options(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for on the command line."""

    sequences: tuple[str, ...] = ()
    rig: str = RIG
    """``NAME`` or ``NAME:WHERE``."""
    system: str | None = None
    kit: str | None = None
    pace: float | None = None
    step_by_step: bool = False
    faults: tuple[str, ...] = ()
    seed: int | None = None
    draw: int | None = None
    failed_in: str | None = None
    after_dry: str | None = None
    log: str | None = None
    as_json: bool = False
    unattended: bool = False


def run(
    options: Options,
    clock: Clock | None = None,
    token: str | None = None,
    *,
    library: Library | None = None,
    exercise: bool = False,
) -> int:
    """Run, print the result, and give the exit code. *clock* and *token* (of the run id) are inputs for tests.

    *exercise*: no sequence is run, a person types what is to move.

    Raises:
        StagecallError: nothing was called, and why.
    """
    clock = clock or SystemClock()
    attended = sys.stdin.isatty() and not options.unattended
    _sensible(options, attended=attended)
    library = library or Library()
    if options.failed_in:
        left = left_in(options.failed_in, library)
        if not left.sequences:
            return all_passed(left, options.failed_in, as_json=options.as_json)
        chosen = _of(options, left)
    else:
        chosen = _named(options)
    name = options.rig.partition(":")[0]
    real = name not in MODELLED
    prepared = prepare(
        library,
        system=chosen.system,
        kit=chosen.kit,
        sequences=chosen.sequences,
        faults=options.faults,
        real=real,
    )
    if exercise:
        prepared = watched_alone(prepared)
    stand = Stand(name, _spec(options, prepared, clock, attended=attended))
    if options.draw is not None and options.draw > 1:
        return draw(prepared, stand, _draws(options, chosen, prepared), clock, token, as_json=options.as_json)
    drawn_one = chosen.drawn or options.draw is not None
    rig = stand.open(chosen.seed, prepared.faults, drawn=drawn_one)
    seed = None if real else chosen.seed
    header = header_of(prepared, rig, clock, run_id(clock, token), seed, drawn=drawn_one, follows=chosen.follows)
    path = log_path(options.log, header.run)
    try:
        log = Log.create(path, header, real_time=rig.tested_on != "model")
    except BaseException:
        rig.close()
        raise
    gathering = Gathering(header, log=str(path))
    screen = Screen(
        _progress(options, attended=attended, everything=exercise), typist() if attended else Nobody(), gathering.take
    )
    if not real:
        screen.tell(cautions(prepared))
    ledger, here = Ledger(log, Judge(), header, screen.show), rig.premises.here
    if exercise:
        session: Session = Exercise(prepared, ledger, here=here)
    else:
        session = Session(prepared, ledger, step_by_step=options.step_by_step, attended=attended, here=here)
    try:
        with screen.listening():
            turn(session, rig, screen, clock=clock, pace=1.0 if exercise and not real else options.pace)
    except LogWriteError as error:
        say(f"stagecall: {error} All calls are off; what was written until then stays in {path}.")
        return ExitCode.RIG_LOST
    if session.full is not None:
        say(f"stagecall: {session.full} All calls are off.")
    record = gathering.record(digest=session.digest)
    tell(json.dumps(as_object(record), indent=2) if options.as_json else drawn(record, sys.stdout))
    code = _code(session, record)
    return ExitCode.PASSED if exercise and code is ExitCode.NOT_VERIFIED else code


def _spec(options: Options, prepared: Prepared, clock: Clock, *, attended: bool) -> RigSpec:
    """What the rig is opened for.

    Raises:
        UsageError: a live system does not say where it is shut off; the dry run proves nothing for this system.
    """
    name, _, where = options.rig.partition(":")
    if name not in MODELLED:
        check_order(prepared.system)
    return RigSpec(
        system=prepared.system,
        profiles=prepared.profiles,
        kit=prepared.kit,
        where=where,
        clock=clock,
        challenges=prepared.challenges,
        attended=attended,
        dry_run=proved_dry(options.after_dry, prepared.system) if options.after_dry else None,
    )


def proved_dry(log: str, installed: System) -> DryRun:
    """What the log of a dry run proves.

    Raises:
        LogError: it is no log, or cannot be read.
        UsageError: it is no clean dry run of this system.
    """
    return dry_run(read(Path(log)), installed, log)


class _Chosen(msgspec.Struct, frozen=True):
    """What is run, and on what."""

    system: str
    kit: str
    sequences: tuple[str, ...]
    seed: int
    drawn: bool = False
    follows: str = ""


def _of(options: Options, left: Again) -> _Chosen:
    """What did not pass, on the machine of that run unless another is asked for."""
    before = left.header
    return _Chosen(
        options.system or before.system,
        options.kit or before.kit,
        left.sequences,
        before.seed or 0 if options.seed is None else options.seed,
        drawn=before.drawn,
        follows=before.follows or before.run,
    )


def _named(options: Options) -> _Chosen:
    """What the command line names, or what is taken where it names nothing.

    Raises:
        UsageError: no system or kit is named, and this rig has no usual one.
    """
    name = options.rig.partition(":")[0]
    if name not in MODELLED and options.system is None:
        raise UsageError(f"say what is installed, with --system: on rig {name} no sample system is taken")
    kit = options.kit or KITS.get(name)
    if kit is None:
        raise UsageError(f"say what the tester can see, with --kit: rig {name} has no usual kit")
    return _Chosen(options.system or SYSTEM, kit, options.sequences, options.seed or 0)


_OF_A_MODEL = ("faults", "seed", "draw", "pace")
"""Options that only a model has an answer to."""


def _sensible(options: Options, *, attended: bool) -> None:
    _sensible_rig(options, attended=attended)
    if options.step_by_step and not attended:
        raise UsageError("--step-by-step needs a person at a terminal, to press Enter before each step.")
    if options.failed_in and options.sequences:
        raise UsageError("either name sequences, or take those that did not pass with --failed-in")
    if options.draw is not None and options.draw > 1:
        for option, given in (("--pace", options.pace), ("--step-by-step", options.step_by_step)):
            if given:
                raise UsageError(f"{option} shows one machine: give it with --draw 1 and the --seed of that one")
        if options.log:
            raise UsageError("--log names one log: of several machines each that does not pass leaves one of its own")


def _sensible_rig(options: Options, *, attended: bool) -> None:
    name = options.rig.partition(":")[0]
    if name not in RIGS:
        raise unknown_rig(name)
    if name in MODELLED and options.after_dry:
        raise UsageError("--after-dry belongs to equipment: a model needs no dry run")
    if name not in MODELLED:
        for option in _OF_A_MODEL:
            if getattr(options, option):
                said = "--fault" if option == "faults" else f"--{option}"
                raise UsageError(f"{said} belongs to the model; rig {name} is real")
    if name == "by-hand" and not attended:
        raise UsageError("--rig by-hand needs a person at a terminal, who makes the calls and types what comes.")


def _draws(options: Options, chosen: _Chosen, prepared: Prepared) -> Draws:
    """The table to fill, and the command that runs one of its machines alone."""
    named = ["--failed-in", options.failed_in] if options.failed_in else list(options.sequences)
    for option, value in (("--system", options.system), ("--kit", options.kit)):
        named += [option, value] if value else []
    for fault in options.faults:
        named += ["--fault", fault]
    return Draws(
        system=prepared.system.system,
        kit=prepared.kit.kit,
        faults=prepared.fault_names,
        seed=chosen.seed,
        asked=options.draw or 1,
        rows=rows(prepared),
        texts=texts(prepared),
        again=shlex.join(["stagecall", "run", *named]),
        follows=chosen.follows,
    )


def _progress(options: Options, *, attended: bool, everything: bool) -> Progress:
    if everything or options.pace or options.step_by_step or options.rig.partition(":")[0] not in MODELLED:
        return Everything(attended=attended, because=not options.step_by_step)
    return OneLine(attended=attended) if sys.stderr.isatty() else Progress(attended=attended)


def _code(session: Session, record: Record) -> ExitCode:
    if session.interrupted:
        return ExitCode.INTERRUPTED
    if session.lost is not None or session.full is not None:
        return ExitCode.RIG_LOST
    return code_of(record.verdict)
