"""Chatter: more than four reversals of a point within one second become one level, logged once.

An edge is held for a second before it is passed on, so that nothing depends on how often the source is polled.
"""

from __future__ import annotations

from collections import deque

from stagecall.model.event import Edge, Event
from stagecall.points import CHATTER

WINDOW = 1000
"""ms in which reversals are counted."""
MOST = 4
"""Reversals within the window that are still an honest change."""


class ChatterFold:
    """Holds edges for a second and folds what chatters."""

    def __init__(self) -> None:
        self._held: deque[Event] = deque()
        self._chattering: set[str] = set()

    @property
    def due(self) -> int | None:
        """When the oldest held event can be passed on; None where nothing is held."""
        return self._held[0].t + WINDOW if self._held else None

    def feed(self, events: list[Event], settled: int) -> tuple[list[Event], int]:
        """Take in *events* (in order) and what is now settled; give what can be passed on and up to when."""
        held = self._held
        if not held and Edge not in map(type, events):
            return events, settled
        held.extend(events)
        released: list[Event] = []
        while held:
            first = held[0]
            undecided = settled < first.t + WINDOW
            if undecided and any(type(other) is Edge and other.t == first.t for other in held):
                break
            if type(first) is not Edge:
                released.append(held.popleft())
                continue
            held.popleft()
            following = sum(
                1
                for other in held
                if type(other) is Edge and other.point == first.point and other.t <= first.t + WINDOW
            )
            if first.point in self._chattering:
                if not following:
                    self._chattering.discard(first.point)
                    released.append(first)
            elif following >= MOST:
                self._chattering.add(first.point)
                released.append(Edge(t=first.t, e=first.e, point=first.point, state=CHATTER, count=following + 1))
            else:
                released.append(first)
        return released, min(settled, held[0].t - 1) if held else settled

    def give_up(self) -> list[Event]:
        """What is still held, as it came: nothing more will."""
        rest, self._held = list(self._held), deque()
        return rest
