"""On-times, off-times and starts out of the lines of a log, the slow obvious way."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from stagecall.model.event import AnyLine, Call, Edge, Gap, Snapshot


class Figures(msgspec.Struct):
    """Of one call or point: when it went on, and how long it stayed on and off, in seconds of stamps."""

    starts: list[int]
    on: list[float]
    off: list[float]


def figures(lines: Iterable[AnyLine], name: str, on: str = "on") -> Figures:
    """Stretches between two edges with no gap or snapshot between them."""
    found = Figures([], [], [])
    since: int | None = None
    for line in lines:
        if isinstance(line, Gap | Snapshot):
            since = None
        elif isinstance(line, Call | Edge) and name in {getattr(line, "terminal", ""), getattr(line, "point", "")}:
            goes_on = line.state == on
            if goes_on:
                found.starts.append(line.t)
            if since is not None:
                (found.off if goes_on else found.on).append((line.t - since) / 1000)
            since = line.t
    return found
