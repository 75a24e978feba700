"""``stagecall replay``: a log judged anew."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from stagecall.cli.saying import code_of, tell
from stagecall.errors import ExitCode
from stagecall.judge import Judge
from stagecall.model.event import VerdictLine
from stagecall.record import LogReading, read
from stagecall.report.agreement import compare
from stagecall.report.as_json import as_object
from stagecall.report.record import Gathering
from stagecall.report.terminal import drawn

MOST = 5
"""Places of damage that are told one by one."""


def replay(log: str, *, as_json: bool) -> int:
    """Judge the log, print the result, and give the exit code.

    Raises:
        LogError: it is no log, or cannot be read.
    """
    reading = read(Path(log))
    gathering = Gathering(reading.header, log=log, anew=True)
    judge = Judge()
    stored: list[VerdictLine] = []
    anew: list[VerdictLine] = []
    for line in reading.lines:
        gathering.take(line)
        if isinstance(line, VerdictLine):
            stored.append(line)
        else:
            anew += judge.feed(line)
    closed = bool(reading.digest)
    anew += judge.finish(closed=closed)
    for verdict in anew:
        gathering.verdict(verdict)
    record = gathering.record(digest=reading.digest)
    agreement = compare(stored, anew, judging=reading.header.judging, closed=closed)
    broken = seals_broken(reading)
    if as_json:
        said = as_object(record, agrees=agreement.agrees, replayed=True) | {
            "rules_changed": agreement.rules_changed is not None,
            "differences": list(agreement.differences),
            "seals": "broken" if broken else "whole",
            "damage": [damage.text for damage in reading.damage],
        }
        tell(json.dumps(said, indent=2))
    else:
        tell(drawn(record, sys.stdout, remarks=[*_damage(reading, broken=broken), *agreement.sentences()]))
    if broken or agreement.agrees is False:
        return ExitCode.FAILED
    return code_of(record.verdict)


def seals_broken(reading: LogReading) -> bool:
    """Something was changed, added or taken away. A log that only breaks off inside its last line is not broken."""
    torn = not reading.digest
    return any(not (torn and damage.line == reading.count) for damage in reading.damage)


def _damage(reading: LogReading, *, broken: bool) -> list[str]:
    said = [damage.text for damage in reading.damage[:MOST]]
    if (more := len(reading.damage) - MOST) > 0:
        said.append(f"And {more} more places.")
    if broken:
        said.append("BROKEN SEAL: this log is not as it was recorded.")
    return said
