"""The line between a host and a board, whatever carries it: a serial port, a pseudo-terminal, a simulated board."""

from __future__ import annotations

from typing import Protocol


class Link(Protocol):
    """Bytes out, bytes in, and the host's clock that they are timed by.

    In virtual time :meth:`receive` is what lets time pass.
    """

    name: str
    """For messages: the port, or what stands for it."""

    def now_us(self) -> int:
        """The host's clock, whole microseconds that only ever grow."""

    def send(self, data: bytes) -> None:
        """Put all of it on the line.

        Raises:
            RigLostError: the line is gone.
        """

    def receive(self, wait_us: int) -> bytes:
        """What has come; at once where something has, else what comes first, or nothing once *wait_us* have passed.

        Raises:
            RigLostError: the line is gone.
        """

    def close(self) -> None:
        """Let go of the line; may be called twice."""
