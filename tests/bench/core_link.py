"""A line to the core in virtual time: waiting for an answer is what lets time pass."""

from __future__ import annotations

from native_core import Core

from stagecall.errors import RigLostError
from stagecall.rigs.frames import seal

TURN_US = 250
"""One turn of the core's loop."""


class CoreLink:
    """The host's clock runs ``rate`` times as fast as the board's, which may change.

    ``left``: bytes that still get through, either way. ``every``: an adapter hands on what has come so often only, µs.
    """

    name = "the board's port"

    def __init__(self, core: Core, rate: float = 1.0, left: int | None = None, every: int = TURN_US) -> None:
        self.core, self.rate, self.left, self._every = core, rate, left, every
        self._us = 0
        self._host = 1e6
        self._damage = 0
        self._silent = False
        self.losing_events = False
        self._line_begins, self._in_event = True, False
        self._asleep_until = 0
        self.closed = False

    def now_us(self) -> int:
        return round(self._host)

    def send(self, data: bytes) -> None:
        self._gone()
        through = data if self.left is None else data[: self.left]
        self._count(data)
        if self._damage > 0 and len(through) > 1:
            self._damage -= 1
            through = bytes([through[0] ^ 1]) + through[1:]
        self.core.give(b"" if self._us < self._asleep_until else through)
        self._pass(TURN_US)

    def receive(self, wait_us: int) -> bytes:
        self._gone()
        data, passed = self.core.listen(max(1, round(wait_us / self.rate)))
        self._pass(passed)
        if data and (more := -self._us % self._every):
            self.stand_still(more)
            data += self.core.listen(0)[0]
        through = data if self.left is None else data[: self.left]
        self._count(data)
        if self.losing_events:
            through = self._without_events(through)
        return b"" if self._silent else through

    def _without_events(self, data: bytes) -> bytes:
        kept = []
        for byte in data:
            self._in_event = byte == ord("!") if self._line_begins else self._in_event
            self._line_begins = byte == ord("\n")
            if not self._in_event:
                kept.append(byte)
        return bytes(kept)

    def stand_still(self, us: int) -> None:
        """The host does nothing for so long; what the board says meanwhile waits in the port."""
        self.core.wait(us)
        self._pass(us)

    def sleep_until(self, us: int) -> None:
        """Till then a boot loader hears everything and says nothing."""
        self._asleep_until = us

    def fall_silent(self) -> None:
        """Nothing comes from the board any more, though it hears."""
        self._silent = True

    def damage_next(self, lines: int) -> None:
        """So many lines to the board get one bit turned."""
        self._damage = lines

    def intrude(self, body: str) -> None:
        """Another program says this to the board."""
        self.core.give(seal(">", 0xEE, body))
        self._pass(TURN_US)

    def _pass(self, us: int) -> None:
        self._us += us
        self._host += us * self.rate

    def _count(self, data: bytes) -> None:
        if self.left is not None:
            self.left = max(0, self.left - len(data))

    def _gone(self) -> None:
        if self.left == 0 or self.closed:
            raise RigLostError(f"{self.name} is gone")

    def close(self) -> None:
        self.closed = True
