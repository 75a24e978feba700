"""What did not pass in a log, so that it alone can be run again."""

from __future__ import annotations

from typing import Any

import msgspec

from stagecall.documents import KINDS, Kind, Library, parse
from stagecall.errors import UsageError
from stagecall.judge import Judge
from stagecall.model.event import Document, Header, VerdictLine
from stagecall.model.verdict import Verdict
from stagecall.record import LogReading

_LENT: tuple[Kind, ...] = ("system", "kit", "equipment", "sequence")
_PASSED = (Verdict.PASS, Verdict.EXCEPTED, Verdict.NOT_APPLICABLE)


class Again(msgspec.Struct, frozen=True, kw_only=True):
    """What a log leaves to be run again.

    ``sequences`` that failed, were not verified, or were never come to, in the order of that run; ``monitors`` that
    failed or had to be verified and were not.
    """

    header: Header
    sequences: tuple[str, ...]
    monitors: tuple[str, ...]
    documents: tuple[Document, ...]
    """Those that a run may need."""


def again(reading: LogReading, name: str) -> Again:
    """Judge a log anew and gather what did not pass; *name* is the log's, for messages.

    Raises:
        UsageError: no sequence stands in it, as in the log of a recording.
    """
    judge = Judge()
    documents: list[Document] = []
    verdicts: list[VerdictLine] = []
    for line in reading.lines:
        if isinstance(line, Document):
            documents.append(line)
        if not isinstance(line, VerdictLine):
            verdicts += judge.feed(line)
    verdicts += judge.finish(closed=bool(reading.digest))
    if not any(one.kind == "sequence" for one in documents):
        raise UsageError(f"{name} holds no sequences that could be run again")
    whole = [line for line in verdicts if line.of and not line.id]
    passed = {line.of for line in whole if not line.monitor and line.verdict in _PASSED}
    passed -= {line.of for line in whole if not line.monitor and line.verdict not in _PASSED}
    return Again(
        header=reading.header,
        sequences=tuple(one.name for one in documents if one.kind == "sequence" and one.name not in passed),
        monitors=tuple(line.of for line in whole if line.monitor and line.counted and line.verdict not in _PASSED),
        documents=tuple(one for one in documents if one.kind in _LENT),
    )


def lend(library: Library, left: Again) -> tuple[str, ...]:
    """Let the library hand out what it does not hold as the log kept it; gives their names, ``system NAME``.

    Raises:
        DocumentError: the log is of an older program, and what it kept is understood no more.
    """
    lent = []
    for document in left.documents:
        kind: Any = document.kind
        if document.name not in library.names(kind) and (kind != "sequence" or document.name in left.sequences):
            where = f"{kind} {document.name} of run {left.header.run}"
            library.lend(kind, document.name, parse(KINDS[kind], document.raw.encode(), where))
            lent.append(f"{kind} {document.name}")
    return tuple(lent)
