"""Whole runs in one process: documents, plant, rig, guard, script, log and judge, with what is reusable kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from functools import cache

import msgspec

from stagecall.documents import Library
from stagecall.judge import Judge, judge
from stagecall.model.event import AnyLine, Header, VerdictLine
from stagecall.model.fault import AppliedFault
from stagecall.model.verdict import Verdict
from stagecall.record import Log, read
from stagecall.rigs.clock import HandClock
from stagecall.rigs.registry import RigSpec, Stand
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import Prepared, parse_fault, prepare
from stagecall.run.session import Session

LIBRARY = Library()
START = datetime(2026, 1, 1, tzinfo=UTC)


class Performed(msgspec.Struct):
    """What a run left behind."""

    lines: list[AnyLine]
    contents: bytes

    def verdicts(self) -> list[VerdictLine]:
        return [line for line in self.lines if isinstance(line, VerdictLine)]

    def of(self, verdict: Verdict) -> list[VerdictLine]:
        """Expectations (not roll-ups) with that verdict that count."""
        return [line for line in self.verdicts() if line.id and line.verdict is verdict and line.counted]

    def failed(self) -> set[str]:
        """Names of the sequences and monitors that failed."""
        return {line.of for line in self.verdicts() if line.of and not line.id and line.verdict is Verdict.FAIL}

    def said(self) -> str:
        """Everything that is not passed, for a failing test's message."""
        rows = [*self.of(Verdict.FAIL), *self.of(Verdict.NOT_VERIFIED)]
        return "\n".join(f"{r.of}/{r.id}: {r.verdict} {r.reason} {r.detail} {r.observed} of {r.limit}" for r in rows)


@cache
def made_ready(system: str, kit: str, sequences: tuple[str, ...] = ()) -> Prepared:
    return prepare(LIBRARY, system=system, kit=kit, sequences=sequences)


@cache
def stand(system: str, kit: str) -> Stand:
    document = LIBRARY.load("system", system).document
    profiles = LIBRARY.profiles(document)
    return Stand("simulated", RigSpec(system=document, profiles=profiles, kit=LIBRARY.load("kit", kit).document))


def perform(
    system: str,
    *sequences: str,
    kit: str = "full",
    faults: Sequence[str | AppliedFault] = (),
    seed: int = 0,
    drawn: bool = False,
    prepared: Prepared | None = None,
    pace: float | None = None,
) -> Performed:
    """Run *sequences* (none named: all that the library has) on a modelled *system*; faults by name or made by hand."""
    ready = prepared or made_ready(system, kit, sequences)
    applied = [one for fault in faults for one in (parse_fault(LIBRARY, fault) if isinstance(fault, str) else (fault,))]
    rig = stand(system, kit).open(seed, applied, drawn=drawn)
    header = Header(
        tool="0", run="whole", start=START.isoformat(), tested_on="model", rig=rig.name, system=system, kit=kit,
        source=rig.bounds, seed=seed,
    )  # fmt: skip
    log = Log.in_memory(header)
    session = Session(ready, Ledger(log, Judge(), header))
    turn(session, rig, Silent(), clock=HandClock(START), pace=pace)
    contents = log.contents()
    return Performed(list(read(contents).lines), contents)


def replayed(lines: Sequence[AnyLine]) -> list[VerdictLine]:
    """The verdicts of a log judged anew, unnumbered, its own verdict lines passed over."""
    anew = judge([line for line in lines if not isinstance(line, VerdictLine)], closed=True)
    return [unnumbered(line) for line in anew]


def unnumbered(line: VerdictLine) -> VerdictLine:
    return msgspec.structs.replace(line, n=-1)


def systems() -> tuple[str, ...]:
    return LIBRARY.names("system")


def must_run(system: str) -> tuple[str, ...]:
    return LIBRARY.load("system", system).document.must_run


@cache
def applicable(system: str) -> tuple[str, ...]:
    """All sequences of the library that apply to a system, its must-run list first."""
    return tuple(plan.name for plan in made_ready(system, "full", ()).sequences if not plan.not_applicable)
