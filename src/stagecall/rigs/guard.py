"""The guard: what waits or refuses before anything moves. It is not an interlock, and nothing may rely on it.

``Guarded`` wraps every rig; the registry hands out nothing unguarded. Figures are those of the safety table: a
compressor rests for the longer of the maker's figure and 5 min, runs for at least 3 min, and starts at most 6 times in
any 60 min. Unknown history means that it stopped just now.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.errors import CallRefusedError
from stagecall.model.event import Call, Edge, Event, Power, Snapshot
from stagecall.points import COMPRESSOR_CALLS, HEAT_CALLS
from stagecall.rigs.contract import Batch, Move, Rig

MINIMUM_OFF = 300_000
MINIMUM_ON = 180_000
STARTS = 6
STARTS_WINDOW = 3_602_000
"""60 min, and 2 s more than a start can be seen too late or too early by."""
ELEMENTS_OFF_DELAY = 120_000
"""How long G is kept after the heat calls are dropped where elements may be hot: the strips' last stage is off by then
(sequencers break within 110 s)."""

VALVE_CALLS = frozenset({"O", "B"})
VALVE_WAIT = 3_000
"""How long the valve's call is kept after the compressor's: a contactor lets go within 3 s."""

Challenge = Literal["minimum_off"]


class Premises(msgspec.Struct, frozen=True, kw_only=True):
    """What the guard has to know of the system.

    ``minimum_off``: the maker's figure, ms, where it is known. ``heat_beside_compressor``: heat calls beside a
    compressor call are right (strips with a heat pump in heating). ``valve``: which call moves the reversing valve.
    ``reheat``: heat calls in cooling are right (declared reheat). ``hot_elements``: heating elements may be hot after a
    heat call ends. ``early_restart``: this rig and energy state allow a challenge of the minimum off.
    """

    minimum_off: int = MINIMUM_OFF
    heat_beside_compressor: bool = False
    valve: Literal["O", "B", "unknown"] = "unknown"
    reheat: bool = False
    hot_elements: bool = False
    early_restart: bool = True


class Go(msgspec.Struct, frozen=True):
    """Nothing stands against it."""


class Wait(msgspec.Struct, frozen=True):
    """Not before ``until`` (ms), and why."""

    until: int
    because: str


class Refuse(msgspec.Struct, frozen=True):
    """Never in this situation, and why; printed as CALL REFUSED."""

    because: str


Clearance = Go | Wait | Refuse


class CompressorHistory:
    """What is known of the compressor's starts and stops: from what is seen where a kit can see it, else from calls."""

    def __init__(self, minimum_off: int, now: int, *, seen: bool) -> None:
        self.minimum_off = max(minimum_off, MINIMUM_OFF)
        self.stopped_at = now
        self.starts: list[int] = []
        self._started_at: int | None = None
        self._seen = seen
        self._calls: set[str] = set()
        self._running: set[str] = set()

    def hear(self, event: Event) -> None:
        """Take note of what a source reported."""
        match event:
            case Call(terminal=terminal) if terminal in COMPRESSOR_CALLS:
                if event.state == "on":
                    if not self._calls and not self._seen:
                        self._start(event.t)
                    self._calls.add(terminal)
                else:
                    self._calls.discard(terminal)
                    if not self._calls:
                        self._stop(event.t)
            case Edge(point=point) if _is_compressor(point):
                if event.state == "off":
                    self._running.discard(point)
                    self._stop(event.t)
                elif point not in self._running:
                    if not self._running:
                        self._start(event.t)
                    self._running.add(point)
            case Power(state="off"):
                self._stop(event.t)
            case Snapshot():
                self._calls = set(event.calls) & COMPRESSOR_CALLS
                self._running = {
                    name for name, state in event.points.items() if state != "off" and _is_compressor(name)
                }

    @property
    def runs(self) -> bool:
        """Whether it is seen running."""
        return bool(self._running)

    def _start(self, t: int) -> None:
        self.starts = [start for start in self.starts if start > t - STARTS_WINDOW]
        self.starts.append(t)
        self._started_at = t

    def _stop(self, t: int) -> None:
        self.stopped_at = max(self.stopped_at, t)
        if not self._running:
            self._started_at = None

    def earliest_start(self, coming: int = 1) -> tuple[int, str]:
        """When a compressor call may be made (ms) that leads to that many starts, and the rule that says so."""
        rested = self.stopped_at + self.minimum_off
        leave = max(0, STARTS - coming)
        if len(self.starts) > leave:
            counted = self.starts[-1 - leave] + STARTS_WINDOW
            if counted > rested:
                return counted, f"at most {STARTS} compressor starts in any 60 min"
        return rested, f"the compressor rests for {self.minimum_off // 1000} s (minimum off)"

    def earliest_stop(self) -> int:
        """When a compressor call may be dropped (ms)."""
        return self._started_at + MINIMUM_ON if self._started_at is not None else 0


