"""A line to the core in virtual time: waiting for an answer is what lets time pass."""

from __future__ import annotations

from native_core import Core

from stagecall.errors import RigLostError

TURN_US = 250
"""One turn of the core's loop."""


class CoreLink:
    """The host's clock runs *rate* times as fast as the board's. ``left``: bytes that still get through, either way."""

    name = "the board's port"

    def __init__(self, core: Core, rate: float = 1.0, left: int | None = None) -> None:
        self.core, self._rate, self.left = core, rate, left
        self._us = 0
        self.closed = False

    def now_us(self) -> int:
        return round(self._us * self._rate) + 1_000_000

    def send(self, data: bytes) -> None:
        self._gone()
        through = data if self.left is None else data[: self.left]
        self._count(data)
        self.core.give(through)
        self._us += TURN_US

    def receive(self, wait_us: int) -> bytes:
        self._gone()
        data, passed = self.core.listen(max(1, round(wait_us / self._rate)))
        self._us += passed
        through = data if self.left is None else data[: self.left]
        self._count(data)
        return through

    def _count(self, data: bytes) -> None:
        if self.left is not None:
            self.left = max(0, self.left - len(data))

    def _gone(self) -> None:
        if self.left == 0 or self.closed:
            raise RigLostError(f"{self.name} is gone")

    def close(self) -> None:
        self.closed = True
