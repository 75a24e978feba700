"""Evidence that a system was run dry before it is called live: a clean log of the same system, its energy shut off."""

from __future__ import annotations

import msgspec

from stagecall.errors import UsageError
from stagecall.judge import Judge
from stagecall.model import plan
from stagecall.model.event import Document, VerdictLine
from stagecall.model.system import System
from stagecall.model.verdict import Reason, Verdict
from stagecall.record import LogReading
from stagecall.rigs.guard import DryRun


def dry_run(reading: LogReading, installed: System, name: str) -> DryRun:
    """What a log proves for *installed*; *name* is the log's, for messages.

    Clean means: whole, made on the equipment itself with all its energy shut off, nothing failed and nothing cut short.
    The system must be the same in all but its energy.

    Raises:
        UsageError: it is no clean dry run of this system, and why.
    """
    system: System | None = None
    plans: dict[str, plan.Sequence] = {}
    judge = Judge()
    verdicts: list[VerdictLine] = []
    for line in reading.lines:
        if isinstance(line, Document) and line.kind == "system":
            system = msgspec.json.decode(line.typed, type=System)
        elif isinstance(line, Document) and line.kind == "sequence":
            plans[line.name] = msgspec.json.decode(line.typed, type=plan.Sequence)
        if not isinstance(line, VerdictLine):
            verdicts += judge.feed(line)
    verdicts += judge.finish(closed=bool(reading.digest))
    if why := _unfit(reading, system, installed, verdicts):
        raise UsageError(f"{name} is no clean dry run of this system: {why}")
    return DryRun(run=reading.header.run, early_restart=_early_restart(plans, verdicts))


def _unfit(reading: LogReading, system: System | None, installed: System, verdicts: list[VerdictLine]) -> str:
    head = reading.header
    ran = [line for line in verdicts if line.of and line.counted and line.verdict is not Verdict.NOT_APPLICABLE]
    failed = sorted({line.of for line in ran if line.verdict is Verdict.FAIL})
    cut = sorted({line.of for line in ran if line.reason is Reason.CUT_SHORT})
    passed = any(line.verdict is Verdict.PASS and not line.monitor for line in ran)
    same = system is not None and _but_energy(system) == _but_energy(installed)
    found = {
        "the log is damaged or was never closed": bool(reading.damage) or not reading.digest,
        f"it was tested on: {head.tested_on}": head.tested_on != "equipment",
        "its system differs in more than the energy": not same,
        "its system was not shut off": system is not None and system.energy.state != "dry",
        f"failed there: {', '.join(failed)}": bool(failed),
        f"cut short there: {', '.join(cut)}": bool(cut),
        "nothing passed there": not passed,
    }
    return next((why for why, so in found.items() if so), "")


def _but_energy(system: System) -> bytes:
    return msgspec.json.encode(msgspec.structs.replace(system, energy=None, shut_off=None))


def _early_restart(plans: dict[str, plan.Sequence], verdicts: list[VerdictLine]) -> bool:
    tried = {form.id for one in plans.values() for step in one.steps if step.challenge for form in step.expect}
    return any(line.id in tried and line.verdict is Verdict.PASS for line in verdicts)