def _is_compressor(point: str) -> bool:
    return point.startswith(("compressor", "contactor"))


class Guarded:
    """A rig with the guard in front. Everything that moves goes through :meth:`move`."""

    def __init__(self, rig: Rig, premises: Premises) -> None:
        self._rig = rig
        self.premises = premises
        self.name, self.tested_on, self.bounds = rig.name, rig.tested_on, rig.bounds
        self.runs_ahead = rig.runs_ahead
        self.calls: frozenset[str] = frozenset()
        self._powered = True
        self._valve_of_last_run: frozenset[str] = frozenset()
        self._opened: set[str] = set()
        seen = any(_is_compressor(point) for point in rig.bounds.points)
        self.compressor = CompressorHistory(premises.minimum_off, rig.now, seen=seen)

    @property
    def now(self) -> int:
        """The rig's clock, ms."""
        return self._rig.now

    def poll(self, until: int) -> Batch:
        """As the rig's own; the guard listens."""
        batch = self._rig.poll(until)
        for event in batch.events:
            self.compressor.hear(event)
        return batch

    def snapshot(self) -> Snapshot:
        """As the rig's own; the guard listens."""
        snapshot = self._rig.snapshot()
        self.compressor.hear(snapshot)
        return snapshot

    def sample(self, points: frozenset[str]) -> None:
        """As the rig's own."""
        self._rig.sample(points)

    def clear(self, what: str) -> None:
        """As the rig's own: only a model plays the person."""
        self._rig.clear(what)

    def close(self) -> None:
        """As the rig's own."""
        self._rig.close()

    def clearance(self, move: Move, challenge: Challenge | None = None) -> Clearance:
        """What stands against this move now."""
        calls = self.calls if move.calls is None else move.calls
        powered = self._powered if move.power is None else move.power == "on"
        return (
            self._combination(calls)
            or self._reversing(calls)
            or self._switches(move)
            or self._test(move, calls, powered)
            or self._compressor(calls, powered, challenge)
            or Go()
        )

    def _combination(self, calls: frozenset[str]) -> Refuse | None:
        if calls & COMPRESSOR_CALLS and calls & HEAT_CALLS and not self.premises.heat_beside_compressor:
            both = " and ".join(sorted(calls & (COMPRESSOR_CALLS | HEAT_CALLS)))
            return Refuse(f"{both} together: heat never runs against cooling on this system")
        if "E" in calls and calls & COMPRESSOR_CALLS:
            return Refuse("E with a compressor call: emergency heat runs without the compressor")
        if calls & HEAT_CALLS and self._cools(calls) and not self.premises.reheat:
            heat = " and ".join(sorted(calls & HEAT_CALLS))
            return Refuse(f"{heat} with the valve in cool: only a defrost that the outdoor unit starts may do that")
        return None

    def _cools(self, calls: frozenset[str]) -> bool:
        """Whether these calls cool, as far as the valve's convention is known."""
        match self.premises.valve:
            case "O":
                return "O" in calls
            case "B":
                return "B" not in calls and bool(calls & COMPRESSOR_CALLS)
        return bool(calls & COMPRESSOR_CALLS and calls & HEAT_CALLS and self.premises.heat_beside_compressor)

    def _reversing(self, calls: frozenset[str]) -> Refuse | None:
        """The valve's call changes in a rest: Y off, minimum off, the valve's call in it, Y on."""
        if not (calls ^ self.calls) & VALVE_CALLS or not self._powered:
            return None
        if self.calls & COMPRESSOR_CALLS:
            return Refuse("the valve's call never changes with the compressor called: end that call first")
        if calls and self.compressor.runs:
            return Refuse("the valve's call never changes while the compressor runs")
        return None

    def _test(self, move: Move, calls: frozenset[str], powered: bool) -> Refuse | None:
        if move.press is not None and not (powered and calls & COMPRESSOR_CALLS and not self._cools(calls)):
            return Refuse(f"{move.press.replace('_', ' ')}: only while the heat pump is called to heat")
        return None

    def _switches(self, move: Move) -> Refuse | None:
        if move.restore is not None and move.restore not in self._opened:
            return Refuse(f"{move.restore} was not opened in this run: a switch is never closed or bridged")
        return None

    def _compressor(self, calls: frozenset[str], powered: bool, challenge: Challenge | None) -> Clearance | None:
        called = bool(calls & COMPRESSOR_CALLS) and powered
        calling = bool(self.calls & COMPRESSOR_CALLS) and self._powered
        if called and not calling:
            if challenge == "minimum_off" and self._valve_of_last_run == calls & VALVE_CALLS:
                if not self.premises.early_restart:
                    return Refuse("an early restart is not tried on this energy state")
                if len(self.compressor.starts) < STARTS:
                    return None
            earliest, because = self.compressor.earliest_start()
            if self.now < earliest:
                return Wait(earliest, because)
        if calling and not called and self.now < (earliest := self.compressor.earliest_stop()):
            return Wait(earliest, f"the compressor runs for at least {MINIMUM_ON // 1000} s (minimum on)")
        return None

    def move(self, move: Move, challenge: Challenge | None = None) -> None:
        """Carry out what the guard lets through.

        Raises:
            CallRefusedError: the guard lets it not through (now); :meth:`clearance` says why beforehand.
        """
        clearance = self.clearance(move, challenge)
        if not isinstance(clearance, Go):
            raise CallRefusedError(clearance.because)
        self._carry_out(move)

    def _carry_out(self, move: Move) -> None:
        if move.open_switch is not None:
            self._opened.add(move.open_switch)
        if move.restore is not None:
            self._opened.discard(move.restore)
        if move.calls is not None:
            self.calls = move.calls
        if self.calls & COMPRESSOR_CALLS:
            self._valve_of_last_run = self.calls & VALVE_CALLS
        if move.power is not None:
            self._powered = move.power == "on"
        self._rig._move(move)  # noqa: SLF001 - the guard is the one caller that may

    def all_off(self) -> list[tuple[Move, int]]:
        """The safe order of switching everything off: moves for :meth:`make_safe`, each with ms to wait after it.

        Heat calls first; G is kept for the off-delay where elements may be hot, then G; R is never cut. The reversing
        valve's call outlasts the compressor's.
        """
        moves: list[tuple[Move, int]] = []
        valve = self.calls & VALVE_CALLS if self.calls & COMPRESSOR_CALLS else frozenset()
        if self.calls & HEAT_CALLS:
            elements = self.premises.hot_elements
            kept = frozenset({"G"}) | valve if elements else self.calls - HEAT_CALLS - COMPRESSOR_CALLS
            moves.append((Move(calls=kept), ELEMENTS_OFF_DELAY if elements else VALVE_WAIT if valve else 0))
            if not kept:
                return moves
        elif valve:
            moves.append((Move(calls=valve), VALVE_WAIT))
        if self.calls:
            moves.append((Move(calls=frozenset()), 0))
        return moves

    def make_safe(self, move: Move) -> None:
        """Carry out a move of :meth:`all_off` at once, whatever the minimum on says.

        Raises:
            CallRefusedError: the move would call for more than the blower.
        """
        if move.calls is None or move.calls - self.calls - {"G"}:
            raise CallRefusedError("this move is none that makes safe")
        self._carry_out(move)

    def open_switches(self) -> frozenset[str]:
        """Switches opened in this run and not restored."""
        return frozenset(self._opened)
