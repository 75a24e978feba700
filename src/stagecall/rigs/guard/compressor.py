"""When a compressor may start and stop: figures of the safety table, and what is known of its past.

A compressor rests for the longer of the maker's figure and 5 min, runs for at least 3 min, and starts at most 6 times
in any 60 min. Unknown history means that it stopped just now.
"""

from __future__ import annotations

from stagecall.model.event import Call, Edge, Event, Power, Snapshot
from stagecall.points import COMPRESSOR_CALLS

MINIMUM_OFF = 300_000
MINIMUM_ON = 180_000
STARTS = 6
STARTS_WINDOW = 3_602_000
"""60 min, and 2 s more than a start can be seen too late or too early by."""


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

    def hear(self, event: Event) -> bool:
        """Take note of what a source reported; True where that was a start."""
        before = self._started_at
        self._note(event)
        return self._started_at is not None and self._started_at != before

    def _note(self, event: Event) -> None:
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
            case Edge(point=point) if is_compressor(point):
                if event.state == "off":
                    self._running.discard(point)
                    self._stop(event.t)
                elif point not in self._running:
                    if not self._running:
                        self._start(event.t)
                    self._running.add(point)
            case Power(state="off") | Edge(point="wire_R", state="off"):
                self._stop(event.t)
            case Snapshot():
                self._calls = set(event.calls) & COMPRESSOR_CALLS
                self._running = {name for name, state in event.points.items() if state != "off" and is_compressor(name)}

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


def is_compressor(point: str) -> bool:
    """Whether it is the compressor, or what starts it."""
    return point.startswith(("compressor", "contactor"))
