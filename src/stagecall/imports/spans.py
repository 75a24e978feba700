"""Rows that are spans to events: on at the start, off at the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from stagecall.imports.samples import SETTLED_MS
from stagecall.model.event import AnyLine, Call, Edge, Settled, Snapshot


class Span(msgspec.Struct, frozen=True, order=True):
    """One stretch in which something was on, ms since the log's beginning."""

    start: int
    end: int


class Lane(msgspec.Struct, frozen=True):
    """All spans of one call or point, with the states that it has outside and inside them."""

    call: bool
    name: str
    off: str
    on: str
    spans: tuple[Span, ...]


def join(spans: Sequence[Span], *, touching: bool) -> tuple[Span, ...]:
    """The spans in order, overlapping ones made one, and where asked those that touch."""
    joined: list[Span] = []
    for span in sorted(spans):
        if joined and (span.start < joined[-1].end or (touching and span.start == joined[-1].end)):
            joined[-1] = Span(joined[-1].start, max(joined[-1].end, span.end))
        else:
            joined.append(span)
    return tuple(joined)


def span_lines(lanes: Sequence[Lane], late: int) -> Iterator[AnyLine]:
    """The events of the spans in the order of time, each up to *late* ms earlier than it is stamped."""
    points = {lane.name: lane.off for lane in lanes if not lane.call}
    yield Snapshot(points=points)
    moves = sorted(
        (t, state == lane.on, place)
        for place, lane in enumerate(lanes)
        for span in lane.spans
        for t, state in ((span.start, lane.on), (span.end, lane.off))
    )
    settled = before = 0
    for t, goes_on, place in moves:
        if t > before and before - settled >= SETTLED_MS:
            yield Settled(t=before)
            settled = before
        lane = lanes[place]
        e = t - late if late else None
        if lane.call:
            yield Call(t=t, e=e, terminal=lane.name, state="on" if goes_on else "off")
        else:
            yield Edge(t=t, e=e, point=lane.name, state=lane.on if goes_on else lane.off)
        before = t
    if before > settled:
        yield Settled(t=before)
