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
TOGETHER = 3_000
"""ms within which calls and contactors that move together are one start."""


class CompressorHistory:
    """What is known of the compressor's starts and stops.

    Every call counts as a start, whether its answer is seen or not. When it runs is known from what is seen, where a
    kit can see it, else from the calls.
    """

    def __init__(self, minimum_off: int, now: int, *, seen: bool) -> None:
        self.minimum_off = max(minimum_off, MINIMUM_OFF)
        self.stopped_at = now
        self.starts: list[int] = []
        self._started_at: int | None = None
        self._seen = seen
        self._calls: set[str] = set()
        self._called = False
        self._running: set[str] = set()

    def hear(self, event: Event) -> bool:
        """Take note of what a source reported; True where a start is counted for it."""
        before = self.starts[-1:]
        self._note(event)
        return self.starts[-1:] != before

    def _note(self, event: Event) -> None:
        match event:
            case Call(terminal=terminal) if terminal in COMPRESSOR_CALLS:
                begins_or_ends = not self._calls - {terminal} or terminal == "Y1"
                if event.state == "on":
                    if begins_or_ends:
                        self._count(event.t)
                        self._called = True
                        self._started_at = self._started_at if self._seen else event.t
                    self._calls.add(terminal)
                else:
                    self._calls.discard(terminal)
                    if begins_or_ends:
                        self._called = False
                        self._stop(event.t)
            case Edge(point=point) if is_compressor(point):
                if event.state == "off":
                    self._running.discard(point)
                    self._stop(event.t)
                elif point not in self._running:
                    if not self._running:
                        self._begin(event.t)
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

    def _begin(self, t: int) -> None:
        """It is seen to start: the first time after a call, that call's start; after that one of its own."""
        self._started_at = t
        if not self._called:
            self._count(t)
        self._called = False

    def _count(self, t: int) -> None:
        if self.starts and t - self.starts[-1] < TOGETHER:
            return
        self.starts = [start for start in self.starts if start > t - STARTS_WINDOW]
        self.starts.append(t)

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
