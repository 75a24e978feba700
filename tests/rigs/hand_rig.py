"""A rig turned by hand: relays move 5 ms after they are asked, and a test says what else happens and when."""

from __future__ import annotations

from stagecall.model.event import Call, Edge, Event, PointBounds, Power, Snapshot, SourceBounds, Switch
from stagecall.rigs.contract import Batch, Move, Rig

RELAY_MS = 5


class HandRig(Rig):
    """Tests script it with :meth:`happen`; ``moves`` is what really reached it, with the time."""

    name = "hand"
    tested_on = "model"
    runs_ahead = True

    def __init__(self, points: dict[str, str] | None = None) -> None:
        super().__init__()
        self.states = dict(points or {})
        self.bounds = SourceBounds(points={name: PointBounds(sensed="contact") for name in self.states})
        self.moves: list[tuple[int, Move]] = []
        self.calls: frozenset[str] = frozenset()
        self.closed = False
        self._now = 0
        self._coming: list[Event] = []

    @property
    def now(self) -> int:
        return self._now

    def happen(self, *events: Event) -> None:
        self._coming = sorted([*self._coming, *events], key=lambda event: event.t)

    def edge(self, t: int, point: str, state: str) -> None:
        self.happen(Edge(t=t, point=point, state=state))

    def _advance(self, until: int) -> Batch:
        if self._coming and self._coming[0].t <= until:
            self._now = max(self._now, self._coming[0].t)
            events = [event for event in self._coming if event.t <= self._now]
            self._coming = self._coming[len(events) :]
            return Batch(events, self._now)
        self._now = max(self._now, until)
        return Batch([], self._now)

    def snapshot(self) -> Snapshot:
        return Snapshot(t=self._now, calls=tuple(sorted(self.calls)), points=dict(self.states))

    def _move(self, move: Move) -> None:
        self.moves.append((self._now, move))
        t = self._now + RELAY_MS
        if move.calls is not None:
            self.happen(*(Call(t=t, terminal=call, state="on") for call in sorted(move.calls - self.calls)))
            self.happen(*(Call(t=t, terminal=call, state="off") for call in sorted(self.calls - move.calls)))
            self.calls = move.calls
        if move.power is not None:
            self.happen(Power(t=t, state=move.power))
        if move.open_switch is not None:
            self.happen(Switch(t=t, name=move.open_switch, state="open"))
        if move.restore is not None:
            self.happen(Switch(t=t, name=move.restore, state="closed"))

    def close(self) -> None:
        self.closed = True
