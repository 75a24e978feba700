"""What a run has seen so far: the points' states, the calls that stand, and what of its own moves is still to come."""

from __future__ import annotations

from stagecall.model.event import Call, Edge, Event, Power, Snapshot, Switch
from stagecall.model.sequence import Condition
from stagecall.points import CALLS

_AT_REST = ("off", "closed")


class Seen:
    """Kept from events alone."""

    def __init__(self) -> None:
        self.calls: set[str] = set()
        self.coming: dict[str, str] = {}
        """Contacts, power and switches that were asked to move and have not been seen to: name to state."""
        self.moved_at = 0
        """When the last of them moved, ms."""
        self._states: dict[str, str] = {}

    def expect(self, moves: dict[str, str], now: int) -> None:
        """These were asked to move; a call that a rig has dropped by itself does not drop again."""
        dropped = {call for call, state in moves.items() if state == "off" and call in CALLS and call not in self.calls}
        self.coming, self.moved_at = {what: state for what, state in moves.items() if what not in dropped}, now

    def note(self, event: Event) -> None:
        """Take in what the source reported."""
        match event:
            case Edge():
                self._states[event.point] = event.state
            case Snapshot():
                self._states |= event.points
                self.calls = set(event.calls)
                self._moved("survey", "done", event.t)
            case Call():
                self._moved(event.terminal, event.state, event.t)
                (self.calls.add if event.state == "on" else self.calls.discard)(event.terminal)
            case Power():
                self._moved("power", event.state, event.t)
            case Switch():
                self._moved(f"switch:{event.name}", event.state, event.t)

    def _moved(self, what: str, state: str, t: int) -> None:
        if self.coming.get(what) == state:
            del self.coming[what]
            self.moved_at = t

    def state(self, point: str) -> str | None:
        """The point's state; None where it is not known."""
        return self._states.get(point)

    def contradicts(self, condition: Condition) -> bool:
        """Whether the point is known to be in another state."""
        return self._states.get(condition.point, condition.state) != condition.state

    def told(self) -> list[str]:
        """What is live, in words."""
        return [str(Condition(name, state)) for name, state in sorted(self._states.items()) if state not in _AT_REST]
