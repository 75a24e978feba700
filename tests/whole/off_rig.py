"""A machine that is healthy but for one response, which it gives when a test says so."""

from __future__ import annotations

from collections.abc import Callable

from stagecall.model.event import Call, Edge, Event, Power, Reading, Snapshot, StepMark, Switch, earliest
from stagecall.model.sequence import Anchor, Condition
from stagecall.rigs.contract import Batch, Move, Rig

OPPOSITE = {"on": "off", "off": "on", "open": "closed", "closed": "open", "cool": "heat", "heat": "cool"}


def matches(anchor: Anchor, event: Event) -> bool:
    match event:
        case Edge(point=point, state=state):
            return anchor == Anchor("point", point, state)
        case Call(terminal=terminal, state=state):
            return anchor == Anchor("call", terminal, state)
        case Power(state=state):
            return anchor.kind == "power" and anchor.state == state
    return False


class OffRig(Rig):
    """Wraps a modelled rig. ``watch`` is told every event and may ``say`` edges; ``swallow`` picks what is not told."""

    name, tested_on, runs_ahead = "off", "model", True

    def __init__(self, rig: Rig) -> None:
        super().__init__()
        self._rig = rig
        self.bounds = rig.bounds
        self.swallow: Callable[[Edge], bool] = lambda _: False
        self.watch: Callable[[Event], None] = lambda _: None
        self.read_as: dict[str, float] = {}
        self._said: list[Edge] = []
        self._settled = 0

    @property
    def now(self) -> int:
        return self._rig.now

    def say(self, t: float, condition: Condition) -> None:
        """The point turns to the state at *t* as far as anybody can see, known as well as the kit knows it."""
        width = self.bounds.points[condition.point].width
        stamp = max(self._settled + 1, int(t) + width // 2)
        edge = Edge(t=stamp, e=max(0, stamp - width), point=condition.point, state=condition.state)
        self._said = sorted([*self._said, edge], key=lambda one: one.t)

    def _advance(self, until: int) -> Batch:
        batch = self._rig._advance(min([until, *(edge.t for edge in self._said)]))
        told: list[Event] = []
        for event in batch.events:
            if isinstance(event, Edge) and self.swallow(event):
                continue
            if isinstance(event, Reading) and event.point in self.read_as:
                event.value = self.read_as[event.point]
            told.append(event)
            self.watch(event)
        due = [edge for edge in self._said if edge.t <= batch.settled]
        self._said = self._said[len(due) :]
        for edge in due:
            self.watch(edge)
        self._settled = batch.settled
        return Batch(sorted([*told, *due], key=lambda one: one.t), batch.settled)

    def snapshot(self) -> Snapshot:
        return self._rig.snapshot()

    def sample(self, points: frozenset[str]) -> None:
        self._rig.sample(points)

    def _move(self, move: Move) -> None:
        self._rig._move(move)

    def clear(self, what: str) -> None:
        self._rig.clear(what)


def middle(event: Call | Power | Switch | Edge) -> float:
    return (earliest(event) + event.t) / 2


def name_of(event: Call | Power | Switch | Edge) -> str:
    match event:
        case Edge(point=point):
            return point
        case Call(terminal=terminal):
            return terminal
        case Switch(name=name):
            return f"switch:{name}"
    return "power"


class Moment:
    """When an anchor was last reached, and what to do when it is reached in the step that counts."""

    def __init__(self, anchor: Anchor, then: Callable[[float], None]) -> None:
        self._anchor, self._then = anchor, then
        self._last: float | None = None
        self._awaited: dict[str, str] | None = None
        self._armed = self._done = False

    def hear(self, event: Event) -> None:
        if matches(self._anchor, event):
            self._last = middle(event)  # type: ignore[arg-type]
            if self._armed:
                self._reach(self._last)
        elif isinstance(event, Edge | Call | Power | Switch) and self._anchor.name == name_of(event):
            self._last = None
        if self._awaited is not None and isinstance(event, Call | Power | Switch):
            self._awaited.pop(name_of(event), None)
            if not self._awaited:
                self._reach(middle(event))

    def arm(self, mark: StepMark | None) -> None:
        """The step begins (None: a monitor, from the first moment)."""
        self._armed = True
        if self._anchor.kind == "step" and mark is not None:
            if mark.awaits:
                self._awaited = dict(mark.awaits)
            else:
                self._reach(mark.t)
        elif self._last is not None and mark is not None and not self._coming(mark):
            self._reach(self._last)

    def _coming(self, mark: StepMark) -> bool:
        """Whether the step itself brings the anchor about."""
        name = "power" if self._anchor.kind == "power" else self._anchor.name
        return mark.awaits.get(name) == self._anchor.state

    def _reach(self, t: float) -> None:
        if not self._done:
            self._done, self._awaited = True, None
            self._then(t)
