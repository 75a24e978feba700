"""What a run looked like at the kit's points, and what healthy machines look like there.

A trace is cut into stretches (the rest before, each step, the close); times count from the stretch's begin. The
envelope of many healthy traces holds, for each stretch and point, every pattern of states that came up, and for each
edge of a pattern the earliest and latest moment of all.
"""

from __future__ import annotations

from typing import TypeVar

import msgspec

from stagecall.model.event import AnyLine, Edge, Reading, SequenceMark, Settle, Snapshot, StepMark, earliest

N = TypeVar("N", int, float)
Edges = list[tuple[str, int, int]]
"""State, earliest and latest ms of each."""
STEPS = ""
"""Stands for the course of the sequence itself, where a step is missing or one too many."""
_CUT_SHORT = "cut short"


class Trace(msgspec.Struct):
    """``stretches``: stretch -> point -> edges; ``readings``: the same -> first, last, least, most (SI)."""

    stretches: dict[str, dict[str, Edges]] = {}
    readings: dict[str, dict[str, tuple[float, float, float, float]]] = {}


_TOLD = frozenset({Edge, StepMark, Settle, SequenceMark, Snapshot})


class Tracer:
    """Takes a run's lines as they are written and keeps its trace."""

    def __init__(self) -> None:
        self.trace = Trace()
        self._name, self._begin = "", 0
        self._settles = 0
        self._readings: dict[str, tuple[float, float, float, float]] | None = None
        """Of the stretch that runs, once there are any."""

    def take(self, line: AnyLine) -> None:
        """The next line of the log."""
        if type(line) is Reading:
            self._read(line.point, line.value)
        elif type(line) in _TOLD:
            self._told(line)

    def _read(self, point: str, value: float) -> None:
        kept = self._readings
        if kept is None:
            kept = self._readings = self.trace.readings.setdefault(self._name, {})
        known = kept.get(point)
        if known is None:
            kept[point] = (value, value, value, value)
        else:
            first, _, least, most = known
            kept[point] = (first, value, min(least, value), max(most, value))

    def _told(self, line: AnyLine) -> None:
        match line:
            case Edge():
                e = earliest(line) - self._begin
                self._points().setdefault(line.point, []).append((line.state, e, line.t - self._begin))
            case StepMark(phase="begin"):
                self._enter(line.step, line.t)
            case Settle(phase="begin"):
                self._settles += 1
                self._enter(f"settle {self._settles}", line.t)
            case SequenceMark(phase="end") if line.cut_short:
                self._enter(_CUT_SHORT, line.t)
            case Snapshot():
                for point, state in line.points.items():
                    self._points().setdefault(point, []).append((state, 0, 0))

    def _enter(self, name: str, t: int) -> None:
        self._name, self._begin, self._readings = name, t, None
        self._points()

    def _points(self) -> dict[str, Edges]:
        return self.trace.stretches.setdefault(self._name, {})


class Seen(msgspec.Struct):
    """One point in one stretch: in how many runs it changed at all, and the span of each edge by pattern."""

    runs: int = 0
    patterns: dict[str, list[tuple[int, int]]] = {}


class Stretch(msgspec.Struct):
    """One stretch of many runs."""

    runs: int = 0
    points: dict[str, Seen] = {}
    readings: dict[str, list[tuple[float, float]]] = {}


class Envelope(msgspec.Struct):
    """What healthy machines do; grows by ``add`` and by ``merge``, in any order."""

    runs: int = 0
    stretches: dict[str, Stretch] = {}

    def add(self, trace: Trace) -> None:
        """Take in one more healthy run."""
        self.merge(_of(trace))

    def merge(self, other: Envelope) -> None:
        """Take in another envelope of the same system, kit and sequence."""
        self.runs += other.runs
        for name, theirs in other.stretches.items():
            ours = self.stretches.setdefault(name, Stretch())
            ours.runs += theirs.runs
            for point, seen in theirs.points.items():
                kept = ours.points.setdefault(point, Seen())
                kept.runs += seen.runs
                for pattern, spans in seen.patterns.items():
                    kept.patterns[pattern] = _wider(kept.patterns.get(pattern), spans)
            for point, values in theirs.readings.items():
                ours.readings[point] = _wider(ours.readings.get(point), values)

    def left_by(self, trace: Trace) -> tuple[str, ...]:
        """The points whose trace lies outside, sorted; :data:`STEPS` among them where the course itself is another."""
        left = {STEPS for name, own in self.stretches.items() if own.runs == self.runs and name not in trace.stretches}
        for name, points in trace.stretches.items():
            own = self.stretches.get(name)
            if own is None:
                left.add(STEPS)
                continue
            left |= {point for point, seen in own.points.items() if seen.runs == own.runs and point not in points}
            left |= {point for point, edges in points.items() if not _inside(own.points.get(point), edges)}
            for point, values in trace.readings.get(name, {}).items():
                spans = own.readings.get(point)
                if spans is None or any(
                    not low <= value <= high for value, (low, high) in zip(values, spans, strict=True)
                ):
                    left.add(point)
        return tuple(sorted(left))


def _of(trace: Trace) -> Envelope:
    stretches = {
        name: Stretch(
            runs=1,
            points={
                point: Seen(runs=1, patterns={_pattern(edges): [(e, t) for _, e, t in edges]})
                for point, edges in points.items()
            },
            readings={
                point: [(value, value) for value in values] for point, values in trace.readings.get(name, {}).items()
            },
        )
        for name, points in trace.stretches.items()
    }
    return Envelope(runs=1, stretches=stretches)


def _pattern(edges: Edges) -> str:
    return " ".join([state for state, _, _ in edges])


def _wider(ours: list[tuple[N, N]] | None, theirs: list[tuple[N, N]]) -> list[tuple[N, N]]:
    if ours is None:
        return list(theirs)
    return [(min(a, c), max(b, d)) for (a, b), (c, d) in zip(ours, theirs, strict=True)]


def _inside(seen: Seen | None, edges: Edges) -> bool:
    """Whether the pattern came up among healthy ones, each edge at a moment that overlaps theirs."""
    spans = seen.patterns.get(_pattern(edges)) if seen is not None else None
    return spans is not None and all(
        e <= high and t >= low for (_, e, t), (low, high) in zip(edges, spans, strict=True)
    )
