"""A line to the core in virtual time: waiting for an answer is what lets time pass."""

from __future__ import annotations

from native_core import Core

from stagecall.errors import RigLostError

TURN_US = 250
"""One turn of the core's loop."""
IDLE_US = 4_000
"""While nothing is expected soon, time passes in larger pieces."""
SOON_US = 8_000
"""An answer comes within this time, if at all."""


class CoreLink:
    """The host's clock runs *rate* times as fast as the board's. ``cut_after``: bytes that still get through."""

    name = "the simulated board"

    def __init__(self, core: Core, rate: float = 1.0, cut_after: int | None = None) -> None:
        self.core, self._rate = core, rate
        self._began = core.now_us()
        self._waiting = b""
        self._us = 0
        self.left = cut_after
        self.closed = False

    def now_us(self) -> int:
        return round(self._us * self._rate) + 1_000_000

    def send(self, data: bytes) -> None:
        data = self._through(data)
        self._pass(data, TURN_US)

    def receive(self, wait_us: int) -> bytes:
        until = self._us + max(1, round(wait_us / self._rate))
        soon = self._us + SOON_US
        while not self._waiting and self._us < until:
            step = TURN_US if self._us < soon else IDLE_US
            self._pass(b"", min(step, -(-(until - self._us) // TURN_US) * TURN_US))
        data, self._waiting = self._waiting, b""
        return self._through(data)

    def _pass(self, data: bytes, us: int) -> None:
        self._waiting += self.core.exchange(data, us)
        self._us += us

    def _through(self, data: bytes) -> bytes:
        """What gets through before the line is cut."""
        if self.left is None:
            return data
        if self.left <= 0:
            raise RigLostError(f"the port {self.name} is gone")
        through = data[: self.left]
        self.left -= len(data)
        return through

    def close(self) -> None:
        self.closed = True
