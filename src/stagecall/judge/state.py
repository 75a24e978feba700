"""What the log has told so far: the state of each point, call, switch and of the power.

Everything that can change has a *key*: a point's name, ``call:Y1``, ``switch:limit`` or ``power``.
"""

from __future__ import annotations

from stagecall.judge.intervals import Mark
from stagecall.model.event import PointBounds, Reading, Snapshot, SourceBounds

POWER = "power"


def call_key(terminal: str) -> str:
    """The key of a call's contact."""
    return f"call:{terminal}"


def awaited_key(name: str) -> str:
    """The key of an item of a step's ``awaits``."""
    return name if name == POWER or name.startswith("switch:") else call_key(name)


class Track:
    """One key: its state now (None: not known) and the last edge to each state since the last gap or snapshot."""

    __slots__ = ("edges", "reading", "state")

    def __init__(self) -> None:
        self.state: str | None = None
        self.edges: dict[str, tuple[Mark, int]] = {}
        """State -> its last edge, and the occurrence of the sequence whose step it belongs to (0: none)."""
        self.reading: Reading | None = None


class World:
    """All that is known. A point that the source does not declare has no track: it cannot be seen."""

    __slots__ = ("_widths", "call_width", "points", "sight", "tracks")

    def __init__(self, source: SourceBounds) -> None:
        self.sight: dict[str, PointBounds] = source.points
        self.call_width = source.call_width
        self._widths: dict[str, int] = {}
        self.points = {name: Track() for name in source.points}
        self.tracks: dict[str, Track] = {}
        """Calls, switches and power."""

    def state(self, key: str) -> str | None:
        """The state of *key* now; None where it is not known."""
        track = self.points.get(key) or self.tracks.get(key)
        return None if track is None else track.state

    def edge(self, key: str, state: str) -> tuple[Mark, int] | None:
        """The last edge of *key* to *state* with no gap or snapshot since, if *key* is still in that state."""
        track = self.points.get(key) or self.tracks.get(key)
        return track.edges.get(state) if track is not None and track.state == state else None

    def width(self, key: str) -> int:
        """The widest interval that a change of *key* can have, ms."""
        width = self._widths.get(key)
        if width is None:
            sight = self.sight.get(key)
            width = self._widths[key] = self.call_width if sight is None else sight.width
        return width

    def blind(self, point: str) -> int:
        """The longest pulse of *point* that can be missed, ms."""
        sight = self.sight.get(point)
        return 0 if sight is None else sight.blind

    def track(self, key: str) -> Track:
        """The track of a call, a switch or the power."""
        track = self.tracks.get(key)
        if track is None:
            track = self.tracks[key] = Track()
        return track

    def forget(self, points: frozenset[str] | None) -> None:
        """Nothing is known of *points* (None: of anything) until the next snapshot."""
        for name in self.points if points is None else points:
            if (track := self.points.get(name)) is not None:
                track.state = track.reading = None
                track.edges.clear()
        if points is None:
            for track in self.tracks.values():
                track.edges.clear()

    def contradicted(self, snapshot: Snapshot) -> frozenset[str]:
        """The points that the snapshot shows in another state than was believed."""
        return frozenset(
            name
            for name, state in snapshot.points.items()
            if (track := self.points.get(name)) is not None and track.state is not None and track.state != state
        )

    def take(self, snapshot: Snapshot) -> None:
        """Know what the snapshot shows; it is no edge, and no edge before it can be counted from any more."""
        for name, track in self.points.items():
            track.state = snapshot.points.get(name, track.state)
            track.edges.clear()
        for track in self.tracks.values():
            track.edges.clear()
        for key, track in self.tracks.items():
            if key.startswith("call:"):
                track.state = "off"
        for terminal in snapshot.calls:
            self.track(call_key(terminal)).state = "on"
        self.track(POWER).state = snapshot.power
