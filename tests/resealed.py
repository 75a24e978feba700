"""A log's lines without the verdicts, sealed anew: what a judge must be able to start from."""

from __future__ import annotations

from pathlib import Path

import msgspec

from stagecall.model.event import Header, Seal, VerdictLine
from stagecall.record import Log, read


def strip_verdicts(source: Path | bytes) -> bytes:
    """The same log without its verdict lines, its lines numbered anew."""
    reading = read(source)
    kept = [line for line in reading.lines if not isinstance(line, Header | Seal | VerdictLine)]
    assert reading.complete
    log = Log.in_memory(reading.header)
    for line in kept:
        log.append(msgspec.structs.replace(line, n=-1))
    log.close()
    return log.contents()
