"""Who is at the other end of a line: what a board says of itself before anything is asked to move."""

from __future__ import annotations

import msgspec

from stagecall.errors import RigLostError, UsageError
from stagecall.rigs.exchange import Exchange

PROTOCOL = "1"
PATIENCE_US = 4_000_000
"""A board that is reset when its port is opened answers after its boot loader has given up, 1 to 2 s."""


class InputBounds(msgspec.Struct, frozen=True):
    """How exactly AC inputs are stamped and what they can miss, µs; see ``INPut:BOUNds?``."""

    live_least: int
    live_most: int
    dead_before: int
    dead_after: int
    blind_live: int
    blind_dead: int

    @property
    def width(self) -> int:
        """The widest interval in which a change can have happened, µs."""
        return max(self.live_most - self.live_least, self.dead_before + self.dead_after)

    @property
    def blind(self) -> int:
        """The longest pulse that can be missed, µs."""
        return max(self.blind_live, self.blind_dead)


class Identity(msgspec.Struct, frozen=True, kw_only=True):
    """A board that has answered."""

    model: str
    serial: str
    """``0`` where it has never been given one."""
    version: str
    relays: int
    inputs: int
    analogs: int
    bounds: InputBounds
    self_test: str
    """``0`` where all outputs are as they were driven."""
    stopped: str
    """Why it holds everything open, or ``NONE``."""


def greet(exchange: Exchange) -> Identity:
    """Find out who answers. Nothing moves by it.

    Raises:
        UsageError: nobody answers as a board does, or one of another protocol.
        RigLostError: it answered, and then did not.
    """
    name = exchange.link.name
    protocol = _first_answer(exchange)
    if protocol != PROTOCOL:
        raise UsageError(f"the board at {name} speaks protocol {protocol or '?'}; this program speaks {PROTOCOL}")
    identity = exchange.done("*IDN?").data.split(",")
    counts = _numbers(exchange, "SYST:CHAN?", 3)
    if len(identity) != 4:
        raise RigLostError(f"{name} does not say what it is")
    return Identity(
        model=identity[1],
        serial=identity[2],
        version=identity[3],
        relays=counts[0],
        inputs=counts[1],
        analogs=counts[2],
        bounds=InputBounds(*_numbers(exchange, "INP:BOUN?", 6)),
        self_test=exchange.done("*TST?").data,
        stopped=exchange.done("STOP?").data,
    )


def _first_answer(exchange: Exchange) -> str:
    link = exchange.link
    until = link.now_us() + PATIENCE_US
    while True:
        link.send(b"\n")  # ends whatever noise came before
        try:
            return exchange.done("SYST:PROT?").data
        except RigLostError as lost:
            if link.now_us() >= until:
                raise UsageError(f"nothing at {link.name} answers as a relay and sense board does") from lost


def _numbers(exchange: Exchange, query: str, count: int) -> list[int]:
    fields = exchange.done(query).data.split(",")
    if len(fields) < count or not all(field.isdecimal() for field in fields[:count]):
        raise RigLostError(f"{exchange.link.name} answers {query} with nonsense: {','.join(fields)}")
    return [int(field) for field in fields[:count]]
