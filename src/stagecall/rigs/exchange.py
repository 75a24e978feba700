"""Commands and replies over a link: a new tag for each command, asked again without an answer; events kept aside."""

from __future__ import annotations

import msgspec

from stagecall.errors import RigLostError
from stagecall.rigs.frames import Frame, opened, seal
from stagecall.rigs.link import Link

ANSWER_US = 100_000
"""How long an answer may take before the same line is sent again; the board does not carry it out twice."""
TRIES = 5
"""Half a second: well before the board stops by itself, and within the second that it remembers its answer."""
LONGEST = 512
"""Bytes without a newline that are still the start of a line; a line from the board has fewer than 200."""


class Reply(msgspec.Struct, frozen=True):
    """``time`` is the board's, µs; ``sent`` and ``came`` are the host's, µs. ``error`` is empty where it was done."""

    time: int
    data: str
    error: str
    sent: int
    came: int


class Exchange:
    """One host's talk with one board."""

    def __init__(self, link: Link) -> None:
        self.link = link
        self.damaged = 0
        """Lines that were no frame."""
        self._tag = 0
        self._rest = b""
        self._events: list[str] = []
        self._replies: dict[int, str] = {}

    def ask(self, body: str) -> Reply:
        """Send one command and wait for its reply.

        Raises:
            RigLostError: no answer, the line is gone, or the answer makes no sense.
        """
        self._tag = (self._tag + 1) % 256
        line = seal(">", self._tag, body)
        self._replies.clear()
        link, sent = self.link, self.link.now_us()
        for _ in range(TRIES):
            link.send(line)
            until = link.now_us() + ANSWER_US
            while (left := until - link.now_us()) > 0:
                self._take(link.receive(left))
                if (found := self._replies.pop(self._tag, None)) is not None:
                    return self._read(body, found, sent, link.now_us())
        raise RigLostError(f"{link.name} gives no answer: asked {TRIES} times in {TRIES * ANSWER_US / 1e6:g} s")

    def done(self, body: str) -> Reply:
        """As :meth:`ask`, where the board has no reason to refuse.

        Raises:
            RigLostError: as :meth:`ask`, and where the board refuses.
        """
        reply = self.ask(body)
        if reply.error:
            raise RigLostError(f"{self.link.name} refuses {body}: {reply.error}")
        return reply

    def listen(self, wait_us: int) -> None:
        """Let that much time pass and keep the events that come."""
        until = self.link.now_us() + wait_us
        while (left := until - self.link.now_us()) > 0:
            self._take(self.link.receive(left))

    def events(self) -> list[str]:
        """The bodies of the events since the last look, as they came."""
        taken, self._events = self._events, []
        return taken

    def _take(self, data: bytes) -> None:
        *whole, self._rest = (self._rest + data).split(b"\n")
        if len(self._rest) > LONGEST:
            whole, self._rest = [*whole, self._rest], b""
        for line in whole:
            match opened(line):
                case Frame(kind="<", tag=tag, body=body):
                    self._replies[tag] = body
                case Frame(kind="!", body=body):
                    self._events.append(body)
                case _:
                    self.damaged += bool(line)

    def _read(self, body: str, reply: str, sent: int, came: int) -> Reply:
        word, _, rest = reply.partition(" ")
        time, _, data = rest.partition(" ")
        if word not in ("OK", "ER") or not time.isdecimal():
            raise RigLostError(f"{self.link.name} answers {body} with nonsense: {reply}")
        refused = word == "ER"
        return Reply(int(time), "" if refused else data, data if refused else "", sent, came)
