"""Small logs to read and to break."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from stagecall.model.event import AnyLine, Edge, Header, Note, Settled, SourceBounds
from stagecall.record import Log


@pytest.fixture
def header() -> Header:
    return Header(
        tool="0.1.0",
        run="20260102-a",
        start="2026-01-02T03:04:05+01:00",
        tested_on="model",
        rig="simulated",
        system="split",
        kit="board",
        source=SourceBounds(),
    )


@pytest.fixture
def blower_lines() -> list[AnyLine]:
    return [
        Edge(t=5, e=3, point="blower", state="on"),
        Settled(t=10_000),
        Edge(t=12_000, point="blower", state="off"),
        Note(t=12_000, text="wärmer, 5 Ω"),
    ]


@pytest.fixture
def closed(header: Header) -> Callable[[list[AnyLine]], bytes]:
    """The bytes of a closed log with these lines."""

    def write(lines: list[AnyLine]) -> bytes:
        log = Log.in_memory(header)
        for line in lines:
            log.append(line)
        log.close()
        return log.contents()

    return write
