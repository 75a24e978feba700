"""Rows that are samples to events: a change lies between the row before and this one, a long step is a gap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from stagecall.model.event import AnyLine, Call, Edge, Gap, Reading, Settled, Snapshot
from stagecall.units import show_time

SETTLED_MS = 10_000
"""No more than one settled line in this time, except the last."""


class Sample(msgspec.Struct, frozen=True):
    """One row: milliseconds since the first, and a state or value (None: missing) for each column of the map."""

    t: int
    states: tuple[str | None, ...]
    values: tuple[float | None, ...]


class Layout(msgspec.Struct, frozen=True):
    """What the states and values of a row belong to: calls come first among the states, then points."""

    calls: tuple[str, ...]
    points: tuple[str, ...]
    quantities: tuple[str, ...]
    gap: int
    """A longer step than this is a gap, ms."""

    def name(self, place: int) -> str:
        """The call or point of a state."""
        return (self.calls + self.points)[place]


def widest_step(samples: Sequence[Sample], place: int, gap: int) -> int:
    """The longest step between known states of one column that is no gap, ms; 0 where there is none."""
    widest, before = 0, None
    for sample in samples:
        if sample.states[place] is None:
            continue
        if before is not None and widest < sample.t - before <= gap:
            widest = sample.t - before
        before = sample.t
    return widest


class _Watch:
    """What is known of every state from row to row."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._all = range(len(layout.calls) + len(layout.points))
        self._call_places = frozenset(range(len(layout.calls)))
        self._state = [""] * len(self._all)
        self._seen = [0] * len(self._all)
        self._lost = set(self._all)
        self._dark = True
        """A snapshot is due: nothing was known before, or nothing was recorded for too long."""

    def gap(self, t: int, before: int) -> Gap | None:
        """What this row's time shows to be lost since the row *before*."""
        if t - before > self._layout.gap:
            self._lost, self._dark = set(self._all), True
            return Gap(t=before + 1, because=f"nothing was recorded for {show_time(t - before)}")
        late = {place for place in self._all if place not in self._lost and t - self._seen[place] > self._layout.gap}
        if not late:
            return None
        since = min(self._seen[place] for place in late)
        names = tuple(sorted(self._layout.name(place) for place in late))
        because = f"no value of {', '.join(names)} for {show_time(t - since)}"
        everything = bool(late & self._call_places)  # a snapshot cannot say that a call is unknown
        self._lost |= set(self._all) if everything else late
        self._dark |= everything
        return Gap(t=before + 1, e=since + 1, points=() if everything else names, because=because)

    def edges(self, sample: Sample) -> Iterator[AnyLine]:
        """The changes of what was known."""
        for place, state in enumerate(sample.states):
            if state is None or place in self._lost:
                continue
            if state != self._state[place]:
                yield self._edge(place, state, sample.t)
                self._state[place] = state
            self._seen[place] = sample.t

    def snapshot(self, sample: Sample) -> Snapshot | None:
        """Everything that is known again, where something is; waits for all calls."""
        back = {place for place in self._lost if sample.states[place] is not None}
        if not (back or self._dark) or self._lost & self._call_places - back:
            return None
        for place in back:
            self._state[place] = sample.states[place] or ""
            self._seen[place] = sample.t
        self._lost -= back
        self._dark = False
        calls = len(self._layout.calls)
        return Snapshot(
            t=sample.t,
            calls=tuple(name for name, state in zip(self._layout.calls, self._state, strict=False) if state == "on"),
            points={
                name: self._state[place]
                for place, name in enumerate(self._layout.points, calls)
                if place not in self._lost
            },
        )

    def _edge(self, place: int, state: str, t: int) -> AnyLine:
        earliest = self._seen[place] + 1
        e = earliest if earliest < t else None
        name = self._layout.name(place)
        if place in self._call_places:
            return Call(t=t, e=e, terminal=name, state="on" if state == "on" else "off")
        return Edge(t=t, e=e, point=name, state=state)


def sample_lines(samples: Sequence[Sample], layout: Layout) -> Iterator[AnyLine]:
    """The events of a sampled recording, in the order of time."""
    watch = _Watch(layout)
    before: int | None = None
    settled = -SETTLED_MS
    for sample in samples:
        if before is not None and (gap := watch.gap(sample.t, before)) is not None:
            yield gap
        yield from watch.edges(sample)
        if (snapshot := watch.snapshot(sample)) is not None:
            yield snapshot
        for name, value in zip(layout.quantities, sample.values, strict=True):
            if value is not None:
                yield Reading(t=sample.t, point=name, value=value)
        if sample.t - settled >= SETTLED_MS:
            yield Settled(t=sample.t)
            settled = sample.t
        before = sample.t
    if before is not None and before > settled:
        yield Settled(t=before)
