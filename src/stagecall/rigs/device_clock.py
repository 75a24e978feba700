"""A board's clock on the host's: between two ends that hold for certain, never a single guess.

Each answered command is a gate: the board read its clock after the host sent and before the host received. Between
gates the ends part by as much as the two clocks can drift apart.
"""

from __future__ import annotations

RATE = 0.005
"""How much faster or slower a board's clock may run: a ceramic resonator over its temperatures; a crystal is better."""
WANDER = 300e-6
"""How far its rate may lie from its mean over a run, once that is known: a resonator that warms by 10 K. Further, and
the clocks contradict each other, which is found."""
BASELINE = 10_000_000
"""µs of the board's clock after which its mean rate says more than ``RATE``."""


class DeviceClock:
    """From one board's microseconds to the host's."""

    def __init__(self, device: int, sent: int, came: int) -> None:
        self._at, self._low, self._high = device, float(sent), float(came)
        self._slowest, self._fastest = 1 - RATE, 1 + RATE
        self._first = (device, self._low, self._high)

    def gate(self, device: int, sent: int, came: int) -> bool:
        """The board read *device* after *sent* and before *came* (µs). False where the clocks contradict that."""
        low = max(self.earliest(device), float(sent))
        high = min(self.latest(device), float(came))
        if device < self._at or low > high:
            return False
        self._at, self._low, self._high = device, low, high
        at, first_low, first_high = self._first
        if (run := device - at) >= BASELINE:
            self._slowest = max(1 - RATE, (low - first_high) / run - WANDER)
            self._fastest = min(1 + RATE, (high - first_low) / run + WANDER)
        return True

    def earliest(self, device: int) -> float:
        """The host's time, µs, at or after which the board's clock read *device*."""
        gone = device - self._at
        return self._low + gone * (self._slowest if gone >= 0 else self._fastest)

    def latest(self, device: int) -> float:
        """The host's time, µs, at or before which the board's clock read *device*."""
        gone = device - self._at
        return self._high + gone * (self._fastest if gone >= 0 else self._slowest)

    @property
    def span(self) -> float:
        """How far the two ends lie apart now, µs."""
        return self._high - self._low

    @property
    def drift(self) -> tuple[float, float]:
        """How much faster the host's clock runs than the board's: at least, at most; a share of 1."""
        return self._slowest - 1, self._fastest - 1
