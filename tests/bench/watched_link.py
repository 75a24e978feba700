"""An independent checker on the line itself: it reads what goes to a board and comes back, and knows no guard.

Whatever made the host say it, no compressor call may begin inside its minimum off, no pair that must never be together
may be closed, the valve's call may not change under a running compressor, and in the end nothing may be left on.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import ClassVar

from stagecall.errors import RigLostError
from stagecall.model.kit import Board
from stagecall.rigs.frames import Frame, opened
from stagecall.rigs.link import Link

REST_US = 300_000_000
HOUR_US = 3_600_000_000
STARTS_AN_HOUR = 6
EARLY_US = 5_000
"""Two clocks read the same moment this far apart: the reply is on its way."""


class WatchedLink:
    """Passes everything on and keeps ``complaints``; each one that a test makes is asked for them at its end.

    ``early``: starts inside the minimum off are asked for on purpose.
    """

    all: ClassVar[list[WatchedLink]] = []

    def __init__(self, link: Link, board: Board, apart: Iterable[frozenset[str]], *, early: bool = False) -> None:
        self._link, self.name = link, link.name
        self._calls = {number: call for call, number in board.calls.items()}
        self._power = board.power
        self._apart, self._early = tuple(apart), early
        self._closed: set[int] = set()
        self._master = False
        self._asked: dict[int, str] = {}
        self._in = self._out = b""
        self._stopped_at = link.now_us()
        self._starts: list[int] = []
        self.complaints: list[str] = []
        self.moves = 0
        """Commands that have moved a relay."""
        self._lost = False
        self.all.append(self)

    @property
    def made(self) -> frozenset[str]:
        """The calls that conduct."""
        powered = self._master and (self._power is None or self._power in self._closed)
        return frozenset(call for number, call in self._calls.items() if number in self._closed and powered)

    def now_us(self) -> int:
        return self._link.now_us()

    def send(self, data: bytes) -> None:
        *lines, self._out = (self._out + data).split(b"\n")
        for line in lines:
            if (frame := opened(line)) is not None:
                self._asked[frame.tag] = frame.body
        try:
            self._link.send(data)
        except RigLostError:
            self._lost = True
            raise

    def receive(self, wait_us: int) -> bytes:
        try:
            data = self._link.receive(wait_us)
        except RigLostError:
            self._lost = True
            raise
        *lines, self._in = (self._in + data).split(b"\n")
        for line in lines:
            if (frame := opened(line)) is not None:
                self._hear(frame)
        return data

    def close(self) -> None:
        unanswered = self._lost or bool(self._asked)  # then the board opens by itself, which the tests look at
        if (self._closed or self._master) and not unanswered:
            self.complaints.append(f"left on: relays {sorted(self._closed)}, master {self._master}")
        self._link.close()

    def _hear(self, frame: Frame) -> None:
        if frame.kind == "<":
            command = self._asked.pop(frame.tag, "")
            self._moved(command if frame.body.startswith("OK") else "")
        elif frame.kind == "!" and frame.body.split(",")[2] in ("STOP", "BOOT"):
            self._become(set(), master=False)

    def _moved(self, command: str) -> None:
        if command.startswith("ROUT:CLOS (@"):
            self._become(self._closed | _channels(command), master=self._master)
        elif command.startswith("ROUT:OPEN (@"):
            self._become(self._closed - _channels(command), master=self._master)
        elif command in ("ROUT:OPEN:ALL", "*RST", "STOP"):
            self._become(set(), master=self._master and command == "ROUT:OPEN:ALL")
        elif command in ("OUTP ON", "OUTP OFF"):
            self._become(self._closed, master=command == "OUTP ON")

    def _become(self, closed: set[int], *, master: bool) -> None:
        before = self.made
        self.moves += (closed, master) != (self._closed, self._master)
        self._closed, self._master = set(closed), master
        now, after = self._link.now_us(), self.made
        for pair in self._apart:
            if pair <= after:
                self.complaints.append(f"{' and '.join(sorted(pair))} together at {now / 1e6:.1f} s")
        running, runs = before & {"Y1", "Y2"}, after & {"Y1", "Y2"}
        if running and runs and before & {"O", "B"} != after & {"O", "B"}:
            self.complaints.append(f"the valve's call changed under the compressor at {now / 1e6:.1f} s")
        if (running and not runs) or "Y1" in running - runs:
            self._stopped_at = now
        if (runs and not running) or "Y1" in runs - running:
            self._start(now)

    def _start(self, now: int) -> None:
        rested = now - self._stopped_at
        if rested < REST_US - EARLY_US and not self._early:
            self.complaints.append(f"{rested / 1e6:.1f} s after the last stop the compressor is called again")
        self._starts = [*(at for at in self._starts if at > now - HOUR_US), now]
        if len(self._starts) > STARTS_AN_HOUR:
            self.complaints.append(f"{len(self._starts)} starts within an hour")


def _channels(command: str) -> set[int]:
    return {int(number) for number in re.findall(r"\d+", command)}
