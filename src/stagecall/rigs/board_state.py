"""What a board says of itself in a poll, and the words for why it stopped or started."""

from __future__ import annotations

import msgspec

from stagecall.errors import RigLostError

STOPPED = {
    "COMMAND": "it was told to by another program",
    "SILENT": "it heard nothing for 0.95 s: this computer or the line stood still",
    "READBACK": "a call wire is live with its relay open: a welded relay, or another control that calls",
    "WATCHDOG": "its firmware hung and was reset",
    "BROWNOUT": "its supply sagged",
}
STARTED = {
    "0": "its supply came back",
    "1": "its reset was pressed",
    "2": "its supply sagged",
    "3": "its firmware hung",
}


class State(msgspec.Struct, frozen=True, kw_only=True):
    """The reply to a poll; bit 0 of a mask is channel 1. ``settled`` is the board's time, µs."""

    settled: int
    relays: int
    inputs: int
    master: bool
    locked: bool
    stop: str
    coming: int
    """The number of the next event; all below have been sent."""
    refused: int
    """Lines that it did not accept since its start, modulo 65536."""

    @property
    def stopped(self) -> str:
        """Why it holds everything open; empty where it does not."""
        return "" if self.stop == "NONE" else STOPPED.get(self.stop, self.stop)


def read_state(data: str, name: str) -> State:
    """The data of a reply to ``STATe?``; *name* is the port, for the complaint.

    Raises:
        RigLostError: it is none.
    """
    fields = data.split(",")
    try:
        relays, inputs = (int(mask.removeprefix("#H"), 16) for mask in fields[1:3])
        return State(
            settled=int(fields[0]),
            relays=relays,
            inputs=inputs,
            master=fields[3] == "1",
            locked=fields[4] == "1",
            stop=fields[5],
            coming=int(fields[6]),
            refused=int(fields[7]),
        )
    except (ValueError, IndexError):
        raise RigLostError(f"{name} answers a poll with nonsense: {data}") from None


def why_started(cause: str) -> str:
    """The sentence for a board that began anew."""
    return f"the board started anew: {STARTED.get(cause, cause)}"
