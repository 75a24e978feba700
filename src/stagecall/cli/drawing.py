"""``stagecall run --draw N``: the same sequences on many healthy machines, one after the other."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from stagecall.cli.naming import header_of, log_path, run_id
from stagecall.cli.progress import OneLine
from stagecall.cli.saying import code_of, tell
from stagecall.errors import ExitCode, LogWriteError, RigLostError
from stagecall.judge import Judge
from stagecall.model.verdict import Verdict
from stagecall.record import Log
from stagecall.report.draws import Draws, Machine, Row, as_object, drawn
from stagecall.report.words import plural
from stagecall.rigs.clock import Clock
from stagecall.rigs.guard import Guarded
from stagecall.rigs.registry import Stand
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import Prepared
from stagecall.run.session import Session

KEPT = 20
"""So many logs of machines that did not pass are left behind."""


class Counter(OneLine):
    """One line that says how many machines are done."""

    def count(self, draws: Draws) -> None:
        """One more is."""
        if sys.stderr.isatty():
            bad = f", {len(draws.not_passed)} not passed" if draws.not_passed else ""
            self._write(f"{len(draws.verdicts)} of {plural(draws.asked, 'machine')}{bad}")


def draw(  # noqa: PLR0913 - each is a thing of its own
    prepared: Prepared, stand: Stand, draws: Draws, clock: Clock, token: str | None, *, as_json: bool
) -> int:
    """Run them all, print the table, and give the exit code. *token* as in :func:`stagecall.cli.naming.run_id`.

    Raises:
        LogWriteError: the log of a machine that did not pass cannot be written.
    """
    counter = Counter()
    run = run_id(clock, token)
    interrupted = False
    try:
        for seed in range(draws.seed, draws.seed + draws.asked):
            _one(prepared, stand.open(seed, prepared.faults, drawn=True), draws, clock, f"{run}-{seed}", seed)
            counter.count(draws)
    except KeyboardInterrupt:
        interrupted = True
    finally:
        counter.finish()
    if as_json:
        tell(json.dumps(as_object(draws, interrupted=interrupted), indent=2))
    else:
        tell(drawn(draws, sys.stdout, interrupted=interrupted))
    return ExitCode.INTERRUPTED if interrupted else code_of(draws.verdict)


def _one(  # noqa: PLR0913, PLR0917 - as above
    prepared: Prepared, rig: Guarded, draws: Draws, clock: Clock, run: str, seed: int
) -> None:
    head = header_of(prepared, rig, clock, run, seed, drawn=True, follows=draws.follows)
    log = Log.in_memory(head)
    ledger = Ledger(log, Judge(), head)
    session = Session(prepared, ledger)
    turn(session, rig, Silent(), clock=clock)
    if session.lost is not None:
        raise RigLostError(f"the machine of seed {seed}: {session.lost}")
    verdict, names = draws.take(seed, ledger.verdicts)
    if verdict in (Verdict.PASS, Verdict.EXCEPTED):
        return
    path = log_path(None, run) if len(draws.not_passed) < KEPT else None
    if path is not None:
        _keep(path, log.contents())
    kept = None if path is None else str(path)
    draws.not_passed.append(Machine(seed=seed, verdict=verdict, names=names, log=kept))


def _keep(path: Path, contents: bytes) -> None:
    try:
        with path.open("xb") as file:
            file.write(contents)
    except OSError as error:
        raise LogWriteError(f"The log {path} cannot be written: {(error.strerror or str(error)).lower()}.") from error


def rows(prepared: Prepared) -> dict[tuple[bool, str], Row]:
    """A row for each sequence and monitor, none counted yet."""
    made = {(False, one.name): Row(name=one.name, title=one.title, monitor=False) for one in prepared.sequences}
    return made | {(True, one.name): Row(name=one.name, title=one.title, monitor=True) for one in prepared.monitors}


def texts(prepared: Prepared) -> dict[tuple[str, str], str]:
    """The sentence of each expectation."""
    made = {(one.name, form.id): form.text for one in prepared.sequences for step in one.steps for form in step.expect}
    return made | {(one.name, form.id): form.text for one in prepared.monitors for form in one.expect}
