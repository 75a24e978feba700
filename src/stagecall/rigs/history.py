"""The compressor's starts of the last hour, kept by board and system across runs and crashes.

One line for each start, on the disk before anything else is done; a line that a crash has torn costs that line. The
last stop need not be kept: every run begins as if the compressor had stopped just then.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import msgspec

from stagecall.errors import LogWriteError
from stagecall.rigs.clock import Clock
from stagecall.rigs.guard.compressor import STARTS_WINDOW
from stagecall.rigs.keeping import Held

LARGE = 16_384
"""Bytes from which on what is over is thrown away."""


class _Start(msgspec.Struct, frozen=True):
    system: str
    at: str
    """RFC 3339."""


class History:
    """The file of one board, held for the length of a run.

    ``starts``: ms before now, 0 or less. A clock that has been set back since makes a start look younger, at most just
    now; one that has been set forward makes it look older.
    """

    def __init__(self, board: str, system: str, clock: Clock) -> None:
        self._held = Held("history", board)
        self._system, self._clock = system, clock
        now = clock.wall()
        kept = [start for line in self._held.read().splitlines() if (start := _read(line)) is not None]
        young = [start for start in kept if _ago(start, now) < STARTS_WINDOW]
        self.starts = sorted(-max(0, _ago(start, now)) for start in young if start.system == system)
        if self._held.size > LARGE:
            self._held.write(b"".join(_line(start) for start in young))

    def started(self, ago: int) -> None:
        """The compressor has started, so many ms ago.

        Raises:
            LogWriteError: it cannot be kept.
        """
        at = self._clock.wall() - timedelta(milliseconds=ago)
        try:
            self._held.append(_line(_Start(self._system, at.isoformat(timespec="milliseconds"))))
        except OSError as error:
            path = self._held.path
            raise LogWriteError(f"The compressor's starts cannot be kept in {path}: {error.strerror}.") from error

    def let_go(self) -> None:
        """Others may take the file; may be called twice."""
        self._held.let_go()


def _line(start: _Start) -> bytes:
    return msgspec.json.encode(start) + b"\n"


def _read(line: bytes) -> _Start | None:
    try:
        start = msgspec.json.decode(line, type=_Start)
        datetime.fromisoformat(start.at)
    except (msgspec.DecodeError, ValueError):
        return None
    return start


def _ago(start: _Start, now: datetime) -> int:
    return (now - datetime.fromisoformat(start.at)) // timedelta(milliseconds=1)
