"""What ends a real run at once: flame or gas with no call, and calls that somebody else makes."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet

from stagecall.model.equipment import Equipment
from stagecall.model.event import Edge, Event, Snapshot
from stagecall.model.system import System
from stagecall.points import CALLS, COMPRESSOR_CALLS, HEAT_CALLS

BURNS_ON = 10_000
"""ms after the last heat call in which flame and valve go off; 3 s for a valve, 5 s for its flame, and what is seen
late."""
BURNS_ON_HEARD = 30_000
"""The same where a person has to report it."""

_FIRE = frozenset({"gas_valve", "gas_valve_high", "flame", "burner"})
_WIRES = {f"wire_{call}": call for call in CALLS}


class Watchman:
    """Told of every event and of the calls that stand; says why the run has to end."""

    def __init__(self, installed: System, profiles: Mapping[str, Equipment], by_person: AbstractSet[str]) -> None:
        """*by_person*: points that a person reports."""
        kinds = {profile.what for profile in profiles.values()}
        self._defrosts = "heat_pump" in kinds
        self._leak_board = any("leak_alarm" in profile.points for profile in profiles.values())
        self._joined = {frozenset(pair) for pair in installed.control.jumpers}
        self._by_person = by_person
        self._fire = _FIRE - {"burner"} if "boiler" in kinds else _FIRE
        """A boiler keeps its water hot with no call."""
        self.foreign = ""
        """A call that we did not make and that nothing explains; empty where there is none."""
        self._burning: set[str] = set()
        self._heat = False
        self._heat_ended: int | None = None

    def note(self, event: Event, calls: AbstractSet[str]) -> None:
        """Take in what happened while these calls stand."""
        self._note_calls(event.t, calls)
        states = {}
        match event:
            case Edge():
                states = {event.point: event.state}
            case Snapshot():
                states = event.points
        for point, state in states.items():
            if point in self._fire:
                (self._burning.discard if state == "off" else self._burning.add)(point)
        self.foreign = self.foreign or self._foreign(event, calls)

    def fire(self, t: int, calls: AbstractSet[str]) -> bool:
        """Whether flame or gas stands with no call, at the moment *t*."""
        self._note_calls(t, calls)
        return not self._heat and any(self._past(t, point) for point in self._burning)

    def _note_calls(self, t: int, calls: AbstractSet[str]) -> None:
        heat = bool(calls & HEAT_CALLS) or (self._defrosts and bool(calls & COMPRESSOR_CALLS))
        if self._heat and not heat:
            self._heat_ended = t
        self._heat = heat

    def _past(self, t: int, point: str) -> bool:
        limit = BURNS_ON_HEARD if point in self._by_person else BURNS_ON
        return self._heat_ended is None or t - self._heat_ended > limit

    def _foreign(self, event: Event, calls: AbstractSet[str]) -> str:
        if not isinstance(event, Edge) or event.state != "on":
            return ""
        call = _WIRES.get(event.point)
        if call is None or call in calls or self._explained(call, calls):
            return ""
        return call

    def _explained(self, call: str, calls: AbstractSet[str]) -> bool:
        """A defrost's W from the outdoor board, a leak board's blower, and what is joined at the control."""
        defrost = call in HEAT_CALLS and self._defrosts and bool(calls & COMPRESSOR_CALLS)
        leak = call == "G" and self._leak_board
        return defrost or leak or any(call in pair and pair & calls for pair in self._joined)
